// Package budget tells whose variance it is: the share of each random source in that of an estimate.
//
// Two evaluations that draw one source alike and all others apart covary by what that
// source does alone (first order); two that draw all but one source alike differ by what it
// does alone or with others (total). Streams are keyed by source and replicate, so that
// such pairs are a matter of naming replicates (resample.Row), and any quantity of the same
// evaluations has its budget from them at no further cost.
//
// Methods, section 10. Sources: Sobol (1993); Saltelli et al. (2010), Computer Physics
// Communications 181:259-270; Janon et al. (2014), ESAIM Probability and Statistics
// 18:342-364 (citations from memory).
package budget

import (
	"fmt"
	"slices"

	"earstone/estimate/resample"
	"earstone/statistics/stream"
)

// Design says which evaluations a budget takes.
type Design struct {
	Sources []stream.Source // that are told of; others are drawn with A and B and stay as in A
	N       int             // pairs a source
	Within  int             // draws of stones and of lengths inside trips; 0: trips are not split
}

// Rows are the evaluations that Of wants, in its order: N rows A, N rows B, for each source
// N rows that are A but for that source, which is drawn as in B; then, where trips are
// split, Within rows of stones and as many of lengths alone. Panics on an N below 2.
func (d Design) Rows() []resample.Row {
	if d.N < 2 || d.Within == 1 || d.Within < 0 {
		panic(fmt.Sprintf("budget: %d pairs and %d draws inside trips give no variance", d.N, d.Within))
	}
	rows := make([]resample.Row, 0, d.size())
	base := func(of func(b int) resample.Row) {
		for b := range d.N {
			rows = append(rows, of(b))
		}
	}
	base(resample.All)
	base(func(b int) resample.Row { return resample.All(d.N + b) })
	for _, source := range d.Sources {
		base(func(b int) resample.Row { return resample.All(b).With(source, d.N+b) })
	}
	for _, source := range d.inside() {
		for b := range d.Within {
			rows = append(rows, resample.Alone(source, b).Inside())
		}
	}
	return rows
}

// inside are the sources that are told apart from the trips. Lengths that are drawn again
// in each replicate are a source of their own already.
func (d Design) inside() []stream.Source {
	if d.Within == 0 || !slices.Contains(d.Sources, stream.Trips) {
		return nil
	}
	if slices.Contains(d.Sources, stream.Fish) {
		return []stream.Source{stream.Stones}
	}
	return []stream.Source{stream.Stones, stream.Fish}
}

func (d Design) size() int { return (2+len(d.Sources))*d.N + len(d.inside())*d.Within }

// Number is a value with its standard error.
type Number struct{ Value, SE float64 }

// Share is the part of a source in the variance of a quantity. Shares of first order sum to
// at most 1 and totals to at least 1, but for their errors; a share may come out below 0 or
// above 1 within its error.
type Share struct {
	Source stream.Source
	First  Number // of what the source does alone
	Total  Number // of what it does alone or together with others
}

// Budget is whose variance that of one quantity is.
type Budget struct {
	Mean, Variance Number
	Shares         []Share // in the order of the design's sources, then stones and fish
}

// Of is the budget of a quantity, y its value in each of the design's rows:
//
//	S_i = Cov(B, A_i)/V or E[B(A_i − A)]/V, T_i = ½ E(A − A_i)²/V,
//
// A_i the rows A with source i drawn as in B; of the two forms of S_i the one whose
// standard error is less, which is the first for large shares and the second for small.
// The first takes mean and variance from its own pairs (Janon et al. 2014). Standard errors
// are those of leaving out one pair in turn.
//
// The draw of trips brings their stones and lengths along. Where it is split, stones and
// fish take the variance that they have when they alone are drawn inside trips, over V, at
// most all that the trips have alone, and both shares of trips are less by it. The errors
// are those of the number of rows: how few trips the season has is not in them.
//
// ok is false where the quantity does not move at all. Panics when y has another length
// than Rows.
func (d Design) Of(y []float64) (budget Budget, ok bool) {
	if len(y) != d.size() {
		panic(fmt.Sprintf("budget: %d values for %d rows", len(y), d.size()))
	}
	part := func(i int) []float64 { return y[i*d.N : (i+1)*d.N] }
	all := newPairs(part(0), part(1))
	mean, variance := all.mean(), all.variance()
	if !(variance.Value > 1e-24*mean.Value*mean.Value) {
		return Budget{Mean: mean}, false
	}
	budget = Budget{Mean: mean, Variance: variance}
	for i, source := range d.Sources {
		one := triples{a: part(0), b: part(1), one: part(2 + i), centre: mean.Value}
		budget.Shares = append(budget.Shares, Share{source, one.first(), one.total()})
	}
	var inside []Number
	for i := range d.inside() {
		from := (2+len(d.Sources))*d.N + i*d.Within
		inside = append(inside, ratio(spread(y[from:from+d.Within]), variance))
	}
	budget.split(d.inside(), inside)
	return budget, true
}

// split gives sources the shares that they have inside trips, and takes them from the
// trips. Trips that differ no more than their fish do would be left with less than nothing,
// by the chance of which trips there are: then the sources share what the trips have.
func (b *Budget) split(sources []stream.Source, inside []Number) {
	if len(sources) == 0 {
		return
	}
	trips, taken := &b.Shares[b.at(stream.Trips)], 0.0
	for _, n := range inside {
		taken += n.Value
	}
	scale := 1.0
	if joint := max(trips.First.Value, 0); taken > joint {
		scale = joint / taken
	}
	for i, source := range sources {
		n := Number{inside[i].Value * scale, inside[i].SE * scale}
		trips = &b.Shares[b.at(stream.Trips)]
		trips.First, trips.Total = minus(trips.First, n), minus(trips.Total, n)
		at := b.at(source)
		if at < 0 {
			b.Shares = append(b.Shares, Share{Source: source})
			at = len(b.Shares) - 1
		}
		own := &b.Shares[at]
		own.First, own.Total = plus(own.First, n), plus(own.Total, n)
	}
}

func (b *Budget) at(source stream.Source) int {
	return slices.IndexFunc(b.Shares, func(s Share) bool { return s.Source == source })
}

package run

import (
	"math"
	"strconv"

	"earstone/estimate/change"
	"earstone/programme/record"
	"earstone/programme/result"
	"earstone/programme/strata"
)

// Change is what differs between two places: years, or quarters, areas and gears of one
// year.
type Change struct {
	A, B       strata.Cell
	Shares     []change.Difference // of the share at each kept age
	MeanLength change.Difference   // of all fish with an age
	Whole      change.Whole        // the age compositions as a whole
	Compared   bool                // Whole could be had
}

// mostPairs bounds the pairs of one year's areas or gears that are compared: beyond it
// each is compared with the next only.
const mostPairs = 28

// changes compares years that follow each other, and the quarters, areas and gears of
// each year among each other.
func (v *view) changes() []Change {
	var all []Change
	for _, pair := range v.pairs() {
		all = append(all, v.change(pair[0], pair[1]))
	}
	return all
}

// pairs are the margins to compare.
func (v *view) pairs() [][2]int {
	var pairs [][2]int
	for i := 1; i < len(v.counts.Years); i++ {
		pairs = append(pairs, [2]int{i - 1, i})
	}
	for first := len(v.counts.Years); first < len(v.counts.Sums); {
		last := first + 1
		for last < len(v.counts.Sums) && alike(v.counts.Sums[first], v.counts.Sums[last]) {
			last++
		}
		n := last - first
		for a := first; a < last; a++ {
			for b := a + 1; b < last && (b == a+1 || n*(n-1)/2 <= mostPairs); b++ {
				pairs = append(pairs, [2]int{a, b})
			}
		}
		first = last
	}
	return pairs
}

// alike tells two sums of one year that differ in the value of the same column.
func alike(a, b strata.Cell) bool { return a.Year == b.Year && a.Known() == b.Known() }

func (v *view) change(a, b int) Change {
	d := &v.counts.Design
	k, strataN := d.Out(), len(d.Strata)
	c := Change{A: v.counts.Sums[a], B: v.counts.Sums[b], Shares: make([]change.Difference, k)}
	pointA, pointB := v.columns(1, func(int) []float64 { return v.point }, strataN+a), v.columns(1, func(int) []float64 { return v.point }, strataN+b)
	drawnA, drawnB := v.columns(v.drawn.Replicates, v.drawn.Row, strataN+a), v.columns(v.drawn.Replicates, v.drawn.Row, strataN+b)
	leftA, leftB := v.columns(v.left.Replicates, v.left.Drawn.Row, strataN+a), v.columns(v.left.Replicates, v.left.Drawn.Row, strataN+b)
	differ := func(of func(x [][]float64, row int) float64) change.Difference {
		s := change.Sides{A: of(pointA, 0), B: of(pointB, 0), DrawsA: make([]float64, v.drawn.Replicates), DrawsB: make([]float64, v.drawn.Replicates)}
		for row := range s.DrawsA {
			s.DrawsA[row], s.DrawsB[row] = of(drawnA, row), of(drawnB, row)
		}
		s.Moves = v.allMoves(func(row int) float64 { return of(leftB, row) - of(leftA, row) })
		return change.Of(s, v.options.Level)
	}
	for age := range k {
		c.Shares[age] = differ(func(x [][]float64, row int) float64 { return x[age][row] / x[3*k+2][row] })
	}
	c.MeanLength = differ(func(x [][]float64, row int) float64 {
		sum := 0.0
		for age := range k {
			sum += x[k+age][row]
		}
		return sum / x[3*k+2][row]
	})
	least := 0.5 / math.Max(v.measured(d.Margins[a].Strata)+v.measured(d.Margins[b].Strata), 1)
	c.Whole, c.Compared = change.Compositions(rows(pointA, k), rows(pointB, k), rows(drawnA, k), rows(drawnB, k), least)
	return c
}

// rows turns the numbers at age, a column an age, into one row a replicate.
func rows(columns [][]float64, k int) []float64 {
	n := len(columns[0])
	out := make([]float64, n*k)
	for a := range k {
		for b, x := range columns[a] {
			out[b*k+a] = x
		}
	}
	return out
}

// changesTable has one difference a row; area names the area where both places share one.
func (o *Outcome) changesTable() result.Table {
	t := result.Table{Name: "changes", ID: []string{"species", "quantity", "of", "area", "between_a", "between_b"}, Further: []string{"other_side_of_zero"}}
	for _, s := range o.Species {
		if s.Catch == nil {
			continue
		}
		for _, c := range s.Catch.Changes {
			add := o.changeRows(&t, s, c.A, c.B)
			for a, d := range c.Shares {
				if d.Value.X == 0 && d.SE.X == 0 {
					continue // nobody caught that age on either side
				}
				add("share", strconv.Itoa(a), d)
			}
			add("mean_length", "", c.MeanLength)
			if c.Compared {
				add("composition_distance", "age", change.Difference{Value: record.Some(c.Whole.Distance)})
				add("composition_p", "age", change.Difference{Value: record.Some(c.Whole.P)})
			}
		}
		if s.Origin == nil {
			continue
		}
		for _, c := range s.Origin.Changes {
			add := o.changeRows(&t, s, c.A, c.B)
			for k, d := range c.Shares {
				add("nursery_share", s.Origin.names()[k], d)
			}
			if c.Compared {
				add("composition_distance", "nursery", change.Difference{Value: record.Some(c.Whole.Distance)})
				add("composition_p", "nursery", change.Difference{Value: record.Some(c.Whole.P)})
			}
		}
	}
	return t
}

// changeRows adds differences between two places to the table.
func (o *Outcome) changeRows(t *result.Table, s *Species, a, b strata.Cell) func(quantity, of string, d change.Difference) {
	return func(quantity, of string, d change.Difference) {
		if !d.Value.Known {
			return
		}
		e := result.Estimate{ID: []string{string(s.Species), quantity, of, "", a.String(), b.String()},
			Value: d.Value, SE: d.SE, Low: d.Low, High: d.High, Further: []string{number(d.Against)}}
		if d.Low.Known {
			e.Level = o.Options.Level
		}
		t.Estimate = append(t.Estimate, e)
	}
}

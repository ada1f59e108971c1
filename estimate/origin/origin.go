// Package origin tells from the chemistry of ear stones which nursery a fish grew up in.
//
// Fish of known nursery, the baseline, give a class density of tracers for each nursery
// and year class. From these come the posterior of each fish of the catch, the fish that
// belong to no nursery known, and the composition of the catch, each with its
// uncertainty: by resampling (Composer) or by simulation (Bayes).
//
// Methods, section 8.
package origin

import (
	"math"

	"earstone/statistics/dist"
)

// Lacking is the set of tracers that were not measured in a fish: bit j stands for
// tracer j. The zero value lacks none.
type Lacking uint64

// Has tells whether tracer j is lacking.
func (l Lacking) Has(j int) bool { return l>>j&1 != 0 }

// With is the set with tracer j.
func (l Lacking) With(j int) Lacking { return l | 1<<j }

// Baseline is a fish of known nursery. X is one value a tracer, in the units of its
// tracer; a value that is lacking is never looked at.
type Baseline struct {
	Nursery   int // index of Problem.Nurseries
	YearClass int // 0: unknown
	X         []float64
	Lacks     Lacking
}

// Mixed is a fish of unknown nursery.
type Mixed struct {
	X      []float64
	Lacks  Lacking
	Weight float64 // fish of the catch that it stands for; 0: judged, but in no composition
	Group  int     // stratum, area ...: index from 0
	Age    int     // age class; -1: unknown, in no composition by age
	Cohort int     // year class; 0: unknown
	Trip   int     // -1: of no sampled trip
}

// Problem is a baseline and a catch to be told apart by it.
type Problem struct {
	Nurseries []string
	Tracers   []Tracer
	Baseline  []Baseline
	Mixed     []Mixed
}

// Settings say how. The zero value is the usual way.
type Settings struct {
	Form        Form    // Best: the one with the best held-out log score
	PoolYears   bool    // all year classes as one, which says that nurseries don't change
	KeepOutside bool    // fish outside the baseline take part in the composition
	OutsideTail float64 // a fish is outside where its tail is under this in every nursery; 0: 0.005
	SurePost    float64 // a fish is called for a nursery from this posterior up; 0: 0.8
}

func (s Settings) outsideTail() float64 {
	if s.OutsideTail > 0 {
		return s.OutsideTail
	}
	return 0.005
}

func (s Settings) surePost() float64 {
	if s.SurePost > 0 {
		return s.SurePost
	}
	return 0.8
}

// Call is what is said of one fish: the index of a nursery, Unclear or Outside.
type Call int

// Calls that name no nursery.
const (
	Unclear Call = -1 // no nursery is likely enough
	Outside Call = -2 // unlike every nursery of the baseline
)

// Fish is what is known of one mixed fish.
type Fish struct {
	Posterior  []float64 // by nursery, at the composition of the catch; sums to 1
	Even       []float64 // the same, had all nurseries equal shares
	LogDensity []float64 // ln f_k(x) of the tracers measured
	D2         []float64 // squared distance from each nursery in units of its spread
	Tail       []float64 // chance of a fish of each nursery to lie farther out
	Call       Call
}

// Fit is the answer of Estimate.
type Fit struct {
	Form       Form
	Scores     []Score   // each form that was tried, best first
	Held       *Score    // the chosen form's held-out answers; nil where it can't be had
	Mean       []float64 // of each nursery, nurseries × tracers (of the logarithm where declared)
	Covariance []float64 // within nursery and year class, nurseries × tracers × tracers
	YearSpread []float64 // of year-class means around the nursery's, tracers × tracers
	YearsUsed  bool      // a fish of cohort y is held against year class y

	Fish        []Fish
	Composition Composition // of the catch: design weights
	Unweighted  Composition // of the stones as they came
	// WeightsMatter says that the two differ by more than their SE in some nursery.
	WeightsMatter bool
	OutsideShare  float64 // weighted share of the mixed fish called outside
	Outsiders     int
	Doubts        []Doubt

	settings Settings
	problem  Problem
	data     *table
	classes  *classes
}

// Estimate fits the class densities, judges each mixed fish and finds the composition.
//
// The density of nursery k for a fish of cohort y is normal around the mean of its year
// class, or a kernel; see Form. Year-class means are drawn towards their nursery's mean
// by the spread seen between year classes, all nurseries together (a random effect);
// where the baseline has no such year class the nursery's mean stands in and the spread
// of year classes is added, so that the answer is wider. A fish with some tracers lacking
// is held against the marginal density of the others; baseline fish that lack one are
// left out, counted in Doubts.
//
// The posterior is π_k f_k(x)/Σ_j π_j f_j(x). The error is a *Trouble: too few fish,
// tracers that follow from one another, values that can't be. Panics on a vector of
// another length than Tracers and on an index out of range.
//
// Methods, section 8. Sources: Fisher (1936) for pooled normals; Searle, Casella &
// McCulloch (1992) for the moments of a random effect (citations from memory).
func Estimate(p Problem, s Settings) (*Fit, error) {
	p.check()
	f := &Fit{settings: s, problem: p}
	if err := p.sound(); err != nil {
		return nil, err
	}
	f.Doubts = p.unitDoubts()
	data, doubts, err := prepare(p, s.PoolYears)
	if err != nil {
		return nil, err
	}
	f.data, f.Doubts = data, append(f.Doubts, doubts...)
	if err := f.choose(); err != nil {
		return nil, err
	}
	f.YearsUsed = f.data.yearsUsed
	f.describe()
	f.judge()
	f.compose()
	f.call()
	f.tellYears()
	return f, nil
}

// describe copies what the densities rest on into the units of the tracers.
func (f *Fit) describe() {
	c, d := f.classes, f.data.d
	f.Mean = make([]float64, c.nurseries*d)
	f.Covariance = append([]float64(nil), c.within...)
	f.YearSpread = append([]float64(nil), c.between...)
	for k := range c.nurseries {
		mean := f.Mean[k*d : (k+1)*d]
		lift(mean, c.a[k*d*d:(k+1)*d*d], c.middle[k*d:(k+1)*d])
		for j := range mean {
			mean[j] += f.data.origin[j]
		}
	}
}

// judge holds each mixed fish against each nursery.
func (f *Fit) judge() {
	c, K := f.classes, f.classes.nurseries
	f.Fish = make([]Fish, len(f.problem.Mixed))
	for i := range f.Fish {
		x, lacks, year := f.data.fish(i)
		g := Fish{LogDensity: make([]float64, K), D2: make([]float64, K), Tail: make([]float64, K), Even: make([]float64, K)}
		for k := range K {
			seen := 0
			g.LogDensity[k], g.D2[k], seen = c.at(k, year, x, lacks)
			g.Tail[k] = c.tailOf(k, g.D2[k], seen)
		}
		posterior(g.Even, g.LogDensity, nil)
		f.Fish[i] = g
	}
}

// outside says whether fish i is unlike every nursery.
func (f *Fit) outside(i int) bool {
	if f.data.seen(i) == 0 {
		return false
	}
	for _, tail := range f.Fish[i].Tail {
		if tail >= f.settings.outsideTail() {
			return false
		}
	}
	return true
}

// call makes posteriors at the composition, and says of each fish what can be said.
func (f *Fit) call() {
	for i := range f.Fish {
		g := &f.Fish[i]
		g.Posterior = make([]float64, len(g.Even))
		posterior(g.Posterior, g.LogDensity, f.Composition.Share)
		best := largest(g.Posterior)
		switch {
		case f.outside(i):
			g.Call = Outside
		case g.Posterior[best] >= f.settings.surePost() && f.data.seen(i) > 0:
			g.Call = Call(best)
		default:
			g.Call = Unclear
		}
	}
}

// posterior fills p with share_k f_k/Σ share_j f_j; no share: equal ones. Logarithms
// keep it a number however far out a fish lies.
func posterior(p, logDensity, share []float64) {
	top := math.Inf(-1)
	for k, l := range logDensity {
		p[k] = l
		if share != nil {
			p[k] += math.Log(share[k])
		}
		top = math.Max(top, p[k])
	}
	sum := 0.0
	for k := range p {
		p[k] = math.Exp(p[k] - top)
		sum += p[k]
	}
	for k := range p {
		p[k] /= sum
	}
}

// largest is the index of the first largest value.
func largest(x []float64) int {
	best := 0
	for k := range x {
		if x[k] > x[best] {
			best = k
		}
	}
	return best
}

// tailOf is the chance that a fish of nursery k lies farther out than d2 in seen
// tracers: (ν − d + 1)/(ν d) · D² ~ F(d, ν − d + 1), with D² in units of the predictive
// spread (1 + v) of estimated means, and ν degrees of freedom in the covariance.
//
// For one baseline of n fish this is n(n−d)/((n+1)(n−1)d) · D² ~ F(d, n−d): the
// prediction form of Hotelling (1931). With random year classes it is an approximation.
func (c *classes) tailOf(k int, d2 float64, seen int) float64 {
	if seen == 0 {
		return 1
	}
	d, nu := float64(seen), c.nu[k]
	return dist.FUpper(d2*(nu-d+1)/(nu*d), d, nu-d+1)
}

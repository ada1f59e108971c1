package growth

import (
	"fmt"
	"math"
	"slices"

	"earstone/programme/record"
	"earstone/statistics/optimise"
)

// Settings of a fit. The zero value is the documented default.
type Settings struct {
	Model   Model   // unknown: VonBertalanffy
	Scatter Scatter // unknown: ConstantSD
	// Tau1 and Tau2 are the ages of Schnute's two lengths; both 0: the youngest
	// and the oldest age of the data.
	Tau1, Tau2 float64
	// Hold gives values at which parameters stay, in the model's order; nil, or
	// unknown entries, are estimated.
	Hold []record.Number
	// Apart says which parameters differ between groups; nil: none. The scale is
	// common to all groups.
	Apart []bool
	// Start begins the search at these parameters, one set for all groups, and once
	// more at the same curve scaled to the lengths; nil: from several starts made
	// from the data.
	Start []float64
}

// curve is the settings' curve over the ages of the data.
func (s Settings) curve(r reach) Curve {
	c := Curve{Model: s.Model, Tau1: s.Tau1, Tau2: s.Tau2}
	if c.Model == 0 {
		c.Model = VonBertalanffy
	}
	if c.Tau1 == 0 && c.Tau2 == 0 {
		c.Tau1, c.Tau2 = r.youngest, r.oldest
	}
	return c
}

func (s Settings) scatter() Scatter {
	if s.Scatter == 0 {
		return ConstantSD
	}
	if s.Scatter < 0 || int(s.Scatter) >= len(scatters) {
		panic(fmt.Sprintf("growth: no scatter %v", s.Scatter))
	}
	return s.Scatter
}

// Fit is a fitted curve, one a group.
type Fit struct {
	Curve         Curve
	Scatter       Scatter
	Groups        int
	Estimates     []float64 // groups × parameters, row by row; held ones stand at their value
	Scale         float64   // s of the scatter: an SD, a CV, an SD of logarithms
	LogLikelihood float64   // of lengths, in their unit; a weighted sum where Designed
	Parameters    int       // estimated ones, the scale among them
	Fish          float64
	// AICc is 2k − 2 log L + 2k(k + 1)/(n − k − 1); unknown where Designed, since
	// a weighted sum is no likelihood, and where n ≤ k + 1.
	AICc record.Number
	// Designed says that fish differ in design weight: standard errors are then
	// those of the sandwich.
	Designed bool
	// Clusters is how many clusters hold fish; 0 where they were not told, or there is
	// one. Standard errors are then those of the sandwich over clusters.
	Clusters int
	// AsymptoteSD is the SD between fish of a random largest length; known from
	// FitRandom only.
	AsymptoteSD record.Number
	// Optima is how many different optima the starts led to. More than one is to
	// be told.
	Optima int

	layout     layout
	reach      reach
	x          []float64 // free numbers, then log scale(s)
	covariance []float64 // of x
	design     []float64 // of a fish of each row, mean 1; nil where not Designed
	likelihood *likelihood
	sought     *search
}

// FitCurve is the curve of highest likelihood
//
//	log L = Σ_i n_i w_i log f(l_i | μ(a_i), s),
//
// f the density of the scatter, μ the curve (Curve.Length), n_i the fish of row i
// and w_i their design weight, scaled to a mean of 1 over fish. Length-stratified
// sub-samples need w = 1/(inclusion probability): picked evenly over lengths, the
// long fish of each age are too many, and an unweighted curve is biased.
//
// Standard errors come from the observed information; where design weights
// differ from the sandwich A⁻¹BA⁻¹, A the expected information and
// B = Σ n w² g gᵀ over the slopes g of each fish. Where fish come in clusters that
// are alike within, B is of the sums over each.
//
// On trouble the fit is the best point met, which must not be reported as a
// curve, and the error a *Trouble. Panics on columns of different lengths, a
// length of 0 or less, a number that is none, settings of another shape.
//
// Methods, section 7. Sandwich: Huber (1967); Binder (1983), Int. Stat. Rev. 51,
// over clusters too
// (citations from memory).
func FitCurve(d Data, s Settings) (Fit, error) { return fitFrom(d, s, nil) }

// fitFrom is FitCurve with one more start, free numbers of a narrower fit.
func fitFrom(d Data, s Settings, warm []float64) (Fit, error) {
	d.check()
	r := newReach(d.Age, d.Length)
	c := s.curve(r)
	f := Fit{Curve: c, Scatter: s.scatter(), Groups: d.groups(), Designed: d.designed(), reach: r}
	f.layout = newLayout(c, f.Groups, s.Hold, s.Apart)
	f.likelihood = newLikelihood(d, f.layout, f.Scatter)
	f.Parameters = f.layout.n + 1
	weights := f.weights(d)
	if t := f.tooFew(); t != nil {
		return f, t
	}
	f.likelihood.weigh(weights)
	starts := f.beginnings(d, s)
	if warm != nil {
		starts = append(starts, f.layout.take(warm))
	}
	if t := f.seek(starts); t != nil {
		return f, t
	}
	return f, f.settle(d)
}

// weights are the fish of each row times their design weight, of mean 1 over fish.
func (f *Fit) weights(d Data) []float64 {
	out, sum := make([]float64, len(d.Age)), 0.0
	for i := range out {
		out[i] = d.count(i)
		f.Fish += d.count(i)
		if f.Designed {
			out[i] *= d.weight(i)
		}
		sum += out[i]
	}
	if f.Designed && sum > 0 {
		f.design = make([]float64, len(out))
		for i := range out {
			out[i] *= f.Fish / sum
			f.design[i] = d.weight(i) * f.Fish / sum
		}
	}
	copy(f.likelihood.weight, out)
	return out
}

// tooFew says whether there are enough fish, and ages in each group.
func (f *Fit) tooFew() error {
	t := &Trouble{Model: f.Curve.Model, Fish: f.Fish, Youngest: f.reach.youngest, Oldest: f.reach.oldest}
	if f.Fish <= float64(f.Parameters) {
		t.Reason = TooFewFish
		return t
	}
	ages, wanted := make([]int, f.Groups), make([]int, f.Groups)
	for j, g := range f.likelihood.group {
		if rows := f.likelihood.row[f.likelihood.from[j]:f.likelihood.from[j+1]]; anyFish(rows, f.likelihood.weight) {
			ages[g]++
		}
	}
	np := len(f.layout.held)
	for k := range f.layout.n {
		users, last := 0, 0
		for g := range f.Groups {
			for i := range np {
				if f.layout.index[g*np+i] == k {
					users, last = users+1, g
				}
			}
		}
		if users == 1 {
			wanted[last]++
		}
	}
	all := 0
	for g := range f.Groups {
		all += ages[g]
		if ages[g] < wanted[g] {
			t.Reason = TooFewAges
			return t
		}
	}
	if all < f.layout.n {
		t.Reason = TooFewAges
		return t
	}
	return nil
}

func anyFish(rows []int32, weight []float64) bool {
	for _, i := range rows {
		if weight[i] > 0 {
			return true
		}
	}
	return false
}

// beginnings are the starts as free numbers and log scale.
func (f *Fit) beginnings(d Data, s Settings) [][]float64 {
	sets := [][]float64{s.Start}
	switch {
	case s.Start == nil:
		sets = f.likelihood.starts(d, f.reach)
	case len(s.Start) != len(f.layout.held):
		panic(fmt.Sprintf("growth: %d starting values for %d parameters", len(s.Start), len(f.layout.held)))
	default:
		sets = append(sets, f.likelihood.scaled(d, s.Start))
	}
	low, high, _ := f.layout.bounds(f.reach, f.layout.n)
	var out [][]float64
	for _, p := range sets {
		x := make([]float64, f.layout.n+1)
		f.layout.place(x, p)
		for k := range low {
			x[k] = min(max(x[k], low[k]), high[k])
		}
		x[f.layout.n] = math.Log(f.reach.longest / 10)
		if f.likelihood.look(x) {
			x[f.layout.n] = math.Log(math.Max(f.likelihood.best(), 1e-6*f.reach.longest))
		}
		out = append(out, x)
	}
	return out
}

// seek finds the highest likelihood: scoring from every start, then a search from
// all its ends in the standard errors of the best.
func (f *Fit) seek(starts [][]float64) error {
	k := f.likelihood
	if f.layout.n == 0 && f.Scatter != Student { // everything is held but the scale
		return f.take(nil, k.concentrated(nil, nil))
	}
	n := f.layout.n
	objective := k.concentrated
	if f.Scatter == Student {
		n, objective = n+1, k.at
	}
	climber := newScoring(k, f.reach)
	best, lowest := starts[0], math.Inf(1)
	var ends [][]float64
	var values []float64
	for _, x := range starts {
		climbed := climber.climb(x, 1e-9, 200)
		value := climber.value(x)
		if climbed && slices.ContainsFunc(values, func(v float64) bool { return math.Abs(v-value) <= 1e-7*math.Max(math.Abs(v), 1) }) {
			continue // the same end once more
		}
		ends, values = append(ends, x[:n]), append(values, value)
		if value < lowest {
			best, lowest = x, value
		}
	}
	low, high, scale := f.layout.bounds(f.reach, n)
	if !math.IsInf(lowest, 1) {
		climber.value(best)
		k.information(climber.info, math.Exp(best[f.layout.n]))
		scale = units(climber.info, scale)
	}
	f.sought = newSearch(objective, best[:n:n], scale, low, high)
	fit, err := f.sought.run(ends)
	f.Optima = len(fit.Optima)
	if t := f.take(fit.X, fit.Value); t != nil {
		return t
	}
	return f.layout.trouble(err, fit, f.reach, f.Fish)
}

// take fills in what stands at the point that the search came to.
func (f *Fit) take(x []float64, value float64) error {
	f.x = make([]float64, f.layout.n+1)
	copy(f.x, x)
	f.LogLikelihood = -value
	f.Estimates = make([]float64, f.Groups*len(f.layout.held))
	f.spread()
	if !f.likelihood.look(f.x) {
		return &Trouble{Reason: NotConverged, Model: f.Curve.Model, Fish: f.Fish, Youngest: f.reach.youngest, Oldest: f.reach.oldest}
	}
	if f.Scatter != Student {
		f.x[f.layout.n] = math.Log(f.likelihood.best())
	}
	f.Scale = math.Exp(f.x[f.layout.n])
	unit := f.reach.longest
	if f.Scatter == ConstantCV || f.Scatter == Lognormal {
		unit = 1
	}
	if f.Scale < 1e-7*unit {
		return &Trouble{Reason: NoScatter, Model: f.Curve.Model, Fish: f.Fish, Youngest: f.reach.youngest, Oldest: f.reach.oldest}
	}
	return nil
}

// spread writes the free numbers out as the parameters of each group.
func (f *Fit) spread() {
	np := len(f.layout.held)
	for g := range f.Groups {
		f.layout.read(f.Estimates[g*np:(g+1)*np], f.x, g)
	}
}

// settle gives the fit its covariance and AICc.
func (f *Fit) settle(d Data) error {
	var err error
	if !f.Designed {
		f.AICc = aicc(f.LogLikelihood, f.Parameters, f.Fish)
	}
	f.Clusters = d.clusters()
	if f.Designed || f.Clusters > 0 {
		f.covariance, err = f.sandwich(d)
	} else {
		f.covariance, err = observed(f.likelihood.at, f.x, f.layout, f.reach)
	}
	if err != nil {
		f.covariance = nil
		return f.layout.trouble(err, optimise.Fit{X: f.x}, f.reach, f.Fish)
	}
	return nil
}

// observed is the inverse of the observed information at x.
func observed(at optimise.Objective, x []float64, l layout, r reach) ([]float64, error) {
	_, _, steps := l.bounds(r, len(x))
	for k := range steps {
		steps[k] *= 5e-4
		if l := 5e-4 * math.Abs(x[k]); k < len(x) && l > 0 && l < steps[k] {
			steps[k] = l
		}
	}
	return optimise.Covariance(optimise.Hessian(at, x, steps))
}

func aicc(logLikelihood float64, k int, n float64) record.Number {
	p := float64(k)
	if n <= p+1 {
		return record.Number{}
	}
	return record.Some(2*p - 2*logLikelihood + 2*p*(p+1)/(n-p-1))
}

package growth

import (
	"fmt"
	"math"
	"slices"

	"earstone/programme/record"
)

// Ages are the ages that fish may have, with the share of each in the stock.
type Ages struct {
	Age   []float64 // different decimal ages, the middles of age classes say
	Share []float64 // above 0; need not sum to 1
}

// FitConditional is the curve that maximises the likelihood of ages given lengths,
//
//	log L = Σ_i n_i log P(a_i | l_i),  P(a | l) = p(a) f(l | μ(a), s) / Σ_k p(k) f(l | μ(k), s),
//
// f the density of the scatter and p(a) the shares of the ages in the stock, taken
// as known. Lengths are given, so that any choice of fish by their length leaves
// the curve unbiased: design weights are not looked at, and Designed is false. p(a) must
// be that of the fish from which the sample was picked, for a wrong one bends the
// curve, and its own error is not in the standard errors: redraw it.
//
// Every age of the data must be one of the ages; groups share p(a). The
// log-likelihood is that of ages, not to be compared with those of FitCurve.
// Trouble, panics and the rest are as in FitCurve; panics too on an age that is
// none of the ages, and shares not above 0.
//
// Methods, section 7.
func FitConditional(d Data, ages Ages, s Settings) (Fit, error) {
	d.check()
	d.Weight = nil
	c := newConditional(d, ages)
	plain, err := FitCurve(d, s) // biased by the choice of fish, and near enough to begin at
	f := plain
	f.AICc, f.covariance, f.likelihood = record.Number{}, nil, nil
	if plain.x == nil || plain.Scale == 0 {
		return f, err
	}
	c.layout, c.scatter, c.p, c.slope = f.layout, f.Scatter, make([]float64, len(f.layout.held)), make([]float64, len(f.layout.held)*len(ages.Age))
	n := f.layout.n + 1
	low, high, scale := f.layout.bounds(f.reach, n)
	unit := scale
	if plain.covariance != nil {
		unit = make([]float64, n)
		for k := range n {
			unit[k] = math.Sqrt(plain.covariance[k*n+k])
		}
	}
	f.sought = newSearch(c.at, plain.x, unit, low, high)
	fit, err := f.sought.run([][]float64{plain.x})
	f.Optima = len(fit.Optima)
	f.x, f.LogLikelihood = fit.X, -fit.Value
	f.Scale = math.Exp(f.x[f.layout.n])
	f.spread()
	if t := f.layout.trouble(err, fit, f.reach, f.Fish); t != nil {
		return f, t
	}
	f.AICc = aicc(f.LogLikelihood, f.Parameters, f.Fish)
	if f.covariance, err = observed(c.at, f.x, f.layout, f.reach); err != nil {
		f.covariance = nil
		fit.AtBound = nil
		return f, f.layout.trouble(err, fit, f.reach, f.Fish)
	}
	return f, nil
}

// conditional is the likelihood of ages given lengths: fish of one group and
// length share their Σ_k.
type conditional struct {
	layout
	scatter Scatter
	ages    Ages
	group   []int
	length  []float64
	fish    []float64 // lengths × ages
	p       []float64
	mu      []float64
	slope   []float64 // ages × parameters
	log     []float64 // p(k) f(l | k), in logarithms
	byMu    []float64
	byScale []float64
}

func newConditional(d Data, ages Ages) *conditional {
	n := len(ages.Age)
	if len(ages.Share) != n || n == 0 {
		panic(fmt.Sprintf("growth: %d ages with %d shares", n, len(ages.Share)))
	}
	for k, share := range ages.Share {
		if !(share > 0) || math.IsInf(share, 1) {
			panic(fmt.Sprintf("growth: age %v has share %v", ages.Age[k], share))
		}
	}
	c := &conditional{ages: ages, mu: make([]float64, n), log: make([]float64, n), byMu: make([]float64, n), byScale: make([]float64, n)}
	cells := Aggregate(d, 0, 0)
	at := map[[2]float64]int{}
	for i, l := range cells.Length {
		if cells.Count[i] == 0 {
			continue
		}
		where := [2]float64{float64(cells.Group[i]), l}
		j, ok := at[where]
		if !ok {
			j = len(c.length)
			at[where] = j
			c.group, c.length, c.fish = append(c.group, cells.Group[i]), append(c.length, l), append(c.fish, make([]float64, n)...)
		}
		k := slices.Index(ages.Age, cells.Age[i])
		if k < 0 {
			panic(fmt.Sprintf("growth: a fish of age %v, which is none of the ages", cells.Age[i]))
		}
		c.fish[j*n+k] += cells.Count[i]
	}
	return c
}

// at is the negative log-likelihood at the free numbers and log s.
func (c *conditional) at(x, grad []float64) float64 {
	clear(grad)
	np, value, group := len(c.p), 0.0, -1
	s := math.Exp(x[c.n])
	for j, l := range c.length {
		if c.group[j] != group {
			group = c.group[j]
			c.read(c.p, x, group)
			for k, age := range c.ages.Age {
				c.mu[k] = c.curve.Slope(c.slope[k*np:(k+1)*np], age, c.p)
				if math.IsNaN(c.mu[k]) || c.mu[k] <= 0 && (c.scatter == ConstantCV || c.scatter == Lognormal) {
					return math.NaN()
				}
			}
		}
		value += c.one(j, l, s, grad)
	}
	return value
}

// one adds the fish of one length.
func (c *conditional) one(j int, l, s float64, grad []float64) float64 {
	n, np := len(c.ages.Age), len(c.p)
	most := math.Inf(-1)
	for k := range n {
		c.log[k], c.byMu[k], c.byScale[k] = density(c.scatter, l, c.mu[k], s)
		c.log[k] = math.Log(c.ages.Share[k]) - c.log[k]
		most = math.Max(most, c.log[k])
	}
	sum, fish, value := 0.0, 0.0, 0.0
	for k := range n {
		sum += math.Exp(c.log[k] - most)
		fish += c.fish[j*n+k]
	}
	total := most + math.Log(sum)
	for k := range n {
		got := c.fish[j*n+k]
		if got > 0 {
			value += got * (total - c.log[k])
		}
		if grad == nil {
			continue
		}
		pull := got - fish*math.Exp(c.log[k]-total)
		for i, slope := range c.slope[k*np : (k+1)*np] {
			if to := c.index[c.group[j]*np+i]; to >= 0 {
				grad[to] += float64(pull * c.byMu[k] * slope)
			}
		}
		grad[c.n] += float64(pull * c.byScale[k])
	}
	return value
}

// density is minus the log density of a length about μ, with its slopes by μ and
// log s.
func density(scatter Scatter, l, mu, s float64) (value, byMu, byScale float64) {
	z := (l - mu) / s
	switch scatter {
	case ConstantCV:
		z /= mu
		return z*z/2 + math.Log(s*mu) + halfLog2Pi, (1 - z/s - z*z) / mu, 1 - z*z
	case Lognormal:
		z = (math.Log(l) - math.Log(mu)) / s
		return z*z/2 + math.Log(s*l) + halfLog2Pi, -z / (s * mu), 1 - z*z
	case Student:
		pull := (nu + 1) * z / (nu + z*z)
		return math.Log(s) - studentLog + (nu+1)/2.*math.Log1p(z*z/nu), -pull / s, 1 - pull*z
	}
	return z*z/2 + math.Log(s) + halfLog2Pi, -z / s, 1 - z*z
}

package optimise

import (
	"fmt"
	"math"
)

// Range is a profile interval. An open end was not reached: Low or High is then
// the bound of the parameter, or ∓Inf where it has none.
type Range struct {
	Low, High         float64
	LowOpen, HighOpen bool
}

// Profile is the likelihood interval of parameter i at a level: the values whose
// lowest f over the other parameters lies within χ²₁(level)/2 of the optimum,
// f being a negative log-likelihood and fit its optimum under settings s.
//
// An end that is not reached within the bounds or 10⁵ standard errors is open. Ends are
// good to 1e-6 of the half-width. An error, *Error, says BetterElsewhere where the
// profile comes below the optimum. Panics unless 0 < level < 1 and i is a parameter.
//
// Venzon & Moolgavkar (1988) for the definition; the ends are found by secants on
// the signed root √(2(f − f₀)), which is nearly straight.
func Profile(f Objective, fit Fit, i int, level float64, s Settings) (Range, error) {
	if i < 0 || i >= len(fit.X) || !(level > 0 && level < 1) {
		panic(fmt.Sprintf("optimise: profile of parameter %d of %d at level %v", i, len(fit.X), level))
	}
	p := newProfile(f, fit, i, level, s)
	low, lowOpen, err := p.end(-1)
	if err != nil {
		return Range{}, err
	}
	high, highOpen, err := p.end(1)
	return Range{low, high, lowOpen, highOpen}, err
}

type profile struct {
	f         Objective
	fit       Fit
	i         int
	target    float64 // the root √χ²₁(level) to be reached
	se        float64
	settings  Settings
	low, high float64
	warm      []float64
}

func newProfile(f Objective, fit Fit, i int, level float64, s Settings) *profile {
	p := &profile{f: f, fit: fit, i: i, target: math.Sqrt2 * math.Erfinv(level), settings: s}
	n := len(fit.X)
	p.settings.Low, p.settings.High = make([]float64, n), make([]float64, n)
	for j := range n {
		p.settings.Low[j], p.settings.High[j] = math.Inf(-1), math.Inf(1)
		if s.Low != nil {
			p.settings.Low[j] = s.Low[j]
		}
		if s.High != nil {
			p.settings.High[j] = s.High[j]
		}
	}
	p.low, p.high = p.settings.Low[i], p.settings.High[i]
	p.settings.Scale = fit.Scale
	p.se = 0.1 * math.Max(math.Abs(fit.X[i]), fit.Scale[i])
	steps := make([]float64, n)
	for j := range n {
		steps[j] = wide * fit.Scale[j]
	}
	if covariance, err := Covariance(Hessian(f, fit.X, steps)); err == nil {
		p.se = math.Sqrt(covariance[i*n+i])
	}
	return p
}

// root is √(2(lowest f at x_i = x − f₀)).
func (p *profile) root(x float64) (float64, error) {
	p.settings.Low[p.i], p.settings.High[p.i] = x, x
	start := append([]float64(nil), p.warm...)
	start[p.i] = x
	fit, err := Minimise(p.f, start, p.settings)
	if e, ok := err.(*Error); ok && e.Reason != Flat {
		return 0, err
	}
	p.warm = fit.X
	rise := fit.Value - p.fit.Value
	if rise < -1e-6*math.Max(math.Abs(p.fit.Value), 1) {
		return 0, &Error{Reason: BetterElsewhere, Value: fit.Value}
	}
	return math.Sqrt(2 * math.Max(rise, 0)), nil
}

// end is where the root reaches its target on one side, or open.
func (p *profile) end(side float64) (x float64, open bool, err error) {
	p.warm = p.fit.X
	limit := p.low
	if side > 0 {
		limit = p.high
	}
	x0, r0 := p.fit.X[p.i], 0.0
	if x0 == limit {
		return limit, true, nil
	}
	x1, r1 := x0, 0.0
	for width := p.target * p.se; r1 < p.target; width *= 2 {
		if math.Abs(x1-p.fit.X[p.i]) > 1e5*p.se {
			return math.Inf(int(side)), true, nil
		}
		if x1 == limit {
			return limit, true, nil
		}
		x0, r0 = x1, r1
		x1 = min(max(p.fit.X[p.i]+side*width, p.low), p.high)
		if r1, err = p.root(x1); err != nil {
			return 0, false, err
		}
	}
	return p.between(x0, r0, x1, r1)
}

// between closes in on the target by secants kept inside the bracket, halving it
// where they crawl.
func (p *profile) between(x0, r0, x1, r1 float64) (float64, bool, error) {
	near := 1e-6 * math.Abs(x1-p.fit.X[p.i])
	for k := 0; k < 60 && math.Abs(x1-x0) > near; k++ {
		share := (p.target - r0) / (r1 - r0)
		if k%3 == 2 {
			share = 0.5
		}
		x := x0 + share*(x1-x0)
		r, err := p.root(x)
		if err != nil {
			return 0, false, err
		}
		if math.Abs(r-p.target) < 1e-7*p.target {
			return x, false, nil
		}
		if r < p.target {
			x0, r0 = x, r
		} else {
			x1, r1 = x, r
		}
	}
	return x0 + (p.target-r0)/(r1-r0)*(x1-x0), false, nil
}

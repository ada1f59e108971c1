package key

import (
	"math"
	"slices"
)

// CombinedFit is the keys of several years under one growth.
type CombinedFit struct {
	LengthGivenAge []float64   // P(l | a), bins × ages; a column sums to 1
	Share          [][]float64 // p_y(a) by year
	Key            [][]float64 // q_y(a | l) by year, bins × ages
	LogLikelihood  float64     // without the multinomial constants
	Iterations     int
}

// Combined fits one P(l | a) for all years and shares p_y(a) for each, from every
// year's aged and merely measured fish together, at the maximum of
// Σ_y [ Σ_l (L_yl − n_yl) log Σ_a p_y(a) P(l | a) + Σ_la n_yla log p_y(a) P(l | a) ].
//
// L_yl counts all measured fish and n_yla the aged ones among them; the form is right
// for aged fish taken at random and for aged fish taken by length. A year may have no
// aged fish. It assumes that growth was the same in all years. It is found by EM with
// squared extrapolation that keeps no step that loses likelihood, from the aged fish of
// all years together with a little of every age mixed in. An age keeps to the lengths
// between the shortest and the longest fish aged to it, and one that no fish has gets no
// share: with free lengths an age of two fish would take whatever the others leave over.
// Even so it misleads where few fish were aged beside many measured.
//
// The error is a *Trouble: NoAges, NoLengths, or NotSettled beside the fit so far.
// Panics when shapes differ.
//
// Methods, section 5, "No ages this year" (ii). Source: Hoenig & Heisey (1987)
// (citation from memory).
func Combined(years []KeyYear, bins, ages int) (CombinedFit, error) {
	c := &combination{years: slices.Clone(years), bins: bins, ages: ages}
	aged, measured := c.check()
	switch {
	case aged <= 0:
		return CombinedFit{}, &Trouble{Reason: NoAges}
	case measured <= 0:
		return CombinedFit{}, &Trouble{Reason: NoLengths}
	}
	theta := make([]float64, c.size())
	c.begin(theta)
	steps, settled := c.climb(theta, math.Inf(-1), mostCombined)
	fit := c.fit(theta)
	fit.Iterations = steps
	if !settled {
		return fit, &Trouble{Reason: NotSettled, Fish: measured}
	}
	return fit, nil
}

// combination is the model; its parameters lie in one slice, P(l | a) bins × ages and
// then p_y(a) year after year.
type combination struct {
	years      []KeyYear
	bins, ages int

	one, two, far []float64 // buffers of climb
}

func (c *combination) check() (aged, measured float64) {
	for i, y := range c.years {
		if len(y.Aged) == 0 {
			c.years[i].Aged = make([]float64, c.bins*c.ages)
			y = c.years[i]
		}
		if c.ages < 1 || len(y.Lengths) != c.bins || len(y.Aged) != c.bins*c.ages {
			panic("key: Combined wants bins of lengths and bins × ages of aged fish each year")
		}
		aged, measured = aged+sum(y.Aged), measured+sum(y.Lengths)
	}
	return aged, measured
}

func (c *combination) size() int { return (c.bins + len(c.years)) * c.ages }

// begin fills theta with a start from the aged fish of all years.
func (c *combination) begin(theta []float64) {
	clear(theta)
	for i, y := range c.years {
		for at, n := range y.Aged {
			theta[at] += n
			theta[(c.bins+i)*c.ages+at%c.ages] += n
		}
	}
	c.mix(theta, 0.01)
	c.normalise(theta)
}

// mix adds a little to the shares of every age that has aged fish, and to its lengths from
// the shortest to the longest of them: what is 0 never leaves 0, and is meant to stay 0 for
// all other ages and lengths.
func (c *combination) mix(theta []float64, little float64) {
	for a := range c.ages {
		lo, hi := c.reach(a)
		for l := lo; l <= hi; l++ {
			theta[l*c.ages+a] += little
		}
		for at := c.bins*c.ages + a; lo <= hi && at < len(theta); at += c.ages {
			theta[at] += little
		}
	}
}

// reach is the first and last bin at which any year aged a fish of age a; hi < lo if none.
func (c *combination) reach(a int) (lo, hi int) {
	lo, hi = c.bins, -1
	for _, y := range c.years {
		for l := range c.bins {
			if y.Aged[l*c.ages+a] > 0 {
				lo, hi = min(lo, l), max(hi, l)
			}
		}
	}
	return lo, hi
}

// normalise makes the columns of P(l | a) and the shares of each year sum to 1.
func (c *combination) normalise(theta []float64) {
	for a := range c.ages {
		total := 0.0
		for l := range c.bins {
			total += theta[l*c.ages+a]
		}
		for l := range c.bins {
			theta[l*c.ages+a] = over(theta[l*c.ages+a], total)
		}
	}
	for i := range c.years {
		row := theta[(c.bins+i)*c.ages : (c.bins+i+1)*c.ages]
		total := sum(row)
		for a := range row {
			row[a] = over(row[a], total)
		}
	}
}

// step fills next with one EM step from theta and gives the log-likelihood at theta.
func (c *combination) step(next, theta []float64) (likelihood float64) {
	clear(next)
	for i, y := range c.years {
		p, shares := theta[(c.bins+i)*c.ages:(c.bins+i+1)*c.ages], next[(c.bins+i)*c.ages:(c.bins+i+1)*c.ages]
		for l := range c.bins {
			density, n := theta[l*c.ages:(l+1)*c.ages], y.Aged[l*c.ages:(l+1)*c.ages]
			total := dot(density, p)
			unaged := max(y.Lengths[l]-sum(n), 0)
			if unaged > 0 && total > 0 {
				likelihood += float64(unaged * math.Log(total))
			} else {
				unaged = 0
			}
			for a, fish := range n {
				joint := density[a] * p[a]
				if fish > 0 {
					likelihood += float64(fish * math.Log(joint))
				}
				if unaged > 0 {
					fish += unaged * joint / total
				}
				next[l*c.ages+a] += fish
				shares[a] += fish
			}
		}
	}
	c.normalise(next)
	return likelihood
}

// climb moves theta to the maximum: until EM moves nothing by as much as 1e-12, or a
// cycle gains less than tol log units.
func (c *combination) climb(theta []float64, tol float64, most int) (steps int, settled bool) {
	if len(c.one) != len(theta) {
		c.one, c.two, c.far = make([]float64, len(theta)), make([]float64, len(theta)), make([]float64, len(theta))
	}
	before := math.Inf(-1)
	for steps < most {
		steps++
		value := c.step(c.one, theta)
		c.step(c.two, c.one)
		moved := 0.0
		for j := range c.two {
			moved = max(moved, math.Abs(c.two[j]-c.one[j]))
		}
		if moved < 1e-12 || value-before < tol {
			copy(theta, c.two)
			return steps, true
		}
		before = value
		c.extrapolate(c.far, theta, c.one, c.two)
		now := c.step(theta, c.two)
		if c.step(c.one, c.far) >= now {
			copy(theta, c.one)
		}
	}
	return steps, false
}

// mostCombined bounds the cycles of three EM steps and more.
const mostCombined = 5000

// extrapolate fills far with theta − 2αr + α²v, no share below a tenth of two's.
func (c *combination) extrapolate(far, theta, one, two []float64) {
	rr, vv := 0.0, 0.0
	for j := range theta {
		r := one[j] - theta[j]
		v := two[j] - one[j] - r
		rr, vv = rr+float64(r*r), vv+float64(v*v)
	}
	alpha := -math.Sqrt(over(rr, vv))
	for j := range theta {
		r := one[j] - theta[j]
		v := two[j] - one[j] - r
		far[j] = max(theta[j]-float64(2*alpha*r)+float64(alpha*alpha*v), 0.1*two[j])
	}
	c.normalise(far)
}

// fit lays the parameters out.
func (c *combination) fit(theta []float64) CombinedFit {
	cells := c.bins * c.ages
	f := CombinedFit{LengthGivenAge: theta[:cells:cells]}
	f.LogLikelihood = c.step(make([]float64, len(theta)), theta)
	for i := range c.years {
		p := theta[(c.bins+i)*c.ages : (c.bins+i+1)*c.ages]
		joint, q := make([]float64, cells), make([]float64, cells)
		for at := range joint {
			joint[at] = theta[at] * p[at%c.ages]
		}
		Direct(q, joint, c.ages, 0, nil)
		f.Share, f.Key = append(f.Share, p), append(f.Key, q)
	}
	return f
}

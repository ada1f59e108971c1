package growth

import (
	"fmt"
	"math"

	"earstone/programme/record"
)

// layout says where the parameters of each group stand among the free numbers x
// that a fit moves: the curve's, then the logarithm of the scale.
type layout struct {
	curve  Curve
	groups int
	index  []int     // groups × parameters, row by row: place in x, −1 where held
	held   []float64 // value of each parameter that is held
	n      int       // free parameters of the curve
}

func newLayout(c Curve, groups int, hold []record.Number, apart []bool) layout {
	np := len(c.Model.Parameters())
	if hold != nil && len(hold) != np || apart != nil && len(apart) != np {
		panic(fmt.Sprintf("growth: %d held and %d apart of %d parameters of %v", len(hold), len(apart), np, c.Model))
	}
	l := layout{curve: c, groups: groups, index: make([]int, groups*np), held: make([]float64, np)}
	for i := range np {
		if hold != nil && hold[i].Known {
			l.held[i] = hold[i].X
			for g := range groups {
				l.index[g*np+i] = -1
			}
			continue
		}
		for g := range groups {
			if g > 0 && apart != nil && apart[i] {
				l.n++
			}
			l.index[g*np+i] = l.n
		}
		l.n++
	}
	return l
}

// read fills p with the parameters of a group.
func (l *layout) read(p, x []float64, group int) {
	for i := range p {
		p[i] = l.held[i]
		if at := l.index[group*len(p)+i]; at >= 0 {
			p[i] = x[at]
		}
	}
}

// place spreads the parameters p of all groups over x.
func (l *layout) place(x, p []float64) {
	for j, at := range l.index {
		if at >= 0 {
			x[at] = p[j%len(p)]
		}
	}
}

// take lays out x from the parameters of every group and a log scale, the last of
// p; where groups share a parameter the last group's stands.
func (l *layout) take(p []float64) []float64 {
	x := make([]float64, l.n+1)
	for j, at := range l.index {
		if at >= 0 {
			x[at] = p[j]
		}
	}
	x[l.n] = p[len(p)-1]
	return x
}

// name is the parameter of the model that stands at x[k].
func (l *layout) name(k int) string {
	if i := l.parameter(k); i >= 0 {
		return l.curve.Model.Parameters()[i]
	}
	return "scale"
}

// parameter is the number of the parameter at x[k], −1 for a scale.
func (l *layout) parameter(k int) int {
	for j, at := range l.index {
		if at == k {
			return j % len(l.held)
		}
	}
	return -1
}

// reach is the extent of the data, from which come the units and bounds of the
// parameters; everything follows the unit of lengths and of ages.
type reach struct {
	youngest, oldest, longest, span float64
}

func newReach(age, length []float64) reach {
	r := reach{youngest: math.Inf(1), oldest: math.Inf(-1)}
	for i, t := range age {
		r.youngest, r.oldest, r.longest = math.Min(r.youngest, t), math.Max(r.oldest, t), math.Max(r.longest, length[i])
	}
	r.span = math.Max(r.oldest-r.youngest, math.Max(math.Abs(r.oldest)/2, 1e-9))
	return r
}

// limits are the least and greatest value that a parameter may take, and the
// size of a change in it that matters. The outer values only stop a parameter
// that the data do not hold: at them there is no fit.
func (r reach) limits(name string) (low, high, scale float64) {
	switch name {
	case "Linf", "L1", "L2":
		return 1e-3 * r.longest, 20 * r.longest, r.longest
	case "K", "k1", "k2":
		return 1e-3 / r.span, 1e3 / r.span, 1 / r.span
	case "a":
		return -20 / r.span, 1e3 / r.span, 1 / r.span
	case "t0", "ti":
		return r.youngest - 10*r.span, r.oldest + 10*r.span, r.span / 10
	case "alpha":
		return 0, 2 * r.span, r.span / 10
	case "beta":
		return 0.5 / r.span, 2e3 / r.span, 10 / r.span
	}
	return -20, 20, 1 // the shapes m and b
}

// bounds are limits for every free number but the scales, which have none.
func (l *layout) bounds(r reach, numbers int) (low, high, scale []float64) {
	low, high, scale = make([]float64, numbers), make([]float64, numbers), make([]float64, numbers)
	for k := range numbers {
		low[k], high[k], scale[k] = math.Inf(-1), math.Inf(1), 1
		if k < l.n {
			low[k], high[k], scale[k] = r.limits(l.name(k))
		}
	}
	return low, high, scale
}

package key

import "math"

// mostColumns is an intercept and four columns of a spline.
const mostColumns = 5

// curves is the model of one stage, logit P(A = a | A ≥ a, l, s) = x_l'b + u_s, on a
// grid of bins × strata. All stages share it; each has its own b and u.
//
// The coefficients of a stage lie together: columns of b, then strata of u.
type curves struct {
	bins, strata, columns int
	x                     []float64 // bins × columns: 1, N_1(l), N_2(l), ...
	penalty               [mostColumns * mostColumns]float64
	chord                 [mostColumns]float64 // f(1) − f(0) as a sum over b
	shrink                float64              // λ_s
	pinned                int                  // stratum whose effect is held at 0, -1 none
}

func (m *curves) width() int { return m.columns + m.strata }

// slopeRidge is ρ in ½ρ (f(1) − f(0))², added where length splits an age from the
// rest: enough to keep the curve finite; a rise of 40 logits over all lengths costs 0.8.
const slopeRidge = 0.001

// counts is what one stage sees: fish at risk and fish of the age by bin × stratum,
// bins lo to hi, and the ridge on the slope.
type counts struct {
	risk, events []float64
	lo, hi       int
	ridge        float64
}

// system is one stage's Newton equations. Their matrix is an arrow: a dense block h
// for b, a diagonal d for u, and c between the two; so u is eliminated first.
type system struct {
	model  *curves
	e, f   []float64 // exp(−x_l'b) by bin, exp(−u_s) by stratum
	h      [mostColumns * mostColumns]float64
	lower  [mostColumns * mostColumns]float64
	c      []float64 // strata × mostColumns
	d      []float64
	grad   []float64
	trial  []float64
	step   []float64
	reduce [mostColumns]float64
}

func newSystem(m *curves) *system {
	return &system{
		model: m, e: make([]float64, m.bins), f: make([]float64, m.strata),
		c: make([]float64, m.strata*mostColumns), d: make([]float64, m.strata),
		grad: make([]float64, m.width()), trial: make([]float64, m.width()), step: make([]float64, m.width()),
	}
}

// mostSteps bounds Newton's steps of one stage; a warm start needs three or four.
const mostSteps = 100

// newton moves the coefficients b of one stage to the maximum of the penalised
// log-likelihood: until the next step would gain less than tol log units.
//
// The logistic likelihood is concave, and over a step that changes no logit by more
// than 1.5 its curvature changes too little for a full step to lose; only a longer
// step is tried against the likelihood, and halved while it loses.
func (s *system) newton(b []float64, n counts, tol float64) (steps int, settled bool) {
	for steps < mostSteps {
		s.assemble(b, n)
		s.solve(s.step, s.grad)
		steps++
		gain := dot(s.step, s.grad)
		if !(gain > 0) {
			return steps, true // nothing left but rounding
		}
		if s.reach(s.step, n) > 1.5 && !s.shorten(b, n) {
			return steps, false
		}
		for j := range b {
			b[j] += s.step[j]
		}
		if gain < tol {
			return steps, true
		}
	}
	return steps, false
}

// reach is a bound on the change of any logit by a step.
func (s *system) reach(step []float64, n counts) float64 {
	m, most, effect := s.model, 0.0, 0.0
	for l := n.lo; l <= n.hi; l++ {
		most = max(most, math.Abs(dot(m.x[l*m.columns:(l+1)*m.columns], step[:m.columns])))
	}
	for _, u := range step[m.columns:] {
		effect = max(effect, math.Abs(u))
	}
	return most + effect
}

// shorten halves the step until the penalised likelihood rises, or says that it never does.
func (s *system) shorten(b []float64, n counts) bool {
	now := s.objective(b, n)
	for range 40 {
		for j := range b {
			s.trial[j] = b[j] + s.step[j]
		}
		if s.objective(s.trial, n) > now-1e-9 {
			return true
		}
		for j := range s.step {
			s.step[j] /= 2
		}
	}
	return false
}

// assemble fills gradient and arrow at coefficients b.
func (s *system) assemble(b []float64, n counts) {
	s.exps(b, n.lo, n.hi)
	s.fill(b, n)
}

// fill is assemble where the exponentials are at hand.
func (s *system) fill(b []float64, n counts) {
	m := s.model
	clear(s.c)
	clear(s.d)
	clear(s.grad)
	s.h = m.penalty
	p, effects := m.columns, s.grad[m.columns:]
	for l := n.lo; l <= n.hi; l++ {
		x := m.x[l*p : (l+1)*p]
		weight, rest := 0.0, 0.0
		risk, events := n.risk[l*m.strata:(l+1)*m.strata], n.events[l*m.strata:(l+1)*m.strata]
		for g, fish := range risk {
			if fish == 0 {
				continue
			}
			odds := s.e[l] * s.f[g]
			mu := 1 / (1 + odds)
			left := events[g] - float64(fish*mu)
			w := fish * mu * float64(mu*odds)
			weight, rest = weight+w, rest+left
			effects[g] += left
			s.d[g] += w
			c := s.c[g*mostColumns : g*mostColumns+mostColumns]
			for j, v := range x {
				c[j] += float64(w * v)
			}
		}
		for j, v := range x {
			s.grad[j] += float64(rest * v)
			for k := range j + 1 {
				s.h[j*mostColumns+k] += float64(weight * v * x[k])
			}
		}
	}
	s.penalise(b, n.ridge)
	s.factor()
}

// exps fills exp(−x_l'b) and exp(−u_s): the odds against are their product, so that a
// grid of bins × strata costs bins + strata exponentials.
func (s *system) exps(b []float64, lo, hi int) {
	m := s.model
	for l := lo; l <= hi; l++ {
		s.e[l] = exp(-bounded(dot(m.x[l*m.columns:(l+1)*m.columns], b[:m.columns])))
	}
	for g := range s.f {
		s.f[g] = exp(-bounded(b[m.columns+g]))
	}
}

// bounded keeps a logit where its exponential, and the product of two, are numbers.
func bounded(logit float64) float64 { return min(max(logit, -340), 340) }

// penalise adds what the penalties do to gradient and arrow; h held the constant part.
func (s *system) penalise(b []float64, ridge float64) {
	m := s.model
	m.pull(s.grad, b, ridge)
	for j := range m.columns {
		for k := range j + 1 {
			s.h[j*mostColumns+k] += float64(ridge * m.chord[j] * m.chord[k])
		}
	}
	for g := range m.strata {
		if s.d[g] += m.shrink; g == m.pinned {
			s.d[g] = 0
			clear(s.c[g*mostColumns : (g+1)*mostColumns])
		}
	}
}

// pull takes the slopes of the penalties off a gradient.
func (m *curves) pull(grad, b []float64, ridge float64) {
	p, slope := m.columns, dot(m.chord[:m.columns], b[:m.columns])
	for j := range p {
		grad[j] -= float64(ridge * slope * m.chord[j])
		for k := range p {
			grad[j] -= float64(m.penalty[j*mostColumns+k] * b[k])
		}
	}
	for g := range m.strata {
		if grad[p+g] -= float64(m.shrink * b[p+g]); g == m.pinned {
			grad[p+g] = 0
		}
	}
}

// factor takes the strata out of h, h − Σ_g c_g c_g'/d_g, and its Cholesky factor. A
// column that the others already say gets pivot 0 and is not moved.
func (s *system) factor() {
	p := s.model.columns
	s.lower = s.h
	for g, d := range s.d {
		if d <= 0 {
			continue
		}
		c := s.c[g*mostColumns : g*mostColumns+mostColumns]
		for j := range p {
			by := c[j] / d
			for k := range j + 1 {
				s.lower[j*mostColumns+k] -= float64(by * c[k])
			}
		}
	}
	for j := range p {
		row := s.lower[j*mostColumns : j*mostColumns+mostColumns]
		for k := range j {
			below := s.lower[k*mostColumns : k*mostColumns+mostColumns]
			if below[k] == 0 {
				row[k] = 0
				continue
			}
			row[k] = (row[k] - dot(row[:k], below[:k])) / below[k]
		}
		pivot := row[j] - dot(row[:j], row[:j])
		if pivot > 1e-12*s.h[j*mostColumns+j] {
			row[j] = math.Sqrt(pivot)
		} else {
			row[j] = 0
		}
	}
}

// solve fills step with the arrow's inverse times right.
func (s *system) solve(step, right []float64) {
	p := s.model.columns
	y := &s.reduce
	copy(y[:p], right[:p])
	for g, d := range s.d {
		if d <= 0 {
			continue
		}
		by, c := right[p+g]/d, s.c[g*mostColumns:g*mostColumns+mostColumns]
		for j := range p {
			y[j] -= float64(by * c[j])
		}
	}
	for j := range p {
		row := s.lower[j*mostColumns:]
		y[j] = over(y[j]-dot(row[:j], y[:j]), row[j])
	}
	for j := p - 1; j >= 0; j-- {
		for k := j + 1; k < p; k++ {
			y[j] -= float64(s.lower[k*mostColumns+j] * y[k])
		}
		y[j] = over(y[j], s.lower[j*mostColumns+j])
	}
	copy(step[:p], y[:p])
	for g, d := range s.d {
		step[p+g] = over(right[p+g]-dot(s.c[g*mostColumns:g*mostColumns+p], y[:p]), d)
	}
}

// over is x/d, or 0 for a pivot that is not there.
func over(x, d float64) float64 {
	if d <= 0 {
		return 0
	}
	return x / d
}

// objective is the penalised log-likelihood of one stage.
func (s *system) objective(b []float64, n counts) float64 {
	return s.likelihood(b, n) - s.model.cost(b, n.ridge)
}

// likelihood is Σ [y η − n log(1 + e^η)], written with the odds against.
func (s *system) likelihood(b []float64, n counts) float64 {
	m, total := s.model, 0.0
	s.exps(b, n.lo, n.hi)
	for l := n.lo; l <= n.hi; l++ {
		height := dot(m.x[l*m.columns:(l+1)*m.columns], b[:m.columns])
		for g := range m.strata {
			fish, events := n.risk[l*m.strata+g], n.events[l*m.strata+g]
			if fish == 0 {
				continue
			}
			logit := bounded(height) + bounded(b[m.columns+g])
			total -= float64(fish*math.Log1p(s.e[l]*s.f[g])) + float64((fish-events)*logit)
		}
	}
	return total
}

// cost is the penalty ½λ_s Σ u² + ½ b'Pb + ½ρ (f(1) − f(0))².
func (m *curves) cost(b []float64, ridge float64) float64 {
	p, slope, total := m.columns, dot(m.chord[:m.columns], b[:m.columns]), 0.0
	for j := range p {
		total += float64(b[j] * dot(m.penalty[j*mostColumns:j*mostColumns+p], b[:p]))
	}
	for g, u := range b[p:] {
		if g != m.pinned {
			total += float64(m.shrink * u * u)
		}
	}
	return (total + float64(ridge*slope*slope)) / 2
}

func dot(x, y []float64) float64 {
	total := 0.0
	y = y[:len(x)]
	for i, v := range x {
		total += float64(v * y[i])
	}
	return total
}

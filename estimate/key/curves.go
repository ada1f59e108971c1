package key

import (
	"math"

	"earstone/statistics/spline"
)

// Smoothing is how stiff a smoothed key is.
type Smoothing struct {
	DF        int     // columns of the spline of length, 1 to 4; 0 means 3
	Strata    float64 // λ_s on the squared stratum effects; 0 means 2, +Inf leaves the effects out
	Curvature float64 // λ_c on the curvature; 0 means 0.002, negative none
	Ridge     float64 // on the squared coefficients of the spline's columns; 0 none
	EdgeBins  bool    // a bin beyond every aged length takes the nearest aged bin's key
}

func (s Smoothing) filled() Smoothing {
	if s.DF == 0 {
		s.DF = 3
	}
	if s.Strata == 0 {
		s.Strata = 2
	}
	if s.Curvature == 0 {
		s.Curvature = 0.002
	}
	if s.DF < 1 || s.DF > mostColumns-1 || s.Strata < 0 || s.Ridge < 0 {
		panic("key: a smoothed key wants 1 to 4 degrees of freedom and penalties that are not negative")
	}
	s.Curvature = max(s.Curvature, 0)
	return s
}

// newCurves lays the spline over the bins. fish is the number of aged fish by bin;
// the knots are at quantiles of all of these, whatever is fitted later.
func newCurves(g Grid, strata int, fish []float64, s Smoothing) *curves {
	var aged []float64
	for l, number := range fish {
		for range int(math.Ceil(number - 1e-9)) {
			aged = append(aged, g.Mid[l])
		}
	}
	basis := spline.Natural(aged, s.DF)
	m := &curves{bins: g.Bins, strata: strata, columns: 1 + basis.Columns(), shrink: s.Strata, pinned: -1}
	if math.IsInf(s.Strata, 1) {
		m.strata, m.shrink, m.pinned = 1, 0, 0
	}
	m.x = make([]float64, m.bins*m.columns)
	for l, mid := range g.Mid {
		m.x[l*m.columns] = 1
		basis.Eval(m.x[l*m.columns+1:(l+1)*m.columns], mid)
	}
	m.stiffen(basis, s)
	return m
}

// stiffen sets the penalty matrix and the chord.
func (m *curves) stiffen(basis spline.Basis, s Smoothing) {
	df := basis.Columns()
	bend, low, high := make([]float64, df*df), make([]float64, df), make([]float64, df)
	basis.Curvature(bend)
	from, to := basis.Boundary()
	basis.Eval(low, from)
	basis.Eval(high, to)
	for j := range df {
		m.chord[j+1] = high[j] - low[j]
		for k := range df {
			m.penalty[(j+1)*mostColumns+k+1] = float64(s.Curvature * bend[j*df+k])
		}
		m.penalty[(j+1)*mostColumns+j+1] += s.Ridge
	}
}

// stage is how one age's curve came about.
type stage uint8

const (
	never  stage = iota // no fish of this age: the share is 0
	always              // every fish at risk is of this age
	fitted
)

// stages fits the curves of all ages to counts of fish and turns them into a key.
type stages struct {
	*curves
	system *system
	ages   int
	kind   []stage
	risk   []float64 // bins × strata, summed from the oldest age down
	lo, hi int       // bins that those at risk span
	// The odds against an age are byBin[l*ages+a] · byStratum[s*ages+a]; the last row of
	// byStratum is that of a stratum without effect.
	byBin, byStratum []float64
}

func newStages(m *curves, ages int) *stages {
	return &stages{
		curves: m, system: newSystem(m), ages: ages, kind: make([]stage, ages), risk: make([]float64, m.bins*m.strata),
		byBin: make([]float64, m.bins*ages), byStratum: make([]float64, (m.strata+1)*ages),
	}
}

// begin forgets those at risk; take wants the ages from the oldest down.
func (s *stages) begin() {
	clear(s.risk)
	s.lo, s.hi = s.bins, -1
}

// take joins the fish of age a to those at risk and tells what there is to fit. n is
// ages × bins × strata.
func (s *stages) take(n []float64, a int) counts {
	size := s.bins * s.strata
	events := n[a*size : (a+1)*size]
	from, to := s.join(events)
	c := counts{risk: s.risk, events: events}
	s.kind[a] = fitted
	switch {
	case to < 0:
		s.kind[a] = never
		return c
	case s.hi < 0:
		s.kind[a] = always
	case to <= s.lo || from >= s.hi: // a straight line of length splits this age from the rest
		c.ridge = slopeRidge
	}
	s.lo, s.hi = min(s.lo, from), max(s.hi, to)
	c.lo, c.hi = s.lo, s.hi
	return c
}

// join adds the events to those at risk and gives the bins that they span.
func (s *stages) join(events []float64) (from, to int) {
	from, to = s.bins, -1
	for l := range s.bins {
		some := false
		risk := s.risk[l*s.strata : (l+1)*s.strata]
		for g, y := range events[l*s.strata : (l+1)*s.strata] {
			if y > 0 {
				risk[g], some = risk[g]+y, true
			}
		}
		if some {
			from, to = min(from, l), l
		}
	}
	return from, to
}

// of is the coefficients of stage a among those of all.
func (s *stages) of(b []float64, a int) []float64 { return b[a*s.width() : (a+1)*s.width()] }

// fit moves the coefficients of every stage to their maximum.
func (s *stages) fit(b, n []float64, tol float64) (steps int, settled bool) {
	settled = true
	s.begin()
	for a := s.ages - 1; a >= 0; a-- {
		c := s.take(n, a)
		if s.kind[a] != fitted {
			continue
		}
		more, ended := s.system.newton(s.of(b, a), c, tol)
		steps, settled = steps+more, settled && ended
	}
	return steps, settled
}

// odds fills the odds against each age, as factors by bin and by stratum.
func (s *stages) odds(b []float64) {
	for a := range s.ages {
		if s.kind[a] != fitted {
			continue
		}
		theta := s.of(b, a)
		s.system.exps(theta, 0, s.bins-1)
		s.keepOdds(a, s.system)
	}
}

func (s *stages) keepOdds(a int, from *system) {
	for l, e := range from.e {
		s.byBin[l*s.ages+a] = e
	}
	for g, f := range from.f {
		s.byStratum[g*s.ages+a] = f
	}
	s.byStratum[s.strata*s.ages+a] = 1
}

// row fills q with the shares of all ages at bin l in stratum g (-1: no effect), from
// the odds filled before: q_a = p_a Π_{j<a} (1 − p_j).
func (s *stages) row(q []float64, l, g int) {
	if g < 0 {
		g = s.strata
	}
	left := 1.0
	e, f := s.byBin[l*s.ages:(l+1)*s.ages], s.byStratum[g*s.ages:(g+1)*s.ages]
	for a := range q {
		switch s.kind[a] {
		case never:
			q[a] = 0
		case always:
			q[a], left = left, 0
		default:
			odds := float64(e[a] * f[a])
			p := 1 / (1 + odds)
			q[a] = left * p
			left *= p * odds
		}
	}
}

// hold adds ½ρ (f(1) − f(0))² and ½ρ times the squared mean logit over the aged fish.
func (m *curves) hold(aged []float64, rho float64) {
	var level [mostColumns]float64
	total := sum(aged)
	for l, fish := range aged {
		for j := range m.columns {
			level[j] += fish / total * m.x[l*m.columns+j]
		}
	}
	for j := range m.columns {
		for k := range m.columns {
			m.penalty[j*mostColumns+k] += float64(rho * (float64(level[j]*level[k]) + float64(m.chord[j]*m.chord[k])))
		}
	}
}

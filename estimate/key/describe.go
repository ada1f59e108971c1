package key

import "gonum.org/v1/gonum/mat"

// Curve is what one age of a smoothed key came to.
type Curve struct {
	Age           int
	Fitted        bool      // false: no fish at risk is of this age, or all are
	Separated     bool      // length splits this age from all older ones; a small ridge holds the slope
	LogLikelihood float64   // without the penalty
	Penalty       float64   // ½λ_s Σ u² + ½λ_c ∫ f″² + ridges
	EffectiveDF   float64   // trace of (X'WX + P)⁻¹ X'WX
	Spline        []float64 // intercept and the coefficients of the spline's columns
	Effects       []float64 // u by stratum; nil without effects
}

// Curves describes the last fit, one curve an age but the oldest.
func (w *SmoothWork) Curves() []Curve {
	var all []Curve
	w.each(func(a int, c counts) {
		theta := w.of(w.b, a)
		curve := Curve{
			Age: a, Fitted: w.kind[a] == fitted, Separated: c.ridge > 0,
			Spline: append([]float64(nil), theta[:w.columns]...),
		}
		if !w.merged {
			curve.Effects = append([]float64(nil), theta[w.columns:]...)
		}
		if curve.Fitted {
			curve.LogLikelihood, curve.Penalty = w.system.likelihood(theta, c), w.cost(theta, c.ridge)
			curve.EffectiveDF = w.effective(theta, c)
		}
		all = append(all, curve)
	})
	return all
}

// Doubts is what the last fit leaves to be doubted: OneAge, NoSpread, and Separated with
// each age that length splits from all older ones. A key with doubts is a key.
func (w *SmoothWork) Doubts() []Trouble {
	var doubts []Trouble
	ages, only := 0, 0
	for a, kind := range w.kind {
		if kind != never {
			ages, only = ages+1, a
		}
	}
	if ages == 1 {
		doubts = append(doubts, Trouble{Reason: OneAge, Age: only})
	}
	if w.columns == 1 {
		doubts = append(doubts, Trouble{Reason: NoSpread, Bins: 1})
	}
	for _, curve := range w.Curves() {
		if curve.Separated {
			doubts = append(doubts, Trouble{Reason: Separated, Age: curve.Age})
		}
	}
	return doubts
}

// each walks the stages of the last fit from the youngest, the oldest age left out.
func (w *SmoothWork) each(do func(a int, c counts)) {
	for a := range w.ages - 1 {
		w.begin()
		var c counts
		for older := w.ages - 1; older >= a; older-- {
			c = w.take(w.n, older)
		}
		do(a, c)
	}
}

// effective is the trace of (X'WX + P)⁻¹ X'WX: columns less the trace of (X'WX + P)⁻¹ P.
func (w *SmoothWork) effective(theta []float64, c counts) float64 {
	inverse, penalty := w.inverse(theta, c), w.penaltyMatrix(c.ridge)
	var share mat.Dense
	share.Mul(inverse, penalty)
	free := w.width()
	if w.pinned >= 0 {
		free--
	}
	return float64(free) - mat.Trace(&share)
}

// penaltyMatrix is P over the columns and the strata.
func (w *SmoothWork) penaltyMatrix(ridge float64) *mat.SymDense {
	p := mat.NewSymDense(w.width(), nil)
	for j := range w.columns {
		for k := j; k < w.columns; k++ {
			p.SetSym(j, k, w.penalty[j*mostColumns+k]+float64(ridge*w.chord[j]*w.chord[k]))
		}
	}
	for g := range w.strata {
		p.SetSym(w.columns+g, w.columns+g, w.shrink)
	}
	return p
}

// inverse is (X'WX + P)⁻¹ at theta.
func (w *SmoothWork) inverse(theta []float64, c counts) *mat.Dense {
	w.system.assemble(theta, c)
	return w.system.inverse(make([]float64, w.width()))
}

// inverse is that of the arrow, column by column; unit is a buffer.
func (s *system) inverse(unit []float64) *mat.Dense {
	column, inverse := make([]float64, len(unit)), mat.NewDense(len(unit), len(unit), nil)
	for j := range unit {
		clear(unit)
		unit[j] = 1
		s.solve(column, unit)
		inverse.SetCol(j, column)
	}
	return inverse
}

// Logit is one stage's curve at a length and stratum.
type Logit struct{ Value, Variance float64 }

// Logits is the curve of each age at row (k, l) of the last fit, with its variance from
// (X'WX + P)⁻¹; zero where the age has no curve.
func (w *SmoothWork) Logits(k, l int) []Logit {
	logits, x := make([]Logit, w.ages), mat.NewVecDense(w.width(), nil)
	w.design(x, k*w.bins+l)
	w.each(func(a int, c counts) {
		if w.kind[a] == fitted {
			theta := w.of(w.b, a)
			logits[a] = Logit{dot(x.RawVector().Data, theta), mat.Inner(x, w.inverse(theta, c), x)}
		}
	})
	return logits
}

// Variance fills v (strata × bins × classes) with the variance of the shares of the last
// fit, Var q_a = q_a² [ (1 − p_a)² v_a + Σ_{j<a} p_j² v_j ], v_a the variance of the
// logit of stage a at (l, s) from (X'WX + P)⁻¹ (delta method; no unit). v may have fewer
// classes than there are ages: its last then holds that age and all older ones together,
// Var = S² Σ_{j<a} p_j² v_j of their share S.
//
// It takes the fish for independent, and serves where a cell's single aged fish gives
// no spread of its own; the resampling, not this, knows that fish of one trip are
// alike. A row without a key is 0. Panics when v has no such shape.
//
// Methods, section 6 (n_l = 1) and 5. Source: Wahba (1983) for penalised curves
// (citation from memory).
func (w *SmoothWork) Variance(v []float64) {
	rows, classes := w.classes(v)
	logit := make([]float64, rows*w.ages)
	w.each(func(a int, c counts) {
		if w.kind[a] != fitted {
			return
		}
		inverse, x := w.inverse(w.of(w.b, a), c), mat.NewVecDense(w.width(), nil)
		for at := range rows {
			w.design(x, at)
			logit[at*w.ages+a] = mat.Inner(x, inverse, x)
		}
	})
	w.odds(w.b)
	q := make([]float64, w.ages)
	for at := range rows {
		w.spread(v[at*classes:(at+1)*classes], q, logit[at*w.ages:], at)
	}
}

// classes is the shape of v, rows × classes.
func (s *smooth) classes(v []float64) (rows, classes int) {
	rows = len(s.grid.Path) * s.bins
	if classes = len(v) / rows; len(v) != rows*classes || classes < 1 || classes > s.ages {
		panic("key: Variance wants strata × bins × classes numbers, and no more classes than ages")
	}
	return rows, classes
}

// design is the row of X of row (k, l) of the key: columns of the spline, then strata.
func (s *smooth) design(x *mat.VecDense, at int) {
	x.Zero()
	l, group := s.clamp(at%s.bins), s.stratum(at/s.bins)
	for j := range s.columns {
		x.SetVec(j, s.x[l*s.columns+j])
	}
	if group >= 0 {
		x.SetVec(s.columns+group, 1)
	}
}

// spread fills v with the variances of row (k, l) from those of its logits.
func (w *SmoothWork) spread(v, q, logit []float64, at int) {
	clear(v)
	if w.cell(at) < 0 {
		return
	}
	w.row(q, w.clamp(at%w.bins), w.stratum(at/w.bins))
	left, below := 1.0, 0.0
	for a, share := range q[:len(v)] {
		if a == len(v)-1 {
			share = left
		}
		if w.kind[a] != fitted || a == len(v)-1 {
			v[a] = share * share * below
			left -= share
			continue
		}
		p := share / left
		v[a] = share * share * (float64((1-p)*(1-p)*logit[a]) + below)
		below += float64(p * p * logit[a])
		left -= share
		if left <= 0 {
			return
		}
	}
}

// Variance is that of SmoothWork, at the fit to the sample, by the delta method from the
// inverse of the information that the readings hold on all curves together, penalties
// included. Where that cannot be inverted it is the complete-data
// information of the last fit, stage by stage, which takes the true ages for seen and says
// too little. Panics when v has another shape.
func (w *TrueSmoothWork) Variance(v []float64) {
	rows, classes := w.classes(v)
	spread := newRowSpread(w)
	w.oddsAt(w.b)
	for at := range rows {
		row := v[at*classes : (at+1)*classes]
		if clear(row); w.cell(at) >= 0 {
			spread.fill(row, at)
		}
	}
}

// rowSpread holds the covariance of the logits of one row.
type rowSpread struct {
	*TrueSmoothWork
	x      *mat.VecDense
	v      *mat.Dense   // stages × stages
	logits *logits      // nil where the information of the readings cannot be had
	stages []*mat.Dense // in its place
}

func newRowSpread(w *TrueSmoothWork) *rowSpread {
	number := w.last - w.first
	r := &rowSpread{TrueSmoothWork: w, x: mat.NewVecDense(w.width(), nil), v: mat.NewDense(max(number, 1), max(number, 1), nil)}
	if w.curvature != nil {
		r.logits = w.curvature.logits()
		return r
	}
	unit := make([]float64, w.width())
	w.begin()
	w.join(w.events(w.last))
	r.stages = make([]*mat.Dense, number)
	for a := w.last - 1; a >= w.first; a-- {
		w.join(w.events(a))
		w.systems[a].assemble(w.of(w.b, a), w.counts(a))
		r.stages[a-w.first] = w.systems[a].inverse(unit)
	}
	return r
}

// fill works out one row: Var q_a = Σ_jk g_j V_jk g_k, g the slopes of q_a along the logits,
// q_a (1 − p_a) at j = a and −q_a p_j below.
func (r *rowSpread) fill(v []float64, at int) {
	r.covariance(at)
	number := r.last - r.first
	r.row(r.q, r.clamp(at%r.bins), r.stratum(at/r.bins))
	slope, p, left := make([]float64, number), make([]float64, number), 1.0
	for a := range v {
		folded := a == len(v)-1
		share := r.q[a]
		if folded {
			share = left
		}
		clear(slope)
		for j := 0; j < min(a-r.first, number); j++ {
			slope[j] = -share * p[j]
		}
		if j := a - r.first; j >= 0 && j < number {
			p[j] = over(r.q[a], left)
			if !folded {
				slope[j] = share * (1 - p[j])
			}
		}
		left -= r.q[a]
		if number > 0 {
			g := mat.NewVecDense(number, slope)
			v[a] = max(mat.Inner(g, r.v, g), 0)
		}
	}
}

// covariance fills v with that of the logits of one row.
func (r *rowSpread) covariance(at int) {
	r.design(r.x, at)
	if r.logits != nil {
		g := r.stratum(at / r.bins)
		if g == r.pinned {
			g = -1
		}
		r.logits.of(r.v, r.x.RawVector().Data[:r.columns], g)
		return
	}
	for j, stage := range r.stages {
		r.v.Set(j, j, mat.Inner(r.x, stage, r.x))
	}
}

package key

import "gonum.org/v1/gonum/mat"

// curvature is the inverse of the information on all coefficients that the readings
// hold at the fit to the sample. Replicates of the sample bend almost alike, so that
// it serves all of them and a refit takes few steps. (To scale it by each stage's weight
// Σ n p (1 − p) was tried: where an age runs out of fish the steps overshoot.)
//
// A fish is of one stratum, so that the effects of two strata meet only by way of the
// spline's columns: the information is an arrow. With the columns of all stages (lines)
// first, D_g the block of the effects of stratum g and C_g the one between, the inverse is
// kept as S⁻¹ of S = L − Σ_g C_g D_g⁻¹ C_g', D_g⁻¹ and D_g⁻¹C_g': it costs lines² plus
// strata × stages × lines, not the square of all coefficients, and serves any number of strata.
type curvature struct {
	stages, columns, strata int

	lines   []float64   // S⁻¹, lines × lines
	effects [][]float64 // D_g⁻¹, stages × stages
	carry   [][]float64 // D_g⁻¹C_g', stages × lines

	line, moved, effect []float64 // buffers of solve
}

// solve replaces v, stage by stage its columns and then its strata, by the inverse times v.
func (c *curvature) solve(v []float64) {
	width, lines := c.columns+c.strata, len(c.line)
	for j := range c.stages {
		copy(c.line[j*c.columns:], v[j*width:j*width+c.columns])
	}
	for g, carry := range c.carry {
		for j := range c.stages {
			if x := v[j*width+c.columns+g]; x != 0 {
				add(c.line, -x, carry[j*lines:(j+1)*lines])
			}
		}
	}
	for i := range c.moved {
		c.moved[i] = dot4(c.lines[i*lines:(i+1)*lines], c.line)
	}
	for g, carry := range c.carry {
		for j := range c.effect {
			c.effect[j] = v[j*width+c.columns+g]
		}
		for j := range c.stages {
			v[j*width+c.columns+g] = dot4(c.effects[g][j*c.stages:(j+1)*c.stages], c.effect) - dot4(carry[j*lines:(j+1)*lines], c.moved)
		}
	}
	for j := range c.stages {
		copy(v[j*width:j*width+c.columns], c.moved[j*c.columns:])
	}
}

// dot4 is dot in four sums, which a processor can run side by side.
func dot4(x, y []float64) float64 {
	y = y[:len(x)]
	var a, b, c, d float64
	i := 0
	for ; i+4 <= len(x); i += 4 {
		a += float64(x[i] * y[i])
		b += float64(x[i+1] * y[i+1])
		c += float64(x[i+2] * y[i+2])
		d += float64(x[i+3] * y[i+3])
	}
	for ; i < len(x); i++ {
		a += float64(x[i] * y[i])
	}
	return (a + b) + (c + d)
}

// kept is the share of the missing information that is taken off: a little less than
// all, so that the rest is positive where the likelihood is flat.
const kept = 0.99

// newCurvature is complete-data information less missing information at the last fit,
// Louis (1982), inverted; nil where that cannot be had.
func (w *TrueSmoothWork) newCurvature() *curvature {
	if w.last == w.first {
		return nil
	}
	w.curvature = nil
	w.look(w.b)
	info := newInformation(w)
	for a := w.first; a < w.last; a++ {
		info.complete(w, a)
	}
	missing := newMissing(w)
	at := int32(0)
	for _, r := range w.rows {
		missing.take(r.cell, w.live[at:r.end])
		missing.addTo(info, int(r.cell))
		at = r.end
	}
	return info.invert()
}

// information is that on all coefficients, by its blocks.
type information struct {
	stages, columns int
	lines           *mat.SymDense   // stage and column, both ways
	effects         []*mat.SymDense // of each stratum: stages × stages
	between         []*mat.Dense    // of each stratum: stages × (stage and column)
}

func newInformation(w *TrueSmoothWork) *information {
	n := &information{stages: w.last - w.first, columns: w.columns}
	n.lines = mat.NewSymDense(n.stages*n.columns, nil)
	for range w.strata {
		n.effects = append(n.effects, mat.NewSymDense(n.stages, nil))
		n.between = append(n.between, mat.NewDense(n.stages, n.stages*n.columns, nil))
	}
	return n
}

// complete adds the complete-data information of age a.
func (n *information) complete(w *TrueSmoothWork, a int) {
	s, j := w.systems[a], a-w.first
	for i := range n.columns {
		for h := range i + 1 {
			n.lines.SetSym(j*n.columns+i, j*n.columns+h, s.h[i*mostColumns+h])
		}
	}
	for g, d := range s.d {
		n.effects[g].SetSym(j, j, d)
		for i := range n.columns {
			n.between[g].Set(j, j*n.columns+i, s.c[g*mostColumns+i])
		}
	}
}

// invert gives the inverse by its blocks; nil where there is none. The diagonal is raised
// a trifle: a coefficient of which nothing is known, a pinned effect for one, stays put.
func (n *information) invert() *curvature {
	size := n.stages * n.columns
	c := &curvature{stages: n.stages, columns: n.columns, strata: len(n.effects),
		lines: make([]float64, size*size), line: make([]float64, size), moved: make([]float64, size), effect: make([]float64, n.stages)}
	raise(n.lines)
	left := mat.NewSymDense(size, nil)
	left.CopySym(n.lines)
	var product mat.Dense
	for g, block := range n.effects {
		raise(block)
		carry := mat.NewDense(n.stages, size, nil)
		inverse, ok := inverted(block)
		if !ok {
			return nil
		}
		carry.Mul(inverse, n.between[g])
		product.Mul(n.between[g].T(), carry)
		for i := range size {
			for h := i; h < size; h++ {
				left.SetSym(i, h, left.At(i, h)-product.At(i, h))
			}
		}
		c.effects, c.carry = append(c.effects, flatten(inverse)), append(c.carry, flatten(carry))
	}
	inverse, ok := inverted(left)
	if !ok {
		return nil
	}
	copy(c.lines, flatten(inverse))
	return c
}

func raise(m *mat.SymDense) {
	for i := range m.SymmetricDim() {
		m.SetSym(i, i, m.At(i, i)*(1+1e-10)+1e-8)
	}
}

func inverted(m *mat.SymDense) (*mat.SymDense, bool) {
	var factor mat.Cholesky
	var inverse mat.SymDense
	if !factor.Factorize(m) || factor.InverseTo(&inverse) != nil {
		return nil, false
	}
	return &inverse, true
}

func flatten(m mat.Matrix) []float64 {
	rows, columns := m.Dims()
	flat := make([]float64, 0, rows*columns)
	for i := range rows {
		for j := range columns {
			flat = append(flat, m.At(i, j))
		}
	}
	return flat
}

// logits is the covariance of the logits of all stages in one row after another.
type logits struct {
	*curvature
	g     int       // stratum that cross and own are of; −1 none yet
	cross []float64 // D_g⁻¹C_g'S⁻¹, stages × lines: −cov of effects and lines
	own   []float64 // D_g⁻¹ + D_g⁻¹C_g'S⁻¹C_g D_g⁻¹, stages × stages
}

func (c *curvature) logits() *logits {
	return &logits{curvature: c, g: -1, cross: make([]float64, c.stages*len(c.line)), own: make([]float64, c.stages*c.stages)}
}

// of fills v, stages × stages, at columns x of the spline, with the effects of stratum g,
// −1 without.
func (l *logits) of(v *mat.Dense, x []float64, g int) {
	l.turn(g)
	for j := range l.stages {
		for k := range l.stages {
			total := 0.0
			for i, by := range x {
				total += float64(by * dot(x, l.lines[(j*l.columns+i)*len(l.line)+k*l.columns:]))
			}
			if g >= 0 {
				total += l.own[j*l.stages+k] - dot(x, l.cross[j*len(l.line)+k*l.columns:]) - dot(x, l.cross[k*len(l.line)+j*l.columns:])
			}
			v.Set(j, k, total)
		}
	}
}

// turn fills cross and own for another stratum.
func (l *logits) turn(g int) {
	if g < 0 || g == l.g {
		return
	}
	l.g = g
	lines := len(l.line)
	carry := mat.NewDense(l.stages, lines, l.carry[g])
	cross, own := mat.NewDense(l.stages, lines, l.cross), mat.NewDense(l.stages, l.stages, l.own)
	cross.Mul(carry, mat.NewDense(lines, lines, l.lines))
	own.Mul(cross, carry.T())
	own.Add(own, mat.NewDense(l.stages, l.stages, l.effects[g]))
}

// missing is the variance of the complete-data score given the readings, for the fish
// of one stratum and bin: m_jk Σ over stages j and k, times xx' of the row.
type missing struct {
	*TrueSmoothWork
	m     []float64 // stages × stages
	p     []float64 // by age
	score []float64 // expected score of a stage, by age
}

func newMissing(w *TrueSmoothWork) *missing {
	return &missing{
		TrueSmoothWork: w, m: make([]float64, w.ages*w.ages), p: make([]float64, w.ages), score: make([]float64, w.ages),
	}
}

// take fills m from the live cells of a row that starts with cell at. A fish of age a has the score
// d_j = 1{a = j} − p_j 1{a ≥ j} in stage j, so that E d_j d_k = −p_j E d_k for j < k.
func (v *missing) take(at int32, live []int32) {
	clear(v.m)
	v.row(v.q, int(v.cells.bin[at]), v.effect(at))
	left := 1.0
	for a := v.first; a < v.last; a++ {
		v.p[a] = over(v.q[a], left)
		left -= v.q[a]
	}
	for _, c := range live {
		v.one(c)
	}
}

func (v *missing) one(c int32) {
	p, total := int(v.cells.value[c]), 0.0
	lo, hi := int(v.likely.lo[p]), int(v.likely.hi[p])
	clear(v.gain)
	for a := lo; a <= hi; a++ {
		v.gain[a] = v.q[a] * v.likely.t[p*v.ages+a]
		total += v.gain[a]
	}
	if total <= tiniest {
		return
	}
	older := sum(v.gain[v.last:]) / total
	for k := v.last - 1; k >= v.first; k-- {
		own := v.gain[k] / total
		v.score[k] = own - float64(v.p[k]*(own+older))
		second := float64(own*(1-v.p[k])*(1-v.p[k])) + float64(older*v.p[k]*v.p[k])
		v.m[k*v.ages+k] += v.fish[c] * (second - float64(v.score[k]*v.score[k]))
		older += own
	}
	for k := v.first; k < v.last; k++ {
		for j := v.first; j < k; j++ {
			v.m[j*v.ages+k] -= v.fish[c] * v.score[k] * (v.p[j] + v.score[j])
		}
	}
}

// addTo takes the missing information of the row off.
func (v *missing) addTo(info *information, at int) {
	l, n, g := int(v.cells.bin[at]), v.columns, v.effect(int32(at))
	x := v.curves.x[l*n : (l+1)*n]
	for j := v.first; j < v.last; j++ {
		for k := j; k < v.last; k++ {
			if by := kept * v.m[j*v.ages+k]; by != 0 {
				info.less(j-v.first, k-v.first, by, x, g, v.pinned != g)
			}
		}
	}
}

// less takes by·xx' off the block of stages j ≤ k, for fish of a row with columns x and
// the effects of stratum g, where that has effects.
func (n *information) less(j, k int, by float64, x []float64, g int, effects bool) {
	for i, one := range x {
		row := j*n.columns + i
		for h, other := range x {
			if column := k*n.columns + h; row <= column {
				n.lines.SetSym(row, column, n.lines.At(row, column)-float64(by*one*other))
			}
		}
	}
	if !effects {
		return
	}
	n.effects[g].SetSym(j, k, n.effects[g].At(j, k)-by)
	for i, one := range x {
		n.draw(g, j, k*n.columns+i, float64(by*one))
		if j != k {
			n.draw(g, k, j*n.columns+i, float64(by*one))
		}
	}
}

func (n *information) draw(g, stage, line int, by float64) {
	n.between[g].Set(stage, line, n.between[g].At(stage, line)-by)
}

package key

import "gonum.org/v1/gonum/mat"

// curvature is the inverse of the information on all coefficients that the readings
// hold at the fit to the sample. Replicates of the sample bend almost alike, so that
// it serves all of them and a refit takes few steps. (To scale it by each stage's weight
// Σ n p (1 − p) was tried: where an age runs out of fish the steps overshoot.)
type curvature struct {
	inverse []float64 // width × width, symmetric
	product []float64
}

// solve replaces v by the inverse times v.
func (c *curvature) solve(v []float64) {
	width := len(c.product)
	for i := range c.product {
		c.product[i] = dot4(c.inverse[i*width:(i+1)*width], v)
	}
	copy(v, c.product)
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

// mostDense is how many coefficients a dense inverse pays for: 17 ages with 40 strata.
// Beyond it every step takes the complete-data curvature, stage by stage.
const mostDense = 800

// newCurvature is complete-data information less missing information at the last fit,
// Louis (1982), inverted; nil where that cannot be had.
func (w *TrueSmoothWork) newCurvature() *curvature {
	size := (w.last - w.first) * w.width()
	if size == 0 || size > mostDense {
		return nil
	}
	w.curvature = nil
	w.look(w.b)
	info := mat.NewSymDense(size, nil)
	for a := w.first; a < w.last; a++ {
		w.complete(info, a)
	}
	missing := newMissing(w)
	at := int32(0)
	for _, r := range w.rows {
		missing.take(r.cell, w.live[at:r.end])
		missing.addTo(info, int(r.cell))
		at = r.end
	}
	for i := range size {
		info.SetSym(i, i, info.At(i, i)*(1+1e-10)+1e-8)
	}
	var factor mat.Cholesky
	if !factor.Factorize(info) {
		return nil
	}
	var inverse mat.SymDense
	if factor.InverseTo(&inverse) != nil {
		return nil
	}
	c := &curvature{inverse: make([]float64, size*size), product: make([]float64, size)}
	for i := range size {
		for j := range size {
			c.inverse[i*size+j] = inverse.At(i, j)
		}
	}
	return c
}

// complete adds the complete-data information of stage a.
func (w *TrueSmoothWork) complete(info *mat.SymDense, a int) {
	s, at := w.systems[a], (a-w.first)*w.width()
	for j := range w.columns {
		for k := range j + 1 {
			info.SetSym(at+j, at+k, s.h[j*mostColumns+k])
		}
	}
	for g, d := range s.d {
		diagonal := at + w.columns + g
		info.SetSym(diagonal, diagonal, d)
		for j := range w.columns {
			info.SetSym(at+j, diagonal, s.c[g*mostColumns+j])
		}
	}
}

// missing is the variance of the complete-data score given the readings, for the fish
// of one stratum and bin: m_jk Σ over stages j and k, times xx' of the row.
type missing struct {
	*TrueSmoothWork
	m     []float64 // stages × stages
	p     []float64 // by age
	score []float64 // expected score of a stage, by age
	x     []float64
	place []int // of the elements of x within a stage
}

func newMissing(w *TrueSmoothWork) *missing {
	return &missing{
		TrueSmoothWork: w, m: make([]float64, w.ages*w.ages), p: make([]float64, w.ages), score: make([]float64, w.ages),
		x: make([]float64, w.columns+1), place: make([]int, w.columns+1),
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
func (v *missing) addTo(info *mat.SymDense, at int) {
	l, n := int(v.cells.bin[at]), v.columns
	copy(v.x, v.curves.x[l*n:(l+1)*n])
	for j := range n {
		v.place[j] = j
	}
	v.x[n], v.place[n] = 1, n+v.effect(int32(at))
	if v.pinned == v.effect(int32(at)) {
		v.x[n] = 0
	}
	for j := v.first; j < v.last; j++ {
		for k := j; k < v.last; k++ {
			v.block(info, j, k, kept*v.m[j*v.ages+k])
		}
	}
}

// block takes by·xx' off the block of stages j and k.
func (v *missing) block(info *mat.SymDense, j, k int, by float64) {
	if by == 0 {
		return
	}
	rows, columns := (j-v.first)*v.width(), (k-v.first)*v.width()
	for i, x := range v.x {
		for h, y := range v.x {
			row, column := rows+v.place[i], columns+v.place[h]
			if j < k || h >= i {
				info.SetSym(row, column, info.At(row, column)-float64(by*x*y))
			}
		}
	}
}

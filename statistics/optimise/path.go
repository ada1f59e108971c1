package optimise

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// path is one minimisation under way. It works in z = x/scale.
type path struct {
	f           Objective
	n           int
	scale       []float64
	low, high   []float64 // of z
	tolerance   float64
	iterations  int
	z, grad     []float64 // where it stands, slopes by z
	value       float64
	done        int
	evaluations int
	x, gx       []float64 // buffers in the user's units
	curve       []float64 // n × n, the approximate Hessian by z
}

func newPath(f Objective, start []float64, s Settings) *path {
	n := len(start)
	checkShapes(n, s)
	p := &path{f: f, n: n, tolerance: s.Tolerance, iterations: s.Iterations}
	if p.tolerance <= 0 {
		p.tolerance = 1e-6
	}
	if p.iterations <= 0 {
		p.iterations = 500
	}
	p.scale, p.z, p.grad = make([]float64, n), make([]float64, n), make([]float64, n)
	p.low, p.high = make([]float64, n), make([]float64, n)
	p.x, p.gx = make([]float64, n), make([]float64, n)
	for i := range n {
		p.scale[i] = math.Abs(start[i])
		if s.Scale != nil {
			p.scale[i] = s.Scale[i]
		} else if p.scale[i] == 0 {
			p.scale[i] = 1
		}
		p.low[i], p.high[i] = math.Inf(-1), math.Inf(1)
		if s.Low != nil {
			p.low[i] = s.Low[i] / p.scale[i]
		}
		if s.High != nil {
			p.high[i] = s.High[i] / p.scale[i]
		}
		p.z[i] = p.within(i, start[i]/p.scale[i])
	}
	p.value = p.at(p.z, p.grad)
	return p
}

func (p *path) within(i int, z float64) float64 { return min(max(z, p.low[i]), p.high[i]) }

// at is the objective by z.
func (p *path) at(z, grad []float64) float64 {
	p.evaluations++
	for i := range z {
		p.x[i] = z[i] * p.scale[i]
	}
	if grad == nil {
		return p.f(p.x, nil)
	}
	value := p.f(p.x, p.gx)
	for i := range grad {
		grad[i] = p.gx[i] * p.scale[i]
	}
	return value
}

// fixed says whether the bounds leave parameter i no room.
func (p *path) fixed(i int) bool {
	return p.high[i]-p.low[i] <= 1e-9*math.Max(math.Abs(p.z[i]), 1)
}

// held says whether a bound holds parameter i against its slope.
func (p *path) held(i int) bool {
	return p.fixed(i) || p.z[i] <= p.low[i] && p.grad[i] >= 0 || p.z[i] >= p.high[i] && p.grad[i] <= 0
}

func (p *path) free() []int {
	var free []int
	for i := range p.n {
		if !p.held(i) {
			free = append(free, i)
		}
	}
	return free
}

// scaled is the largest scaled slope among free parameters.
func (p *path) scaled() float64 {
	largest := 0.0
	for _, i := range p.free() {
		largest = math.Max(largest, math.Abs(p.grad[i])*math.Max(math.Abs(p.z[i]), 1))
	}
	return largest / math.Max(math.Abs(p.value), 1)
}

// descend goes down by quasi-Newton steps until the slope is gone or no step helps.
func (p *path) descend() {
	p.restart()
	fresh := true // the curvature was just taken anew
	for p.done < p.iterations && p.scaled() > p.tolerance/100 {
		p.done++
		z, grad := slices.Clone(p.z), slices.Clone(p.grad)
		moved := p.search(p.direction())
		if !moved && !fresh {
			p.restart()
			fresh = true
			continue
		}
		if !moved && !p.search(p.steepest()) {
			return
		}
		fresh = false
		p.update(z, grad)
	}
}

// restart takes the curvature from differences of slopes, its signs made positive.
func (p *path) restart() {
	h, _ := p.hessian()
	p.curve = positive(h, p.n)
}

// positive is a matrix with the absolute eigenvalues of h, none much below the
// largest. Where h is not finite it is the unit matrix.
func positive(h []float64, n int) []float64 {
	unit := make([]float64, n*n)
	for i := range n {
		unit[i*n+i] = 1
	}
	var eigen mat.EigenSym
	if n == 0 || !allFinite(h) || !eigen.Factorize(mat.NewSymDense(n, h), true) {
		return unit
	}
	values := eigen.Values(nil)
	largest := 0.0
	for _, v := range values {
		largest = math.Max(largest, math.Abs(v))
	}
	if largest == 0 {
		return unit
	}
	var vectors mat.Dense
	eigen.VectorsTo(&vectors)
	out := make([]float64, n*n)
	for k, v := range values {
		size := math.Max(math.Abs(v), 1e-8*largest)
		for i := range n {
			for j := range n {
				out[i*n+j] += float64(size * vectors.At(i, k) * vectors.At(j, k))
			}
		}
	}
	return out
}

// direction solves curve · d = −slope over the free parameters.
func (p *path) direction() []float64 {
	free := p.free()
	d := make([]float64, p.n)
	if !solve(p.curve, p.grad, free, p.n, d) {
		return p.steepest()
	}
	return d
}

// solve fills d with −h⁻¹g on the free parameters, 0 elsewhere.
func solve(h, g []float64, free []int, n int, d []float64) bool {
	if len(free) == 0 {
		return false
	}
	part := mat.NewSymDense(len(free), nil)
	right := mat.NewVecDense(len(free), nil)
	for a, i := range free {
		right.SetVec(a, -g[i])
		for b, j := range free {
			part.SetSym(a, b, (h[i*n+j]+h[j*n+i])/2)
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(part) {
		return false
	}
	var solved mat.VecDense
	if chol.SolveVecTo(&solved, right) != nil && !allFinite(solved.RawVector().Data) {
		return false
	}
	for a, i := range free {
		d[i] = solved.AtVec(a)
	}
	return true
}

// steepest is the downhill direction, not longer than 1 in any parameter.
func (p *path) steepest() []float64 {
	d := make([]float64, p.n)
	largest := 0.0
	for _, i := range p.free() {
		d[i] = -p.grad[i]
		largest = math.Max(largest, math.Abs(d[i]))
	}
	if largest > 1 {
		for i := range d {
			d[i] /= largest
		}
	}
	return d
}

// search goes along d, bent at the bounds, as far as the value falls enough
// (Armijo), and says whether it moved.
func (p *path) search(d []float64) bool {
	if !allFinite(d) {
		return false
	}
	next, grad := make([]float64, p.n), make([]float64, p.n)
	step := 1.0
	for range 60 {
		fall, moved := 0.0, false
		for i := range next {
			next[i] = p.within(i, p.z[i]+float64(step*d[i]))
			fall += float64(p.grad[i] * (next[i] - p.z[i]))
			moved = moved || next[i] != p.z[i]
		}
		if !moved {
			return false
		}
		value := p.at(next, nil)
		if finite(value) && fall < 0 && value <= p.value+float64(1e-4*fall) {
			if value = p.at(next, grad); finite(value) && allFinite(grad) {
				p.z, p.grad, p.value = next, grad, value
				return true
			}
		}
		step *= shorter(p.value, fall, value)
	}
	return false
}

// shorter is the share of the step at which a parabola through what was seen is
// lowest, between a tenth and a half.
func shorter(from, fall, to float64) float64 {
	if !finite(to) {
		return 0.1
	}
	share := -fall / (2 * (to - from - fall))
	return min(max(share, 0.1), 0.5)
}

// update is the damped BFGS update of the curvature: Powell (1978).
func (p *path) update(z, grad []float64) {
	n := p.n
	s, y, cs := make([]float64, n), make([]float64, n), make([]float64, n)
	sy, scs := 0.0, 0.0
	for i := range n {
		s[i], y[i] = p.z[i]-z[i], p.grad[i]-grad[i]
	}
	for i := range n {
		for j := range n {
			cs[i] += float64(p.curve[i*n+j] * s[j])
		}
		sy += float64(s[i] * y[i])
		scs += float64(s[i] * cs[i])
	}
	if !(scs > 0) {
		return
	}
	if sy < 0.2*scs {
		keep := 0.8 * scs / (scs - sy)
		for i := range n {
			y[i] = float64(keep*y[i]) + float64((1-keep)*cs[i])
		}
		sy = 0.2 * scs
	}
	for i := range n {
		for j := range n {
			p.curve[i*n+j] += float64(y[i]*y[j]/sy) - float64(cs[i]*cs[j]/scs)
		}
	}
}

func (p *path) fit() Fit {
	fit := Fit{Value: p.value, Scaled: p.scaled(), Scale: p.scale, Iterations: p.done, Evaluations: p.evaluations}
	fit.X, fit.Gradient = make([]float64, p.n), make([]float64, p.n)
	for i := range p.n {
		fit.X[i], fit.Gradient[i] = p.z[i]*p.scale[i], p.grad[i]/p.scale[i]
		if p.held(i) {
			fit.AtBound = append(fit.AtBound, i)
		}
	}
	return fit
}

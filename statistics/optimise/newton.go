package optimise

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// step is the relative step of differences of slopes.
const step = 1e-4

// hessian is the second derivatives by z, and how far they are from symmetric
// relative to their diagonal, which is the noise in them. Near a bound the
// difference is taken inwards.
func (p *path) hessian() (h []float64, noise float64) {
	n := p.n
	h = make([]float64, n*n)
	up, down, z := make([]float64, n), make([]float64, n), slices.Clone(p.z)
	for i := range n {
		if p.fixed(i) {
			continue
		}
		size := step * math.Max(math.Abs(p.z[i]), 1)
		above, below := p.within(i, p.z[i]+size), p.within(i, p.z[i]-size)
		z[i] = above
		p.at(z, up)
		z[i] = below
		p.at(z, down)
		z[i] = p.z[i]
		for j := range n {
			h[i*n+j] = (up[j] - down[j]) / (above - below)
		}
	}
	return h, symmetrise(h, n)
}

// symmetrise averages h with its transpose and returns the largest difference
// relative to the diagonal.
func symmetrise(h []float64, n int) (noise float64) {
	for i := range n {
		for j := range i {
			a, b := h[i*n+j], h[j*n+i]
			if size := math.Sqrt(math.Abs(h[i*n+i] * h[j*n+j])); size > 0 {
				noise = math.Max(noise, math.Abs(a-b)/size)
			}
			h[i*n+j] = (a + b) / 2
			h[j*n+i] = h[i*n+j]
		}
	}
	return noise
}

// polish takes Newton steps on the free parameters while they shrink the slope,
// and returns the Hessian of the last place.
func (p *path) polish() (h []float64, noise float64) {
	h, noise = p.hessian()
	for range 8 {
		was := p.scaled()
		d := make([]float64, p.n)
		if was == 0 || !solve(h, p.grad, p.free(), p.n, d) {
			return h, noise
		}
		old := *p
		next, grad := make([]float64, p.n), make([]float64, p.n)
		for i := range next {
			next[i] = p.within(i, p.z[i]+d[i])
		}
		value := p.at(next, grad)
		p.z, p.grad, p.value = next, grad, value
		// The value may rise by rounding alone.
		rise := 1e-11 * math.Max(math.Abs(old.value), 1)
		if !finite(value) || !allFinite(grad) || value > old.value+rise || p.scaled() >= was {
			p.z, p.grad, p.value = old.z, old.grad, old.value
			return h, noise
		}
		if was < p.tolerance/100 {
			return h, noise // one step more than was asked
		}
		h, noise = p.hessian()
	}
	return h, noise
}

// flat are the free parameters that can move without the value changing: one
// without curvature of its own, or those that make up a combination without any.
func (p *path) flat(h []float64, noise float64) []int {
	free := p.free()
	least := 1e-10 * math.Max(math.Abs(p.value), 1)
	for _, i := range free {
		size := math.Max(math.Abs(p.z[i]), 1)
		if !(h[i*p.n+i]*size*size > least) {
			return []int{i}
		}
	}
	values, vectors, ok := correlated(h, free, p.n)
	if !ok || values[0] > math.Max(1e-9, 10*noise) {
		return nil
	}
	return foremost(vectors, free)
}

// correlated is the eigenvalues, ascending, and vectors of the part of h over some
// parameters, scaled to a unit diagonal.
func correlated(h []float64, part []int, n int) ([]float64, *mat.Dense, bool) {
	if len(part) == 0 {
		return nil, nil, false
	}
	c := mat.NewSymDense(len(part), nil)
	for a, i := range part {
		for b, j := range part {
			c.SetSym(a, b, h[i*n+j]/math.Sqrt(h[i*n+i]*h[j*n+j]))
		}
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(c, true) {
		return nil, nil, false
	}
	var vectors mat.Dense
	eigen.VectorsTo(&vectors)
	return eigen.Values(nil), &vectors, true
}

// foremost are the parameters that carry the first vector, the heaviest first.
func foremost(vectors *mat.Dense, part []int) []int {
	var carry []int
	largest := 0.0
	for a := range part {
		largest = math.Max(largest, math.Abs(vectors.At(a, 0)))
	}
	for a := range part {
		if math.Abs(vectors.At(a, 0)) > 0.1*largest {
			carry = append(carry, a)
		}
	}
	slices.SortStableFunc(carry, func(a, b int) int {
		x, y := math.Abs(vectors.At(a, 0)), math.Abs(vectors.At(b, 0))
		switch {
		case x > y*(1+1e-6):
			return -1
		case y > x*(1+1e-6):
			return 1
		}
		return 0
	})
	for k, a := range carry {
		carry[k] = part[a]
	}
	return carry
}

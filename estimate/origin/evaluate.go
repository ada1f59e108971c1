package origin

import "math"

const logTwoPi = 1.8378770664093454836

// at is ln f(x) of nursery k in a year for the tracers that x doesn't lack, the squared
// distance from where fish of the cell are expected in units of all that is unknown, and
// the number of tracers seen. No tracer seen: 0, 0, 0.
func (c *classes) at(k, year int, x []float64, lacks Lacking) (logDensity, d2 float64, seen int) {
	if lacks != 0 {
		return c.partly(k, year, x, lacks)
	}
	d, cell := c.d, k*(c.years+1)+year
	inverse := c.inverse[k*d*d : (k+1)*d*d]
	centre, spread, tail := c.centre[cell*d:(cell+1)*d], c.spread[cell*d:(cell+1)*d], c.tail[cell*d:(cell+1)*d]
	near := 0.0
	for j := range d {
		z := -centre[j]
		for i, v := range inverse[j*d : (j+1)*d] {
			z += float64(v * x[i])
		}
		c.vector[j] = z
		near += float64(z*z) / spread[j]
		d2 += float64(z*z) / tail[j]
	}
	if c.form == Kernel {
		return c.kernel(k, cell), d2, d
	}
	return -0.5*float64(near+c.logSpread[cell]+float64(float64(d)*logTwoPi)) - c.logSize[k], d2, d
}

// kernel is the logarithm of Σ_b w_b/n Π_j φ(z_j − r_bj; h² + v_j)/|A| at vector, the
// distance from the cell's centre.
func (c *classes) kernel(k, cell int) float64 {
	d := c.d
	scale, logScale := c.column, 0.0
	for j := range scale {
		s := c.h2[k] + c.spread[cell*d+j] - 1
		scale[j] = 1 / s
		logScale += math.Log(s)
	}
	sum := sumOfKernels{best: math.Inf(1)}
	for b := c.start[k]; b < c.start[k+1]; b++ {
		if c.weight[b] == 0 {
			continue
		}
		r, far := c.residual[b*d:(b+1)*d], 0.0
		for j, z := range c.vector {
			e := z - r[j]
			far += float64(float64(e*e) * scale[j])
		}
		sum.add(far, c.weight[b])
	}
	return sum.log() - 0.5*float64(logScale+float64(float64(d)*logTwoPi)) - c.logSize[k]
}

// sumOfKernels adds w exp(−q/2) around the nearest point met so far, so that it stays
// a number however far all of them lie.
type sumOfKernels struct {
	best, sum, weight float64
}

func (s *sumOfKernels) add(q, w float64) {
	s.weight += w
	if q < s.best {
		s.sum = float64(s.sum*math.Exp(-0.5*float64(s.best-q))) + w
		s.best = q
		return
	}
	if q-s.best < 160 { // beyond, under one part in 10³⁴
		s.sum += float64(w * math.Exp(-0.5*float64(q-s.best)))
	}
}

// log is the logarithm of the weighted mean.
func (s *sumOfKernels) log() float64 { return math.Log(s.sum/s.weight) - 0.5*s.best }

// partly is at for a fish that lacks tracers: normals and kernels are laid flat on the
// tracers it has.
func (c *classes) partly(k, year int, x []float64, lacks Lacking) (logDensity, d2 float64, seen int) {
	d, cell := c.d, k*(c.years+1)+year
	has := c.has[:0]
	for j := range d {
		if !lacks.Has(j) {
			has = append(has, j)
		}
	}
	if len(has) == 0 {
		return 0, 0, 0
	}
	a := c.a[k*d*d : (k+1)*d*d]
	away := c.vector[:len(has)]
	for i, row := range has {
		away[i] = x[row]
		for e := range d {
			away[i] -= float64(a[row*d+e] * c.centre[cell*d+e])
		}
	}
	c.flatten(a, c.tail[cell*d:], 0, has)
	d2 = c.distance(away)
	if c.form != Kernel {
		size := c.flatten(a, c.spread[cell*d:], 0, has)
		return -0.5*float64(c.distance(away)+float64(float64(len(has))*logTwoPi)) - size, d2, len(has)
	}
	size := c.flatten(a, c.spread[cell*d:], c.h2[k]-1, has)
	sum := sumOfKernels{best: math.Inf(1)}
	for b := c.start[k]; b < c.start[k+1]; b++ {
		if c.weight[b] == 0 {
			continue
		}
		for i, row := range has {
			c.point[i] = away[i]
			for e := range d {
				c.point[i] -= float64(a[row*d+e] * c.residual[b*d+e])
			}
		}
		sum.add(c.distance(c.point[:len(has)]), c.weight[b])
	}
	return sum.log() - 0.5*float64(float64(len(has))*logTwoPi) - size, d2, len(has)
}

// flatten factors the covariance A diag(spread + more) Aᵀ of some tracers into factor and
// returns half the logarithm of its determinant.
func (c *classes) flatten(a, spread []float64, more float64, has []int) (logSize float64) {
	d, m := c.d, len(has)
	for i, row := range has {
		for j, other := range has[:i+1] {
			sum := 0.0
			for e := range d {
				sum += float64(float64(a[row*d+e]*a[other*d+e]) * (spread[e] + more))
			}
			c.square[i*m+j] = sum
		}
	}
	cholesky(c.factor, c.square, m) // a part of a covariance that has a factor has one too
	for i := range m {
		logSize += math.Log(c.factor[i*m+i])
	}
	return logSize
}

// distance is eᵀ C⁻¹ e for the covariance in factor.
func (c *classes) distance(away []float64) (d2 float64) {
	e := c.column[:len(away)]
	copy(e, away)
	forward(c.factor, e)
	for _, v := range e {
		d2 += float64(v * v)
	}
	return d2
}

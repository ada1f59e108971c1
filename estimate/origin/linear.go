package origin

import "math"

// cholesky fills the lower half of l with the factor of a, A = L Lᵀ, and its upper half
// with 0. Where a pivot is nothing within rounding, so that tracer j follows from those
// before it, it returns j; else −1. l and a may be the same.
func cholesky(l, a []float64, d int) int {
	for i := range d {
		for j := range i {
			sum := a[i*d+j]
			for q := range j {
				sum -= float64(l[i*d+q] * l[j*d+q])
			}
			l[i*d+j] = sum / l[j*d+j]
		}
		size := a[i*d+i]
		sum := size
		for q := range i {
			sum -= float64(l[i*d+q] * l[i*d+q])
		}
		if !(sum > 1e-10*size) || math.IsInf(size, 1) {
			return i
		}
		l[i*d+i] = math.Sqrt(sum)
		clear(l[i*d+i+1 : (i+1)*d]) // the lower half of a is all that is read
	}
	return -1
}

// forward solves L x = b in place.
func forward(l, b []float64) {
	d := len(b)
	for i := range d {
		sum := b[i]
		for j := range i {
			sum -= float64(l[i*d+j] * b[j])
		}
		b[i] = sum / l[i*d+i]
	}
}

// backward solves Lᵀ x = b in place.
func backward(l, b []float64) {
	d := len(b)
	for i := d - 1; i >= 0; i-- {
		sum := b[i]
		for j := i + 1; j < d; j++ {
			sum -= float64(l[j*d+i] * b[j])
		}
		b[i] = sum / l[i*d+i]
	}
}

// lift fills dst with A z, A square row by row.
func lift(dst, a, z []float64) {
	d := len(z)
	for i := range dst {
		sum := 0.0
		for j, v := range z {
			sum += float64(a[i*d+j] * v)
		}
		dst[i] = sum
	}
}

// sandwich fills dst with L⁻¹ M L⁻ᵀ, M symmetric; column is d long.
func sandwich(dst, l, m, column []float64) {
	d := len(column)
	for j := range d { // L⁻¹ M, column by column
		for i := range d {
			column[i] = m[i*d+j]
		}
		forward(l, column)
		for i := range d {
			dst[i*d+j] = column[i]
		}
	}
	for i := range d { // then its rows
		copy(column, dst[i*d:(i+1)*d])
		forward(l, column)
		copy(dst[i*d:(i+1)*d], column)
	}
}

// eigen turns the symmetric m into its eigenvalues on the diagonal and fills q with its
// eigenvectors as columns: Jacobi's rotations, at most 30 sweeps, which is far more than
// a few tracers need.
func eigen(m, q []float64, d int) {
	clear(q)
	for i := range d {
		q[i*d+i] = 1
	}
	for range 30 {
		off, size := 0.0, 0.0
		for i := range d {
			for j := range d {
				if i != j {
					off += float64(m[i*d+j] * m[i*d+j])
				}
				size += float64(m[i*d+j] * m[i*d+j])
			}
		}
		if off <= 1e-30*size {
			return
		}
		for i := range d - 1 {
			for j := i + 1; j < d; j++ {
				rotate(m, q, d, i, j)
			}
		}
	}
}

// rotate makes m_ij nothing.
func rotate(m, q []float64, d, i, j int) {
	if m[i*d+j] == 0 {
		return
	}
	theta := (m[j*d+j] - m[i*d+i]) / (2 * m[i*d+j])
	t := math.Copysign(1, theta) / (math.Abs(theta) + math.Sqrt(float64(theta*theta)+1))
	c := 1 / math.Sqrt(float64(t*t)+1)
	s := t * c
	for k := range d {
		a, b := m[k*d+i], m[k*d+j]
		m[k*d+i], m[k*d+j] = float64(c*a)-float64(s*b), float64(s*a)+float64(c*b)
	}
	for k := range d {
		a, b := m[i*d+k], m[j*d+k]
		m[i*d+k], m[j*d+k] = float64(c*a)-float64(s*b), float64(s*a)+float64(c*b)
	}
	for k := range d {
		a, b := q[k*d+i], q[k*d+j]
		q[k*d+i], q[k*d+j] = float64(c*a)-float64(s*b), float64(s*a)+float64(c*b)
	}
}

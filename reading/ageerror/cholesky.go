package ageerror

import "math"

// cholesky turns the lower half of a symmetric n × n matrix into its factor L, A = L Lᵀ,
// in place; false where the matrix is not positive definite within rounding.
func cholesky(a []float64, n int) bool {
	for i := range n {
		row := a[i*n : i*n+i+1]
		for j := range i {
			other := a[j*n : j*n+j+1]
			sum := row[j]
			for q, x := range row[:j] {
				sum -= float64(x * other[q])
			}
			row[j] = sum / other[j]
		}
		size, sum := row[i], row[i]
		for _, x := range row[:i] {
			sum -= float64(x * x)
		}
		if !(sum > 1e-13*math.Abs(size)) {
			return false
		}
		row[i] = math.Sqrt(sum)
	}
	return true
}

// solveBoth solves L Lᵀ x = b in place.
func solveBoth(factor, b []float64) {
	n := len(b)
	for i := range n {
		for j := range i {
			b[i] -= float64(factor[i*n+j] * b[j])
		}
		b[i] /= factor[i*n+i]
	}
	for i := n - 1; i >= 0; i-- {
		for j := i + 1; j < n; j++ {
			b[i] -= float64(factor[j*n+i] * b[j])
		}
		b[i] /= factor[i*n+i]
	}
}

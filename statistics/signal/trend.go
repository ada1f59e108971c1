package signal

import (
	"fmt"
	"math"
)

// Trend draws the slow course of profiles of one length, z = argmin Σ_i (x_i − z_i)²
// + λ Σ_i (z_{i−1} − 2 z_i + z_{i+1})²: the stiffer, the straighter; a straight line
// has no penalty and comes back as it went in.
//
// It holds the factors of I + λ D'D, which depend on length and stiffness alone, so
// that a profile costs one pass up and one down. Its methods allocate nothing and
// may be called from several goroutines. Whittaker (1923).
type Trend struct {
	d, e, f []float64 // L D L' of the band: diagonal, first and second below
}

// NewTrend is the trend of profiles of n values; swing is the wavelength in steps at
// which half of a wave counts as trend, λ = (2 sin(π/swing))⁻⁴.
//
// Panics when n < 3 or swing < 2.
func NewTrend(n int, swing float64) *Trend {
	if n < 3 || !(swing >= 2) {
		panic(fmt.Sprintf("signal: the trend of %d values over %v steps", n, swing))
	}
	t := &Trend{make([]float64, n), make([]float64, n), make([]float64, n)}
	lambda := math.Pow(2*math.Sin(math.Pi/swing), -4)
	for i := range n {
		a, b, c := bending(i, n)
		d := 1 + float64(lambda*a)
		e, f := lambda*b, lambda*c
		if i >= 1 {
			d -= float64(float64(t.e[i-1]*t.e[i-1]) * t.d[i-1])
			e -= float64(float64(t.e[i-1]*t.f[i-1]) * t.d[i-1])
		}
		if i >= 2 {
			d -= float64(float64(t.f[i-2]*t.f[i-2]) * t.d[i-2])
		}
		t.d[i], t.e[i], t.f[i] = d, e/d, f/d
	}
	return t
}

// bending is row i of D'D from its diagonal on, D the second differences of n values.
func bending(i, n int) (diagonal, first, second float64) {
	for r := max(i-2, 0); r <= min(i, n-3); r++ { // the differences that take in value i
		weight := [3]float64{1, -2, 1}
		diagonal += weight[i-r] * weight[i-r]
		if i-r+1 < 3 {
			first += weight[i-r] * weight[i-r+1]
		}
		if i-r+2 < 3 {
			second += weight[i-r] * weight[i-r+2]
		}
	}
	return diagonal, first, second
}

// Fill fills dst with the trend of x; they may be the same. Panics on another length.
func (t *Trend) Fill(dst, x []float64) {
	n := len(t.d)
	if len(dst) != n || len(x) != n {
		panic(fmt.Sprintf("signal: a trend of %d values asked of %d into %d", n, len(x), len(dst)))
	}
	for i := range n {
		z := x[i]
		if i >= 1 {
			z -= float64(t.e[i-1] * dst[i-1])
		}
		if i >= 2 {
			z -= float64(t.f[i-2] * dst[i-2])
		}
		dst[i] = z
	}
	for i := range dst {
		dst[i] /= t.d[i]
	}
	for i := n - 2; i >= 0; i-- {
		dst[i] -= float64(t.e[i] * dst[i+1])
		if i+2 < n {
			dst[i] -= float64(t.f[i] * dst[i+2])
		}
	}
}

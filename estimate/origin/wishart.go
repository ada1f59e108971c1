package origin

import (
	"math"

	"earstone/statistics/stream"
)

// wishart is a normal–inverse-Wishart belief about one nursery: its covariance S is
// inverse Wishart with nu degrees of freedom and scale psi, its mean normal around mean
// with covariance S/kappa.
type wishart struct {
	d         int
	mean      []float64
	kappa, nu float64
	psi       []float64 // d × d
}

// learn turns a prior into what is believed after n fish of sum Σx and squares Σxxᵀ:
// κ' = κ + n, ν' = ν + n, m' = (κm + Σx)/κ', Ψ' = Ψ + κmmᵀ + Σxxᵀ − κ'm'm'ᵀ.
//
// Gelman et al. (2013), section 3.6 (from memory).
func (w *wishart) learn(prior *wishart, n float64, sum, squares []float64) {
	d := w.d
	w.kappa, w.nu = prior.kappa+n, prior.nu+n
	for i := range d {
		w.mean[i] = (float64(prior.kappa*prior.mean[i]) + sum[i]) / w.kappa
	}
	for i := range d {
		for j := range d {
			w.psi[i*d+j] = prior.psi[i*d+j] + float64(float64(prior.kappa*prior.mean[i])*prior.mean[j]) +
				squares[i*d+j] - float64(float64(w.kappa*w.mean[i])*w.mean[j])
		}
	}
}

func newWishart(d int) wishart {
	return wishart{d: d, mean: make([]float64, d), psi: make([]float64, d*d)}
}

// drawing is the scratch of draws in d dimensions.
type drawing struct {
	factor, triangle, square []float64 // d × d
	vector                   []float64
}

func newDrawing(d int) drawing {
	return drawing{make([]float64, d*d), make([]float64, d*d), make([]float64, d*d), make([]float64, d)}
}

// inverseWishart fills s with a draw of ν degrees of freedom and scale Ψ: Ψ = L Lᵀ, A the
// lower triangle of Bartlett (1933) with √χ²_{ν−i} on its diagonal and normals beneath, and
// S = (L A⁻ᵀ)(L A⁻ᵀ)ᵀ. False where Ψ has no factor.
func (g *drawing) inverseWishart(s []float64, nu float64, psi []float64, r *stream.Stream) bool {
	d := len(g.vector)
	if cholesky(g.factor, psi, d) >= 0 {
		return false
	}
	for i := range d {
		g.triangle[i*d+i] = math.Sqrt(2 * r.Gamma((nu-float64(i))/2))
		for j := range i {
			g.triangle[i*d+j] = r.Normal()
		}
	}
	for i := range d {
		row := g.square[i*d : (i+1)*d]
		copy(row, g.factor[i*d:(i+1)*d])
		forward(g.triangle, row)
	}
	for i := range d {
		for j := range i + 1 {
			sum := 0.0
			for e := range d {
				sum += float64(g.square[i*d+e] * g.square[j*d+e])
			}
			s[i*d+j], s[j*d+i] = sum, sum
		}
	}
	return true
}

// normal fills x with a draw around mean with precision P and P·mean = b; b is lost.
func (g *drawing) normal(x, precision, b []float64, r *stream.Stream) bool {
	if cholesky(g.factor, precision, len(g.vector)) >= 0 {
		return false
	}
	forward(g.factor, b)
	for i := range b {
		b[i] += r.Normal()
	}
	backward(g.factor, b)
	copy(x, b)
	return true
}

// invert fills dst with the inverse of a covariance whose factor is l.
func invert(dst, l, column []float64) {
	d := len(column)
	for j := range d {
		clear(column)
		column[j] = 1
		forward(l, column)
		backward(l, column)
		for i := range d {
			dst[i*d+j] = column[i]
		}
	}
}

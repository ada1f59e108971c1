package ageerror

import (
	"math"

	"earstone/statistics/dist"
)

// cells are log P(c | a) of one parameter set and its derivatives in the mean μ and
// in log σ, count by count: entry c·ages + a, so that the ages of a count lie side
// by side. Nothing is left out in the tails: a blunder of ten years is unlikely, and
// the search has to see by how much.
type cells struct {
	chance         []float64
	mean, spread   []float64 // first derivatives of log P
	mm, ms, ss     []float64 // second derivatives of log P
	row            []float64
	densities, cut []float64 // φ(z) and z at the borders of the counts
}

func newCells(ages, counts int) cells {
	n := ages * counts
	all := make([]float64, 6*n+3*counts+2)
	part := func(n int) []float64 {
		taken := all[:n:n]
		all = all[n:]
		return taken
	}
	return cells{part(n), part(n), part(n), part(n), part(n), part(n), part(counts), part(counts + 1), part(counts + 1)}
}

// nothing is the chance below which a quotient by it might overflow: 35 SD from the mean.
const nothing = 1e-280

// fill computes the cells of age index a of ages from its mean and σ.
//
// With z at a border, ∂Φ(z)/∂μ = −φ/σ and ∂Φ(z)/∂log σ = −zφ, and from these
// ∂²Φ = −zφ/σ², (1 − z²)φ/σ and z(1 − z²)φ; a cell takes the difference of its two
// borders, and those beyond the first and last count are 0.
func (k *cells) fill(a, ages int, mean, sd float64) {
	dist.CutNormal(k.row, mean, sd)
	last := len(k.row)
	for c := 1; c < last; c++ {
		k.cut[c] = (float64(c) - 0.5 - mean) / sd
		k.densities[c] = dist.NormalDensity(k.cut[c])
	}
	for c, p := range k.row {
		i := c*ages + a
		k.chance[i] = p
		if p < nothing {
			k.chance[i] = 0
			k.mean[i], k.spread[i], k.mm[i], k.ms[i], k.ss[i] = 0, 0, 0, 0, 0
			continue
		}
		z0, f0, z1, f1 := k.cut[c], k.densities[c], k.cut[c+1], k.densities[c+1]
		zf0, zf1 := float64(z0*f0), float64(z1*f1)
		u := -(f1 - f0) / (sd * p)
		v := -(zf1 - zf0) / p
		k.mean[i], k.spread[i] = u, v
		k.mm[i] = -(zf1-zf0)/(sd*sd*p) - float64(u*u)
		k.ms[i] = (float64((1-z1*z1)*f1)-float64((1-z0*z0)*f0))/(sd*p) - float64(u*v)
		k.ss[i] = (float64((1-z1*z1)*zf1)-float64((1-z0*z0)*zf0))/p - float64(v*v)
	}
}

// slopes are the derivatives of μ or log σ of one age in the parameters behind it,
// on the working scale: log for CV, σ_lo and σ_hi, as it is for all else.
type slopes struct {
	first  [3]float64
	second [3][3]float64
}

// logScale says how many of a model's parameters, from the first, are worked on as logarithms.
func (m Model) logScale() int { return min(m.sdParameters(), 2) }

// sdSlopes is σ(a) with the slopes of log σ(a).
func (m Model) sdSlopes(theta []float64, a float64) (sd float64, s slopes) {
	if m.SD == ConstantCV {
		s.first[0] = 1
		return theta[0] * math.Max(a, 1), s
	}
	lo, hi := theta[0], theta[1]
	h, d, dd := m.bend(theta[:m.sdParameters()], a)
	sd = between(lo, hi, h)
	s.first = [3]float64{lo * (1 - h) / sd, hi * h / sd, (hi - lo) * d / sd}
	s.second[0] = [3]float64{lo * (1 - h) / sd, 0, -lo * d / sd}
	s.second[1] = [3]float64{0, hi * h / sd, hi * d / sd}
	s.second[2] = [3]float64{-lo * d / sd, hi * d / sd, (hi - lo) * dd / sd}
	for i := range s.second { // from σ to log σ
		for j := range s.second[i] {
			s.second[i][j] -= float64(s.first[i] * s.first[j])
		}
	}
	return sd, s
}

// biasSlopes is bias(a) with its slopes.
func (m Model) biasSlopes(theta []float64, a float64) (bias float64, s slopes) {
	b := theta[m.sdParameters():]
	switch m.Bias {
	case Proportional:
		s.first[0] = a
		return float64(b[0] * a), s
	case CurveBias:
		h, d, dd := m.bend(b, a)
		s.first = [3]float64{1 - h, h, (b[1] - b[0]) * d}
		s.second[0][2], s.second[2][0] = -d, -d
		s.second[1][2], s.second[2][1] = d, d
		s.second[2][2] = (b[1] - b[0]) * dd
		return between(b[0], b[1], h), s
	}
	return 0, s
}

// bend is h(a) with its derivatives in δ; δ is the third parameter, 0 for a line.
func (m Model) bend(p []float64, a float64) (h, d, dd float64) {
	delta := 0.0
	if len(p) == 3 {
		delta = p[2]
	}
	span := float64(m.High - m.Low)
	h, d, dd = curve(delta*span, math.Min(math.Max((a-float64(m.Low))/span, 0), 1))
	return h, d * span, dd * span * span
}

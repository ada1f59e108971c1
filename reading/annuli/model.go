package annuli

import "math"

// Model is what is known beforehand: how fish grow and how annuli look. Learn makes
// one from sections with marks; Default is one.
type Model struct {
	// The first annulus: its distance from the core is lognormal.
	First, FirstSD float64 // of the logarithm of µm

	// A later annulus k closes a year whose width is lognormal about
	// exp(f + b_0 + b_1 ln k + b_2 k + b_3 ln r), r µm being the last annulus, and f, the
	// fish's own, normal about 0.
	Growth         [growthTerms]float64
	YearSD, FishSD float64 // of the logarithm: from year to year of a fish, and from fish to fish

	// The evidence of a place, the logarithm of the odds that it is an annulus: a
	// linear function of how it looks.
	Evidence [looks]float64
	Rate     float64 // annuli per µm of axis, over all sections learnt from

	// An annulus that closes a year of d µm shows nothing with probability
	// 1/(1 + exp(−u_0 − u_1 ln d)).
	Unseen [2]float64

	// The growth of fish is less simple than this, so that counts come out surer than they
	// should: their probabilities are taken to this power.
	Temper float64
}

const growthTerms = 4

// terms are what the width of a year is explained by.
func terms(k int, last float64) [growthTerms]float64 {
	return [growthTerms]float64{1, math.Log(float64(k)), float64(k), math.Log(last)}
}

// year is the mean and SD of the logarithm of the width that annulus k closes, the
// last one lying at so many µm, for a fish that grows by a factor of exp(own).
func (m *Model) year(k int, last, own float64) (mean, sd float64) {
	if k == 1 {
		return m.First, m.FirstSD
	}
	x := terms(k, last)
	for i, b := range m.Growth {
		mean += float64(b * x[i])
	}
	return min(max(mean, 1), 8) + own, m.YearSD
}

// unseen is the probability that an annulus which closes a year of d µm shows nothing.
func (m *Model) unseen(d float64) float64 {
	return min(1/(1+math.Exp(-m.Unseen[0]-float64(m.Unseen[1]*math.Log(d)))), 0.9)
}

// spacing is the width of a year that ends about so many µm from the core, by the
// middle course of growth.
func (m *Model) spacing(at float64) float64 {
	last, width := 0.0, math.Exp(m.First)
	for k := 1; k < mostAnnuli && last+width < at; k++ {
		last += width
		mean, _ := m.year(k+1, last, 0)
		width = math.Exp(mean)
	}
	return width
}

// A fish's own growth is summed over at these SDs with these chances, about those of a
// standard normal.
var (
	ownAt     = [...]float64{-2, -4.0 / 3, -2.0 / 3, 0, 2.0 / 3, 4.0 / 3, 2}
	ownChance = [...]float64{0.0369, 0.1112, 0.2167, 0.2704, 0.2167, 0.1112, 0.0369}
)

// Default is a model learnt from 200 drawn sections of one to 22 annuli. A programme that has
// marked sections of its own should learn from those.
func Default() Model {
	return Model{
		First: 6.8065, FirstSD: 0.1274,
		Growth: [growthTerms]float64{-0.9915, -1.7172, 0.01859, 1.1945},
		YearSD: 0.1590, FishSD: 0.1258,
		Evidence: [looks]float64{-3.7084, -0.0472, 1.9300, 0.6277, -1.5353, 0.9294, 1.3919, 1.8481, -5.3333, 1.5862, -0.9164, -0.4389},
		Rate:     0.004001,
		Unseen:   [2]float64{14.1028, -4.2070},
		Temper:   0.6,
	}
}

package ageerror

import (
	"fmt"
	"math"

	"earstone/statistics/dist"
)

// reach is how many SD from the mean a cell may begin before it is left at 0: what
// lies beyond is under 1e-12 and goes to the last cell within.
const reach = 7.1

// Matrix fills dst with the error matrix of one reader,
//
//	dst[a·counts + c] = P(c | a) = Φ((c + ½ − μ)/σ) − Φ((c − ½ − μ)/σ),  μ = a + bias(a), σ = σ(a),
//
// the lower tail going to count 0 and the upper one to the largest. Rows are true
// ages 0 ... ages − 1, columns counts 0 ... counts − 1; a row sums to 1. Cells more
// than 7.1 SD from the mean are exactly 0, so that a row is a band.
//
// theta are parameters on their natural scale as Model.Names orders them. An SD of 0
// puts a row's 1 on one count. Returns dst; panics when dst is not ages × counts or
// theta has another length. Allocates nothing.
//
// Richards, Schnute, Kronlund & Beamish (1992), Can. J. Fish. Aquat. Sci. 49; methods, section 4.
func Matrix(dst []float64, m Model, theta []float64, ages, counts int) []float64 {
	if len(dst) != ages*counts || counts < 1 {
		panic(fmt.Sprintf("ageerror: a matrix of %d ages and %d counts into %d cells", ages, counts, len(dst)))
	}
	if len(theta) != m.Parameters() {
		panic(fmt.Sprintf("ageerror: %d parameters for a model of %d", len(theta), m.Parameters()))
	}
	clear(dst)
	for a := range ages {
		age := float64(a)
		fillRow(dst[a*counts:(a+1)*counts], age+m.BiasAt(theta, age), m.SDAt(theta, age))
	}
	return dst
}

// fillRow cuts a normal into counts, in a row of zeros.
func fillRow(row []float64, mean, sd float64) {
	first := clamp(math.Floor(mean-float64(reach*sd)), len(row))
	last := clamp(math.Ceil(mean+float64(reach*sd)), len(row))
	dist.CutNormal(row[first:last+1], mean-float64(first), sd)
}

// clamp is a count that exists.
func clamp(c float64, counts int) int {
	return int(math.Min(math.Max(c, 0), float64(counts-1)))
}

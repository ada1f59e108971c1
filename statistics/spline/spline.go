// Package spline holds natural cubic splines: a curve of cubic pieces that runs straight beyond its boundary.
package spline

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Basis is the natural cubic spline basis without intercept on given knots: a
// curve is f(x) = Σ_j β_j N_j(x) plus a constant of its own.
//
// The columns N_j are cubic B-splines on the knots, the first left out, turned
// so that their second derivative is 0 at both boundary knots. The zero Basis
// has no columns. A Basis is never changed after it was made and may be shared.
//
// Hastie, Tibshirani & Friedman (2009), section 5.2.1; de Boor (1978).
type Basis struct {
	knots   []float64 // low ×4, interior, high ×4
	columns int
	turn    []float64 // columns × all B-splines, row by row: N = turn · B
	// value and slope of each column at the boundary, for the straight parts
	valueLow, slopeLow, valueHigh, slopeHigh []float64
}

// Natural is the basis of df columns for data x, in any order: boundary knots at
// their range, df − 1 interior knots at their type-7 quantiles j/df.
//
// Where ties make knots fall together or on the boundary each is kept once, so
// that Columns may be less than df; data of one value give no column at all.
// Panics when x is empty, holds NaN or infinity, or df < 1.
//
// methods, section 5.
func Natural(x []float64, df int) Basis {
	if len(x) == 0 || df < 1 {
		panic(fmt.Sprintf("spline: %d columns from %d values", df, len(x)))
	}
	sorted := slices.Clone(x)
	slices.Sort(sorted)
	low, high := sorted[0], sorted[len(sorted)-1]
	if math.IsNaN(low) || math.IsInf(low, 0) || math.IsInf(high, 0) {
		panic("spline: a value is not a finite number")
	}
	if low == high {
		return Basis{}
	}
	var interior []float64
	for j := 1; j < df; j++ {
		knot := quantile(sorted, float64(j)/float64(df))
		last := low
		if len(interior) > 0 {
			last = interior[len(interior)-1]
		}
		if knot > last && knot < high {
			interior = append(interior, knot)
		}
	}
	return NewBasis(interior, low, high)
}

// quantile is the type-7 quantile of sorted values.
func quantile(sorted []float64, p float64) float64 {
	rank := float64(len(sorted)-1) * p
	// A rank that is whole but for its last bits is meant whole.
	if whole := math.Round(rank); math.Abs(rank-whole) < 4e-16*float64(len(sorted)) {
		rank = whole
	}
	below := int(rank)
	if below+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[below] + float64((rank-float64(below))*(sorted[below+1]-sorted[below]))
}

// NewBasis is the basis on given knots, with one column more than interior knots.
// Panics unless low < interior knots, ascending, < high.
func NewBasis(interior []float64, low, high float64) Basis {
	last := low
	for _, knot := range append(slices.Clone(interior), high) {
		if !(knot > last) {
			panic(fmt.Sprintf("spline: knot %v does not lie above %v", knot, last))
		}
		last = knot
	}
	b := Basis{columns: len(interior) + 1}
	b.knots = slices.Concat([]float64{low, low, low, low}, interior, []float64{high, high, high, high})
	b.turn = turn(b.knots)
	b.atBoundary()
	return b
}

// turn is the last columns of Q in the QR of the two end conditions: with R' of
// them 0, N = Q₂'B has no second derivative at the ends. The first B-spline is
// left out, so that no column stands for the constant.
func turn(knots []float64) []float64 {
	n := len(knots) - 4
	ends := mat.NewDense(n-1, 2, nil)
	var local [4]float64
	for c, x := range []float64{knots[3], knots[n]} {
		first := local4(&local, knots, x, 2)
		for j, v := range local {
			if first+j > 0 {
				ends.Set(first+j-1, c, v)
			}
		}
	}
	var qr mat.QR
	qr.Factorize(ends)
	var q mat.Dense
	qr.QTo(&q)
	columns := n - 3
	t := make([]float64, columns*n)
	for j := range columns {
		for i := 1; i < n; i++ {
			t[j*n+i] = q.At(i-1, j+2)
		}
	}
	return t
}

// atBoundary keeps value and slope at both ends.
func (b *Basis) atBoundary() {
	low, high := b.Boundary()
	b.valueLow, b.slopeLow = make([]float64, b.columns), make([]float64, b.columns)
	b.valueHigh, b.slopeHigh = make([]float64, b.columns), make([]float64, b.columns)
	b.derivative(b.valueLow, low, 0)
	b.derivative(b.slopeLow, low, 1)
	b.derivative(b.valueHigh, high, 0)
	b.derivative(b.slopeHigh, high, 1)
}

// Columns is the number of columns, df.
func (b Basis) Columns() int { return b.columns }

// Boundary is the pair of boundary knots; beyond them the columns are straight.
func (b Basis) Boundary() (low, high float64) {
	if b.columns == 0 {
		return 0, 0
	}
	return b.knots[3], b.knots[len(b.knots)-4]
}

// Interior is the interior knots, ascending, in a slice of the caller's own.
func (b Basis) Interior() []float64 {
	if b.columns == 0 {
		return nil
	}
	return slices.Clone(b.knots[4 : len(b.knots)-4])
}

// Eval fills dst with the columns N_j(x); straight beyond the boundary knots.
// Panics when dst has not Columns() places; allocates nothing. NaN gives NaN.
func (b Basis) Eval(dst []float64, x float64) {
	if len(dst) != b.columns {
		panic(fmt.Sprintf("spline: %d places for %d columns", len(dst), b.columns))
	}
	if b.columns == 0 {
		return
	}
	low, high := b.knots[3], b.knots[len(b.knots)-4]
	switch {
	case x < low:
		straight(dst, b.valueLow, b.slopeLow, x-low)
	case x > high:
		straight(dst, b.valueHigh, b.slopeHigh, x-high)
	case x != x:
		for j := range dst {
			dst[j] = x
		}
	default:
		b.derivative(dst, x, 0)
	}
}

func straight(dst, value, slope []float64, by float64) {
	for j := range dst {
		dst[j] = value[j] + float64(slope[j]*by)
	}
}

// derivative fills dst with a derivative of the columns within the boundary.
func (b Basis) derivative(dst []float64, x float64, order int) {
	n := len(b.knots) - 4
	var local [4]float64
	first := local4(&local, b.knots, x, order)
	for j := range dst {
		row := b.turn[j*n+first : j*n+first+4]
		dst[j] = float64(row[0]*local[0]) + float64(row[1]*local[1]) + float64(row[2]*local[2]) + float64(row[3]*local[3])
	}
}

// Curvature fills dst, df × df row by row, with K_jk = ∫₀¹ N_j”(z) N_k”(z) dz,
// z = (x − low)/(high − low): β'Kβ is the wiggliness of the curve, whatever the
// unit of x. Panics when dst has not df² places.
//
// Second derivatives are straight between knots, so Simpson's rule is exact.
func (b Basis) Curvature(dst []float64) {
	df := b.columns
	if len(dst) != df*df {
		panic(fmt.Sprintf("spline: %d places for a matrix of %d × %d", len(dst), df, df))
	}
	clear(dst)
	low, high := b.Boundary()
	length := high - low
	ends := [3][]float64{make([]float64, df), make([]float64, df), make([]float64, df)}
	for piece := 3; piece+4 < len(b.knots); piece++ {
		from, to := b.knots[piece], b.knots[piece+1]
		for i, x := range []float64{from, from + (to-from)/2, to} {
			b.derivative(ends[i], x, 2)
		}
		h := (to - from) / 6 * length * length * length
		for j := range df {
			for k := range df {
				simpson := float64(ends[0][j]*ends[0][k]) + float64(4*ends[1][j]*ends[1][k]) + float64(ends[2][j]*ends[2][k])
				dst[j*df+k] += float64(h * simpson)
			}
		}
	}
}

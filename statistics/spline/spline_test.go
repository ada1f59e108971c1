package spline

import (
	"fmt"
	"math"
	"testing"

	"earstone/reference"
	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

func near(got, want, tol, size float64) bool {
	return math.Abs(got-want) <= tol*math.Max(size, math.Abs(want))
}

type splines struct {
	Output struct {
		NaturalSplines []struct {
			InteriorKnots       []float64   `json:"interior_knots"`
			BoundaryKnots       []float64   `json:"boundary_knots"`
			X                   []float64   `json:"x"`
			Basis               [][]float64 `json:"basis"`
			TruncatedPowerBasis [][]float64 `json:"truncated_power_basis"`
		} `json:"natural_splines"`
	}
	Tolerance float64
}

// Source: recomputed, golden/13-distributions.json, R 4.2.2 splines.
func TestGoldenBasis(t *testing.T) {
	var g splines
	reference.Golden(t, "13-distributions", &g)
	for _, s := range g.Output.NaturalSplines {
		b := NewBasis(s.InteriorKnots, s.BoundaryKnots[0], s.BoundaryKnots[1])
		if b.Columns() != len(s.InteriorKnots)+1 {
			t.Fatalf("%d interior knots give %d columns", len(s.InteriorKnots), b.Columns())
		}
		row := make([]float64, b.Columns())
		for i, x := range s.X {
			b.Eval(row, x)
			for j, want := range s.Basis[i] {
				if !near(row[j], want, g.Tolerance, 1e-6) {
					t.Errorf("knots %v: column %d at %v = %.15g, want %.15g", s.InteriorKnots, j, x, row[j], want)
				}
			}
		}
	}
}

// The truncated powers of the golden file span, with the constant, what the
// columns span: each of them is a combination of ours, exactly.
func TestGoldenSpan(t *testing.T) {
	var g splines
	reference.Golden(t, "13-distributions", &g)
	for _, s := range g.Output.NaturalSplines {
		b := NewBasis(s.InteriorKnots, s.BoundaryKnots[0], s.BoundaryKnots[1])
		df, n := b.Columns(), len(s.X)
		ours, theirs := mat.NewDense(n, df+1, nil), mat.NewDense(n, df, nil)
		row := make([]float64, df)
		for i, x := range s.X {
			b.Eval(row, x)
			ours.SetRow(i, append([]float64{1}, row...))
			theirs.SetRow(i, s.TruncatedPowerBasis[i])
		}
		var weights, back mat.Dense
		if err := weights.Solve(ours, theirs); err != nil {
			t.Fatalf("knots %v: %v", s.InteriorKnots, err)
		}
		back.Mul(ours, &weights)
		for j := range df {
			for i := range n {
				if !near(back.At(i, j), theirs.At(i, j), 1e-9, mat.Max(theirs)) {
					t.Errorf("knots %v: truncated power %d at %v = %v in our span, want %v", s.InteriorKnots, j, s.X[i], back.At(i, j), theirs.At(i, j))
				}
			}
		}
	}
}

// Source: recomputed, golden/05-smoothed-key.json, R 4.2.2 splines, on the
// midpoints of the aged fish there.
func TestGoldenKeyBasis(t *testing.T) {
	var g struct {
		Output struct {
			Ridge struct {
				Basis [][]float64
				At    []float64 `json:"basis_rows_at"`
			} `json:"ridge_on_strata_and_spline"`
			Curvature [][]float64 `json:"curvature_matrix_df4"`
		}
		Tolerance float64
	}
	reference.Golden(t, "05-smoothed-key", &g)
	var midpoints []float64
	for _, l := range reference.Data(t, "invented_aged_overlap.csv").Numbers("length_cm") {
		midpoints = append(midpoints, 10*math.Floor(l/10)+5)
	}
	b := Natural(midpoints, 3)
	row := make([]float64, 3)
	for i, x := range g.Output.Ridge.At {
		b.Eval(row, x)
		for j, want := range g.Output.Ridge.Basis[i] {
			if !near(row[j], want, g.Tolerance, 1e-3) {
				t.Errorf("column %d at %v cm = %.15g, want %.15g", j, x, row[j], want)
			}
		}
	}
	b = Natural(midpoints, 4)
	curvature := make([]float64, 16)
	b.Curvature(curvature)
	for j := range 4 {
		for k, want := range g.Output.Curvature[j] {
			if !near(curvature[j*4+k], want, g.Tolerance, 1e-3) {
				t.Errorf("curvature of columns %d and %d = %.15g, want %.15g", j, k, curvature[j*4+k], want)
			}
		}
	}
}

func drawBasis(t *rapid.T) Basis {
	low := rapid.Float64Range(-500, 500).Draw(t, "low")
	at := low
	var interior []float64
	for range rapid.IntRange(0, 6).Draw(t, "interior") {
		at += rapid.Float64Range(0.5, 100).Draw(t, "gap")
		interior = append(interior, at)
	}
	return NewBasis(interior, low, at+rapid.Float64Range(0.5, 100).Draw(t, "last gap"))
}

func TestStraightBeyondTheBoundary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBasis(t)
		low, high := b.Boundary()
		for _, side := range []struct{ edge, out float64 }{{low, -1}, {high, 1}} {
			out := side.out * (high - low)
			at, once, twice := make([]float64, b.Columns()), make([]float64, b.Columns()), make([]float64, b.Columns())
			b.Eval(at, side.edge)
			b.Eval(once, side.edge+out)
			b.Eval(twice, side.edge+2*out)
			for j := range at {
				if bend := twice[j] - 2*once[j] + at[j]; math.Abs(bend) > 1e-8*(1+math.Abs(twice[j])) {
					t.Errorf("column %d bends by %v beyond %v", j, bend, side.edge)
				}
			}
		}
	})
}

// A column must not jump, kink or change its curvature suddenly at any knot.
func TestSmoothAtTheKnots(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBasis(t)
		low, high := b.Boundary()
		left, right := make([]float64, b.Columns()), make([]float64, b.Columns())
		for _, knot := range append(b.Interior(), low, high) {
			b.Eval(left, math.Nextafter(knot, math.Inf(-1)))
			b.Eval(right, math.Nextafter(knot, math.Inf(1)))
			for j := range left {
				if math.Abs(left[j]-right[j]) > 1e-8 {
					t.Errorf("column %d jumps from %v to %v at knot %v", j, left[j], right[j], knot)
				}
			}
			if knot == low || knot == high {
				b.derivative(right, knot, 2)
				for j, second := range right {
					if math.Abs(second)*(high-low)*(high-low) > 1e-6*float64(len(b.knots)*len(b.knots)*100) {
						t.Errorf("column %d has second derivative %v at boundary knot %v", j, second, knot)
					}
				}
			}
		}
	})
}

// ∫ f” g” does not ask for the unit of x, and is 0 exactly for straight lines.
func TestCurvatureProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBasis(t)
		low, high := b.Boundary()
		scale := rapid.Float64Range(0.01, 100).Draw(t, "scale")
		interior := b.Interior()
		for i := range interior {
			interior[i] *= scale
		}
		other := NewBasis(interior, low*scale, high*scale)
		df := b.Columns()
		k, same := make([]float64, df*df), make([]float64, df*df)
		b.Curvature(k)
		other.Curvature(same)
		size := 0.0
		for _, v := range k {
			size = math.Max(size, math.Abs(v))
		}
		for i := range k {
			if math.Abs(k[i]-same[i]) > 1e-6*math.Max(size, 1) {
				t.Errorf("curvature %d = %v, in another unit %v", i, k[i], same[i])
			}
			if k[i] != k[i%df*df+i/df] {
				t.Errorf("curvature is not symmetric at %d", i)
			}
		}
		line := straightLine(t, b)
		bend := 0.0
		for i := range df {
			for j := range df {
				bend += line[i] * line[j] * k[i*df+j]
			}
		}
		if math.Abs(bend) > 1e-7*math.Max(size, 1) {
			t.Errorf("a straight line has curvature %v", bend)
		}
	})
}

// straightLine is the weights that make z − z(low) of the columns.
func straightLine(t *rapid.T, b Basis) []float64 {
	low, high := b.Boundary()
	const n = 60
	columns, line := mat.NewDense(n, b.Columns(), nil), mat.NewVecDense(n, nil)
	row := make([]float64, b.Columns())
	for i := range n {
		z := float64(i)/(n-1)*1.2 - 0.1
		b.Eval(row, low+z*(high-low))
		columns.SetRow(i, row)
		line.SetVec(i, z)
	}
	var weights mat.VecDense
	if err := weights.SolveVec(columns, line); err != nil {
		t.Fatalf("no straight line in the columns: %v", err)
	}
	return weights.RawVector().Data
}

func TestKnotsOfTiedData(t *testing.T) {
	for _, c := range []struct {
		x       []float64
		df      int
		columns int
	}{
		{[]float64{5, 5, 5}, 4, 0},                // one value: nothing to bend over
		{[]float64{1, 5, 5, 5, 5, 9}, 4, 2},       // the three quartiles fall together
		{[]float64{1, 1, 1, 1, 1, 9}, 3, 1},       // all on the boundary
		{[]float64{1, 2, 3, 4, 5, 6, 7, 8}, 3, 3}, // no tie
	} {
		if got := Natural(c.x, c.df).Columns(); got != c.columns {
			t.Errorf("Natural(%v, %d) has %d columns, want %d", c.x, c.df, got, c.columns)
		}
	}
	var none Basis
	none.Eval(nil, 3)
	none.Curvature(nil)
	if low, high := none.Boundary(); low != 0 || high != 0 || none.Interior() != nil {
		t.Errorf("the zero Basis has boundary %v to %v and interior %v", low, high, none.Interior())
	}
}

func TestWrongShapesPanic(t *testing.T) {
	b := NewBasis([]float64{3}, 1, 5)
	for what, call := range map[string]func(){
		"no data":              func() { Natural(nil, 2) },
		"no columns":           func() { Natural([]float64{1, 2}, 0) },
		"NaN":                  func() { Natural([]float64{1, math.NaN()}, 2) },
		"knot on the boundary": func() { NewBasis([]float64{1}, 1, 5) },
		"knots not ascending":  func() { NewBasis([]float64{3, 2}, 1, 5) },
		"short row":            func() { b.Eval(make([]float64, 1), 2) },
		"short matrix":         func() { b.Curvature(make([]float64, 3)) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: no panic", what)
				}
			}()
			call()
		}()
	}
}

func TestNoAllocations(t *testing.T) {
	b := NewBasis([]float64{80, 125, 190}, 40, 240)
	row := make([]float64, b.Columns())
	if n := testing.AllocsPerRun(100, func() { b.Eval(row, 101); b.Eval(row, 300) }); n != 0 {
		t.Errorf("Eval allocates %v times", n)
	}
}

func BenchmarkEval(b *testing.B) {
	basis := NewBasis([]float64{80, 125, 190}, 40, 240)
	row := make([]float64, basis.Columns())
	for b.Loop() {
		basis.Eval(row, 101)
	}
}

func ExampleNewBasis() {
	// No interior knot: one column, a straight line.
	b := NewBasis(nil, 0, 10)
	row := make([]float64, b.Columns())
	for _, x := range []float64{0, 5, 10, 20} {
		b.Eval(row, x)
		fmt.Printf("%.4f ", row[0])
	}
	// Output: 0.0000 0.4009 0.8018 1.6036
}

func ExampleNatural() {
	// Four columns: three interior knots at the quartiles of the lengths.
	b := Natural([]float64{62, 75, 88, 101, 140, 155, 163, 190, 240}, 4)
	low, high := b.Boundary()
	fmt.Println(b.Columns(), b.Interior(), low, high)
	// Output: 4 [88 140 163] 62 240
}

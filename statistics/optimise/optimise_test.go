package optimise

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"earstone/reference"
	"pgregory.net/rapid"
)

// rosenbrock in n dimensions: Rosenbrock (1960), lowest at (1, ..., 1), value 0.
func rosenbrock(x, grad []float64) float64 {
	clear(grad)
	sum := 0.0
	for i := range len(x) - 1 {
		a, b := x[i+1]-x[i]*x[i], 1-x[i]
		sum += 100*a*a + b*b
		if grad != nil {
			grad[i] += -400*x[i]*a - 2*b
			grad[i+1] += 200 * a
		}
	}
	return sum
}

func TestRosenbrock(t *testing.T) {
	for _, start := range [][]float64{{-1.2, 1}, {-1.2, 1, -1.2, 1, -1.2, 1}, {5, -7}} {
		fit, err := Minimise(rosenbrock, start, Settings{})
		if err != nil {
			t.Fatalf("from %v: %v", start, err)
		}
		for i, x := range fit.X {
			if math.Abs(x-1) > 1e-8 { // source: by hand, the sum of squares is 0 there
				t.Errorf("from %v: parameter %d = %v, want 1", start, i, x)
			}
		}
		if fit.Scaled > 1e-8 || fit.Iterations > 200 {
			t.Errorf("from %v: scaled gradient %v after %d iterations", start, fit.Scaled, fit.Iterations)
		}
	}
}

// squares is the sum of squared residuals of y on curve(x; b), whose slopes by b
// the curve fills in.
func squares(x, y []float64, curve func(x float64, b, slope []float64) float64) Objective {
	return func(b, grad []float64) float64 {
		clear(grad)
		slope := make([]float64, len(b))
		sum := 0.0
		for i := range x {
			r := y[i] - curve(x[i], b, slope)
			sum += r * r
			for j := range grad {
				grad[j] -= 2 * r * slope[j]
			}
		}
		return sum
	}
}

func rising(x float64, b, slope []float64) float64 {
	e := math.Exp(-b[1] * x)
	slope[0], slope[1] = 1-e, b[0]*x*e
	return b[0] * (1 - e)
}

func logistic(x float64, b, slope []float64) float64 {
	e := math.Exp(b[1] - b[2]*x)
	slope[0] = 1 / (1 + e)
	slope[1] = -b[0] * e / (1 + e) / (1 + e)
	slope[2] = -slope[1] * x
	return b[0] / (1 + e)
}

func richards(x float64, b, slope []float64) float64 {
	e := math.Exp(b[1] - b[2]*x)
	p := math.Pow(1+e, -1/b[3])
	slope[0] = p
	slope[1] = -b[0] * p / b[3] * e / (1 + e)
	slope[2] = -slope[1] * x
	slope[3] = b[0] * p * math.Log1p(e) / b[3] / b[3]
	return b[0] * p
}

var nist = []struct {
	data   string
	curve  func(x float64, b, slope []float64) float64
	starts [][]float64
	b, se  []float64
	rss    float64
	low    []float64
}{
	// Source: printed, NIST StRD certified values, read in check-values section 7.
	{"nist-misra1a.csv", rising, [][]float64{{500, 0.0001}, {250, 0.0005}},
		[]float64{2.3894212918e+02, 5.5015643181e-04}, []float64{2.7070075241, 7.2668688436e-06}, 1.2455138894e-01, nil},
	{"nist-rat42.csv", logistic, [][]float64{{100, 1, 0.1}, {75, 2.5, 0.07}},
		[]float64{7.2462237576e+01, 2.6180768402, 6.7359200066e-02}, []float64{1.7340283401, 8.8295217536e-02, 3.4465663377e-03}, 8.0565229338, nil},
	{"nist-boxbod.csv", rising, [][]float64{{1, 1}, {100, 0.75}},
		[]float64{2.1380940889e+02, 5.4723748542e-01}, []float64{1.2354515176e+01, 1.0455993237e-01}, 1.1680088766e+03, nil},
	{"nist-rat43.csv", richards, [][]float64{{100, 10, 1, 1}, {700, 5, 0.75, 1.3}},
		[]float64{6.9964151270e+02, 5.2771253025, 7.5962938329e-01, 1.2792483859},
		[]float64{1.6302297817e+01, 2.0828735829, 1.9566123451e-01, 6.8761936385e-01}, 8.7864049080e+03, []float64{0, math.Inf(-1), 0, 1e-3}},
}

func TestCertifiedRegressions(t *testing.T) {
	const tol = 1e-6 // relative: six digits and the one they are rounded by
	for _, c := range nist {
		d := reference.Published(t, c.data)
		f := squares(d.Numbers("x"), d.Numbers("y"), c.curve)
		for _, start := range c.starts {
			for name, objective := range map[string]Objective{"written slopes": f, "numerical slopes": Numerical(func(x []float64) float64 { return f(x, nil) })} {
				fit, err := Minimise(objective, start, Settings{Low: c.low})
				if err != nil {
					t.Errorf("%s from %v, %s: %v (at %v)", c.data, start, name, err, fit.X)
					continue
				}
				for i, want := range c.b {
					if math.Abs(fit.X[i]/want-1) > tol {
						t.Errorf("%s from %v, %s: b%d = %.10g, want %.10g", c.data, start, name, i+1, fit.X[i], want)
					}
				}
				if math.Abs(fit.Value/c.rss-1) > 1e-9 {
					t.Errorf("%s from %v, %s: RSS = %.10g, want %.10g", c.data, start, name, fit.Value, c.rss)
				}
			}
		}
	}
}

// Slopes written by hand must be those of the values.
func TestSlopesOfTheTestFunctions(t *testing.T) {
	for _, c := range nist {
		d := reference.Published(t, c.data)
		f := squares(d.Numbers("x"), d.Numbers("y"), c.curve)
		written, numerical := make([]float64, len(c.b)), make([]float64, len(c.b))
		f(c.starts[1], written)
		Numerical(func(x []float64) float64 { return f(x, nil) })(c.starts[1], numerical)
		for i := range written {
			if math.Abs(written[i]/numerical[i]-1) > 1e-6 {
				t.Errorf("%s: slope %d = %v, by differences %v", c.data, i, written[i], numerical[i])
			}
		}
	}
}

func TestABoundIsActive(t *testing.T) {
	// (x − 3)² + (y + 1)² + xy with x ≤ 1: at x = 1 the rest is lowest at y = −1.5.
	f := func(x, grad []float64) float64 {
		if grad != nil {
			grad[0], grad[1] = 2*(x[0]-3)+x[1], 2*(x[1]+1)+x[0]
		}
		return (x[0]-3)*(x[0]-3) + (x[1]+1)*(x[1]+1) + x[0]*x[1]
	}
	inf := math.Inf(1)
	fit, err := Minimise(f, []float64{0, 0}, Settings{High: []float64{1, inf}})
	if err != nil || fit.X[0] != 1 || math.Abs(fit.X[1]+1.5) > 1e-9 || len(fit.AtBound) != 1 || fit.AtBound[0] != 0 {
		t.Errorf("with x ≤ 1: %v at bounds %v (%v), want (1, −1.5) with parameter 0 at its bound", fit.X, fit.AtBound, err)
	}
	// A start outside is moved in; equal bounds hold a parameter.
	fit, err = Minimise(f, []float64{9, 5}, Settings{Low: []float64{2, -inf}, High: []float64{2, inf}})
	if err != nil || fit.X[0] != 2 || math.Abs(fit.X[1]+2) > 1e-9 {
		t.Errorf("with x = 2: %v (%v), want (2, −2)", fit.X, err)
	}
	// All parameters at bounds: nothing is left to search.
	fit, err = Minimise(f, []float64{0, 0}, Settings{High: []float64{1, inf}, Low: []float64{-inf, 0}})
	if err != nil || fit.X[0] != 1 || fit.X[1] != 0 || len(fit.AtBound) != 2 {
		t.Errorf("with x ≤ 1, y ≥ 0: %v (%v), want (1, 0)", fit.X, err)
	}
	// A bound that is not active changes nothing.
	fit, err = Minimise(rosenbrock, []float64{-1.2, 1}, Settings{Low: []float64{-2, -2}, High: []float64{2, 2}})
	if err != nil || math.Abs(fit.X[0]-1) > 1e-8 || len(fit.AtBound) != 0 {
		t.Errorf("Rosenbrock within wide bounds: %v (%v)", fit.X, err)
	}
}

// A convex quadratic within a box: at the minimum no free slope is left and every
// held one points outwards.
func TestQuadraticInABox(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(t, "n")
		number := func(label string) []float64 {
			return rapid.SliceOfN(rapid.Float64Range(-3, 3), n, n).Draw(t, label)
		}
		centre, start, low := number("centre"), number("start"), number("low")
		high := make([]float64, n)
		for i, w := range number("width") {
			high[i] = low[i] + math.Abs(w)
		}
		rows := rapid.SliceOfN(rapid.Float64Range(-1, 1), n*n, n*n).Draw(t, "rows")
		f := func(x, grad []float64) float64 { // |R(x − c)|² + |x − c|²/10
			clear(grad)
			sum := 0.0
			for r := range n {
				a := 0.0
				for j := range n {
					a += rows[r*n+j] * (x[j] - centre[j])
				}
				sum += a*a + 0.1*(x[r]-centre[r])*(x[r]-centre[r])
				for j := range grad {
					grad[j] += 2 * a * rows[r*n+j]
				}
				if grad != nil {
					grad[r] += 0.2 * (x[r] - centre[r])
				}
			}
			return sum
		}
		ones := make([]float64, n)
		for i := range ones {
			ones[i] = 1
		}
		fit, err := Minimise(f, start, Settings{Low: low, High: high, Scale: ones})
		if err != nil {
			t.Fatalf("%v at %v", err, fit.X)
		}
		for i, x := range fit.X {
			if x < low[i]-1e-12 || x > high[i]+1e-12 {
				t.Errorf("parameter %d = %v is outside %v to %v", i, x, low[i], high[i])
			}
			g := fit.Gradient[i]
			if high[i]-low[i] < 1e-8 { // held by its bounds
				continue
			}
			if math.Abs(g) > 1e-6 && !(x <= low[i]+1e-12 && g > 0) && !(x >= high[i]-1e-12 && g < 0) {
				t.Errorf("parameter %d rests at %v of %v to %v on a slope of %v", i, x, low[i], high[i], g)
			}
		}
	})
}

func reason(err error) Reason {
	var e *Error
	if errors.As(err, &e) {
		return e.Reason
	}
	return 0
}

func TestAFlatValleyIsToldInWords(t *testing.T) {
	// Only the sum of the first two parameters is held by the function.
	valley := func(x, grad []float64) float64 {
		a, b := x[0]+x[1]-3, x[2]-2
		if grad != nil {
			grad[0], grad[1], grad[2] = 2*a, 2*a, 2*b
		}
		return a*a + b*b
	}
	// Only their product is: a bent valley.
	bent := func(x, grad []float64) float64 {
		a := x[0]*x[1] - 3
		if grad != nil {
			grad[0], grad[1] = 2*a*x[1], 2*a*x[0]
		}
		return a * a
	}
	// The second parameter does not matter at all.
	unused := func(x, grad []float64) float64 {
		if grad != nil {
			grad[0], grad[1] = 2*(x[0]-1), 0
		}
		return (x[0] - 1) * (x[0] - 1)
	}
	for _, c := range []struct {
		f     Objective
		start []float64
		want  string
	}{
		{valley, []float64{1, 1, 1}, "flat valley: parameters 0 and 1 can move together without changing the fit"},
		{bent, []float64{1, 1}, "flat valley: parameters 0 and 1 can move together without changing the fit"},
		{unused, []float64{4, 7}, "flat valley: parameter 1 runs to 7 and the fit no longer changes with it"},
	} {
		for _, f := range []Objective{c.f, Numerical(func(x []float64) float64 { return c.f(x, nil) })} {
			_, err := Minimise(f, c.start, Settings{})
			if reason(err) != Flat || err.Error() != c.want {
				t.Errorf("from %v: %v, want %s", c.start, err, c.want)
			}
		}
	}
}

func TestNoValueAtTheStart(t *testing.T) {
	f := Numerical(func(x []float64) float64 { return math.Log(x[0]) - x[0] })
	if _, err := Minimise(f, []float64{-1}, Settings{}); reason(err) != NotFinite {
		t.Errorf("from where the function is NaN: %v", err)
	}
}

// The function lives on x > 0 only, and the first step leaps out of it.
func TestStepsComeBackFromOutside(t *testing.T) {
	f := func(x, grad []float64) float64 {
		if x[0] <= 0 {
			return math.Inf(1)
		}
		if grad != nil {
			grad[0] = 1 - 0.01/x[0]
		}
		return x[0] - 0.01*math.Log(x[0])
	}
	fit, err := Minimise(f, []float64{30}, Settings{})
	if err != nil || math.Abs(fit.X[0]/0.01-1) > 1e-6 {
		t.Errorf("x − ln x/100 is lowest at %v (%v), want 0.01", fit.X, err)
	}
}

func TestTooFewIterationsAreTold(t *testing.T) {
	fit, err := Minimise(rosenbrock, []float64{-1.2, 1}, Settings{Iterations: 2})
	if reason(err) != NotConverged || fit.Iterations != 2 {
		t.Errorf("two iterations: %v after %d", err, fit.Iterations)
	}
}

// Without a lowest point the search must end and say so.
func TestNoLowestPoint(t *testing.T) {
	line := func(x, grad []float64) float64 {
		if grad != nil {
			grad[0] = 1
		}
		return x[0]
	}
	if _, err := Minimise(line, []float64{1}, Settings{}); err == nil {
		t.Error("a falling line was given a lowest point")
	}
}

func TestUnitsDoNotMatter(t *testing.T) {
	d := reference.Published(t, "nist-rat42.csv")
	f := squares(d.Numbers("x"), d.Numbers("y"), logistic)
	plain, err := Minimise(f, []float64{75, 2.5, 0.07}, Settings{})
	if err != nil {
		t.Fatal(err)
	}
	units := []float64{1e6, 1e-4, 1e3}
	g := func(x, grad []float64) float64 {
		at := make([]float64, 3)
		for i := range at {
			at[i] = x[i] / units[i]
		}
		value := f(at, grad)
		for i := range grad {
			grad[i] /= units[i]
		}
		return value
	}
	other, err := Minimise(g, []float64{75e6, 2.5e-4, 70}, Settings{})
	if err != nil {
		t.Fatal(err)
	}
	for i := range units {
		if math.Abs(other.X[i]/units[i]/plain.X[i]-1) > 1e-8 {
			t.Errorf("parameter %d = %v in other units, want %v", i, other.X[i]/units[i], plain.X[i])
		}
	}
}

func TestStartsTellWhenOptimaDiffer(t *testing.T) {
	// x⁴ − 2x² + x/10 has two dips; the left one, near −1.01, is the lower.
	dips := func(x, grad []float64) float64 {
		if grad != nil {
			grad[0] = 4*x[0]*x[0]*x[0] - 4*x[0] + 0.1
		}
		return x[0]*x[0]*x[0]*x[0] - 2*x[0]*x[0] + x[0]/10
	}
	fit, err := Starts(dips, [][]float64{{0.7}, {-2}, {2}, {-0.8}}, Settings{})
	if err != nil || fit.X[0] > 0 {
		t.Fatalf("best of four starts = %v (%v), want the left dip", fit.X, err)
	}
	if len(fit.Optima) != 2 || fit.Optima[0].Starts != 2 || fit.Optima[1].Starts != 2 || fit.Optima[1].X[0] < 0 {
		t.Errorf("optima = %+v, want the left dip and the right one, two starts each", fit.Optima)
	}
	if fit, err = Starts(rosenbrock, [][]float64{{-1.2, 1}, {2, 2}}, Settings{}); err != nil || len(fit.Optima) != 1 || fit.Optima[0].Starts != 2 {
		t.Errorf("Rosenbrock's optima = %+v (%v), want one", fit.Optima, err)
	}
	// A start that fails does not spoil the others.
	log := Numerical(func(x []float64) float64 { return x[0] - math.Log(x[0]) })
	if fit, err = Starts(log, [][]float64{{-1}, {3}}, Settings{}); err != nil || math.Abs(fit.X[0]-1) > 1e-5 {
		t.Errorf("with one bad start of two: %v (%v)", fit.X, err)
	}
	if _, err = Starts(log, [][]float64{{-1}, {-2}}, Settings{}); reason(err) != NotFinite {
		t.Errorf("with bad starts only: %v", err)
	}
}

func TestWrongShapesPanic(t *testing.T) {
	x := []float64{1, 2}
	for what, call := range map[string]func(){
		"one bound of two":   func() { Minimise(rosenbrock, x, Settings{Low: []float64{0}}) },
		"crossed bounds":     func() { Minimise(rosenbrock, x, Settings{Low: []float64{1, 1}, High: []float64{0, 2}}) },
		"scale 0":            func() { Minimise(rosenbrock, x, Settings{Scale: []float64{0, 1}}) },
		"no start":           func() { Starts(rosenbrock, nil, Settings{}) },
		"steps of one":       func() { Hessian(rosenbrock, x, []float64{1}) },
		"no square":          func() { Covariance(make([]float64, 3)) },
		"profile of a third": func() { Profile(rosenbrock, Fit{X: x}, 2, 0.95, Settings{}) },
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

func TestEveryReasonHasItsWords(t *testing.T) {
	for r := NotConverged; r <= BetterElsewhere; r++ {
		e := &Error{Reason: r, Parameters: []int{2, 0, 1}, Value: 1}
		if r.String() == "unknown reason" || e.Error() == r.String() {
			t.Errorf("reason %d says %q and %q", int(r), r, e)
		}
	}
	if got := (BetterElsewhere + 1).String(); got != "unknown reason" {
		t.Errorf("a reason that is none says %q", got)
	}
	if got, want := list([]int{2, 0, 1}), "2, 0 and 1"; got != want {
		t.Errorf("list = %q, want %q", got, want)
	}
}

func BenchmarkMinimise(b *testing.B) {
	d := reference.Published(b, "nist-rat42.csv")
	f := squares(d.Numbers("x"), d.Numbers("y"), logistic)
	for b.Loop() {
		Minimise(f, []float64{75, 2.5, 0.07}, Settings{})
	}
}

func ExampleMinimise() {
	// (x − 2)², held below 1.5.
	f := Numerical(func(x []float64) float64 { return (x[0] - 2) * (x[0] - 2) })
	fit, err := Minimise(f, []float64{0}, Settings{High: []float64{1.5}})
	fmt.Println(fit.X, fit.AtBound, err)
	// Output: [1.5] [0] <nil>
}

func ExampleStarts() {
	// (x² − 1)² has two equal dips.
	f := Numerical(func(x []float64) float64 { return (x[0]*x[0] - 1) * (x[0]*x[0] - 1) })
	fit, err := Starts(f, [][]float64{{-2}, {0.5}, {3}}, Settings{})
	fmt.Println(len(fit.Optima), "optima", err)
	// Output: 2 optima <nil>
}

package optimise

import (
	"fmt"
	"math"
	"testing"

	"earstone/reference"
	"pgregory.net/rapid"
)

// likelihood is the negative log-likelihood of normal residuals with its σ at the
// maximum: n/2 ln RSS.
func likelihood(f Objective, n float64) Objective {
	return func(x, grad []float64) float64 {
		rss := f(x, grad)
		for i := range grad {
			grad[i] *= n / 2 / rss
		}
		return n / 2 * math.Log(rss)
	}
}

func TestCovarianceOfCertifiedRegressions(t *testing.T) {
	// Source: printed, NIST StRD certified SEs, from J'J: σ² (J'J)⁻¹, σ² = RSS/(n − p).
	// J is had here from the Hessian of the sum of squares about a curve that passes
	// through every point of the fit, where H = 2J'J exactly.
	const tol = 1e-6
	for _, c := range nist {
		x := reference.Published(t, c.data).Numbers("x")
		fitted, slope := make([]float64, len(x)), make([]float64, len(c.b))
		for i := range x {
			fitted[i] = c.curve(x[i], c.b, slope)
		}
		covariance, err := Covariance(Hessian(squares(x, fitted, c.curve), c.b, nil))
		if err != nil {
			t.Errorf("%s: %v", c.data, err)
			continue
		}
		n, p := len(x), len(c.b)
		for i, want := range c.se {
			se := math.Sqrt(2 * covariance[i*p+i] * c.rss / float64(n-p))
			if math.Abs(se/want-1) > tol {
				t.Errorf("%s: SE of b%d = %.10g, want %.10g", c.data, i+1, se, want)
			}
		}
	}
}

func TestHessianOfRosenbrock(t *testing.T) {
	// Source: by hand, at (x, y): 1200x² − 400y + 2, −400x, 200.
	h := Hessian(rosenbrock, []float64{0.5, 2}, nil)
	for i, want := range []float64{1200*0.25 - 800 + 2, -200, -200, 200} {
		if math.Abs(h[i]-want) > 1e-5 { // a third derivative of 2400x · h² and rounding
			t.Errorf("Hessian[%d] = %v, want %v", i, h[i], want)
		}
	}
	if h := Hessian(rosenbrock, []float64{0, 0}, nil); math.Abs(h[0]-2) > 1e-4 {
		t.Errorf("second derivative at 0 = %v, want 2", h[0])
	}
}

func TestCovarianceIsTheInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 5).Draw(t, "n")
		rows := rapid.SliceOfN(rapid.Float64Range(-2, 2), n*n, n*n).Draw(t, "rows")
		units := rapid.SliceOfN(rapid.Float64Range(-4, 4), n, n).Draw(t, "units")
		h := make([]float64, n*n)
		for i := range n {
			for j := range n {
				for k := range n {
					h[i*n+j] += rows[k*n+i] * rows[k*n+j]
				}
				if i == j {
					h[i*n+j] += 0.1
				}
				h[i*n+j] *= math.Pow(10, units[i]+units[j])
			}
		}
		c, err := Covariance(h)
		if err != nil {
			t.Fatal(err)
		}
		for i := range n {
			for j := range n {
				sum := 0.0
				for k := range n {
					sum += h[i*n+k] * c[k*n+j]
				}
				want := 0.0
				if i == j {
					want = 1
				}
				if math.Abs(sum-want)*math.Pow(10, units[j]-units[i]) > 1e-8 {
					t.Errorf("(H · C)[%d, %d] = %v, want %v", i, j, sum, want)
				}
			}
		}
	})
}

func TestCovarianceSaysWhatRunsAway(t *testing.T) {
	for _, c := range []struct {
		h    []float64
		want string
	}{
		{[]float64{2, 0, 0, -1}, "not positive definite: parameter 1 runs to no optimum, the fit does not worsen when it moves"},
		{[]float64{0, 0, 0, 1}, "not positive definite: parameter 0 runs to no optimum, the fit does not worsen when it moves"},
		{[]float64{math.NaN(), 0, 0, 1}, "not positive definite: parameter 0 runs to no optimum, the fit does not worsen when it moves"},
		{[]float64{1, 0, 0, 0, 4, 8, 0, 8, 16}, "not positive definite: parameters 1 and 2 run together to no optimum"},
		{[]float64{1, 2, 2, 1}, "not positive definite: parameters 0 and 1 run together to no optimum"},
		{[]float64{1, math.NaN(), math.NaN(), 1}, "not positive definite: parameters 0 and 1 run together to no optimum"},
	} {
		_, err := Covariance(c.h)
		if reason(err) != NotPositiveDefinite || err.Error() != c.want {
			t.Errorf("covariance of %v: %v, want %s", c.h, err, c.want)
		}
	}
}

// Where f has values on one side only the slope is taken from that side.
func TestNumericalAtAnEdge(t *testing.T) {
	root := Numerical(func(x []float64) float64 { return math.Pow(x[0], 1.5) + x[1] })
	grad := make([]float64, 2)
	root([]float64{0, 1}, grad)
	if math.Abs(grad[0]) > 0.01 || math.Abs(grad[1]-1) > 1e-8 {
		t.Errorf("slopes at the edge = %v, want about (0, 1)", grad)
	}
	below := Numerical(func(x []float64) float64 { return math.Sqrt(1 - x[0]) })
	if below([]float64{1}, grad[:1]); !(grad[0] < -1) {
		t.Errorf("slope below the edge = %v, want steeply down", grad[0])
	}
	lone := Numerical(func(x []float64) float64 {
		if x[0] != 2 {
			return math.NaN()
		}
		return 1
	})
	if lone([]float64{2}, grad[:1]); !math.IsNaN(grad[0]) {
		t.Errorf("slope of a lone point = %v, want NaN", grad[0])
	}
}

func TestProfileOfAQuadraticIsWald(t *testing.T) {
	// Correlated normal log-likelihood: the profile of each is ±z times its SE.
	f := func(x, grad []float64) float64 {
		a, b := x[0]-10, x[1]-1
		if grad != nil {
			grad[0], grad[1] = a/4-0.6*b, b*9-0.6*a
		}
		return a*a/8 - 0.6*a*b + 4.5*b*b
	}
	fit, err := Minimise(f, []float64{8, 2}, Settings{})
	if err != nil {
		t.Fatal(err)
	}
	covariance, err := Covariance([]float64{0.25, -0.6, -0.6, 9})
	if err != nil {
		t.Fatal(err)
	}
	const z = 1.959963984540054 // source: by hand, the normal quantile 0.975
	for i, centre := range []float64{10, 1} {
		r, err := Profile(f, fit, i, 0.95, Settings{})
		half := z * math.Sqrt(covariance[i*2+i])
		if err != nil || math.Abs(r.Low-(centre-half)) > 1e-5*half || math.Abs(r.High-(centre+half)) > 1e-5*half || r.LowOpen || r.HighOpen {
			t.Errorf("profile of parameter %d = %+v (%v), want %v ± %v", i, r, err, centre, half)
		}
	}
	// A bound inside the interval leaves that end open.
	r, err := Profile(f, fit, 0, 0.95, Settings{Low: []float64{9.5, -5}})
	if err != nil || r.Low != 9.5 || !r.LowOpen || r.HighOpen {
		t.Errorf("profile with a bound at 9.5 = %+v (%v), want an open low end there", r, err)
	}
}

func TestProfileReachesTheCut(t *testing.T) {
	// Rat42's ends by their definition: the likelihood over the others is χ²/2 lower.
	d := reference.Published(t, "nist-rat42.csv")
	x := d.Numbers("x")
	f := likelihood(squares(x, d.Numbers("y"), logistic), float64(len(x)))
	fit, err := Minimise(f, []float64{75, 2.5, 0.07}, Settings{})
	if err != nil {
		t.Fatal(err)
	}
	const half = 3.841458820694124 / 2 // source: recomputed, R 4.2.2 qchisq(0.95, 1)
	for i := range 3 {
		r, err := Profile(f, fit, i, 0.95, Settings{})
		if err != nil {
			t.Fatal(err)
		}
		for _, end := range []float64{r.Low, r.High} {
			low, high := []float64{math.Inf(-1), math.Inf(-1), math.Inf(-1)}, []float64{math.Inf(1), math.Inf(1), math.Inf(1)}
			low[i], high[i] = end, end
			held, err := Minimise(f, fit.X, Settings{Low: low, High: high, Scale: fit.Scale})
			if err != nil || math.Abs(held.Value-fit.Value-half) > 1e-4 {
				t.Errorf("at the end %v of parameter %d the log-likelihood is %v lower (%v), want %v", end, i, held.Value-fit.Value, err, half)
			}
		}
		if !(r.Low < fit.X[i] && fit.X[i] < r.High) {
			t.Errorf("profile %+v of parameter %d does not hold its estimate %v", r, i, fit.X[i])
		}
	}
}

func TestProfileTells(t *testing.T) {
	// Levels off to the right: that end is open, without bound.
	f := func(x, grad []float64) float64 {
		e := math.Exp(-x[0])
		if grad != nil {
			grad[0] = 2 * (e - 0.5) * -e
		}
		return (e - 0.5) * (e - 0.5)
	}
	fit, err := Minimise(f, []float64{1}, Settings{})
	if err != nil {
		t.Fatal(err)
	}
	r, err := Profile(f, fit, 0, 0.95, Settings{})
	if err != nil || !r.HighOpen || !math.IsInf(r.High, 1) || r.LowOpen {
		t.Errorf("profile of a function that levels off = %+v (%v), want its high end open", r, err)
	}
	// A false optimum is found out.
	fit.Value += 3
	if _, err = Profile(f, fit, 0, 0.95, Settings{}); reason(err) != BetterElsewhere {
		t.Errorf("profile from above the optimum: %v", err)
	}
}

func ExampleProfile() {
	// A normal mean from one value of 5 with SD 2: f = (x − 5)²/8, interval 5 ± 1.96 · 2.
	f := Numerical(func(x []float64) float64 { return (x[0] - 5) * (x[0] - 5) / 8 })
	fit, err := Minimise(f, []float64{1}, Settings{})
	if err != nil {
		fmt.Println(err)
		return
	}
	r, err := Profile(f, fit, 0, 0.95, Settings{})
	fmt.Printf("%.2f to %.2f %v\n", r.Low, r.High, err)
	// Output: 1.08 to 8.92 <nil>
}

func ExampleCovariance() {
	covariance, err := Covariance([]float64{5, 2, 2, 1}) // determinant 1
	fmt.Printf("%.3f %v\n", covariance, err)
	_, err = Covariance([]float64{4, 0, 0, 0})
	fmt.Println(err)
	// Output:
	// [1.000 -2.000 -2.000 5.000] <nil>
	// not positive definite: parameter 1 runs to no optimum, the fit does not worsen when it moves
}

package dist

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
)

// The quantiles of t at many degrees of freedom against the integral of its density, an
// identity, to 1e-10. By way of the beta quantile t of 0.0001 at 2,000 came out as −46.3.
func TestManyDegreesOfFreedom(t *testing.T) {
	for _, df := range []float64{manyDF, 5000, 2e4} {
		constant := LogGamma((df+1)/2) - LogGamma(df/2) - math.Log(df*math.Pi)/2
		density := func(x float64) float64 { return math.Exp(constant - (df+1)/2*math.Log1p(x*x/df)) }
		for _, p := range []float64{2e-6, 1e-4, 0.025, 0.3, 0.6, 0.9, 0.975, 0.9995} {
			q := TQuantile(p, df)
			if got := 0.5 + math.Copysign(quad.Fixed(density, 0, math.Abs(q), 60, nil, 0), q); math.Abs(got-p) > 1e-10 {
				t.Errorf("P(T ≤ %.12f) at %v degrees of freedom = %.12f, want %v", q, df, got, p)
			}
		}
	}
	// By hand at 10⁷: z + (z³ + z)/(4·10⁷), z = 1.959963984540054.
	if q := TQuantile(0.975, 1e7); math.Abs(q-1.959964221767) > 1e-12 {
		t.Errorf("t of 0.975 at ten million degrees of freedom = %.15f, want 1.959964221767", q)
	}
}

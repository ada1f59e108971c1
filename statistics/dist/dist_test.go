package dist

import (
	"math"
	"testing"

	"earstone/reference"
	"pgregory.net/rapid"
)

// near says whether got is want within a relative tolerance; see golden/README.md.
func near(got, want, tol float64) bool {
	return math.Abs(got-want) <= tol*math.Max(1e-12, math.Abs(want))
}

type golden struct {
	Output struct {
		Normal struct {
			P, Q, X, CDF, Density []float64
			LogCDF                []float64 `json:"log_cdf"`
		}
		TQuantile struct{ P, DF, Q []float64 } `json:"t_quantile"`
		TCDF      struct {
			X, DF, Lower []float64
		} `json:"t_cdf"`
		ChiSquareQuantile struct{ P, DF, Q []float64 }         `json:"chi_square_quantile"`
		ChiSquareUpper    struct{ X, DF, Upper []float64 }     `json:"chi_square_upper"`
		FQuantile         struct{ P, D1, D2, Q []float64 }     `json:"f_quantile"`
		FUpper            struct{ X, D1, D2, Upper []float64 } `json:"f_upper"`
		BetaQuantile      struct{ P, A, B, Q []float64 }       `json:"beta_quantile"`
		GammaQuantile     struct{ P, Shape, Q []float64 }      `json:"gamma_quantile"`
		LogGamma          struct{ X, Value []float64 }         `json:"log_gamma"`
		Digamma           struct{ X, Value []float64 }
		Shares            struct {
			K, N       []float64
			ExactLow   []float64 `json:"exact_low"`
			ExactHigh  []float64 `json:"exact_high"`
			WilsonLow  []float64 `json:"wilson_low"`
			WilsonHigh []float64 `json:"wilson_high"`
		} `json:"share_intervals_95"`
	}
	Tolerance float64
}

// Source: recomputed, golden/13-distributions.json, R 4.2.2, tolerance as in the file.
func TestGolden(t *testing.T) {
	var g golden
	reference.Golden(t, "13-distributions", &g)
	o := g.Output
	hold := func(what string, got, want float64, at ...float64) {
		t.Helper()
		if !near(got, want, g.Tolerance) {
			t.Errorf("%s at %v = %.17g, want %.17g", what, at, got, want)
		}
	}
	n := o.Normal
	for i, p := range n.P {
		hold("normal quantile", NormalQuantile(p), n.Q[i], p)
	}
	for i, x := range n.X {
		hold("normal CDF", NormalCDF(x), n.CDF[i], x)
		hold("upper tail of the normal", NormalUpper(-x), n.CDF[i], -x)
		hold("log of the normal CDF", NormalLogCDF(x), n.LogCDF[i], x)
		hold("normal density", NormalDensity(x), n.Density[i], x)
	}
	for i, p := range o.TQuantile.P {
		hold("t quantile", TQuantile(p, o.TQuantile.DF[i]), o.TQuantile.Q[i], p, o.TQuantile.DF[i])
	}
	for i, x := range o.TCDF.X {
		hold("t CDF", TCDF(x, o.TCDF.DF[i]), o.TCDF.Lower[i], x, o.TCDF.DF[i])
		hold("upper tail of t", TUpper(-x, o.TCDF.DF[i]), o.TCDF.Lower[i], -x, o.TCDF.DF[i])
	}
	for i, p := range o.ChiSquareQuantile.P {
		hold("chi-square quantile", ChiSquareQuantile(p, o.ChiSquareQuantile.DF[i]), o.ChiSquareQuantile.Q[i], p, o.ChiSquareQuantile.DF[i])
	}
	for i, x := range o.ChiSquareUpper.X {
		got, want := ChiSquareUpper(x, o.ChiSquareUpper.DF[i]), o.ChiSquareUpper.Upper[i]
		hold("upper tail of chi-square", got, want, x, o.ChiSquareUpper.DF[i])
		if want < 1e-12 { // below that the tolerance above is absolute
			hold("log of the upper tail of chi-square", math.Log(got), math.Log(want), x, o.ChiSquareUpper.DF[i])
		}
	}
	for i, p := range o.FQuantile.P {
		hold("F quantile", FQuantile(p, o.FQuantile.D1[i], o.FQuantile.D2[i]), o.FQuantile.Q[i], p, o.FQuantile.D1[i], o.FQuantile.D2[i])
	}
	for i, x := range o.FUpper.X {
		hold("upper tail of F", FUpper(x, o.FUpper.D1[i], o.FUpper.D2[i]), o.FUpper.Upper[i], x, o.FUpper.D1[i], o.FUpper.D2[i])
	}
	for i, p := range o.BetaQuantile.P {
		hold("beta quantile", BetaQuantile(p, o.BetaQuantile.A[i], o.BetaQuantile.B[i]), o.BetaQuantile.Q[i], p, o.BetaQuantile.A[i], o.BetaQuantile.B[i])
	}
	for i, p := range o.GammaQuantile.P {
		hold("gamma quantile", GammaQuantile(p, o.GammaQuantile.Shape[i]), o.GammaQuantile.Q[i], p, o.GammaQuantile.Shape[i])
	}
	for i, x := range o.LogGamma.X {
		hold("log gamma", LogGamma(x), o.LogGamma.Value[i], x)
	}
	for i, x := range o.Digamma.X {
		hold("digamma", Digamma(x), o.Digamma.Value[i], x)
	}
	for i, k := range o.Shares.K {
		low, high := ExactShare(k, o.Shares.N[i], 0.95)
		hold("exact low end", low, o.Shares.ExactLow[i], k, o.Shares.N[i])
		hold("exact high end", high, o.Shares.ExactHigh[i], k, o.Shares.N[i])
		low, high = Wilson(k, o.Shares.N[i], 0.95)
		// The golden file leaves 2e-17 where 0 is meant.
		hold("Wilson low end", low, math.Round(o.Shares.WilsonLow[i]*1e15)/1e15, k, o.Shares.N[i])
		hold("Wilson high end", high, o.Shares.WilsonHigh[i], k, o.Shares.N[i])
	}
}

func TestQuantilesUndoTheirDistributions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		// Beyond these a beta quantile may lie nearer to 1 than numbers do.
		p := rapid.Float64Range(1e-3, 1-1e-3).Draw(t, "p")
		a := rapid.Float64Range(0.5, 400).Draw(t, "a")
		b := rapid.Float64Range(0.5, 400).Draw(t, "b")
		for _, c := range []struct {
			what string
			p    float64
		}{
			{"normal", NormalCDF(NormalQuantile(p))},
			{"t", TCDF(TQuantile(p, a), a)},
			{"chi-square", ChiSquareCDF(ChiSquareQuantile(p, a), a)},
			{"gamma", GammaCDF(GammaQuantile(p, a), a)},
			{"beta", BetaCDF(BetaQuantile(p, a, b), a, b)},
			{"F", FCDF(FQuantile(p, a, b), a, b)},
		} {
			if !near(c.p, p, 1e-9) {
				t.Errorf("%s CDF of the quantile %v (%v, %v) = %v", c.what, p, a, b, c.p)
			}
		}
	})
}

// Far tails, where one minus the other side would leave nothing.
func TestFarQuantiles(t *testing.T) {
	for _, p := range []float64{1e-30, 1e-12, 1e-6} {
		for _, a := range []float64{0.5, 1, 2.5, 30, 1000} {
			for _, c := range []struct {
				what string
				p    float64
			}{
				{"normal", NormalCDF(NormalQuantile(p))},
				{"t", TCDF(TQuantile(p, a), a)},
				{"gamma", GammaCDF(GammaQuantile(p, a), a)},
				{"beta", BetaCDF(BetaQuantile(p, a, 3), a, 3)},
				{"F", FCDF(FQuantile(p, a, 5), a, 5)},
			} {
				if math.Abs(math.Log(c.p)-math.Log(p)) > 1e-9 {
					t.Errorf("%s CDF of the quantile %v (%v) = %v", c.what, p, a, c.p)
				}
			}
		}
	}
}

func TestTailsMeetTheOtherSide(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(-12, 12).Draw(t, "x")
		a := rapid.Float64Range(0.3, 200).Draw(t, "a")
		b := rapid.Float64Range(0.3, 200).Draw(t, "b")
		share := (x + 12) / 24
		for _, c := range []struct {
			what       string
			cdf, upper float64
		}{
			{"normal", NormalCDF(x), NormalUpper(x)},
			{"t", TCDF(x, a), TUpper(x, a)},
			{"chi-square", ChiSquareCDF(x, a), ChiSquareUpper(x, a)},
			{"gamma", GammaCDF(x, a), GammaUpper(x, a)},
			{"beta", BetaCDF(share, a, b), BetaUpper(share, a, b)},
			{"F", FCDF(x, a, b), FUpper(x, a, b)},
		} {
			if math.Abs(c.cdf+c.upper-1) > 1e-12 {
				t.Errorf("%s at %v (%v, %v): CDF %v and upper tail %v do not sum to 1", c.what, x, a, b, c.cdf, c.upper)
			}
		}
	})
}

// The normal's log CDF changes its method at −10 and 0.
func TestNormalLogCDFHasNoSeam(t *testing.T) {
	for _, at := range []float64{-10, 0} {
		below, above := NormalLogCDF(math.Nextafter(at, -20)), NormalLogCDF(math.Nextafter(at, 20))
		if math.Abs(above-below) > 1e-13*math.Abs(below) {
			t.Errorf("log of the normal CDF jumps from %.17g to %.17g at %v", below, above, at)
		}
	}
}

// Source: by hand, ψ(1) = −γ, ψ(½) = −γ − 2 ln 2, ψ(x + 1) = ψ(x) + 1/x, and the
// zero of ψ at 1.4616321449683623 (a constant from memory).
func TestDigammaNearItsZero(t *testing.T) {
	const gamma = 0.57721566490153286
	for _, c := range [][2]float64{{1, -gamma}, {0.5, -gamma - 2*math.Ln2}, {2.5, -gamma - 2*math.Ln2 + 2 + 2.0/3}, {1.4616321449683623, 0}} {
		if got := Digamma(c[0]); math.Abs(got-c[1]) > 1e-15*math.Max(1, math.Abs(c[1]))*4 {
			t.Errorf("digamma of %v = %.17g, want %.17g", c[0], got, c[1])
		}
	}
	if got := Digamma(0); !math.IsInf(got, -1) {
		t.Errorf("digamma of 0 = %v, want −Inf", got)
	}
}

func TestOutsideTheRangeIsNotANumber(t *testing.T) {
	for what, got := range map[string]float64{
		"normal quantile 1.1":    NormalQuantile(1.1),
		"t on −1 df":             TCDF(1, -1),
		"t quantile −0.1":        TQuantile(-0.1, 4),
		"chi-square on 0 df":     ChiSquareUpper(1, 0),
		"F on 0 df":              FCDF(1, 0, 4),
		"F on 0 df, upper":       FUpper(1, 0, 4),
		"F at NaN":               FUpper(math.NaN(), 3, 4),
		"F on −2 df at 0":        FCDF(0, -2, 4),
		"beta of shape 0":        BetaQuantile(0.5, 0, 1),
		"gamma of shape −1":      GammaQuantile(0.5, -1),
		"log gamma of −1.5":      LogGamma(-1.5),
		"digamma of −1.5":        Digamma(-1.5),
		"normal CDF of NaN":      NormalCDF(math.NaN()),
		"log normal CDF of NaN":  NormalLogCDF(math.NaN()),
		"upper t of NaN":         TUpper(math.NaN(), 3),
		"gamma CDF at NaN":       GammaCDF(math.NaN(), 3),
		"gamma upper tail, NaN":  GammaUpper(math.NaN(), 3),
		"beta CDF at NaN":        BetaCDF(math.NaN(), 3, 2),
		"F quantile 2":           FQuantile(2, 3, 2),
		"chi-square quantile −1": ChiSquareQuantile(-1, 3),
	} {
		if !math.IsNaN(got) {
			t.Errorf("%s = %v, want NaN", what, got)
		}
	}
	if got := NormalLogCDF(math.Inf(-1)); !math.IsInf(got, -1) {
		t.Errorf("log of the normal CDF at −Inf = %v, want −Inf", got)
	}
}

func TestSharesRefuseNonsense(t *testing.T) {
	for _, c := range [][3]float64{{-1, 10, 0.95}, {11, 10, 0.95}, {0, 0, 0.95}, {1, 2, 1}, {1, 2, 0}} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("Wilson(%v) did not panic", c)
				}
			}()
			Wilson(c[0], c[1], c[2])
		}()
	}
}

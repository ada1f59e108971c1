package ageerror

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestNormalCutIntoWholeAges(t *testing.T) {
	// Mean 5, SD 1 (CV 0.2 at age 5): differences of the normal table, reference/check-values.md section 4, item 1.
	const tol = 1e-12
	matrix := Matrix(make([]float64, 6*21), Model{ConstantCV, NoBias, 0, 5}, []float64{0.2}, 6, 21)
	for c, want := range map[int]float64{1: 0.000229231406, 3: 0.060597535943, 4: 0.241730337457, 5: 0.382924922548} {
		if got := matrix[5*21+c]; math.Abs(got-want) > tol {
			t.Errorf("P(%d) of a normal about 5 with SD 1 = %.12f, want %.12f", c, got, want)
		}
	}
}

func TestCurveOfSD(t *testing.T) {
	m := Model{Curve, NoBias, 1, 11}
	// By hand: 0.4 + 1.2 (1 − e⁻¹)/(1 − e⁻²) = 0.4 + 1.2/(1 + e⁻¹).
	want := 0.4 + 1.2/(1+math.Exp(-1))
	if got := m.SDAt([]float64{0.4, 1.6, 0.2}, 6); !near(got, want, 1e-14) || math.Abs(got-1.277270) > 1e-6 {
		t.Errorf("σ(6) = %.9f, want %.9f", got, want)
	}
	for _, delta := range []float64{-2, -0.2, -1e-9, 0, 1e-300, 1e-9, 0.2, 2} {
		theta := []float64{0.4, 1.6, delta}
		if lo, hi := m.SDAt(theta, 1), m.SDAt(theta, 11); !near(lo, 0.4, 1e-14) || !near(hi, 1.6, 1e-14) {
			t.Errorf("σ at the ends with δ = %v is %v and %v, want 0.4 and 1.6", delta, lo, hi)
		}
		if math.Abs(delta) < 1e-8 && !near(m.SDAt(theta, 4), 0.4+1.2*0.3, 1e-7) {
			t.Errorf("σ(4) with δ = %v is %v, want that of the line, 0.76", delta, m.SDAt(theta, 4))
		}
	}
}

func TestCurveIsSmoothAcrossALine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tau := rapid.Float64Range(0, 1).Draw(t, "tau")
		x := rapid.Float64Range(-sharpest, sharpest).Draw(t, "x")
		if rapid.Bool().Draw(t, "near a line") {
			x *= 0.03
		}
		const step = 1e-5
		below, firstBelow, _ := curve(x-step, tau)
		h, first, second := curve(x, tau)
		above, firstAbove, _ := curve(x+step, tau)
		if d := (above - below) / (2 * step); math.Abs(d-first) > 1e-9 {
			t.Fatalf("slope of the curve at x = %v, τ = %v is %v, by differences %v", x, tau, first, d)
		}
		if d := (firstAbove - firstBelow) / (2 * step); math.Abs(d-second) > 1e-9 {
			t.Fatalf("second slope of the curve at x = %v, τ = %v is %v, by differences %v", x, tau, second, d)
		}
		if !(h >= 0 && h <= 1) {
			t.Fatalf("h = %v at x = %v, τ = %v, want within 0 and 1", h, x, tau)
		}
	})
}

func TestMatrixRowsSumToOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, theta := anyModel(t, 12)
		ages, counts := rapid.IntRange(1, 30).Draw(t, "ages"), rapid.IntRange(1, 40).Draw(t, "counts")
		matrix := Matrix(make([]float64, ages*counts), m, theta, ages, counts)
		for a := range ages {
			sum := 0.0
			for c, p := range matrix[a*counts : (a+1)*counts] {
				if !(p >= 0 && p <= 1) {
					t.Fatalf("P(%d | %d) = %v of %v %v", c, a, p, m, theta)
				}
				sum += p
			}
			if math.Abs(sum-1) > 1e-14 {
				t.Fatalf("row %d of %v %v sums to %.17g", a, m, theta, sum)
			}
		}
	})
}

// anyModel draws a model on ages 0 or 1 to last and parameters for it.
func anyModel(t *rapid.T, last int) (Model, []float64) {
	m := Model{
		SD:   SDForm(rapid.IntRange(int(ConstantCV), int(Curve)).Draw(t, "form of SD")),
		Bias: BiasForm(rapid.IntRange(int(NoBias), int(CurveBias)).Draw(t, "form of bias")),
		Low:  rapid.IntRange(0, 1).Draw(t, "low"), High: last,
	}
	from := map[string][2]float64{
		"cv": {0.03, 0.4}, "sd_lo": {0.15, 0.8}, "sd_hi": {0.3, 2}, "delta": {-0.4, 0.4},
		"bias": {-0.3, 0.3}, "bias_lo": {-0.5, 0.5}, "bias_hi": {-2, 2}, "bias_delta": {-0.4, 0.4},
	}
	var theta []float64
	for _, name := range m.Names() {
		theta = append(theta, rapid.Float64Range(from[name][0], from[name][1]).Draw(t, name))
	}
	return m, theta
}

func TestWordsOfForms(t *testing.T) {
	for f, want := range map[interface{ String() string }]string{
		SDForm(0): "unknown", ConstantCV: "constant_cv", Line: "line", Curve: "curve", SDForm(9): "unknown",
		BiasForm(0): "unknown", NoBias: "none", Proportional: "proportional", CurveBias: "curve", BiasForm(9): "unknown",
		Standing(0): "unknown", Sound: "sound", NotReached: "not_settled", Standing(9): "unknown",
		Remark(0): "unknown", Pooled: "pooled", Unbiased: "taken_as_unbiased", Remark(9): "unknown",
		Quantity(0): "unknown", Bias: "bias", SD: "sd",
	} {
		if got := f.String(); got != want {
			t.Errorf("%T in words is %q, want %q", f, got, want)
		}
	}
}

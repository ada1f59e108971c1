package interval

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"earstone/reference"
	"pgregory.net/rapid"
)

func near(got, want, tol float64) bool {
	return math.Abs(got-want) <= tol*math.Max(1e-12, math.Abs(want))
}

// Source: recomputed, golden/13-distributions.json, R 4.2.2 quantile().
func TestGoldenQuantiles(t *testing.T) {
	type list struct{ P, Value []float64 }
	var g struct {
		Input struct {
			QuantileData []float64 `json:"quantile_data"`
		}
		Output struct {
			Type6 list `json:"quantile_type_6"`
			Type7 list `json:"quantile_type_7"`
		}
		Tolerance float64
	}
	reference.Golden(t, "13-distributions", &g)
	x := slices.Sorted(slices.Values(g.Input.QuantileData))
	for i, p := range g.Output.Type6.P {
		if got, want := QuantileType6(x, p), g.Output.Type6.Value[i]; !near(got, want, g.Tolerance) {
			t.Errorf("type 6 quantile %v = %v, want %v", p, got, want)
		}
	}
	for i, p := range g.Output.Type7.P {
		if got, want := QuantileType7(x, p), g.Output.Type7.Value[i]; !near(got, want, g.Tolerance) {
			t.Errorf("type 7 quantile %v = %v, want %v", p, got, want)
		}
	}
}

// Source: recomputed, golden/14-bca.json, R 4.2.2 with boot 1.3.28.1; ends by type 6.
func TestGoldenBCa(t *testing.T) {
	var g struct {
		Input struct {
			Estimate              float64
			Jackknife, Replicates []float64
		}
		Output struct {
			BootstrapSE float64 `json:"bootstrap_se"`
			Intervals   []struct {
				Level, Z0, Acceleration float64
				Adjusted                []float64 `json:"adjusted_levels"`
				Type6                   []float64 `json:"bca_type_6"`
				Percentile              []float64 // by ranks (R + 1)p, which are whole here
			}
			MonteCarlo struct {
				Ends []float64 `json:"binomial_order_statistic"`
				Mean float64   `json:"mean_of_replicates"`
			} `json:"monte_carlo_se"`
		}
		Tolerance float64
	}
	reference.Golden(t, "14-bca", &g)
	x := slices.Sorted(slices.Values(g.Input.Replicates))
	mean, _ := MeanSD(g.Input.Jackknife)
	influence := make([]float64, len(g.Input.Jackknife))
	for i, v := range g.Input.Jackknife {
		influence[i] = mean - v
	}
	a := Acceleration(influence)
	hold := func(what string, got, want float64) {
		t.Helper()
		if !near(got, want, g.Tolerance) {
			t.Errorf("%s = %.15g, want %.15g", what, got, want)
		}
	}
	for _, i := range g.Output.Intervals {
		hold("acceleration", a, i.Acceleration)
		low, high, _ := Adjusted(x, g.Input.Estimate, a, i.Level)
		hold("lower adjusted level", low, i.Adjusted[0])
		hold("upper adjusted level", high, i.Adjusted[1])
		got, reason := BCa(x, g.Input.Estimate, a, i.Level)
		if reason != Corrected {
			t.Errorf("BCa at %v: %v", i.Level, reason)
		}
		hold(fmt.Sprintf("low end of BCa at %v", i.Level), got.Low, i.Type6[0])
		hold(fmt.Sprintf("high end of BCa at %v", i.Level), got.High, i.Type6[1])
		got = Percentile(x, i.Level)
		hold(fmt.Sprintf("low end of percentile at %v", i.Level), got.Low, i.Percentile[0])
		hold(fmt.Sprintf("high end of percentile at %v", i.Level), got.High, i.Percentile[1])
	}
	low, high := MonteCarlo(x, 0.95)
	hold("Monte Carlo error of the low end", low, g.Output.MonteCarlo.Ends[0])
	hold("Monte Carlo error of the high end", high, g.Output.MonteCarlo.Ends[1])
	hold("Monte Carlo error of the mean", MeanSE(x), g.Output.MonteCarlo.Mean)
	_, sd := MeanSD(x)
	hold("SD of replicates", sd, g.Output.BootstrapSE)
}

func TestSpatialDataVariance(t *testing.T) {
	// Source: printed, Efron & Tibshirani (1993), chapter 14 (from memory): variance with
	// divisor n 171.5, acceleration 0.061, z0 about 0.146, 90 % BCa (115.8, 259.6).
	// The estimate and the acceleration to the digits computed in check-values section 0.
	a := reference.Published(t, "bootstrap-spatial-a.csv").Numbers("A")
	estimate := plugIn(a)
	if want, tol := 171.534024, 0.5e-6; math.Abs(estimate-want) > tol {
		t.Errorf("plug-in variance = %.6f, want %.6f", estimate, want)
	}
	mean, _ := MeanSD(a)
	influence := make([]float64, len(a))
	for i, v := range a {
		influence[i] = (v-mean)*(v-mean) - estimate
	}
	acceleration := Acceleration(influence)
	if want, tol := 0.06124012, 0.5e-8; math.Abs(acceleration-want) > tol {
		t.Errorf("acceleration = %.8f, want %.8f", acceleration, want)
	}
	// The ends depend on the draws: ±4.
	const wantLow, wantHigh, tol = 115.8, 259.6, 4
	replicates := resample(a, 20000, plugIn)
	got, reason := BCa(replicates, estimate, acceleration, 0.90)
	if reason != Corrected || math.Abs(got.Low-wantLow) > tol || math.Abs(got.High-wantHigh) > tol {
		t.Errorf("90 %% BCa interval = %.1f to %.1f (%v), want %v to %v", got.Low, got.High, reason, wantLow, wantHigh)
	}
}

func plugIn(x []float64) float64 {
	_, sd := MeanSD(x)
	return sd * sd * float64(len(x)-1) / float64(len(x))
}

// resample draws with replacement by splitmix64 of its own, since the draws of
// package stream are not for this package.
func resample(x []float64, replicates int, statistic func([]float64) float64) []float64 {
	out := make([]float64, replicates)
	sample := make([]float64, len(x))
	state := uint64(14)
	for r := range out {
		for i := range sample {
			state += 0x9e3779b97f4a7c15
			z := (state ^ state>>30) * 0xbf58476d1ce4e5b9
			z = (z ^ z>>27) * 0x94d049bb133111eb
			sample[i] = x[(z^z>>31)>>32*uint64(len(x))>>32]
		}
		out[r] = statistic(sample)
	}
	slices.Sort(out)
	return out
}

func TestLawSchools(t *testing.T) {
	// Source: printed, Efron & Tibshirani (1993), table 3.1: correlation 0.776 (from memory);
	// more digits, jackknife SE and acceleration computed in check-values section 0.
	law := reference.Published(t, "bootstrap-law.csv")
	x, y := law.Numbers("lsat"), law.Numbers("gpa")
	if got, want, tol := correlation(x, y, -1), 0.7763744913, 0.5e-10; math.Abs(got-want) > tol {
		t.Errorf("correlation = %.10f, want %.10f", got, want)
	}
	n := len(x)
	jackknife := make([]float64, n)
	for i := range jackknife {
		jackknife[i] = correlation(x, y, i)
	}
	mean, sd := MeanSD(jackknife)
	se := sd * float64(n-1) / math.Sqrt(float64(n))
	if want, tol := 0.14251862, 0.5e-8; math.Abs(se-want) > tol {
		t.Errorf("jackknife SE = %.8f, want %.8f", se, want)
	}
	for i, v := range jackknife {
		jackknife[i] = mean - v
	}
	if got, want, tol := Acceleration(jackknife), -0.075671565, 0.5e-9; math.Abs(got-want) > tol {
		t.Errorf("acceleration = %.9f, want %.9f", got, want)
	}
}

// correlation leaves out one pair, or none.
func correlation(x, y []float64, without int) float64 {
	var a, b []float64
	for i := range x {
		if i != without {
			a, b = append(a, x[i]), append(b, y[i])
		}
	}
	ma, sa := MeanSD(a)
	mb, sb := MeanSD(b)
	sum := 0.0
	for i := range a {
		sum += (a[i] - ma) * (b[i] - mb)
	}
	return sum / float64(len(a)-1) / sa / sb
}

func TestMeanSDOnHardNumbers(t *testing.T) {
	// Source: NIST StRD NumAcc4 (from memory): 10000000.2, then 10000000.1 and
	// 10000000.3 in turn; mean and SD exact by construction. The numbers themselves
	// are rounded to 2e-9 when read, which leaves 1e-8 of the SD.
	x := []float64{10000000.2}
	for range 500 {
		x = append(x, 10000000.1, 10000000.3)
	}
	mean, sd := MeanSD(x)
	if want, tol := 10000000.2, 2e-9; math.Abs(mean-want) > tol {
		t.Errorf("mean = %.10f, want %.10f", mean, want)
	}
	if want, tol := 0.1, 1e-8*0.1; math.Abs(sd-want) > tol {
		t.Errorf("SD = %.12f, want %.12f", sd, want)
	}
}

func TestMeanSDOfFew(t *testing.T) {
	if mean, sd := MeanSD([]float64{3}); mean != 3 || !math.IsNaN(sd) {
		t.Errorf("one value has mean %v and SD %v, want 3 and NaN", mean, sd)
	}
	if mean, sd := MeanSD(nil); !math.IsNaN(mean) || !math.IsNaN(sd) {
		t.Errorf("no value has mean %v and SD %v, want NaN", mean, sd)
	}
	if mean, sd := MeanSD([]float64{2, 4}); mean != 3 || sd != math.Sqrt2 {
		t.Errorf("2 and 4 have mean %v and SD %v, want 3 and √2", mean, sd)
	}
}

func TestBCaSaysWhenItCannotCorrect(t *testing.T) {
	x := []float64{1, 2, 2, 3, 4, 5, 6, 7, 8, 9}
	for _, c := range []struct {
		x                      []float64
		estimate, acceleration float64
		want                   Reason
	}{
		{x, 5, 0.05, Corrected},
		{x, 1, 0.05, AllOneSide}, // strictly below 1 is none
		{x, 10, 0.05, AllOneSide},
		{[]float64{4, 4, 4}, 4, 0.05, NoSpread},
		{x, 5, 0.6, OverTheEdge},
		{x, 5, -0.6, OverTheEdge},
		{x, math.NaN(), 0.05, NotANumber},
		{x, 5, math.NaN(), NotANumber},
	} {
		got, reason := BCa(c.x, c.estimate, c.acceleration, 0.95)
		if reason != c.want {
			t.Errorf("BCa of estimate %v, acceleration %v: %v, want %v", c.estimate, c.acceleration, reason, c.want)
		}
		if reason != Corrected && got != Percentile(c.x, 0.95) {
			t.Errorf("BCa of estimate %v fell back on %v, want the percentile interval", c.estimate, got)
		}
	}
}

func TestEveryReasonHasItsWords(t *testing.T) {
	seen := map[string]bool{}
	for r := Corrected; r <= NotANumber; r++ {
		if w := r.String(); w == "unknown reason" || seen[w] {
			t.Errorf("reason %d says %q", int(r), w)
		}
		seen[r.String()] = true
	}
	if w := (NotANumber + 1).String(); w != "unknown reason" {
		t.Errorf("a reason that is none says %q", w)
	}
}

// Without bias or skewness BCa is the percentile interval.
func TestBCaOfASymmetricSampleIsPercentile(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		half := rapid.SliceOfN(rapid.Float64Range(0.1, 50), 5, 200).Draw(t, "half")
		x := make([]float64, 0, 2*len(half))
		for _, v := range half {
			x = append(x, v, -v)
		}
		slices.Sort(x)
		level := rapid.Float64Range(0.5, 0.99).Draw(t, "level")
		got, _ := BCa(x, 0, 0, level)
		want := Percentile(x, level)
		if math.Abs(got.Low-want.Low) > 1e-8 || math.Abs(got.High-want.High) > 1e-8 {
			t.Errorf("BCa = %v, percentile = %v", got, want)
		}
		if math.Abs(want.Low+want.High) > 1e-8 {
			t.Errorf("percentile interval of a symmetric sample is %v", want)
		}
	})
}

func TestQuantilesRiseAndStayInside(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfN(rapid.Float64Range(-1e6, 1e6), 1, 60).Draw(t, "x")
		slices.Sort(x)
		p := rapid.Float64Range(0, 1).Draw(t, "p")
		q := rapid.Float64Range(p, 1).Draw(t, "q")
		for name, quantile := range map[string]func([]float64, float64) float64{"type 6": QuantileType6, "type 7": QuantileType7} {
			a, b := quantile(x, p), quantile(x, q)
			if a > b+1e-9 || a < x[0] || b > x[len(x)-1] {
				t.Errorf("%s quantiles %v and %v = %v and %v of %v", name, p, q, a, b, x)
			}
			if mirrored := quantile(negative(x), 1-p); math.Abs(mirrored+a) > 1e-6 {
				t.Errorf("%s quantile %v = %v, mirrored %v", name, p, a, mirrored)
			}
		}
	})
}

func negative(x []float64) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[len(x)-1-i] = -v
	}
	return out
}

// The error of an end shrinks with the root of the number of replicates, and on
// uniform replicates it is √(p(1−p)/R).
func TestMonteCarloOfUniformReplicates(t *testing.T) {
	for _, n := range []int{999, 3999, 15999} {
		x := make([]float64, n)
		for i := range x {
			x[i] = float64(i+1) / float64(n+1)
		}
		low, high := MonteCarlo(x, 0.9)
		want := math.Sqrt(0.05 * 0.95 / float64(n))
		if math.Abs(low/want-1) > 0.1 || math.Abs(high/want-1) > 0.1 {
			t.Errorf("Monte Carlo errors of %d uniform replicates = %v and %v, want about %v", n, low, high, want)
		}
	}
}

func TestBinomialQuantile(t *testing.T) {
	// Source: by hand, B(4, ½) has P(≤ 0..4) = 1/16, 5/16, 11/16, 15/16, 1.
	for _, c := range []struct {
		u    float64
		want int
	}{{0.05, 0}, {0.07, 1}, {0.3, 1}, {0.32, 2}, {0.68, 2}, {0.7, 3}, {0.95, 4}} {
		if got := binomialQuantile(c.u, 4, 0.5); got != c.want {
			t.Errorf("quantile %v of B(4, ½) = %d, want %d", c.u, got, c.want)
		}
	}
	if got := binomialQuantile(0.9, 4, 0); got != 0 {
		t.Errorf("quantile of B(4, 0) = %d", got)
	}
}

func TestAccelerationAwkwardCases(t *testing.T) {
	if a := Acceleration(nil); a != 0 {
		t.Errorf("acceleration of no influence = %v", a)
	}
	if a := Acceleration([]float64{0, 0}); a != 0 {
		t.Errorf("acceleration of no spread = %v", a)
	}
	small := Acceleration([]float64{2e-200, -1e-200, -1e-200})
	plain := Acceleration([]float64{2, -1, -1})
	if !near(small, plain, 1e-12) || !near(plain, 6/(6*math.Pow(6, 1.5)), 1e-12) {
		t.Errorf("acceleration = %v, of tiny influences %v, want %v", plain, small, 1/math.Pow(6, 1.5))
	}
	if a := Acceleration([]float64{1, math.NaN()}); !math.IsNaN(a) {
		t.Errorf("acceleration with an unknown influence = %v, want NaN", a)
	}
}

func TestNonsensePanics(t *testing.T) {
	x := []float64{1, 2}
	for what, call := range map[string]func(){
		"no replicates":       func() { Percentile(nil, 0.9) },
		"level 1":             func() { Percentile(x, 1) },
		"level NaN":           func() { BCa(x, 1, 0, math.NaN()) },
		"quantile of nothing": func() { QuantileType7(nil, 0.5) },
		"quantile 1.5":        func() { QuantileType6(x, 1.5) },
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
	x := make([]float64, 999)
	for i := range x {
		x[i] = float64(i * i)
	}
	n := testing.AllocsPerRun(50, func() {
		Percentile(x, 0.95)
		BCa(x, 200000, 0.03, 0.95)
		MonteCarlo(x, 0.95)
		MeanSE(x)
		Acceleration(x)
	})
	if n != 0 {
		t.Errorf("an interval allocates %v times", n)
	}
}

func BenchmarkBCa(b *testing.B) {
	x := make([]float64, 1000)
	for i := range x {
		x[i] = float64(i)
	}
	for b.Loop() {
		BCa(x, 480, 0.03, 0.95)
	}
}

func ExamplePercentile() {
	replicates := []float64{1, 2, 3, 4, 5, 6, 7, 8, 9} // rank (9 + 1) · 0.1 = 1 and (9 + 1) · 0.9 = 9
	fmt.Println(Percentile(replicates, 0.8))
	// Output: {1 9}
}

func ExampleBCa() {
	replicates := []float64{1, 2, 3, 4, 5, 6, 7, 8, 9}
	_, reason := BCa(replicates, 0.5, 0, 0.8)
	fmt.Println(reason)
	// Output: percentile interval: all replicates lie on one side of the estimate, so its bias cannot be told
}

// The quantile of a binomial is where its cumulated probabilities say, by adding them up.
func TestBinomialQuantileBySums(t *testing.T) {
	for _, n := range []int{1, 2, 7, 40, 400} {
		for _, p := range []float64{0, 0.001, 0.025, 0.3, 0.5, 0.975, 1} {
			for _, u := range []float64{0.01, 0.1587, 0.5, 0.8413, 0.999} {
				want, sum := 0, 0.0
				for ; want < n; want++ {
					choose, _ := math.Lgamma(float64(n + 1))
					some, _ := math.Lgamma(float64(want + 1))
					rest, _ := math.Lgamma(float64(n - want + 1))
					if sum += math.Exp(choose-some-rest) * math.Pow(p, float64(want)) * math.Pow(1-p, float64(n-want)); sum >= u {
						break
					}
				}
				if got := binomialQuantile(u, n, p); got != want && math.Abs(sum-u) > 1e-9 {
					t.Errorf("the quantile %v of a binomial of %d and %v is %d, want %d", u, n, p, got, want)
				}
			}
		}
	}
}

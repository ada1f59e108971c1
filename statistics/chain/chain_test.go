package chain

import (
	"fmt"
	"math"
	"testing"

	"earstone/reference"
	"earstone/statistics/stream"

	"pgregory.net/rapid"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol*math.Max(math.Abs(want), 1e-12)) {
		t.Errorf("%s = %.12g, want %.12g", what, got, want)
	}
}

func TestGolden(t *testing.T) {
	var golden struct {
		Input struct {
			Chains [][]float64 `json:"chains"`
		} `json:"input"`
		Output struct {
			Chains map[string]float64 `json:"chains"`
		} `json:"output"`
	}
	reference.Golden(t, "13-distributions", &golden)
	chains := make([][]float64, 4)
	for _, row := range golden.Input.Chains { // rows are draws
		for c, x := range row {
			chains[c] = append(chains[c], x)
		}
	}
	d, known := Examine(chains)
	if !known {
		t.Fatal("the golden chains can't be judged, want a diagnosis")
	}
	v := ratio(split(chains))
	got := map[string]float64{
		"split_within": v.within, "split_between": v.between, "split_var_plus": v.plus, "split_rhat": d.SplitRHat,
		"rank_normalised_rhat_bulk": d.BulkRHat, "rank_normalised_rhat_folded": d.FoldedRHat, "rank_normalised_rhat": d.RHat,
		"ess_basic": d.ESS, "tau_basic": 240 / d.ESS, "ess_bulk": d.BulkESS,
		"ess_tail_5": d.LowESS, "ess_tail_95": d.HighESS, "ess_tail": d.TailESS, "mcse_mean": d.MeanMCSE,
	}
	for name, want := range golden.Output.Chains {
		x, there := got[name]
		if !there {
			t.Errorf("golden topic 13 has %s, and nothing here gives it", name)
			continue
		}
		near(t, name, x, want, 1e-9) // recomputed: package posterior and by hand, golden topic 13
	}
}

// autoregressive draws x_t = ρ x_{t−1} + e from its stationary distribution.
func autoregressive(chains, n int, rho float64, replicate int) [][]float64 {
	var s stream.Stream
	out := make([][]float64, chains)
	for c := range out {
		s.ResetAt(11, stream.Invention, replicate, c)
		out[c] = make([]float64, n)
		x := s.Normal() / math.Sqrt(1-rho*rho)
		for i := range out[c] {
			x = rho*x + s.Normal()
			out[c][i] = x
		}
	}
	return out
}

// An autoregressive chain has τ = (1 + ρ)/(1 − ρ), by hand from Σ ρ^|t|.
func TestSizeOfAutoregression(t *testing.T) {
	for i, rho := range []float64{-0.4, 0, 0.5, 0.9} {
		d, _ := Examine(autoregressive(4, 20000, rho, i))
		want := 80000 * (1 - rho) / (1 + rho)
		if math.Abs(d.ESS-want) > 0.06*want {
			t.Errorf("effective size at ρ = %v is %.0f, want %.0f within 6 %%", rho, d.ESS, want)
		}
		if d.RHat > 1.005 || !d.Settled(4) {
			t.Errorf("stationary chains at ρ = %v: R-hat %.4f, settled %v", rho, d.RHat, d.Settled(4))
		}
	}
}

func TestDisagreementShows(t *testing.T) {
	apart := autoregressive(4, 500, 0.3, 20)
	for i := range apart[3] {
		apart[3][i] += 2
	}
	if d, _ := Examine(apart); d.RHat < 1.1 || d.Settled(4) {
		t.Errorf("a chain two off its fellows: R-hat %.3f, settled %v; want above 1.1 and not", d.RHat, d.Settled(4))
	}
	wide := autoregressive(4, 500, 0, 21) // same centre, other spread: only the folded one sees it
	for i := range wide[0] {
		wide[0][i] *= 5
	}
	d, _ := Examine(wide)
	if d.FoldedRHat < 1.1 || d.BulkRHat > 1.05 || d.RHat != d.FoldedRHat {
		t.Errorf("a chain five times as wide: bulk %.3f, folded %.3f, want the folded one alone above 1.1", d.BulkRHat, d.FoldedRHat)
	}
	drift := autoregressive(1, 500, 0, 22)
	for i := range drift[0] {
		drift[0][i] += float64(i) / 100
	}
	if d, _ := Examine(drift); d.RHat < 1.2 {
		t.Errorf("one chain that drifts: R-hat %.3f, want above 1.2", d.RHat)
	}
}

func TestNothingToJudge(t *testing.T) {
	flat := make([]float64, 40)
	short := []float64{1, 2, 3, 4, 5, 6, 7}
	broken := append(make([]float64, 20), math.NaN())
	for name, chains := range map[string][][]float64{
		"no chains": nil, "constant chains": {flat, flat}, "seven draws": {short, short}, "a draw that is no number": {broken},
	} {
		if _, known := Examine(chains); known {
			t.Errorf("%s were judged, want unknown", name)
		}
	}
	rare := make([]float64, 400) // 1 draw in 50 is a 1: both tails are tied
	for i := 0; i < 400; i += 50 {
		rare[i] = 1
	}
	d, known := Examine([][]float64{rare})
	if !known || d.TailESS != d.ESS {
		t.Errorf("tied tails: known %v, size %v, want that of the mean, %v", known, d.TailESS, d.ESS)
	}
}

func TestRanksForgetUnits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		chains := autoregressive(rapid.IntRange(1, 4).Draw(t, "chains"), rapid.IntRange(8, 90).Draw(t, "draws"), 0.5, rapid.IntRange(0, 1<<20).Draw(t, "replicate"))
		scale := rapid.Float64Range(0.01, 100).Draw(t, "scale")
		other := make([][]float64, len(chains))
		for c := range chains {
			for _, x := range chains[c] {
				other[c] = append(other[c], math.Exp(scale*x/20))
			}
		}
		a, _ := Examine(chains)
		b, _ := Examine(other)
		if a.BulkRHat != b.BulkRHat || a.BulkESS != b.BulkESS || math.Abs(a.TailESS-b.TailESS) > 1e-9*a.TailESS {
			t.Errorf("a rising function of the draws changes the diagnosis: %+v, %+v", a, b)
		}
	})
}

func ExampleExamine() {
	// Halves of both chains vary by W = 1.3. Means of halves 2.4, 2.6, 2.4, 2.6 have
	// variance 0.0133: √((4/5 · 1.3 + 0.0133)/1.3) = 0.90; ten apart, 33.35: 5.14.
	agree := []float64{1, 3, 2, 4, 2, 3, 1, 4, 3, 2}
	apart := []float64{11, 13, 12, 14, 12, 13, 11, 14, 13, 12}
	d, _ := Examine([][]float64{agree, agree})
	fmt.Printf("split R-hat %.2f\n", d.SplitRHat)
	d, _ = Examine([][]float64{agree, apart})
	fmt.Printf("split R-hat %.2f, settled: %v\n", d.SplitRHat, d.Settled(2))
	// Output:
	// split R-hat 0.90
	// split R-hat 5.14, settled: false
}

package key_test

import (
	"math"
	"testing"

	"earstone/estimate/key"
	"earstone/reference"
)

// smoothGolden is what the golden file of the smoothed key holds.
type smoothGolden struct {
	Input struct {
		Grid       []float64
		FoldByFish []int32 `json:"fold_by_fish"`
	}
	Output struct {
		Plain []struct {
			DF            int
			LogLikelihood float64   `json:"log_likelihood"`
			ByStage       []float64 `json:"log_likelihood_by_stage"`
			Q             [][]float64
		} `json:"no_stratum_no_ridge"`
		Strata []strataGolden `json:"ridge_on_strata"`
		Spline strataGolden   `json:"ridge_on_strata_and_spline"`
		Bend   []strataGolden `json:"ridge_on_strata_and_curvature"`
		Ratio  []struct {
			DF        int
			ByStage   []float64 `json:"statistic_by_stage"`
			Statistic float64
			Degrees   int
			P         float64
		} `json:"stratum_likelihood_ratio"`
		Held struct {
			DF              []int
			LambdaStrata    []float64 `json:"lambda_strata"`
			LambdaCurvature []float64 `json:"lambda_curvature"`
			LogScore        []float64 `json:"log_score"`
		} `json:"held_out_log_score"`
	}
}

type strataGolden struct {
	DF              int
	Lambda          float64
	LambdaStrata    float64 `json:"lambda_strata"`
	LambdaSpline    float64 `json:"lambda_spline"`
	LambdaCurvature float64 `json:"lambda_curvature"`
	LogLikelihood   float64 `json:"log_likelihood"`
	Penalty         float64
	PenaltyByStage  []float64   `json:"penalty_by_stage"`
	EffectiveDF     []float64   `json:"effective_df_by_stage"`
	Effects         [][]float64 `json:"stratum_effects_by_stage"`
	Q               map[string][][]float64
}

var banks = []string{"Dunmarrow", "Quarrow", "Skell"}

// overlapping is the invented aged fish whose lengths at age overlap, by bank, on bins
// of 10 cm from 60; ages 2 to 6 are classes 0 to 4.
func overlapping(t testing.TB) key.Sample {
	t.Helper()
	d := reference.Data(t, "invented_aged_overlap.csv")
	bank, trip, length, age := d.Text("bank"), d.Text("trip"), d.Numbers("length_cm"), d.Numbers("age")
	const bins = 22
	s := key.Sample{Grid: key.Grid{
		Bins: bins, Mid: make([]float64, bins), Ages: 5,
		Rungs: [][]int32{{0, 1, 2}, {0, 0, 0}}, Groups: []int{3, 1}, Path: [][]int32{{0, 0}, {1, 0}, {2, 0}},
	}}
	for l := range s.Grid.Mid {
		s.Grid.Mid[l] = 65 + 10*float64(l)
	}
	trips := map[string]int32{}
	for i := range bank {
		origin := int32(0)
		for banks[origin] != bank[i] {
			origin++
		}
		if _, known := trips[trip[i]]; !known {
			trips[trip[i]] = int32(len(trips))
		}
		s.Entries = append(s.Entries, key.Entry{
			Trip: trips[trip[i]], Origin: origin, Bin: int32(math.Floor(length[i]/10)) - 6,
			Age: int32(age[i]) - 2, Pattern: -1, Fish: 1,
		})
	}
	return s
}

func smoothed(t testing.TB, s key.Sample, set key.Smoothing) *key.SmoothWork {
	t.Helper()
	work, err := key.NewSmooth(s, set)
	if err != nil {
		t.Fatalf("smoothing with %+v: %v", set, err)
	}
	return work
}

// compareKey holds rows of stratum k at the golden grid against the golden shares.
func compareKey(t *testing.T, what string, s key.Sample, q []float64, k int, grid []float64, want [][]float64, tol float64) {
	t.Helper()
	for i, mid := range grid {
		l := int((mid - s.Grid.Mid[0]) / 10)
		for a, w := range want[i] {
			if got := q[(k*s.Grid.Bins+l)*s.Grid.Ages+a]; math.Abs(got-w) > tol*math.Max(1e-12, math.Abs(w)) {
				t.Errorf("%s: share of class %d at %v in stratum %d = %v, want %v", what, a, mid, k, got, w)
			}
		}
	}
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol*math.Max(1e-12, math.Abs(want))) {
		t.Errorf("%s = %.12g, want %.12g", what, got, want)
	}
}

func TestSmoothWithoutPenaltyAgainstGolden(t *testing.T) {
	// Golden topic 05, no_stratum_no_ridge: general linear models of an independent tool.
	const tol = 1e-7
	var golden smoothGolden
	reference.Golden(t, "05-smoothed-key", &golden)
	s := overlapping(t)
	for _, want := range golden.Output.Plain {
		work := smoothed(t, s, key.Smoothing{DF: want.DF, Strata: math.Inf(1), Curvature: -1})
		q, from, _ := blank(s.Grid)
		work.Fit(q, from, s.Weights(), nil)
		for a, curve := range work.Curves() {
			near(t, "log-likelihood of a stage", curve.LogLikelihood, want.ByStage[a], 1e-9)
		}
		compareKey(t, "no penalty", s, q, 1, golden.Input.Grid, want.Q, tol)
	}
}

func TestSmoothWithPenaltiesAgainstGolden(t *testing.T) {
	// Golden topic 05, ridges on strata, spline and curvature: iteratively reweighted
	// least squares of an independent tool, found again by a general optimiser.
	const tol = 1e-7
	var golden smoothGolden
	reference.Golden(t, "05-smoothed-key", &golden)
	s := overlapping(t)
	cases := append(append([]strataGolden{golden.Output.Spline}, golden.Output.Strata...), golden.Output.Bend...)
	for _, want := range cases {
		set := key.Smoothing{DF: want.DF, Strata: want.Lambda + want.LambdaStrata, Ridge: want.LambdaSpline, Curvature: want.LambdaCurvature}
		if set.Curvature == 0 {
			set.Curvature = -1
		}
		work := smoothed(t, s, set)
		q, from, _ := blank(s.Grid)
		work.Fit(q, from, s.Weights(), nil)
		likelihood, penalty := 0.0, 0.0
		for a, curve := range work.Curves() {
			likelihood, penalty = likelihood+curve.LogLikelihood, penalty+curve.Penalty
			if want.EffectiveDF != nil {
				near(t, "effective df", curve.EffectiveDF, want.EffectiveDF[a], tol)
			}
			if want.PenaltyByStage != nil {
				near(t, "penalty", curve.Penalty, want.PenaltyByStage[a], tol)
			}
			if want.Effects != nil {
				for g := range banks {
					near(t, "effect of "+banks[g], curve.Effects[g], want.Effects[a][g], tol)
				}
			}
		}
		if want.LogLikelihood != 0 {
			near(t, "log-likelihood", likelihood, want.LogLikelihood, 1e-9)
		}
		if want.Penalty != 0 {
			near(t, "penalty", penalty, want.Penalty, tol)
		}
		for g, name := range banks {
			compareKey(t, "penalised", s, q, g, golden.Input.Grid, want.Q[name], tol)
		}
	}
}

func TestContinuationRatioOfMice(t *testing.T) {
	// Price, Kimmel, George & Marr (1987), as in Agresti (2002), continuation-ratio logits:
	// fetuses by dose; dead against the rest, then malformed against normal.
	d := reference.Published(t, "continuation-ratio.csv")
	dose, dead, malformed, normal := d.Numbers("dose"), d.Numbers("nonlive"), d.Numbers("malformed"), d.Numbers("normal")
	s := key.Sample{Grid: key.Grid{Bins: len(dose), Mid: dose, Ages: 3, Rungs: [][]int32{{0}}, Groups: []int{1}, Path: [][]int32{{0}}}}
	for l := range dose {
		for a, fish := range []float64{dead[l], malformed[l], normal[l]} {
			s.Entries = append(s.Entries, key.Entry{Trip: -1, Bin: int32(l), Age: int32(a), Pattern: -1, Fish: fish})
		}
	}
	work := smoothed(t, s, key.Smoothing{DF: 1, Strata: math.Inf(1), Curvature: -1})
	// Printed (from memory): −3.247 + 0.0064 x, −5.70 + 0.0174 x; deviances 5.78, 6.06 on 3 df.
	// Recomputed (R 4.2.2), to the digits below; tolerance 1e-6 relative.
	const tol = 1e-6
	want := []struct{ intercept, slope, deviance, se, seSlope float64 }{
		{-3.2479337092, 0.0063890688, 5.7774778, 0.15766018549, 0.00043476424},
		{-5.701902079, 0.017374687, 6.0609076, 0.3322478743, 0.0012272893},
	}
	first, last := work.Logits(0, 0), work.Logits(0, len(dose)-1)
	for a, w := range want {
		low, high := first[a], last[a]
		slope := (high.Value - low.Value) / (dose[len(dose)-1] - dose[0])
		near(t, "slope on dose", slope, w.slope, tol)
		near(t, "intercept", low.Value-slope*dose[0], w.intercept, tol)
		saturated := 0.0
		for l := range dose {
			events := []float64{dead[l], malformed[l]}[a]
			n := dead[l] + malformed[l] + normal[l]
			if a == 1 {
				n -= dead[l]
			}
			for _, y := range []float64{events, n - events} {
				if y > 0 {
					saturated += y * math.Log(y/n)
				}
			}
		}
		near(t, "deviance", 2*(saturated-work.Curves()[a].LogLikelihood), w.deviance, tol)
		// The first dose is 0, so the variance of the logit is v₀ + 2xc + x²v₁; that tool's
		// SEs are those of its last but one iteration, good to 1e-5.
		near(t, "SE of the intercept", math.Sqrt(low.Variance), w.se, 1e-5)
		middle := work.Logits(0, 1)[a].Variance
		slopeVariance := ((high.Variance-low.Variance)/dose[4] - (middle-low.Variance)/dose[1]) / (dose[4] - dose[1])
		near(t, "SE of the slope", math.Sqrt(slopeVariance), w.seSlope, 1e-5)
	}
}

func BenchmarkSmooth(b *testing.B) {
	s, _ := season(1)
	benchmarkFit(b, s, smoothed(b, s, key.Smoothing{}), nil)
}

func TestStrataDoNotDifferAgainstGolden(t *testing.T) {
	// Golden topic 05, stratum_likelihood_ratio: pairs of general linear models of an
	// independent tool.
	const tol = 1e-7
	var golden smoothGolden
	reference.Golden(t, "05-smoothed-key", &golden)
	s := overlapping(t)
	for _, want := range golden.Output.Ratio {
		got, err := key.Areas(s, []int32{0, 1, 2}, nil, want.DF)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "likelihood ratio", got.Statistic, want.Statistic, tol)
		near(t, "p", got.P, want.P, tol)
		for a, part := range want.ByStage {
			near(t, "likelihood ratio of a stage", got.ByAge[a], part, 1e-6)
		}
		if got.Degrees != want.Degrees || got.Differs || got.Groups != 3 || !got.Settled {
			t.Errorf("df %d: %+v, want %d degrees of freedom and no difference", want.DF, got, want.Degrees)
		}
	}
}

func TestHeldOutLogScoreAgainstGolden(t *testing.T) {
	// Golden topic 05, held_out_log_score: folds of trips, the floor out of reach.
	const tol = 1e-6
	var golden smoothGolden
	reference.Golden(t, "05-smoothed-key", &golden)
	held, s := golden.Output.Held, overlapping(t)
	set := key.Scoring{Folds: 5, Floor: 1e-300}
	for i, e := range s.Entries {
		for int(e.Trip) >= len(set.Fold) {
			set.Fold = append(set.Fold, 0)
		}
		set.Fold[e.Trip] = golden.Input.FoldByFish[i]
	}
	for i, df := range held.DF {
		set.Smoothing = append(set.Smoothing, key.Smoothing{DF: df, Strata: held.LambdaStrata[i], Curvature: held.LambdaCurvature[i]})
	}
	got, err := key.Scores(s, set)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range held.LogScore {
		near(t, "held-out log score", got.Scores[i+2].LogScore, want, tol)
	}
	best := got.Scores[got.Best]
	if set, ok := got.Smoothest(); !ok || set != best.Smoothing {
		t.Errorf("the best smoothing is %+v, want that of the best form, %+v", set, best.Smoothing)
	}
	if got.Scores[0].Behind < got.Scores[1].Behind || best.Form != key.Smoothed || best.Behind != 0 || best.BehindSE != 0 {
		t.Errorf("600 fish in 66 cells foretell best by a smoothed key, then with borrowing: %+v", got.Scores)
	}
}

func BenchmarkScores(b *testing.B) {
	s, _ := season(1)
	for b.Loop() {
		if _, err := key.Scores(s, key.Scoring{}); err != nil {
			b.Fatal(err)
		}
	}
}

package mortality

import (
	"fmt"
	"math"
	"testing"

	"earstone/reference"
)

type goldenSet struct {
	ChapmanRobson struct {
		First          int     `json:"first_age"`
		N              float64 `json:"n"`
		Total          float64 `json:"total_recoded_age"`
		Survival       float64
		SE             float64 `json:"se_survival_corrected"`
		Z              float64
		SEZ            float64 `json:"se_z_corrected"`
		ChiSquare      float64 `json:"chi_square"`
		Classes        int
		Overdispersion float64
	} `json:"chapman_robson"`
	CatchCurve struct {
		First     int `json:"first_age"`
		Z, SE     float64
		Low, High float64
		Intercept float64
	} `json:"catch_curve"`
}

// Golden topic 10, recomputed by an independent tool: reference/golden/make/10-mortality.R.
func TestGolden(t *testing.T) {
	var golden struct {
		Input struct {
			Sets map[string]struct {
				Age []int
				N   []float64
			}
		}
		Output map[string]goldenSet
	}
	reference.Golden(t, "10-mortality", &golden)
	for _, name := range []string{"smooth", "rough", "short"} {
		in, want := golden.Input.Sets[name], golden.Output[name]
		counts := Counts{First: in.Age[0], Number: in.N}
		c, err := ChapmanRobson(counts, 0.95)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		line, err := CatchCurve(counts, 0.95)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		w, v := want.ChapmanRobson, want.CatchCurve
		for _, pair := range []struct {
			what      string
			got, want float64
		}{{"first age", float64(c.FirstAge), float64(w.First)}, {"fish", c.Fish, w.N}, {"T", c.Total, w.Total}, {"survival", c.S, w.Survival},
			{"SE of survival", c.SES, w.SE}, {"Z", c.Z, w.Z}, {"SE of Z", c.SE, w.SEZ}, {"χ²", c.ChiSquare, w.ChiSquare},
			{"classes", float64(c.Classes), float64(w.Classes)}, {"overdispersion", c.Overdispersion.X, w.Overdispersion},
			{"first age of the line", float64(line.FirstAge), float64(v.First)}, {"Z of the line", line.Z, v.Z}, {"its SE", line.SE, v.SE},
			{"its low end", line.Low, v.Low}, {"its high end", line.High, v.High}, {"its intercept", line.Intercept, v.Intercept}} {
			if math.Abs(pair.got-pair.want) > 1e-9*math.Max(1e-12, math.Abs(pair.want)) {
				t.Errorf("%s: %s = %.12g, want %.12g", name, pair.what, pair.got, pair.want)
			}
		}
	}
}

func TestRockBass(t *testing.T) {
	// Robson & Chapman (1961), rock bass, as in Seber's text (from memory): coded ages 0 to 5,
	// Ŝ 0.4475, SE 0.0238. The peak is recoded age −1 here, so that age 0 is the first used.
	c, err := ChapmanRobson(Counts{First: -1, Number: []float64{118, 118, 73, 36, 14, 1, 1}}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	plain := c.SES / math.Sqrt(math.Max(1, c.Overdispersion.X)) // printed without the correction
	if math.Abs(c.S-0.4475) > 0.5e-4 || math.Abs(plain-0.0238) > 0.5e-4 || c.Fish != 243 || c.Total != 196 {
		t.Errorf("rock bass survive at %.4f (SE %.4f) of %v fish, T %v; want 0.4475, 0.0238, 243, 196", c.S, plain, c.Fish, c.Total)
	}
}

func TestCountsAreNoScale(t *testing.T) {
	// Twice the fish: the line has the same slope; its SE stays, since weights are relative.
	counts := []float64{85, 171, 158, 104, 61, 37, 22, 12, 8, 4}
	twice := make([]float64, len(counts))
	for i, n := range counts {
		twice[i] = 2 * n
	}
	one, err := ChapmanRobson(Counts{Number: counts}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	two, err := ChapmanRobson(Counts{Number: twice}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(one.Z-two.Z) > 0.002 || !(two.SE < one.SE*1.001) {
		t.Errorf("Z of %.4f (SE %.4f) becomes %.4f (SE %.4f) with twice the fish", one.Z, one.SE, two.Z, two.SE)
	}
}

func TestTroubles(t *testing.T) {
	for name, counts := range map[string][]float64{"nothing": nil, "no fish": {0, 0}, "one age": {5}, "rising": {1, 2, 3, 4, 5}} {
		if c, err := ChapmanRobson(Counts{Number: counts}, 0.95); err == nil {
			t.Errorf("%s: Chapman and Robson give Z %v, want words", name, c.Z)
		}
		if c, err := CatchCurve(Counts{Number: counts}, 0.95); err == nil {
			t.Errorf("%s: the line gives Z %v, want words", name, c.Z)
		}
	}
}

func ExampleChapmanRobson() {
	// Halving every year after the peak: S is near a half, Z near ln 2.
	c, _ := ChapmanRobson(Counts{First: 1, Number: []float64{900, 800, 400, 200, 100, 50, 25, 12, 6, 3, 2, 1}}, 0.95)
	fmt.Printf("S %.2f, Z %.1f from age %d\n", c.S, c.Z, c.FirstAge)
	// Output: S 0.50, Z 0.7 from age 2
}

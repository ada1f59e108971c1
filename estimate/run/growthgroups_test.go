package run_test

import (
	"testing"

	"earstone/estimate/run"
	"earstone/plan/fishery"
	"earstone/programme/record"
)

// ofSexes is an invented season in which males are so much longer at each age.
func ofSexes(t *testing.T, longer float64) *run.Outcome {
	t.Helper()
	settings, err := fishery.Sized("small")
	if err != nil {
		t.Fatal(err)
	}
	season := fishery.Invent(settings, 3)
	book, err := season.Book()
	if err != nil {
		t.Fatal(err)
	}
	for i := range book.Fish {
		if f := &book.Fish[i]; f.Sex == record.Male {
			f.Length.Value.X *= longer
		}
	}
	return estimatedOf(t, season, run.Options{Only: []run.Part{run.Growth, run.Origin}, Replicates: 40})
}

func TestGrowthOfSexes(t *testing.T) {
	for longer, differ := range map[float64]bool{1: false, 1.06: true} {
		found := map[string]*run.GroupsFound{}
		for _, g := range ofSexes(t, longer).Species[0].Growth.Groups {
			found[g.By] = g
		}
		sex := found["sex"]
		if sex == nil || sex.Apart == nil || !sex.Tested {
			t.Fatalf("the sexes are compared as %+v", sex)
		}
		if sex.Differ() != differ {
			t.Errorf("males that are %v times as long differ in growth: %v (p %v), want %v", longer, sex.Differ(), sex.Equal.P, differ)
		}
		if !differ {
			continue
		}
		// At one age, males are 6 % longer: the curves lie so far apart, to within two standard errors.
		for i, at := range sex.Bands[0] {
			male := sex.Apart.Curve.Length(at.Age, sex.Apart.Estimates[3:6])
			if ratio := male / at.Length; i > 5 && i < 30 && (ratio < 1.06-4*at.SE/at.Length || ratio > 1.06+4*at.SE/at.Length) {
				t.Errorf("at age %.1f males are %.3f times as long, want 1.06 (SE of the females' %.1f cm: %.2f)", at.Age, ratio, at.Length, at.SE)
			}
		}
		if best := sex.Comparison.Best; best <= 0 {
			t.Errorf("one curve for sexes that differ has the lowest AICc (case %d)", best)
		}
		if total := sex.Fish[0] + sex.Fish[1] + sex.Left; total != int(sex.Comparison.Cases[0].Fit.Fish+0.5)+sex.Left {
			t.Errorf("the sexes have %d fish, and %v were fitted", total, sex.Comparison.Cases[0].Fit.Fish)
		}
	}
}

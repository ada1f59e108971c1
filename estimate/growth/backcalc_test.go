package growth

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"earstone/reference"
	"pgregory.net/rapid"
)

func TestBackCalculationIsGolden(t *testing.T) {
	var golden struct {
		Input struct {
			Biological_intercept struct{ Length_cm, Radius_mm float64 }
		}
		Output struct {
			Length_on_radius, Radius_on_length struct{ Intercept, Slope float64 }
			Lengths                            struct {
				Fish                                                                              []string
				Annulus                                                                           []float64
				Dahl_lea, Fraser_lee, Biological_intercept, Scale_proportional, Body_proportional []float64
			}
			Mean_by_annulus struct {
				Annulus                                                        []int
				Dahl_lea, Fraser_lee, Biological_intercept, Scale_proportional []float64
			}
		}
	}
	reference.Golden(t, "09-back-calculation", &golden)
	const tol = 1e-10
	table := reference.Data(t, "invented_radii.csv")
	fish, length, radius, at := table.Text("fish"), table.Numbers("length_cm"), table.Numbers("radius_mm"), table.Numbers("annulus_radius_mm")
	var l, r []float64
	number := make([]int, len(fish))
	for i := range fish {
		if i == 0 || fish[i] != fish[i-1] {
			l, r = append(l, length[i]), append(r, radius[i])
		}
		number[i] = len(l) - 1
	}
	relation, err := Relate(l, r)
	if err != nil {
		t.Fatal(err)
	}
	o := golden.Output
	near(t, "intercept of length", relation.Intercept, o.Length_on_radius.Intercept, tol)
	near(t, "slope of length", relation.Slope, o.Length_on_radius.Slope, tol)
	near(t, "intercept of radius", relation.RadiusIntercept, o.Radius_on_length.Intercept, tol)
	near(t, "slope of radius", relation.RadiusSlope, o.Radius_on_length.Slope, tol)
	relation.OriginLength, relation.OriginRadius = golden.Input.Biological_intercept.Length_cm, golden.Input.Biological_intercept.Radius_mm
	want := map[Rule][]float64{DahlLea: o.Lengths.Dahl_lea, FraserLee: o.Lengths.Fraser_lee, BiologicalIntercept: o.Lengths.Biological_intercept,
		ScaleProportional: o.Lengths.Scale_proportional, BodyProportional: o.Lengths.Body_proportional}
	means := map[Rule][]float64{DahlLea: o.Mean_by_annulus.Dahl_lea, FraserLee: o.Mean_by_annulus.Fraser_lee,
		BiologicalIntercept: o.Mean_by_annulus.Biological_intercept, ScaleProportional: o.Mean_by_annulus.Scale_proportional}
	annulus := make([]int, len(fish))
	for i, a := range table.Numbers("annulus") {
		annulus[i] = int(a)
	}
	for _, rule := range Rules() {
		got := make([]float64, len(fish))
		if len(want[rule]) != len(fish) || len(fish) != 129 {
			t.Fatalf("%v: %d golden lengths of %d rows, want 129", rule, len(want[rule]), len(fish))
		}
		for i := range fish {
			BackCalculate(got[i:i+1], rule, length[i], radius[i], at[i:i+1], relation)
			near(t, rule.String(), got[i], want[rule][i], tol)
		}
		if means[rule] == nil {
			continue
		}
		m, err := MeansAtAnnuli(number, annulus, got)
		if err != nil {
			t.Fatal(err)
		}
		for j, mean := range means[rule] {
			near(t, rule.String()+" mean", m.Annuli[j].Plain, mean, tol)
		}
	}
}

func TestRulesGiveTheLengthAtCapture(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := func(low, high float64, name string) float64 { return rapid.Float64Range(low, high).Draw(t, name) }
		length, radius := f(50, 300, "length"), f(1, 4, "radius")
		r := Relation{f(-30, 30, "c"), f(60, 120, "d"), f(-0.2, 0.4, "a"), f(0.005, 0.02, "b"), f(2, 8, "L0"), f(0.1, 0.4, "S0")}
		at, dst := []float64{radius, r.OriginRadius}, make([]float64, 2)
		for _, rule := range Rules() {
			BackCalculate(dst, rule, length, radius, at, r)
			if math.Abs(dst[0]/length-1) > 1e-12 {
				t.Errorf("%v at the edge of a fish of %v = %v", rule, length, dst[0])
			}
			if rule == BiologicalIntercept && math.Abs(dst[1]/r.OriginLength-1) > 1e-9 {
				t.Errorf("length at the origin = %v, want %v", dst[1], r.OriginLength)
			}
		}
	})
}

func ExampleBackCalculate() {
	// A fish of 200 cm with a radius of 2.0 mm; on the line length = 20 + 90 radius.
	lengths := make([]float64, 2)
	for _, rule := range []Rule{DahlLea, FraserLee} {
		BackCalculate(lengths, rule, 200, 2, []float64{0.5, 1}, Relation{Intercept: 20, Slope: 90})
		fmt.Println(rule, lengths)
	}
	// Output:
	// dahl_lea [50 100]
	// fraser_lee [65 110]
}

// With all annuli in every fish the answer is had by hand: plain means, and the
// two variances from sums of squares between and within fish.
func TestMeansOfFishWithAllAnnuli(t *testing.T) {
	// Two annuli, three fish: 10 20, 14 26, 12 20. Means 12, 22. Fish means about the
	// grand 17: 15 20 16, effects −2 3 −1. Within: residuals e_ij = l − m_j − effect,
	// (0 0), (−1 1), (1 −1): SSW = 4 on 3·2 − 2 − (3 − 1) = 2 df as an F table has it.
	// ML: s² = SSW/(N(k−1)) with N = 3, k = 2: 4/3; s² + k τ² = k Σ effect²/N = 28/3: τ² = 4.
	fish, annulus := []int{0, 0, 1, 1, 2, 2}, []int{1, 2, 1, 2, 1, 2}
	m, err := MeansAtAnnuli(fish, annulus, []float64{10, 20, 14, 26, 12, 20})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "within SD", m.WithinSD, math.Sqrt(4./3), 1e-6)
	near(t, "between SD", m.BetweenSD, 2, 1e-6)
	for j, want := range []float64{12, 22} {
		near(t, "mean", m.Annuli[j].Mean, want, 1e-12)
		near(t, "plain mean", m.Annuli[j].Plain, want, 1e-12)
		near(t, "SE of the mean", m.Annuli[j].SE, math.Sqrt((4./3+4)/3), 1e-6) // (s² + τ²)/fish
	}
}

func TestMeansKeepShortLivedFishInTheMean(t *testing.T) {
	// Long fish only reach annulus 2: the plain mean jumps by 20, each fish grew 10.
	fish, annulus := []int{0, 1, 2, 2, 3, 3}, []int{1, 1, 1, 2, 1, 2}
	m, err := MeansAtAnnuli(fish, annulus, []float64{90.1, 89.9, 110.1, 120.1, 110, 119.9})
	if err != nil {
		t.Fatal(err)
	}
	if step := m.Annuli[1].Mean - m.Annuli[0].Mean; math.Abs(step-10) > 0.1 {
		t.Errorf("growth between annuli = %v, want about the 10 that each fish grew", step)
	}
	if step := m.Annuli[1].Plain - m.Annuli[0].Plain; step < 19 {
		t.Errorf("plain means grow by %v, want about 20", step)
	}
	if m.Annuli[0].Fish != 4 || m.Annuli[1].Fish != 2 {
		t.Errorf("%d and %d fish at the annuli, want 4 and 2", m.Annuli[0].Fish, m.Annuli[1].Fish)
	}
	// Fish that do not keep their place have no spread between them.
	m, err = MeansAtAnnuli([]int{0, 0, 1, 1}, []int{1, 2, 1, 2}, []float64{10, 22, 12, 20})
	if err != nil || m.BetweenSD != 0 || math.Abs(m.WithinSD-1) > 1e-9 {
		t.Errorf("SDs of fish that change places = %v and %v (%v), want 0 and 1", m.BetweenSD, m.WithinSD, err)
	}
}

func TestTroubleOfAnnuli(t *testing.T) {
	for name, err := range map[string]error{
		"one radius":                second(Relate([]float64{100, 120}, []float64{2, 2})),
		"one fish":                  second(MeansAtAnnuli([]int{0, 0, 0}, []int{1, 2, 3}, []float64{50, 60, 70})),
		"as many annuli as lengths": second(MeansAtAnnuli([]int{0, 1}, []int{1, 2}, []float64{50, 60})),
	} {
		var trouble *Trouble
		if !errors.As(err, &trouble) || trouble.Reason != TooFewFish {
			t.Errorf("%s: %v, want too few fish", name, err)
		}
	}
}

func second[T any](_ T, err error) error { return err }

package run

import (
	"math"
	"testing"

	"earstone/estimate/growth"
	"earstone/estimate/tally"
	"earstone/reading/age"
)

// Two readers, three ages. By hand: the key says 0.2, 0.5, 0.3; reader 1 gives 1 with
// chance 0.1, 0.8, 0.2 and reader 2 gives 2 with 0, 0.3, 0.9, so that the products
// 0, 0.12, 0.054 make 0, 0.6897, 0.3103.
func TestFishAreSharedOutOverTrueAges(t *testing.T) {
	q := []float64{0.2, 0.5, 0.3}
	matrices := [][]float64{
		{0.9, 0.1, 0, 0.1, 0.8, 0.1, 0, 0.2, 0.8},
		{1, 0, 0, 0.1, 0.6, 0.3, 0, 0.1, 0.9},
	}
	read := func(first, second age.Class) *FishAge {
		agreed := age.Agreed{Class: 1}
		return &FishAge{Result: age.Result{Agreed: agreed, Variants: []age.Variant{{Share: 1, Agreed: agreed, Classes: []age.Class{first, second}}}}}
	}
	known := read(1, 2)
	known.Rule = age.KnownAgeRule
	fish := []*FishAge{read(1, 2), known, read(age.NoClass, age.NoClass)}
	counts := &tally.Counts{}
	counts.Design.Ages = 3
	ages := newTrueAges(fish, []int32{0, 0, 0}, counts, 2, q, matrices)
	sharing := ages.worker()
	sharing.look(matrices)
	shares := make([]float64, len(ages.rows))
	sharing.shares(shares, make([]float64, 3), q)
	want := []struct {
		likelyAge
		share float64
	}{{likelyAge{0, 1}, 0.12 / 0.174}, {likelyAge{0, 2}, 0.054 / 0.174}, {likelyAge{1, 1}, 1}, {likelyAge{2, 1}, 1}}
	if len(ages.rows) != len(want) {
		t.Fatalf("the fish have the rows %v, want %v", ages.rows, want)
	}
	for i, w := range want {
		if ages.rows[i] != w.likelyAge || math.Abs(shares[i]-w.share) > 1e-15 {
			t.Errorf("row %d is %v with the share %.6f, want %+v", i, ages.rows[i], shares[i], w)
		}
	}
	d := ages.spread(growth.Data{Age: []float64{1.4, 1.4, 1.4}, Length: []float64{60, 61, 62}}, fish)
	if math.Abs(d.Age[1]-2.4) > 1e-15 || d.Length[1] != 60 || d.Age[2] != 1.4 {
		t.Errorf("spread over its ages the fish are at %v years and %v cm", d.Age, d.Length)
	}
}

func TestWithoutAKeyReadingsSpeakAlone(t *testing.T) {
	matrices := [][]float64{{0.8, 0.2, 0.4, 0.6}}
	agreed := age.Agreed{Class: 1}
	fish := []*FishAge{{Result: age.Result{Agreed: agreed, Variants: []age.Variant{{Share: 1, Agreed: agreed, Classes: []age.Class{1}}}}}}
	counts := &tally.Counts{}
	counts.Design.Ages = 2
	ages := newTrueAges(fish, []int32{-1}, counts, 1, []float64{1, 0}, matrices)
	sharing, shares, share := ages.worker(), make([]float64, len(ages.rows)), make([]float64, 2)
	sharing.look(matrices)
	sharing.shares(shares, share, []float64{1, 0})
	// By hand: 0.2 and 0.6 make 0.25 and 0.75.
	if len(shares) != 2 || math.Abs(shares[0]-0.25) > 1e-15 || math.Abs(shares[1]-0.75) > 1e-15 {
		t.Errorf("without a key the fish has the shares %v, want 0.25 and 0.75", shares)
	}
	if n := testing.AllocsPerRun(20, func() { sharing.look(matrices); sharing.shares(shares, share, []float64{1, 0}) }); n > 0 {
		t.Errorf("sharing allocates %v times", n)
	}
}

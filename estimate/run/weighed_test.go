package run_test

import (
	"math"
	"testing"

	"earstone/estimate/run"
	"earstone/plan/fishery"
	"earstone/programme/record"
)

// weighedSeason is a small invented season with so many fish that were weighed and not
// read, whose stones grow with age by so much.
func weighedSeason(t *testing.T, byAge float64, form string) (*run.Outcome, *fishery.Season) {
	t.Helper()
	settings, err := fishery.Sized("small")
	if err != nil {
		t.Fatal(err)
	}
	settings.WeighedOnly, settings.MassByAge = 300, byAge
	season := fishery.Invent(settings, 2)
	return estimatedOf(t, season, run.Options{Only: []run.Part{run.Key}, Replicates: 40, Key: form}), season
}

func TestWeighedFishAreSharedOverAges(t *testing.T) {
	for _, form := range []string{run.AgreedDirect, run.TrueSmoothed} {
		o, season := weighedSeason(t, 0.25, form)
		w := o.Species[0].Weighed
		if w == nil || !w.Scored.Wins() || len(w.Fish) < 280 {
			t.Fatalf("%s: mass beside length gives %+v (%v), want that it wins, with shares for some 300 fish", form, w, o.Species[0].NoWeighed)
		}
		book, err := season.Book()
		if err != nil {
			t.Fatal(err)
		}
		truth := map[record.FishID]int{}
		for i, age := range season.TrueAges() {
			truth[book.Fish[i].Fish] = age
		}
		alone, with := 0.0, 0.0
		for _, f := range w.Fish {
			total, a := 0.0, min(truth[f.Fish.Fish], len(f.All)-1)
			for _, share := range f.All {
				total += share
			}
			if math.Abs(total-1) > 1e-9 {
				t.Errorf("%s: the shares of %s sum to %v", form, f.Fish.Fish, total)
			}
			alone, with = alone+math.Log(math.Max(f.ByLength[a], 0.001)), with+math.Log(math.Max(f.All[a], 0.001))
		}
		n := float64(len(w.Fish))
		t.Logf("%s: log score of true ages %.3f by length, %.3f with mass", form, alone/n, with/n)
		if with <= alone {
			t.Errorf("%s: of the true ages of weighed fish mass foretells %.3f, length alone %.3f", form, with/n, alone/n)
		}
	}
}

func TestMassThatSaysNothingIsNotUsed(t *testing.T) {
	o, _ := weighedSeason(t, 0, run.AgreedDirect)
	w := o.Species[0].Weighed
	if w == nil || w.Scored.Wins() || len(w.Fish) != 0 {
		t.Fatalf("a mass that says nothing of age gives %+v", w)
	}
	rows := 0
	for _, table := range o.Tables() {
		for _, e := range table.Estimate {
			if table.Name == "key_scores" && (e.ID[1] == "weighed_length_alone" || e.ID[1] == "weighed_length_and_mass") {
				rows++
			}
		}
	}
	if rows != 6 {
		t.Errorf("key_scores has %d rows of mass, want 3 for each of two", rows)
	}
}

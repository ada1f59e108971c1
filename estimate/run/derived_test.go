package run_test

import (
	"math"
	"strings"
	"testing"

	"earstone/estimate/run"
	"earstone/programme/finding"
	"earstone/programme/record"
)

// weighing knows W = L³/10⁵ kg of a length of 10 to 65 cm, SD of log W 0.3: L = (10⁵ W)^⅓
// with an SD of 0.1 L.
type weighing struct{ straight }

func (weighing) LengthOf(_ record.Species, w record.Number, unit string, form record.WeightForm, _ record.LengthBin) (run.Derived, bool) {
	if unit != "kg" || form != record.Round {
		return run.Derived{}, false
	}
	x := math.Cbrt(1e5 * w.X)
	return run.Derived{Length: x, SD: record.Some(0.1 * x), Steps: 1, Extrapolated: x > 65, Low: record.Some(10), High: record.Some(65)}, true
}

func (w weighing) Length(s record.Species, l record.Length, to record.LengthBin) (x, sd float64, ok bool) {
	x, sd, ok = w.straight.Length(s, l, to)
	return x, math.Hypot(sd, l.SD.X), ok
}

// weighedYears is twoYears with two fish that were weighed and not measured, one of 60 cm
// and one of 70, and one that was weighed in a form that no equation knows.
func weighedYears(t *testing.T) *written {
	t.Helper()
	w := twoYears(t, "direct", false)
	for i, cm := range map[int]float64{1: 60, 2: 70, 3: 50} {
		f := &w.book.Fish[i]
		f.Length, f.Row = record.Length{}, i+2
		f.Weight, f.WeightUnit, f.WeightForm = record.Some(cm*cm*cm/1e5), "kg", record.Round
	}
	w.book.Fish[3].WeightForm = record.Dressed
	return w
}

func TestWeighedFishHaveALength(t *testing.T) {
	w := weighedYears(t)
	o, err := run.Run(t.Context(), w, weighing{}, run.Options{Only: []run.Part{run.Key, run.Growth}, Replicates: 40})
	if err != nil {
		t.Fatal(err)
	}
	s := o.Species[0]
	if len(s.Derived) != 2 || s.Derived[0].Length != 60 || s.Derived[0].SD.X != 6 || s.Derived[0].Extrapolated || !s.Derived[1].Extrapolated {
		t.Fatalf("the derived lengths are %+v, want 60 ± 6 and 70 outside the equation's range", s.Derived)
	}
	if w.book.Fish[1].Length.Value.Known {
		t.Error("a derived length was written into the records")
	}
	// By hand: of 60 ± 6 cm in bins of 10 cm, Φ(10/6) − Φ(0) = 0.4522 lies in 60 to 70.
	share, entries := 0.0, 0
	for i, e := range s.Counts.Key.Entries {
		if s.Counts.Fish[i].ID == s.Derived[0].Fish.Fish {
			entries++
			if s.Counts.Bins.Lower(int(e.Bin)) == 60 {
				share += e.Fish
			}
		}
	}
	if math.Abs(share-0.4522) > 1e-3 || entries < 3 {
		t.Errorf("the fish of 60 ± 6 cm has %.4f of itself in 60 to 70 cm and lies in %d bins, want 0.4522 and several", share, entries)
	}
	if s.Counts.Aged != 29 {
		t.Errorf("%d aged fish have a length, want 29: one was weighed in a form without an equation", s.Counts.Aged)
	}
	var outside []string
	for _, f := range o.Found.All() {
		if f.Kind == finding.Extrapolated {
			outside = append(outside, f.Value+" "+strings.Join(f.Facts, " "))
		}
	}
	if len(outside) != 1 || !strings.Contains(outside[0], "3.43 10 65") {
		t.Errorf("outside the equation's range lie %q, want the fish of 3.43 kg", outside)
	}
	if rows := tableNamed(t, o, "derived_lengths"); len(rows) != 2 || strings.Join(rows[1][2:], " ") != "3.43 kg round 70 cm straight_fork 7 1 true" {
		t.Errorf("derived_lengths holds %q", rows)
	}
}

func TestWithoutAnEquationWeightsSayNothing(t *testing.T) {
	if s := estimated(t, weighedYears(t), run.Options{Only: []run.Part{run.Key}, Replicates: 40}).Species[0]; s.Derived != nil || s.Counts.Aged != 27 {
		t.Errorf("without an equation %d lengths are derived and %d aged fish have one, want 0 and 27", len(s.Derived), s.Counts.Aged)
	}
}

func tableNamed(t *testing.T, o *run.Outcome, name string) [][]string {
	t.Helper()
	for _, p := range o.Plains() {
		if p.Name == name {
			return p.Rows
		}
	}
	t.Fatalf("there is no table %s", name)
	return nil
}

package rehearsal

import (
	"context"
	"math"
	"reflect"
	"slices"
	"testing"

	"earstone/plan/fishery"
)

// TestPlansAreSampledAndScored holds the bookkeeping of a trial: three designs at one cost,
// scores that do not depend on the number of workers. docs/plan.md has what plans reach.
func TestPlansAreSampledAndScored(t *testing.T) {
	settings, err := fishery.Sized("small")
	if err != nil {
		t.Fatal(err)
	}
	trial := PlanTrial{Fishery: settings, Fisheries: 1, Seasons: 4, Replicates: 60, Seed: 3, Workers: 1}
	var seen []int
	report, err := RehearsePlans(context.Background(), trial, straight{}, func(done, of int) {
		if seen = append(seen, done); of != 12 {
			t.Errorf("there are %d seasons to do, want 3 designs × 4", of)
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	if !slices.IsSorted(seen) || seen[len(seen)-1] != 12 {
		t.Errorf("progress went %v, want up to 12", seen)
	}
	if len(report.Designs) != 3 || len(report.Ages) != 7 {
		t.Fatalf("the report has %d designs and the ages %v", len(report.Designs), report.Ages)
	}
	before := report.Designs[2]
	for _, d := range report.Designs {
		if d.Cost > before.Cost*1.0001 || d.Cost < before.Cost*0.9 {
			t.Errorf("%s costs %v, the season before %v", d.Name, d.Cost, before.Cost)
		}
		// By hand: the root mean square over ages is that of the ages' own.
		sum := 0.0
		for _, cv := range d.AgeReached {
			sum += cv * cv / float64(len(d.AgeReached))
		}
		if math.Abs(math.Sqrt(sum)-d.Reached) > 1e-12 || !(d.Reached > 0.02 && d.Reached < 1) {
			t.Errorf("%s reaches %v, its ages %v", d.Name, d.Reached, d.AgeReached)
		}
	}
	if before.Trips != 60 {
		t.Errorf("the season before had %v trips, want 60", before.Trips)
	}
	trial.Workers = 3
	again, err := RehearsePlans(context.Background(), trial, straight{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(again.Designs, report.Designs) {
		t.Error("three workers score plans otherwise than one does")
	}
}

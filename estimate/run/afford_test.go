package run

import (
	"errors"
	"testing"

	"earstone/estimate/catch"
	"earstone/estimate/resample"
	"earstone/estimate/tally"
	"earstone/programme/strata"
)

// 20,000 strata of 14 classes are 20,000 · (3 · 14 + 2) = 880,000 numbers a replicate.
func TestReplicatesThatDoNotFitAreRefusedBeforeTheyAreDrawn(t *testing.T) {
	counts := &tally.Counts{Species: "BFT", Cells: make([]strata.Cell, 20000),
		Design: catch.Design{Ages: 14, Strata: make([]catch.Stratum, 20000)}}
	for replicates, refused := range map[int]bool{40: false, 284: false, 285: true, 1000: true} {
		err := affordable(resample.Problem{Counts: counts, Replicates: replicates})
		if errors.Is(err, ErrTooLarge) != refused {
			t.Errorf("%d replicates: %v, want refused %v", replicates, err, refused)
		}
	}
}

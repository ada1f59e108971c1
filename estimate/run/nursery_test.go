package run

import (
	"context"
	"slices"
	"testing"

	"earstone/estimate/resample"
	"earstone/plan/fishery"
	"earstone/statistics/stream"
)

// composed is a small season with nurseries, every stone of a trip, and some strata of one
// trip.
func composed(t *testing.T) (*chain, *view) {
	t.Helper()
	return chainedWith(t, AgreedDirect, func(s *fishery.Settings) { s.OneTripShare, s.StonesWithoutTrip = 0.25, 0 },
		func(c *chain, s *Species) []part { return c.origin(s) })
}

// Assayed stones come as often as their trip does, which the stream of trips alone says, in
// a stratum of one trip too: the stream of stones that belong to no trip moves nothing where
// there are none.
func TestAssayedStonesTravelWithTheirTrip(t *testing.T) {
	_, v := composed(t)
	lone := 0
	for _, group := range v.counts.Design.Groups() {
		if len(group) == 1 {
			lone++
		}
	}
	if lone == 0 {
		t.Fatal("no stratum has one trip: there is nothing to be seen")
	}
	rows, err := resample.Evaluate(context.Background(), v.problem, []resample.Row{{}, resample.Alone(stream.Stones, 0)}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if still, drawn := rows.Row(0), rows.Row(1); !slices.Equal(still, drawn) {
		t.Error("the stream of stones of no trip moves the season, whose stones all came off trips")
	}
}

// Trips carry their assayed stones along. Drawn alone inside their trips these have a part
// of a composition's variance, which the budget tells apart from that of the trips: a few
// assayed fish a trip leave far more than a fiftieth to which fish they were.
func TestBudgetOfNurseries(t *testing.T) {
	c, v := composed(t)
	s := c.outcome.Species[0]
	c.options.Replicates, v.problem.Replicates = 400, 400
	var err error
	if v.drawn, err = resample.Run(context.Background(), v.problem, nil); err != nil {
		t.Fatal(err)
	}
	if err := c.budget(s, v); err != nil {
		t.Fatal(err)
	}
	seen := 0
	for _, q := range s.Budget.Quantities {
		if q.Quantity != "nursery_share" || !slices.Contains(s.Origin.Nurseries, q.Nursery) {
			continue
		}
		seen++
		for _, share := range q.Shares {
			if share.Source == stream.Stones && !(share.First.Value > 0.02) {
				t.Errorf("stones have the share %v of the variance of nursery %s, want a part of it", share.First, q.Nursery)
			}
		}
	}
	if seen < 2 {
		t.Errorf("the budget tells of %d nurseries, want two or more", seen)
	}
}

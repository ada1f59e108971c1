package report

import (
	"testing"

	"earstone/estimate/key"
	"earstone/estimate/run"
)

func TestStoneMassIsTold(t *testing.T) {
	for _, c := range []struct {
		what, want string
		weighed    *run.WeighedFound
		err        error
	}{
		{what: "no weighed stones"},
		{what: "too few weighed stones", err: key.ErrFewWeighed},
		{what: "stones of one trip", err: key.ErrOneTrip, want: "Stone mass could not be held against length: aged fish with a weighed stone came off fewer than two trips."},
		{what: "a mass that tells", weighed: &run.WeighedFound{Scored: key.MassScored{Alone: -1.3, With: -1.15, BetterSE: 0.02, Fish: 600, Trips: 50}, Fish: make([]run.WeighedFish, 2)},
			want: "Of 600 fish with a weighed stone, length with stone mass foretells the ages of trips that it had not seen better than length alone (by 0.150 ± 0.020 a fish). 2 fish were weighed and not read; their ages are in weighed_ages.csv, and not in the catch at age."},
		{what: "a mass that does not", weighed: &run.WeighedFound{Scored: key.MassScored{Alone: -1.3, With: -1.29, BetterSE: 0.02, Fish: 600, Trips: 50}},
			want: "Of 600 fish with a weighed stone, stone mass does not foretell the ages of trips that it had not seen better than length alone by more than chance."},
	} {
		k := ofFour()
		k.s.Weighed, k.s.NoWeighed = c.weighed, c.err
		if got := k.massSays(); plain(got) != c.want {
			t.Errorf("%s: the page says\n%s\nwant\n%s", c.what, plain(got), c.want)
		}
	}
}

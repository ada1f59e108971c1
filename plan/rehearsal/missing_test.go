package rehearsal

import (
	"context"
	"math"
	"testing"

	"earstone/estimate/origin"
	"earstone/estimate/run"
	"earstone/plan/fishery"
	"earstone/programme/finding"
	"earstone/programme/record"
)

// missing is what became of the assayed fish of seasons whose baseline lacks Outer.
type missing struct {
	fish, outside, unclear, wrong float64 // of Outer
	others, lost                  float64 // fish of the nurseries that are known, and those called outside
	warned                        int     // seasons
	truth, share                  float64 // of the catch, sums over seasons: what is of Outer, and what is told as outside
	upper, upperTold              float64 // the same of Upper, among the known nurseries
}

// withoutOuter goes through seasons whose baseline lacks Outer, the mean of its cores moved
// so many times as far from the middle of the others as it usually lies.
func withoutOuter(t *testing.T, seasons int, away float64) missing {
	t.Helper()
	settings, err := fishery.Sized("season")
	if err != nil {
		t.Fatal(err)
	}
	n := settings.Nurseries
	n[2].Baseline = 0
	for tracer := range n[2].Mean {
		middle := (n[0].Mean[tracer] + n[1].Mean[tracer]) / 2
		n[2].Mean[tracer] = middle + away*(n[2].Mean[tracer]-middle)
	}
	settings.Lengths, settings.Aged, settings.Readings = 20_000, 1_500, 3_000
	var m missing
	for seed := range seasons {
		season := fishery.Invent(settings, uint64(seed+1))
		o, err := run.Run(context.Background(), season, straight{}, run.Options{Only: []run.Part{run.Origin}, Key: run.AgreedDirect, Replicates: 40, Workers: 1})
		if err != nil {
			t.Fatal(err)
		}
		m.add(t, o, season)
	}
	return m
}

func (m *missing) add(t *testing.T, o *run.Outcome, season *fishery.Season) {
	t.Helper()
	found := o.Species[0].Origin
	if found == nil {
		t.Fatal(o.Species[0].NoOrigin)
	}
	book, err := season.Book()
	if err != nil {
		t.Fatal(err)
	}
	of := map[record.FishID]int{}
	for i, k := range season.TrueNurseries() {
		of[book.Stones[i].Fish] = k
	}
	for i, f := range found.Fish {
		switch call, outer := found.Fit.Fish[i].Call, of[f.Fish.Fish] == 2; {
		case !outer:
			m.others++
			if call == origin.Outside {
				m.lost++
			}
		case call == origin.Outside:
			m.fish, m.outside = m.fish+1, m.outside+1
		case call == origin.Unclear:
			m.fish, m.unclear = m.fish+1, m.unclear+1
		default:
			m.fish, m.wrong = m.fish+1, m.wrong+1
		}
	}
	for _, f := range o.Found.All() {
		if f.Kind == finding.OutsideBaseline {
			m.warned++
		}
	}
	truth := season.Truth().Composition(fishery.All)
	m.truth, m.share = m.truth+truth[2], m.share+found.Outside.Value.X
	m.upper, m.upperTold = m.upper+truth[0]/(truth[0]+truth[1]), m.upperTold+found.Whole[at(found.Nurseries, "Upper")].Value.X
}

// A nursery that the baseline lacks is warned of, but not half of its fish are called
// outside while its cores lie near those of others: their tail must be under 0.005 in all of
// them. The table of docs/rehearsal.md is from here, over 10 seasons a row.
func TestFishOfAMissingNursery(t *testing.T) {
	const seasons = 2
	before := -1.0
	for _, c := range []struct{ away, least, most float64 }{{1, 0.2, 0.6}, {1.5, 0.6, 0.95}, {2, 0.95, 1}} {
		m := withoutOuter(t, seasons, c.away)
		outside := m.outside / m.fish
		t.Logf("%.1f times as far: of %.0f fish %.1f %% outside, %.1f %% called for another nursery, %.1f %% unclear; %.1f %% of %.0f others outside; warned in %d of %d; outside %.1f %% of the catch, true %.1f %%; Upper %.1f %% of the known, true %.1f %%",
			c.away, m.fish, 100*outside, 100*m.wrong/m.fish, 100*m.unclear/m.fish, 100*m.lost/m.others, m.others, m.warned, seasons,
			100*m.share/seasons, 100*m.truth/seasons, 100*m.upperTold/seasons, 100*m.upper/seasons)
		if outside < c.least || outside > c.most || outside <= before {
			t.Errorf("%v times as far away %.2f of the fish of the missing nursery are outside, want %v to %v, and more than %.2f nearer by", c.away, outside, c.least, c.most, before)
		}
		if m.warned < seasons {
			t.Errorf("%v times as far away the missing nursery is warned of in %d of %d seasons", c.away, m.warned, seasons)
		}
		if lost := m.lost / m.others; lost > 0.02 || math.IsNaN(lost) {
			t.Errorf("%v times as far away %.3f of the fish of known nurseries are outside", c.away, lost)
		}
		before = outside
	}
}

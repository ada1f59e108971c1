package allocation_test

import (
	"context"
	"errors"
	"math"
	"testing"

	"earstone/estimate/run"
	"earstone/plan/allocation"
	"earstone/plan/fishery"
	"earstone/programme/record"
)

// weighed takes lengths as they stand and knows what a fish weighs.
type weighed struct{}

func (weighed) Length(_ record.Species, l record.Length, _ record.LengthBin) (x, sd float64, ok bool) {
	return l.Value.X, 0, l.Value.Known
}

func (weighed) Weight(_ record.Species, cm float64, _ record.LengthBin) (float64, bool) {
	return 2.1e-5 * math.Pow(cm, 2.98), true
}

// small is a season of the small fishery as far as its catch at age.
func small(t *testing.T, form string, influence bool) *run.Outcome {
	t.Helper()
	settings, err := fishery.Sized("small")
	if err != nil {
		t.Fatal(err)
	}
	settings.UnsampledShare = 0.1
	o, err := run.Run(context.Background(), fishery.Invent(settings, 2), weighed{},
		run.Options{Only: []run.Part{run.Catch}, Replicates: 400, Seed: 1, Key: form, Influence: influence})
	if err != nil {
		t.Fatal(err)
	}
	return o
}

func planOf(t *testing.T, o *run.Outcome, options allocation.Options) *allocation.Season {
	t.Helper()
	s, err := allocation.For(o.Species[0], o.Settings.Targets, options)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestPlansOfASeason holds what a plan says of a season: its variance terms add up to what
// the replicates have, the same money reaches more, and nothing is asked for that costs more
// or can't be had.
func TestPlansOfASeason(t *testing.T) {
	for _, form := range []string{run.AgreedDirect, run.TrueDirect} {
		o := small(t, form, true)
		s := planOf(t, o, allocation.Options{})
		var terms, resampled, today, next float64
		for j, age := range s.Ages {
			terms += s.Today.CV[j] * s.Today.CV[j]
			resampled += math.Pow(s.Species.Influence.CV(age).X, 2)
			want := s.Targets[j].Want
			today += math.Pow(s.Today.CV[j]/want, 2)
			next += math.Pow(s.Next.CV[j]/want, 2)
		}
		// Replicates of 50 trips tell their variance to about 20 %, its root to 10.
		if ratio := math.Sqrt(terms / resampled); ratio < 0.8 || ratio > 1.25 {
			t.Errorf("%s: the variance terms make %v of the resampled CV of the targets, want about all of it", form, ratio)
		}
		if !(next < today) || s.Next.Cost > s.Today.Cost*(1+1e-12) {
			t.Errorf("%s: the plan has the loss %v at the cost %v, today's sampling %v at %v", form, next, s.Next.Cost, today, s.Today.Cost)
		}
		for i, n := range s.Plan.N {
			c := s.Cells[i]
			if n > c.Most || s.Places[i].Item == allocation.Trip && n < 2 {
				t.Errorf("%s: the plan asks for %d of %+v, of which %d can be had", form, n, s.Places[i], c.Most)
			}
		}
		quotas := map[allocation.Item]int{}
		for _, q := range s.Quotas() {
			quotas[q.Item] += q.N
			if q.Cell.Year != 0 || q.N < 1 || (q.Item == allocation.Stone) != (q.Bin >= 0) {
				t.Errorf("%s: a quota is %+v", form, q)
			}
		}
		planned := map[allocation.Item]int{}
		for i, place := range s.Places {
			planned[place.Item] += s.Plan.N[i]
		}
		if quotas[allocation.Trip] != planned[allocation.Trip] || quotas[allocation.Stone] != planned[allocation.Stone] {
			t.Errorf("%s: the quotas ask for %v, the plan for %v", form, quotas, planned)
		}
	}
}

func TestMoreMoneyReachesMore(t *testing.T) {
	o := small(t, run.AgreedDirect, true)
	same := planOf(t, o, allocation.Options{})
	more := planOf(t, o, allocation.Options{Budget: 1.5 * same.Today.Cost, Trips: 3})
	for j := range same.Ages {
		if !(more.Next.CV[j] <= same.Next.CV[j]*1.05) {
			t.Errorf("half as much money again brings age %d to the CV %v, the same money to %v", same.Ages[j], more.Next.CV[j], same.Next.CV[j])
		}
	}
	var short *allocation.ShortOfMoney
	if _, err := allocation.For(o.Species[0], o.Settings.Targets, allocation.Options{Budget: 1}); !errors.As(err, &short) {
		t.Errorf("a budget of 1 ends in %v, want to be told that it is too little", err)
	}
}

func TestRereadingIsByInfluence(t *testing.T) {
	o := small(t, run.TrueDirect, true)
	s := planOf(t, o, allocation.Options{})
	list := s.Rereading(weighed{}, o.Settings.LengthBin)
	if len(list) < 100 {
		t.Fatalf("%d fish are worth another look, want most of 600", len(list))
	}
	some := 0
	for i, r := range list {
		if r.Influence > 0 {
			some++
		}
		if r.Readings >= 3 && !r.Unresolved {
			t.Errorf("fish %s was read by all readers", r.Fish)
		}
		if i > 0 && r.Unresolved == list[i-1].Unresolved && r.Influence > list[i-1].Influence {
			t.Errorf("fish %s with the influence %v comes after %v", r.Fish, r.Influence, list[i-1].Influence)
		}
	}
	if 4*some < 3*len(list) { // fish of lengths at which no target age is found have none
		t.Errorf("of %d fish %d have an influence", len(list), some)
	}
	for _, table := range s.Tables(weighed{}, o.Settings.LengthBin) {
		if len(table.Rows) == 0 {
			t.Errorf("%s.csv is empty", table.Name)
		}
		for _, row := range table.Rows {
			if len(row) != len(table.Columns) {
				t.Fatalf("%s.csv has the columns %q and the row %q", table.Name, table.Columns, row)
			}
		}
	}
}

func TestNothingToPlanFrom(t *testing.T) {
	o := small(t, run.AgreedDirect, false)
	if _, err := allocation.For(o.Species[0], nil, allocation.Options{}); !errors.Is(err, allocation.ErrNoInfluence) {
		t.Errorf("a run without influences ends in %v", err)
	}
	o = small(t, run.AgreedDirect, true)
	none := []record.Target{{Quantity: "catch_at_age", Ages: [2]int{40, 50}, WantCV: 0.1}}
	if _, err := allocation.For(o.Species[0], none, allocation.Options{}); !errors.Is(err, allocation.ErrNoTargets) {
		t.Errorf("targets that nobody caught end in %v", err)
	}
	if s, err := allocation.For(o.Species[0], nil, allocation.Options{}); err != nil || len(s.Ages) < 4 {
		t.Errorf("without targets the plan is %v (%v), want the ages of some catch", s, err)
	}
}

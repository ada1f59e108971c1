package rehearsal

import (
	"context"
	"errors"
	"maps"
	"reflect"
	"sync"
	"testing"

	"earstone/estimate/run"
	"earstone/plan/fishery"
)

// shelf keeps states in memory and counts what it was given.
type shelf struct {
	sync.Mutex
	states map[uint64][]byte
	given  int
}

func (s *shelf) Kept(seed uint64) ([]byte, bool, error) {
	s.Lock()
	defer s.Unlock()
	state, ok := s.states[seed]
	return state, ok, nil
}

func (s *shelf) Keep(seed uint64, state []byte) error {
	s.Lock()
	defer s.Unlock()
	s.states[seed] = state
	s.given++
	return nil
}

func TestStoppedRehearsalGoesOn(t *testing.T) {
	settings, err := fishery.Sized("small")
	if err != nil {
		t.Fatal(err)
	}
	d := Design{Fishery: settings, Seasons: 4, Replicates: 40, Seed: 5, Workers: 2, Forms: []string{run.AgreedDirect}, FewTrips: 3, Beside: []run.Part{run.Growth}}
	want, err := Rehearse(context.Background(), d, straight{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	all := &shelf{states: map[uint64][]byte{}}
	d.Keeper = all
	ctx, stop := context.WithCancel(context.Background())
	if _, err := Rehearse(ctx, d, straight{}, func(done, _ int) {
		if done == 1 {
			stop()
		}
	}); !errors.Is(err, context.Canceled) {
		t.Fatalf("a rehearsal that is stopped ends in %v", err)
	}
	before := all.given
	if before < 1 || before > 3 {
		t.Fatalf("%d of 4 seasons are kept when one was done at the stop", before)
	}
	got, err := Rehearse(context.Background(), d, straight{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if all.given != 4 {
		t.Errorf("after the stop %d seasons were run, want the %d that were left", all.given-before, 4-before)
	}
	if !reflect.DeepEqual(got.Forms, want.Forms) {
		t.Error("a rehearsal that was stopped says otherwise than one that was not")
	}
	for seed := range maps.Keys(all.states) {
		all.states[seed] = []byte(`{"forms": []}`)
	}
	if _, err := Rehearse(context.Background(), d, straight{}, nil); !errors.Is(err, ErrOther) {
		t.Errorf("states of another rehearsal end in %v", err)
	}
}

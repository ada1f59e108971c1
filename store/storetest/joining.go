package storetest

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"earstone/store/history"
)

// everything is the whole journal of a store.
func everything(t testing.TB, s history.Store) []*history.Entry {
	t.Helper()
	var all []*history.Entry
	_, err := s.Journal(context.Background(), 0, func(e *history.Entry) error {
		kept := *e
		all = append(all, &kept)
		return nil
	})
	if err != nil {
		t.Fatalf("reading the journal: %v", err)
	}
	return all
}

// state is what holds of every subject, as text: equal states hold the same.
func state(t testing.TB, s history.Store) string {
	t.Helper()
	subjects := map[history.ID]bool{}
	for _, e := range everything(t, s) {
		subjects[e.Subject] = true
	}
	text := ""
	for _, id := range slices.SortedFunc(maps.Keys(subjects), history.ID.Compare) {
		r := current(t, s, id)
		text += fmt.Sprintf("%s %s removed=%v\n", r.Kind, id, r.Removed())
		for i := range r.Heads {
			h := &r.Heads[i]
			text += fmt.Sprintf("  %s %x\n", h.ID, h.Hash())
			for _, name := range slices.Sorted(maps.Keys(h.Fields)) {
				text += fmt.Sprintf("    %s=%q\n", name, h.Fields[name])
			}
		}
	}
	return text
}

// joins lets two stores of one beginning go apart at random, and asks that they hold the
// same after each has joined the other's entries, in a random order, some twice.
func joins(t *testing.T, open Opener) {
	rapid.Check(t, func(r *rapid.T) {
		a, b := open(t), open(t)
		defer a.Close()
		defer b.Close()
		scribble(t, r, a, "common")
		merge(t, b, everything(t, a))
		if x, y := state(t, a), state(t, b); x != y {
			r.Fatalf("a copy by joining holds\n%s\nnot\n%s", y, x)
		}
		scribble(t, r, a, "left")
		scribble(t, r, b, "right")
		ofA, ofB := everything(t, a), everything(t, b)
		merge(t, a, mixed(r, ofB))
		merge(t, b, mixed(r, ofA))
		merge(t, b, mixed(r, ofB)) // its own: nothing new
		if x, y := state(t, a), state(t, b); x != y {
			r.Fatalf("after joining, one holds\n%s\nand the other\n%s", x, y)
		}
		whole(t, a)
		whole(t, b)
	})
}

func merge(t testing.TB, s history.Store, entries []*history.Entry) {
	t.Helper()
	if _, err := s.Merge(context.Background(), entries...); err != nil {
		t.Fatalf("joining: %v", err)
	}
}

// mixed is a random order of the entries, some of them twice.
func mixed(r *rapid.T, entries []*history.Entry) []*history.Entry {
	if len(entries) == 0 {
		return nil
	}
	all := rapid.Permutation(entries).Draw(r, "order")
	return append(slices.Clone(all), rapid.SliceOfN(rapid.SampledFrom(entries), 0, 3).Draw(r, "twice")...)
}

// scribble does a few random things to a store: new records, corrections, removals.
func scribble(t testing.TB, r *rapid.T, s history.Store, whose string) {
	t.Helper()
	for i := range rapid.IntRange(0, 6).Draw(r, "things done by "+whose) {
		var there []history.ID
		for _, e := range everything(t, s) {
			if !slices.Contains(there, e.Subject) && !isRemoved(t, s, e.Subject) {
				there = append(there, e.Subject)
			}
		}
		what := rapid.SampledFrom([]string{"new", "correct", "correct", "remove"}).Draw(r, "what")
		switch {
		case what == "new" || len(there) == 0:
			keep(t, s, aFish(fmt.Sprintf("%s-%d-%s", whose, i, history.NewID())))
		case what == "correct":
			seen := current(t, s, rapid.SampledFrom(there).Draw(r, "which"))
			keep(t, s, correction(seen, "length", fmt.Sprint(rapid.IntRange(1, 3).Draw(r, "length"))))
		default:
			keep(t, s, removal(t, s, rapid.SampledFrom(there).Draw(r, "which")))
		}
	}
}

// losesNothing corrects records again and again: each value that was ever written is in
// the history, in its order, and the last one holds.
func losesNothing(t *testing.T, open Opener) {
	rapid.Check(t, func(r *rapid.T) {
		s := open(t)
		defer s.Close()
		written := map[history.ID][]string{}
		var subjects []history.ID
		for i := range rapid.IntRange(1, 4).Draw(r, "records") {
			e := aFish(fmt.Sprint("QB-", i))
			keep(t, s, e)
			subjects = append(subjects, e.Subject)
			written[e.Subject] = []string{e.Fields["length"]}
		}
		for range rapid.IntRange(0, 20).Draw(r, "corrections") {
			id := rapid.SampledFrom(subjects).Draw(r, "record")
			value := rapid.StringMatching(`[a-zå"', \n]{1,12}x`).Draw(r, "value")
			keep(t, s, correction(current(t, s, id), "length", value))
			written[id] = append(written[id], value)
		}
		for _, id := range subjects {
			all, err := s.History(context.Background(), id)
			var got []string
			for i := range all {
				got = append(got, all[i].Fields["length"])
			}
			if err != nil || !slices.Equal(got, written[id]) {
				r.Fatalf("the history holds %q (%v), want every value that was written: %q", got, err, written[id])
			}
			if now := current(t, s, id).Fields()["length"]; now != got[len(got)-1] {
				r.Fatalf("what holds is %q, want the last value %q", now, got[len(got)-1])
			}
		}
	})
}

func showsConflicts(t *testing.T, open Opener) {
	ctx := context.Background()
	a, b := open(t), open(t)
	defer a.Close()
	defer b.Close()
	e, same := aFish("QB-1"), aFish("QB-2")
	keep(t, a, e, same)
	merge(t, b, everything(t, a))
	keep(t, a, correction(current(t, a, e.Subject), "length", "241"), correction(current(t, a, same.Subject), "length", "7"))
	keep(t, b, correction(current(t, b, e.Subject), "length", "142"), correction(current(t, b, same.Subject), "length", "7"))
	merge(t, a, everything(t, b))
	if r := current(t, a, same.Subject); r.Conflict() || r.Fields()["length"] != "7" {
		t.Errorf("two corrections that say the same are a conflict: %+v", r)
	}
	open2, err := a.Conflicts(ctx)
	if err != nil || len(open2) != 1 || len(open2[0].Heads) != 2 || open2[0].Subject != e.Subject {
		t.Fatalf("the conflicts are %+v (%v), want fish QB-1 with two heads", open2, err)
	}
	if hits, err := a.Find(ctx, "QB-1", 5); err != nil || len(hits) != 1 {
		t.Errorf("a record in conflict is found %d times (%v)", len(hits), err)
	}
	half := correction(open2[0], "length", "241")
	half.Supersedes = half.Supersedes[:1]
	if err := a.Append(ctx, half); err == nil {
		t.Error("one head was passed over in silence")
	}
	keep(t, a, correction(open2[0], "length", "241"))
	if left, err := a.Conflicts(ctx); err != nil || len(left) > 0 {
		t.Errorf("after a person settled it there are %d conflicts (%v)", len(left), err)
	}
	merge(t, b, everything(t, a))
	if x, y := state(t, a), state(t, b); x != y {
		t.Errorf("after settling, one holds\n%s\nand the other\n%s", x, y)
	}
}

func isRemoved(t testing.TB, s history.Store, subject history.ID) bool {
	r := current(t, s, subject)
	return r.Removed()
}

// Package storetest is the one suite that every store of a history must pass.
package storetest

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"sync"
	"testing"
	"time"

	"earstone/store/history"
)

// Opener makes an empty store; the test closes it.
type Opener func(t testing.TB) history.Store

// Run runs the suite.
func Run(t *testing.T, open Opener) {
	for _, story := range []struct {
		name string
		tell func(*testing.T, history.Store)
	}{
		{"what is kept comes back", keeps},
		{"a correction supersedes and the old value stays", corrects},
		{"who has not seen the last entry is refused", refusesStale},
		{"names are given once", givesNamesOnce},
		{"all entries or none", allOrNone},
		{"an entry must say who, when and why", wantsReasons},
		{"a removal blanks and stays provable", removes},
		{"a removed record stays removed when old entries join", removesForEver},
		{"records come in the order of their making", inOrder},
		{"records are found by a field", byField},
		{"records are found from one box", fromOneBox},
		{"the last entries come first", lastFirst},
		{"the journal goes on where it ended", journalGoesOn},
		{"several writers lose nothing", severalWriters},
		{"a stopped writing leaves nothing", stopped},
	} {
		t.Run(story.name, func(t *testing.T) {
			s := open(t)
			story.tell(t, s)
			whole(t, s)
			if err := s.Close(); err != nil {
				t.Errorf("closing the store: %v", err)
			}
		})
	}
	t.Run("diverged programmes join in any order", func(t *testing.T) { joins(t, open) })
	t.Run("no order of corrections loses a value", func(t *testing.T) { losesNothing(t, open) })
	t.Run("some fields are read without the rest", func(t *testing.T) { readsCells(t, open) })
	t.Run("a conflict is shown and settled by a person", func(t *testing.T) { showsConflicts(t, open) })
}

// Noon is a time for entries of tests.
var Noon = time.Date(2031, 6, 2, 12, 0, 0, 123456000, time.UTC)

// A fish as a card has it.
func aFish(label string, more ...string) *history.Entry {
	e := &history.Entry{Kind: history.Fish, Who: "ana", When: Noon,
		Fields: history.Fields{"fish": label, "species": "BFT", "trip": "118", "caught_on": "2031-06-02", "length": "214"}}
	for i := 0; i+1 < len(more); i += 2 {
		e.Fields[more[i]] = more[i+1]
	}
	return e
}

// correction is an entry that takes the place of others.
func correction(of history.Record, field, value string) *history.Entry {
	e := &history.Entry{Kind: of.Kind, Subject: of.Subject, Who: "bo", When: Noon.Add(time.Hour), Why: "measured again",
		Fields: maps.Clone(of.Fields())}
	e.Fields[field] = value
	for i := range of.Heads {
		e.Supersedes = append(e.Supersedes, of.Heads[i].ID)
	}
	return e
}

func keep(t testing.TB, s history.Store, entries ...*history.Entry) {
	t.Helper()
	if err := s.Append(context.Background(), entries...); err != nil {
		t.Fatalf("keeping %d entries: %v", len(entries), err)
	}
}

func current(t testing.TB, s history.Store, subject history.ID) history.Record {
	t.Helper()
	r, err := s.Current(context.Background(), subject)
	if err != nil {
		t.Fatalf("the record %s does not come back: %v", subject, err)
	}
	return r
}

// whole asks that the store proves itself.
func whole(t testing.TB, s history.Store) history.Proof {
	t.Helper()
	proof, err := s.Verify(context.Background(), nil)
	if err != nil {
		t.Fatalf("verifying: %v", err)
	}
	if len(proof.Damage) > 0 || proof.Whole != proof.Entries {
		t.Fatalf("the store is not whole: %d of %d entries, %+v", proof.Whole, proof.Entries, proof.Damage)
	}
	return proof
}

func keeps(t *testing.T, s history.Store) {
	e := aFish("QB-00412", "remark", "\"Größe\" geschätzt,\n= 214 cm", "sex", "")
	e.Raw = history.Fields{"length": "214,0"}
	e.Import, e.Row, e.When = history.NewID(), 17, Noon.In(time.FixedZone("", 3600)).Add(789)
	keep(t, s, e)
	back := current(t, s, e.Subject)
	got := back.Heads[0]
	switch {
	case back.Conflict() || back.Removed() || back.Kind != history.Fish:
		t.Errorf("one entry came back as %+v", back)
	case !maps.Equal(got.Fields, history.Fields{"fish": "QB-00412", "species": "BFT", "trip": "118", "caught_on": "2031-06-02",
		"length": "214", "remark": "\"Größe\" geschätzt,\n= 214 cm"}):
		t.Errorf("the fields came back as %v", got.Fields)
	case !maps.Equal(got.Raw, e.Raw) || got.Who != "ana" || !got.When.Equal(Noon) || got.Import != e.Import || got.Row != 17:
		t.Errorf("the entry came back as %+v", got)
	case got.Hash() != e.Hash() || got.Digest != e.Digest:
		t.Error("the entry came back with another hash")
	}
	if _, err := s.Current(context.Background(), history.NewID()); !errors.Is(err, history.ErrNotFound) {
		t.Errorf("asking for a record that is not there = %v, want ErrNotFound", err)
	}
}

func corrects(t *testing.T, s history.Store) {
	e := aFish("QB-1")
	keep(t, s, e)
	next := correction(current(t, s, e.Subject), "length", "241")
	keep(t, s, next)
	if got := current(t, s, e.Subject); got.Fields()["length"] != "241" || got.Conflict() {
		t.Errorf("after the correction the record is %+v", got)
	}
	all, err := s.History(context.Background(), e.Subject)
	if err != nil || len(all) != 2 || all[0].Fields["length"] != "214" || all[1].Why != "measured again" || all[1].Who != "bo" {
		t.Errorf("the history is %+v (%v), want both entries with who and why", all, err)
	}
	hits, err := s.Where(context.Background(), history.Query{Kind: history.Fish, Field: "fish", Value: "QB-1"})
	if err != nil || len(hits) != 1 || hits[0].Fields()["length"] != "241" {
		t.Errorf("the corrected record is found as %+v (%v)", hits, err)
	}
}

func refusesStale(t *testing.T, s history.Store) {
	ctx := context.Background()
	e := aFish("QB-1")
	keep(t, s, e)
	seen := current(t, s, e.Subject)
	keep(t, s, correction(seen, "length", "241"))
	for name, late := range map[string]*history.Entry{
		"a second correction of the same entry": correction(seen, "length", "142"),
		"an entry that supersedes nothing": {Kind: history.Fish, Subject: e.Subject, Who: "bo", When: Noon,
			Fields: history.Fields{"fish": "QB-1"}},
	} {
		if err := s.Append(ctx, late); !errors.Is(err, history.ErrStale) {
			t.Errorf("%s = %v, want ErrStale", name, err)
		}
	}
	if got := current(t, s, e.Subject); got.Fields()["length"] != "241" {
		t.Errorf("a refused entry changed the record to %v", got.Fields())
	}
}

func givesNamesOnce(t *testing.T, s history.Store) {
	ctx := context.Background()
	first := aFish("QB-1")
	keep(t, s, first)
	if err := s.Append(ctx, aFish("QB-1")); !errors.Is(err, history.ErrTaken) {
		t.Errorf("a second fish QB-1 = %v, want ErrTaken", err)
	}
	if err := s.Append(ctx, aFish("QB-2"), aFish("QB-2")); !errors.Is(err, history.ErrTaken) {
		t.Errorf("two fish QB-2 at once = %v, want ErrTaken", err)
	}
	keep(t, s, correction(current(t, s, first.Subject), "fish", "QB-3")) // renamed: the old name is free
	keep(t, s, aFish("QB-1"), aFish("QB-2"))
	// Stones have no name of their own.
	stone := func() *history.Entry {
		return &history.Entry{Kind: history.Stones, Who: "ana", When: Noon, Fields: history.Fields{"fish": "QB-1", "side": "L"}}
	}
	keep(t, s, stone(), stone())
}

func allOrNone(t *testing.T, s history.Store) {
	ctx := context.Background()
	keep(t, s, aFish("QB-1"))
	good := aFish("QB-2")
	if err := s.Append(ctx, good, aFish("QB-1")); err == nil {
		t.Fatal("a batch with a taken name was kept")
	}
	if _, err := s.Current(ctx, good.Subject); !errors.Is(err, history.ErrNotFound) {
		t.Errorf("the good half of a refused batch is there (%v)", err)
	}
	good.Subject, good.ID = history.ID{}, history.ID{}
	keep(t, s, good)
}

func wantsReasons(t *testing.T, s history.Store) {
	ctx := context.Background()
	e := aFish("QB-1")
	keep(t, s, e)
	nobody, never, silent, binary := aFish("QB-2"), aFish("QB-2"), correction(current(t, s, e.Subject), "length", "1"), aFish("QB-2", "remark", "\xff")
	nobody.Who, never.When, silent.Why = "", time.Time{}, ""
	for i, bad := range []*history.Entry{nobody, never, silent, binary, {Who: "ana", When: Noon}} {
		if err := s.Append(ctx, bad); err == nil {
			t.Errorf("faulty entry %d was kept", i)
		}
	}
}

// removal is the removal of a record with all its entries.
func removal(t testing.TB, s history.Store, subject history.ID) *history.Entry {
	t.Helper()
	all, err := s.History(context.Background(), subject)
	if err != nil {
		t.Fatal(err)
	}
	e := &history.Entry{Kind: history.Removals, Subject: subject, Who: "admin", When: Noon, Why: "asked to be forgotten"}
	for i := range all {
		e.Supersedes = append(e.Supersedes, all[i].ID)
	}
	return e
}

func removes(t *testing.T, s history.Store) {
	ctx := context.Background()
	e := aFish("QB-1", "remark", "caught by Teodora")
	keep(t, s, e)
	keep(t, s, correction(current(t, s, e.Subject), "length", "241"))
	partly := removal(t, s, e.Subject)
	partly.Supersedes = partly.Supersedes[1:]
	if err := s.Append(ctx, partly); !errors.Is(err, history.ErrStale) {
		t.Errorf("a removal that leaves an entry out = %v, want ErrStale", err)
	}
	keep(t, s, removal(t, s, e.Subject))
	r := current(t, s, e.Subject)
	if !r.Removed() || r.Kind != history.Fish || len(r.Fields()) > 0 {
		t.Errorf("after its removal the record is %+v", r)
	}
	all, err := s.History(ctx, e.Subject)
	if err != nil || len(all) != 3 || !all[0].Removed || !all[1].Removed || all[0].Fields != nil || all[0].Hash() != e.Hash() || all[2].Why == "" {
		t.Errorf("after its removal the history is %+v (%v)", all, err)
	}
	if hits, err := s.Find(ctx, "Teodora", 5); err != nil || len(hits) > 0 {
		t.Errorf("the removed name is still found: %v (%v)", hits, err)
	}
	err = s.Each(ctx, history.Fish, func(r *history.Record) error { return fmt.Errorf("%+v is still handed out", r) })
	if err != nil {
		t.Error(err)
	}
	late := &history.Entry{Kind: history.Fish, Subject: e.Subject, Supersedes: []history.ID{all[2].ID}, Who: "bo", When: Noon, Why: "back again",
		Fields: history.Fields{"fish": "QB-1"}}
	if err := s.Append(ctx, late); err == nil {
		t.Error("a removed record was written to")
	}
	keep(t, s, aFish("QB-1"))
}

func removesForEver(t *testing.T, s history.Store) {
	ctx := context.Background()
	e := aFish("QB-1", "remark", "caught by Teodora")
	keep(t, s, e)
	elsewhere := correction(current(t, s, e.Subject), "remark", "Teodora of Skell") // on another laptop
	if err := elsewhere.Seal(); err != nil {
		t.Fatal(err)
	}
	keep(t, s, removal(t, s, e.Subject))
	if n, err := s.Merge(ctx, e, elsewhere); err != nil || n != 1 {
		t.Errorf("joining an old and a fresh entry added %d (%v), want 1", n, err)
	}
	if r := current(t, s, e.Subject); !r.Removed() || r.Conflict() {
		t.Errorf("the record is back as %+v", r)
	}
	all, err := s.History(ctx, e.Subject)
	if err != nil || len(all) != 3 || !all[2].Removed || all[2].Fields != nil {
		t.Errorf("an entry that joined after the removal holds %+v (%v)", all[len(all)-1], err)
	}
}

func inOrder(t *testing.T, s history.Store) {
	var want []string
	for i := range 300 {
		want = append(want, fmt.Sprintf("QB-%03d", (i*7)%300))
		keep(t, s, aFish(want[i]))
	}
	keep(t, s, correction(find(t, s, "QB-007"), "length", "99"))
	var got []string
	err := s.Each(context.Background(), history.Fish, func(r *history.Record) error {
		got = append(got, r.Fields()["fish"])
		return nil
	})
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("fish came in the order %v (%v), want that of their making", got, err)
	}
	stop := errors.New("enough")
	if err := s.Each(context.Background(), history.Fish, func(*history.Record) error { return stop }); !errors.Is(err, stop) {
		t.Errorf("an error of each came back as %v", err)
	}
}

func find(t testing.TB, s history.Store, label string) history.Record {
	t.Helper()
	hits, err := s.Where(context.Background(), history.Query{Kind: history.Fish, Field: "fish", Value: label})
	if err != nil || len(hits) != 1 {
		t.Fatalf("fish %s is found %d times (%v)", label, len(hits), err)
	}
	return hits[0]
}

func byField(t *testing.T, s history.Store) {
	ctx := context.Background()
	for i := range 30 {
		keep(t, s, aFish(fmt.Sprintf("QB-%02d", i), "trip", fmt.Sprint(100+i%3), "caught_on", fmt.Sprintf("2031-%02d-01", 1+i%6)))
	}
	for _, ask := range []struct {
		history.Query
		want int
	}{
		{history.Query{Field: "trip", Value: "101"}, 10},
		{history.Query{Field: "trip", Value: "10"}, 0},
		{history.Query{Field: "trip", Value: "10", Prefix: true}, 30},
		{history.Query{Field: "caught_on", Value: "2031-02", Prefix: true}, 5},
		{history.Query{Field: "trip", Value: "101", Most: 4}, 4},
		{history.Query{Field: "reader", Value: "R1"}, 0},
	} {
		ask.Kind = history.Fish
		got, err := s.Where(ctx, ask.Query)
		if err != nil || len(got) != ask.want {
			t.Errorf("asking %+v gives %d records (%v), want %d", ask.Query, len(got), err, ask.want)
		}
	}
	var pages []string
	ask := history.Query{Kind: history.Fish, Field: "trip", Value: "102", Most: 3}
	for {
		page, err := s.Where(ctx, ask)
		if err != nil {
			t.Fatal(err)
		}
		if len(page) == 0 {
			break
		}
		for i := range page {
			pages = append(pages, page[i].Fields()["fish"])
		}
		ask.After = page[len(page)-1].Subject
	}
	if len(pages) != 10 || pages[0] != "QB-02" || pages[9] != "QB-29" {
		t.Errorf("page by page the fish of a trip are %v", pages)
	}
	if _, err := s.Where(ctx, history.Query{Kind: history.Fish, Field: "length", Value: "214"}); err == nil {
		t.Error("asking by a field that is not indexed is answered")
	}
}

func fromOneBox(t *testing.T, s history.Store) {
	ctx := context.Background()
	keep(t, s, aFish("QB-00412", "contributor", "c-17", "remark", "belly torn, Ærø haddock in the stomach"), aFish("QB-00413"), aFish("SK-00412"))
	keep(t, s, &history.Entry{Kind: history.Trips, Who: "ana", When: Noon, Fields: history.Fields{"trip": "118", "port": "Skell", "landed_on": "2031-06-02"}})
	keep(t, s, &history.Entry{Kind: "notes", Who: "ana", When: Noon, Fields: history.Fields{"label": "N-1", "text": "call the harbour master"}})
	for _, c := range []struct {
		text string
		want []string
	}{
		{"QB-00412", []string{"QB-00412"}},
		{"qb-0041", []string{"QB-00412", "QB-00413"}},
		{"00412", []string{"QB-00412", "SK-00412"}},
		{"118", []string{"118", "QB-00412", "QB-00413", "SK-00412"}}, // the trip itself first
		{"c-17", []string{"QB-00412"}},
		{"stom tor", []string{"QB-00412"}},
		{"harbour", []string{"N-1"}},
		{"skell", []string{"118"}},
		{`"; DROP TABLE journal; --`, nil},
		{`" OR *`, nil},
		{"  ", nil},
		{"nobody", nil},
	} {
		hits, err := s.Find(ctx, c.text, 10)
		var got []string
		for i := range hits {
			got = append(got, hits[i].Label)
		}
		if c.text == "118" && len(got) > 1 {
			slices.Sort(got[1:])
		}
		if err != nil || !slices.Equal(got, c.want) {
			t.Errorf("looking for %q finds %v (%v), want %v", c.text, got, err, c.want)
		}
	}
	keep(t, s, correction(find(t, s, "QB-00413"), "fish", "DM-1"))
	if hits, err := s.Find(ctx, "QB-00413", 10); err != nil || len(hits) > 0 {
		t.Errorf("a name that was corrected away is still found: %v (%v)", hits, err)
	}
	if hits, err := s.Find(ctx, "0041", 1); err != nil || len(hits) != 1 {
		t.Errorf("at most one hit was asked for, got %d (%v)", len(hits), err)
	}
}

func lastFirst(t *testing.T, s history.Store) {
	for i := range 5 {
		keep(t, s, aFish(fmt.Sprint("QB-", i)))
	}
	got, err := s.Recent(context.Background(), 2)
	if err != nil || len(got) != 2 || got[0].Fields["fish"] != "QB-4" || got[1].Fields["fish"] != "QB-3" {
		t.Errorf("the last two entries are %v (%v)", got, err)
	}
}

func journalGoesOn(t *testing.T, s history.Store) {
	ctx := context.Background()
	var got []string
	each := func(e *history.Entry) error {
		got = append(got, e.Fields["fish"])
		return nil
	}
	keep(t, s, aFish("QB-1"), aFish("QB-2"))
	at, err := s.Journal(ctx, 0, each)
	if err != nil {
		t.Fatal(err)
	}
	keep(t, s, aFish("QB-3"))
	if at, err = s.Journal(ctx, at, each); err != nil {
		t.Fatal(err)
	}
	if again, err := s.Journal(ctx, at, each); err != nil || again != at || !slices.Equal(got, []string{"QB-1", "QB-2", "QB-3"}) {
		t.Errorf("the journal in three goes is %v and ends at %d, then %d (%v)", got, at, again, err)
	}
}

func severalWriters(t *testing.T, s history.Store) {
	ctx := context.Background()
	shared := aFish("QB-shared", "length", "0")
	keep(t, s, shared)
	const writers, each = 4, 25
	var all sync.WaitGroup
	for w := range writers {
		all.Go(func() {
			for i := range each {
				if err := s.Append(ctx, aFish(fmt.Sprintf("QB-%d-%d", w, i))); err != nil {
					t.Errorf("writer %d: %v", w, err)
				}
				for { // add one to what is there, seeing what it is
					seen, err := s.Current(ctx, shared.Subject)
					if err != nil {
						t.Errorf("writer %d: %v", w, err)
						return
					}
					n := 0
					fmt.Sscan(seen.Fields()["length"], &n)
					err = s.Append(ctx, correction(seen, "length", fmt.Sprint(n+1)))
					if err == nil {
						break
					}
					if !errors.Is(err, history.ErrStale) {
						t.Errorf("writer %d: %v", w, err)
						return
					}
				}
			}
		})
	}
	all.Wait()
	if got := current(t, s, shared.Subject).Fields()["length"]; got != fmt.Sprint(writers*each) {
		t.Errorf("%d writers added one %d times each, and the sum is %s", writers, each, got)
	}
	if proof := whole(t, s); proof.Entries != 1+2*writers*each {
		t.Errorf("%d entries are there, want %d", proof.Entries, 1+2*writers*each)
	}
}

func stopped(t *testing.T, s history.Store) {
	ctx, stop := context.WithCancel(context.Background())
	var many []*history.Entry
	for i := range 2000 {
		many = append(many, aFish(fmt.Sprint("QB-", i)))
	}
	stop()
	if err := s.Append(ctx, many...); !errors.Is(err, context.Canceled) {
		t.Errorf("a stopped writing = %v, want that it was stopped", err)
	}
	if proof := whole(t, s); proof.Entries != 0 {
		t.Errorf("a stopped writing left %d entries", proof.Entries)
	}
}

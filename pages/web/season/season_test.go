package season

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"earstone/pages/web/frame"
	"earstone/store/history"
	"earstone/store/sqlite"
)

// counted is a store with its count, on a day of 2031.
func counted(t *testing.T) (*sqlite.Store, *Count) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "quarrow")
	if err := sqlite.Create(t.Context(), dir); err != nil {
		t.Fatal(err)
	}
	store, err := sqlite.Open(t.Context(), dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { store.Close() })
	return store, New(store, func() time.Time { return time.Date(2031, 6, 15, 8, 0, 0, 0, time.UTC) })
}

func keep(t *testing.T, store history.Store, e *history.Entry) *history.Entry {
	t.Helper()
	e.Who, e.When = "mara", time.Date(2031, 6, 14, 8, 0, 0, 0, time.UTC)
	if err := store.Append(context.Background(), e); err != nil {
		t.Fatal(err)
	}
	return e
}

// correct supersedes an entry with other fields.
func correct(t *testing.T, store history.Store, e *history.Entry, fields history.Fields) *history.Entry {
	t.Helper()
	return keep(t, store, &history.Entry{Kind: e.Kind, Subject: e.Subject, Supersedes: []history.ID{e.ID}, Fields: fields, Why: "misread"})
}

func wants(t *testing.T, c *Count, when string, season, came, prepared, read int) {
	t.Helper()
	f, err := c.Flow(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	got := [4]int{f.Season, f.Reached[frame.Intake], f.Reached[frame.Bench], f.Reached[frame.Read]}
	if want := [4]int{season, came, prepared, read}; got != want {
		t.Errorf("%s season, stones that came, were prepared, were read = %v, want %v", when, got, want)
	}
}

func TestStonesAreCountedStageByStage(t *testing.T) {
	store, c := counted(t)
	wants(t, c, "in an empty programme", 2031, 0, 0, 0)
	fish := keep(t, store, &history.Entry{Kind: history.Fish, Fields: history.Fields{"fish": "A", "received_on": "2031-05-02"}})
	left := keep(t, store, &history.Entry{Kind: history.Stones, Fields: history.Fields{"fish": "A", "side": "L"}})
	keep(t, store, &history.Entry{Kind: history.Stones, Fields: history.Fields{"fish": "A", "side": "R"}})
	wants(t, c, "after a vial", 2031, 2, 0, 0)
	keep(t, store, &history.Entry{Kind: history.Custody, Fields: history.Fields{"fish": "A", "side": "L", "step": "cleaned"}})
	wants(t, c, "after cleaning", 2031, 2, 0, 0)
	keep(t, store, &history.Entry{Kind: history.Preparations, Fields: history.Fields{"preparation": "A-L1", "fish": "A", "side": "L"}})
	wants(t, c, "after a section", 2031, 2, 1, 0)
	for _, reading := range []string{"R1", "R2"} { // two readings are of one stone; its side was not written down
		keep(t, store, &history.Entry{Kind: history.Readings, Fields: history.Fields{"reading": reading, "fish": "A"}})
	}
	wants(t, c, "after two readings", 2031, 2, 1, 1)
	left = correct(t, store, left, history.Fields{"fish": "A", "side": "L", "condition": "absent"})
	wants(t, c, "when the left stone was never there", 2031, 1, 0, 0)
	correct(t, store, left, history.Fields{"fish": "A", "side": "L", "condition": "whole"})
	wants(t, c, "when it was there after all", 2031, 2, 0, 0)
	correct(t, store, fish, history.Fields{"fish": "A", "received_on": "2030-05-02"})
	wants(t, c, "when the vial came a year earlier, the last season with stones is shown:", 2030, 2, 0, 0)
}

func TestStonesThatCameBeforeTheirFish(t *testing.T) {
	store, c := counted(t)
	stone := keep(t, store, &history.Entry{Kind: history.Stones, Fields: history.Fields{"fish": "B", "side": "R"}})
	keep(t, store, &history.Entry{Kind: history.Fish, Fields: history.Fields{"fish": "B", "caught_on": "2031"}})
	wants(t, c, "when the card follows its stone,", 2031, 1, 0, 0)
	correct(t, store, stone, history.Fields{"fish": "C", "side": "R"})
	keep(t, store, &history.Entry{Kind: history.Fish, Fields: history.Fields{"fish": "C", "caught_on": "2031-06"}})
	wants(t, c, "when the stone is of another fish,", 2031, 1, 0, 0)
	_, again := counted(t)
	again.store = store
	wants(t, again, "counted anew from the beginning,", 2031, 1, 0, 0)
}

func TestRemovedFishAreCountedNoMore(t *testing.T) {
	store, c := counted(t)
	fish := keep(t, store, &history.Entry{Kind: history.Fish, Fields: history.Fields{"fish": "D", "caught_on": "2031"}})
	keep(t, store, &history.Entry{Kind: history.Stones, Fields: history.Fields{"fish": "D", "side": "R"}})
	wants(t, c, "before the removal", 2031, 1, 0, 0)
	keep(t, store, &history.Entry{Kind: history.Removals, Subject: fish.Subject, Supersedes: []history.ID{fish.ID}, Why: "asked to be forgotten"})
	wants(t, c, "after the removal", 2031, 0, 0, 0)
}

package season

import (
	"context"
	"errors"
	"maps"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

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
	wants(t, c, "when the left stone was never there, the right one was read, and", 2031, 1, 1, 1)
	correct(t, store, left, history.Fields{"fish": "A", "side": "L", "condition": "whole"})
	wants(t, c, "when it was there after all", 2031, 2, 1, 1)
	correct(t, store, fish, history.Fields{"fish": "A", "received_on": "2030-05-02"})
	wants(t, c, "when the vial came a year earlier, the last season with stones is shown:", 2030, 2, 1, 1)
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

// What is followed entry by entry is what a count from the beginning finds, whatever was
// written, corrected and removed, and in whatever order the pages asked.
func TestFollowingIsCountingAnew(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		store, c := counted(t)
		label := rapid.SampledFrom([]string{"A", "B", "C", ""})
		side := rapid.SampledFrom([]string{"L", "R", "unknown", ""})
		fields := map[history.Kind]func() history.Fields{
			history.Fish: func() history.Fields {
				return history.Fields{"caught_on": rapid.SampledFrom([]string{"2030-05", "2031", "x", ""}).Draw(r, "day")}
			},
			history.Stones: func() history.Fields {
				return history.Fields{"condition": rapid.SampledFrom([]string{"whole", "absent", ""}).Draw(r, "condition")}
			},
			history.Preparations: func() history.Fields { return history.Fields{"preparation": history.NewID().String()} },
			history.Custody: func() history.Fields {
				return history.Fields{"step": rapid.SampledFrom([]string{"cleaned", "mounted"}).Draw(r, "step")}
			},
			history.Readings: func() history.Fields { return history.Fields{"reading": history.NewID().String()} },
		}
		heads := map[history.ID]*history.Entry{}
		var subjects []history.ID
		for range rapid.IntRange(1, 12).Draw(r, "things done") {
			what := rapid.SampledFrom([]string{"new", "new", "new", "correct", "remove", "look"}).Draw(r, "what")
			if what == "look" || what != "new" && len(subjects) == 0 {
				if _, err := c.Flow(t.Context()); err != nil {
					r.Fatal(err)
				}
				continue
			}
			e := &history.Entry{Kind: rapid.SampledFrom(kinds).Draw(r, "kind"), Who: "mara", When: time.Date(2029, 6, 14, 8, 0, 0, 0, time.UTC)}
			if what != "new" {
				at := rapid.IntRange(0, len(subjects)-1).Draw(r, "which")
				before := heads[subjects[at]]
				e.Kind, e.Subject, e.Why = before.Kind, before.Subject, "misread"
				entries, err := store.History(t.Context(), e.Subject)
				if err != nil {
					r.Fatal(err)
				}
				for _, one := range entries {
					e.Supersedes = append(e.Supersedes, one.ID)
				}
				if what == "remove" {
					e.Kind = history.Removals
					subjects = slices.Delete(subjects, at, at+1)
				}
			}
			if e.Kind != history.Removals {
				e.Fields = fields[e.Kind]()
				e.Fields["fish"], e.Fields["side"] = label.Draw(r, "label"), side.Draw(r, "side")
			}
			switch err := store.Append(t.Context(), e); {
			case errors.Is(err, history.ErrTaken): // two fish of one label
			case err != nil:
				r.Fatal(err)
			case e.Kind != history.Removals:
				if heads[e.Subject] == nil {
					subjects = append(subjects, e.Subject)
				}
				heads[e.Subject] = e
			}
		}
		anew := New(store, c.now)
		for _, one := range []*Count{c, anew} {
			if _, err := one.Flow(t.Context()); err != nil {
				r.Fatal(err)
			}
		}
		if !maps.Equal(c.fish, anew.fish) {
			r.Fatalf("followed, the fish are %v, counted anew %v", c.fish, anew.fish)
		}
		for _, year := range []int{0, 2029, 2030, 2031} {
			for stage := range reaches {
				if c.total[year][stage] != anew.total[year][stage] {
					r.Fatalf("followed, %v of %d has %d stones, counted anew %d", stage, year, c.total[year][stage], anew.total[year][stage])
				}
			}
		}
	})
}

package storetest

import (
	"context"
	"fmt"
	"maps"
	"testing"
	"time"

	"earstone/store/history"
)

// readsCells holds single fields against the records that they are of.
func readsCells(t *testing.T, open Opener) {
	ctx := context.Background()
	s := open(t)
	defer s.Close()
	fields := []string{"fish", "length", "remark"}
	for i := range 5 {
		e := aFish(fmt.Sprint("QB-", i))
		if i > 0 {
			e.Fields["remark"] = fmt.Sprintf("the %d. with \"marks\" and a \\ \n", i)
		}
		keep(t, s, e)
		switch i {
		case 3:
			keep(t, s, correction(current(t, s, e.Subject), "length", "77"))
		case 4:
			keep(t, s, removal(t, s, e.Subject))
		}
	}
	other := aFish("no fish")
	other.Kind = history.Stones
	keep(t, s, other)
	want, got := map[string]bool{}, map[string]bool{}
	err := s.Each(ctx, history.Fish, func(r *history.Record) error {
		f := r.Fields()
		want[fmt.Sprintf("%q %q %q %v", f["fish"], f["length"], f["remark"], r.Heads[0].When)] = true
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	at, err := s.Cells(ctx, history.Fish, fields, func(written time.Time, cells []string) error {
		got[fmt.Sprintf("%q %q %q %v", cells[0], cells[1], cells[2], written)] = true
		return nil
	})
	if err != nil || len(want) != 4 || !maps.Equal(got, want) {
		t.Errorf("the cells are %v (%v), want those of the records: %v", got, err, want)
	}
	if next, err := s.Journal(ctx, at, func(*history.Entry) error { return nil }); err != nil || next != at {
		t.Errorf("the journal goes on to %d behind the position %d that the cells were read at (%v), want nothing there", next, at, err)
	}
}

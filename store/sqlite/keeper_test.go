package sqlite

import (
	"fmt"
	"testing"
)

// parts is in how many parts the index of words lies.
func parts(t *testing.T, s *Store) (n int) {
	t.Helper()
	if err := s.readers.QueryRowContext(t.Context(), "SELECT COUNT(DISTINCT segid) FROM words_idx").Scan(&n); err != nil {
		t.Fatal(err)
	}
	return n
}

// typed keeps cards one by one.
func typed(t *testing.T, s *Store, n int) {
	t.Helper()
	for i := range n {
		keep(t, s, card(fmt.Sprintf("QB-%04d", i)))
	}
}

// Merging loses no word, and what it leaves is little to look through.
func TestMergingInPortionsKeepsEveryWord(t *testing.T) {
	s := fresh(t)
	defer s.Close()
	typed(t, s, 300)
	portions := 0
	for more := true; more; portions++ {
		var err error
		if more, err = s.mergeSome(); err != nil {
			t.Fatal(err)
		}
	}
	if n := parts(t, s); n > 45 {
		t.Errorf("300 cards, merged until nothing was left to do, lie in %d parts, want at most 15 of a level and 3 levels", n)
	}
	for _, label := range []string{"QB-0000", "QB-0150", "QB-0299"} {
		if hits, err := s.Find(t.Context(), label, 5); err != nil || len(hits) != 1 {
			t.Errorf("after merging, %s is found %d times (%v), want once", label, len(hits), err)
		}
	}
	whole(t, s, 300)
}

// A card may be acknowledged only when it is synced, also by the connection that merged.
func TestAfterMergingWritesWaitForTheDisk(t *testing.T) {
	s := fresh(t)
	defer s.Close()
	typed(t, s, 10)
	if _, err := s.mergeSome(); err != nil {
		t.Fatal(err)
	}
	const full = 2 // sqlite.org, "PRAGMA synchronous"
	var is int
	s.writing.Lock()
	defer s.writing.Unlock()
	if err := s.w.conn.QueryRowContext(t.Context(), "PRAGMA synchronous").Scan(&is); err != nil || is != full {
		t.Errorf("after merging the writer has synchronous = %d (%v), want %d", is, err, full)
	}
}

// Writers that never rest leave a log that grows; once it is moved it begins anew.
func TestLogBeginsAnew(t *testing.T) {
	s := fresh(t)
	defer s.Close()
	s.keeper.halt() // it would move it meanwhile
	typed(t, s, 100)
	before, err := s.keeper.move()
	if err != nil {
		t.Fatal(err)
	}
	keep(t, s, card("QB-next"))
	after, err := s.keeper.move()
	if err != nil || after >= before {
		t.Errorf("the log had %d pages, was moved, and has %d pages after one more card (%v), want only those of that card", before, after, err)
	}
}

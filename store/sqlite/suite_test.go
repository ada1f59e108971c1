package sqlite

import (
	"context"
	"testing"

	"earstone/store/history"
	"earstone/store/storetest"
)

func TestSuite(t *testing.T) {
	storetest.Run(t, func(t testing.TB) history.Store { return fresh(t) })
}

// fresh is a new programme, open for writing.
func fresh(t testing.TB) *Store {
	t.Helper()
	dir := t.TempDir()
	if err := Create(context.Background(), dir); err != nil {
		t.Fatal(err)
	}
	s, err := Open(context.Background(), dir)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

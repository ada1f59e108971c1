package tables_test

import (
	"os"
	"strings"
	"testing"

	"earstone/pages/words"
	"earstone/programme/date"
	"earstone/programme/finding"
	"earstone/programme/record"
	"earstone/programme/rules"
	"earstone/store/tables"
)

// Thirty different faults stand in eight tables, cells that can't be read and records
// that can't be true together. Each must be told with its place, value and remedy, and
// nothing else must.
func TestThirtyFaultsInEightTables(t *testing.T) {
	source, err := tables.Open("testdata/faults")
	if err != nil {
		t.Fatal(err)
	}
	defer source.Close()
	book, err := source.Book()
	if err != nil {
		t.Fatal(err)
	}
	if err := source.Lengths(func(*record.LengthCount) error { return nil }); err != nil {
		t.Fatal(err)
	}
	found := source.Findings()
	found.Join(source.Located(rules.Check(book, date.On(2032, 1, 31))))

	content, err := os.ReadFile("testdata/faults/expected.txt")
	if err != nil {
		t.Fatal(err)
	}
	want := strings.Split(strings.TrimSpace(string(content)), "\n")
	if len(want) != 30 {
		t.Errorf("%d faults are expected, want 30", len(want))
	}
	missing := map[string]bool{}
	for _, line := range want {
		missing[line] = true
	}
	for _, f := range found.All() {
		line := words.Line(f)
		if !missing[line] {
			t.Errorf("found and not expected:\n%s", line)
		}
		delete(missing, line)
		wantWhole(t, f, line)
	}
	for _, line := range want {
		if missing[line] {
			t.Errorf("expected and not found:\n%s", line)
		}
	}
}

// wantWhole asks that a finding says where, what stood there, and what to do.
func wantWhole(t *testing.T, f finding.Finding, line string) {
	t.Helper()
	empty := f.Kind == finding.Needed || f.Kind == finding.NoEdge
	if f.Place.File == "" || f.Place.Row < 2 || (f.Value == "") != empty || words.Remedy(f) == "" || words.Expected(f) == "" {
		t.Errorf("not told whole: %s (%+v)", line, f)
	}
}

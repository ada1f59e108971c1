package tables

import (
	"fmt"
	"testing"
	"testing/fstest"

	"earstone/programme/finding"
	"earstone/programme/record"
)

// folder is a programme folder held in memory; programme.json is added when it lacks one.
func folder(files map[string]string) fstest.MapFS {
	held := fstest.MapFS{}
	for name, content := range files {
		held[name] = &fstest.MapFile{Data: []byte(content)}
	}
	if held["programme.json"] == nil {
		held["programme.json"] = &fstest.MapFile{Data: []byte(`{"name": "Quarrow Banks", "species": ["BFT"]}`)}
	}
	return held
}

func opened(t testing.TB, files map[string]string) *Tables {
	t.Helper()
	tables, err := OpenFS(folder(files))
	if err != nil {
		t.Fatalf("opening the tables: %v", err)
	}
	t.Cleanup(func() { tables.Close() })
	return tables
}

func book(t testing.TB, tables *Tables) *record.Book {
	t.Helper()
	book, err := tables.Book()
	if err != nil {
		t.Fatalf("reading the book: %v", err)
	}
	return book
}

// told is each finding as one line.
func told(found *finding.List) (lines []string) {
	for _, f := range found.All() {
		lines = append(lines, fmt.Sprintf("%s %s:%d:%s %q %q", f.Kind, f.Place.File, f.Place.Row, f.Place.Column, f.Value, f.Facts))
	}
	return lines
}

func wantTold(t *testing.T, found *finding.List, want ...string) {
	t.Helper()
	got := told(found)
	for i := range max(len(got), len(want)) {
		switch {
		case i >= len(want):
			t.Errorf("found %s, want nothing more", got[i])
		case i >= len(got):
			t.Errorf("found nothing more, want %s", want[i])
		case got[i] != want[i]:
			t.Errorf("found %s, want %s", got[i], want[i])
		}
	}
}

func TestFishOfAPlainTable(t *testing.T) {
	tables := opened(t, map[string]string{"fish.csv": "fish,species,caught_on,length,length_unit,length_kind,boat\n" +
		"EB-1,BFT,2031-06,204.5,cm,curved_fork,Skell\n" +
		"EB-2,BFT,2031,2l4,cm,curved_fork,\"a \"\"b\"\", c\"\n"})
	got := book(t, tables)
	wantTold(t, tables.Findings(),
		`unknown_column fish.csv:1:boat "boat" [""]`,
		`not_number fish.csv:3:length "2l4" ["214"]`)
	if len(got.Fish) != 2 || got.Fish[0].Length.Value != record.Some(204.5) || got.Fish[1].Extra[0] != `a "b", c` {
		t.Errorf("fish = %+v", got.Fish)
	}
}

func TestLengthsAreHeldAgainstTrips(t *testing.T) {
	tables := opened(t, map[string]string{
		"trips.csv": "trip,landed_on\nT-01,2031-06-02\n",
		"lengths.csv": "trip,species,length,unit,kind,count\n" +
			"T-01,BFT,200,cm,straight_fork,3\nT-0l,BFT,200,cm,straight_fork,1\nT-01,BTF,210,cm,straight_fork,1\n"})
	n := 0.0
	if err := tables.Lengths(func(c *record.LengthCount) error { n += c.Count; return nil }); err != nil {
		t.Fatal(err)
	}
	wantTold(t, tables.Findings(),
		`unknown_id lengths.csv:3:trip "T-0l" ["trips.csv" "T-01"]`,
		`unknown_id lengths.csv:4:species "BTF" ["programme.json" "BFT"]`)
	if n != 3 {
		t.Errorf("counted %v fish in rows without error, want 3", n)
	}
}

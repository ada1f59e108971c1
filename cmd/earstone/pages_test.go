package main

import (
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"earstone/estimate/run"
	"earstone/plan/allocation"
	"earstone/programme/record"
	"earstone/store/tables"
)

var remark = regexp.MustCompile(`\([^)]*\)`)

// tableRows are the rows of docs/tables.md whose first cell is a CSV file, by its name;
// each row is its cells, split at commas, without remarks in brackets.
func tableRows(t *testing.T) map[string][][]string {
	t.Helper()
	page, err := os.ReadFile("../../docs/tables.md")
	if err != nil {
		t.Fatal(err)
	}
	rows := map[string][][]string{}
	for line := range strings.Lines(string(page)) {
		cells := strings.Split(strings.Trim(strings.TrimSpace(line), "|"), "|")
		name, isTable := strings.CutSuffix(strings.Trim(strings.TrimSpace(cells[0]), "`"), ".csv")
		if !isTable || !strings.HasPrefix(line, "| `") {
			continue
		}
		if rows[name] != nil {
			t.Errorf("docs/tables.md tells %s.csv twice.", name)
		}
		rows[name] = [][]string{}
		for _, cell := range cells[1:] {
			var words []string
			for _, word := range strings.Split(remark.ReplaceAllString(cell, ""), ",") {
				if word = strings.TrimSpace(word); word != "" {
					words = append(words, word)
				}
			}
			rows[name] = append(rows[name], words)
		}
	}
	return rows
}

// oneOfEach is a book with a row in every table, all of it unknown.
func oneOfEach() *record.Book {
	return &record.Book{Settings: record.Defaults(),
		Areas: make([]record.Area, 1), Contributors: make([]record.Contributor, 1), Trips: make([]record.Trip, 1),
		Catches: make([]record.Catch, 1), Fish: make([]record.Fish, 1), Stones: make([]record.Stone, 1),
		Preparations: make([]record.Preparation, 1), Images: make([]record.Image, 1), Readings: make([]record.Reading, 1),
		Marks: make([]record.Mark, 1), KnownAges: make([]record.KnownAge, 1), Assays: make([]record.Assay, 1),
		Standards: make([]record.ReferenceAssay, 1), Baseline: make([]record.Baseline, 1), Conversions: make([]record.Conversion, 1)}
}

func TestPageTellsRecordTables(t *testing.T) {
	dir := t.TempDir()
	err := tables.WriteProgramme(dir, oneOfEach(), func(yield func(*record.LengthCount) error) error {
		return yield(&record.LengthCount{})
	})
	if err != nil {
		t.Fatal(err)
	}
	rows := tableRows(t)
	for _, name := range tables.Names() {
		header, err := os.ReadFile(filepath.Join(dir, name+".csv"))
		if err != nil {
			t.Fatal(err)
		}
		first, _, _ := strings.Cut(string(header), "\n")
		columns := strings.Split(first, ",")
		if row := rows[name]; len(row) != 2 || !slices.Equal(row[1], columns) {
			t.Errorf("docs/tables.md tells %s.csv as %q, and its columns are %q.", name, row, columns)
		}
	}
}

func TestPageTellsResultTables(t *testing.T) {
	rows := tableRows(t)
	told := func(name string) [][]string {
		row := rows[name]
		delete(rows, name)
		return row
	}
	for _, table := range (&run.Outcome{}).Tables() {
		if row := told(table.Name); len(row) != 2 || !slices.Equal(row[0], table.ID) || !slices.Equal(row[1], table.Further) {
			t.Errorf("docs/tables.md tells %s.csv as %q, and it has the columns %q and %q.", table.Name, row, table.ID, table.Further)
		}
	}
	for _, table := range append((&run.Outcome{}).Plains(), allocation.Headers()...) {
		if row := told(table.Name); len(row) != 1 || !slices.Equal(row[0], table.Columns) {
			t.Errorf("docs/tables.md tells %s.csv as %q, and its columns are %q.", table.Name, row, table.Columns)
		}
	}
	for name := range rows {
		if name+".csv" != kitsFile && !slices.Contains(tables.Names(), name) { // kits are labels' own
			t.Errorf("docs/tables.md tells %s.csv, and no run writes it.", name)
		}
	}
}

// TestPageTellsDefaults reads the programme.json that docs/tables.md shows: what it says is
// taken for keys that are left out must be that.
func TestPageTellsDefaults(t *testing.T) {
	page, err := os.ReadFile("../../docs/tables.md")
	if err != nil {
		t.Fatal(err)
	}
	_, shown, _ := strings.Cut(string(page), "```json\n")
	shown, _, _ = strings.Cut(shown, "```")
	source, err := tables.OpenFS(fstest.MapFS{"programme.json": {Data: []byte(shown)}})
	if err != nil {
		t.Fatal(err)
	}
	book, err := source.Book()
	if err != nil {
		t.Fatal(err)
	}
	if found := source.Findings().All(); len(found) > 0 {
		t.Errorf("The programme.json of docs/tables.md is found wrong: %v", found)
	}
	got, want := book.Settings, record.Defaults()
	want.Name, want.Species, want.Calendars, want.PlusGroup, want.Readers = got.Name, got.Species, got.Calendars, got.PlusGroup, got.Readers
	if !reflect.DeepEqual(got, want) {
		t.Errorf("docs/tables.md shows the defaults as\n%+v, and they are\n%+v", got, want)
	}
}

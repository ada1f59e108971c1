package tables

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"earstone/programme/date"
	"earstone/programme/finding"
	"earstone/programme/record"
)

// written is a book as it comes back after it was written.
func written(t testing.TB, book *record.Book, counts []record.LengthCount) (*Tables, *record.Book, []record.LengthCount) {
	t.Helper()
	folder := fstest.MapFS{}
	inMemory := func(name string, fill func(io.Writer) error) error {
		var out bytes.Buffer
		err := fill(&out)
		folder[name] = &fstest.MapFile{Data: out.Bytes()}
		return err
	}
	err := writeProgramme(inMemory, book, func(yield func(*record.LengthCount) error) error {
		for i := range counts {
			if err := yield(&counts[i]); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	tables, err := OpenFS(folder)
	if err != nil {
		t.Fatal(err)
	}
	defer tables.Close()
	back, err := tables.Book()
	if err != nil {
		t.Fatal(err)
	}
	var countsBack []record.LengthCount
	err = tables.Lengths(func(c *record.LengthCount) error {
		kept := *c
		kept.Extra = append(record.Extra(nil), c.Extra...)
		countsBack = append(countsBack, kept)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return tables, back, countsBack
}

// Any record that can be held comes back the same, every table and column by turns.
func TestWhatIsWrittenReadsBack(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		book := &record.Book{Settings: drawSettings(r), ExtraColumns: map[string][]string{}}
		drawTable(r, areas, book)
		drawTable(r, contributors, book)
		drawTable(r, trips, book)
		drawTable(r, catch, book)
		drawTable(r, fish, book)
		drawTable(r, stones, book)
		drawTable(r, preparations, book)
		drawTable(r, images, book)
		drawTable(r, readings, book)
		drawTable(r, marks, book)
		drawTable(r, knownAges, book)
		drawTable(r, assays, book)
		drawTable(r, standards, book)
		drawTable(r, baseline, book)
		drawTable(r, conversions, book)
		counts := draw(r, lengths, book)
		for i := range counts {
			counts[i].Species = book.Settings.Species[0]
			counts[i].Trip = "T-01"
		}
		book.Trips = append(book.Trips, record.Trip{Trip: "T-01", LandedOn: date.On(2031, 6, 2),
			Row: 2 + len(book.Trips), Extra: make(record.Extra, len(book.ExtraColumns["trips"]))})
		if len(book.ExtraColumns["trips"]) == 0 {
			book.Trips[len(book.Trips)-1].Extra = nil
		}
		tables, back, countsBack := written(t, book, counts)
		if tables.Findings().Of(finding.Error) > 0 {
			r.Fatalf("what was written is found faulty: %v", told(tables.Findings()))
		}
		if diff := cmp.Diff(book, back, comparers); diff != "" {
			r.Fatalf("the book came back changed (- written, + read):\n%s", diff)
		}
		if diff := cmp.Diff(counts, countsBack, comparers); diff != "" {
			r.Fatalf("the length counts came back changed (- written, + read):\n%s", diff)
		}
	})
}

var comparers = cmp.Options{
	cmp.Comparer(func(a, b date.Day) bool { return a == b }),
	cmp.Comparer(func(a, b date.Anniversary) bool { return a == b }),
}

func drawTable[T any](r *rapid.T, t table[T], book *record.Book) {
	*t.of(book) = draw(r, t, book)
}

// draw gives records that a table can hold.
func draw[T any](r *rapid.T, t table[T], book *record.Book) []T {
	extra := rapid.SliceOfNDistinct(rapid.StringMatching(`[a-z]{4,8}x`), 0, 2, rapid.ID).Draw(r, t.name+" extra")
	if len(extra) > 0 {
		book.ExtraColumns[t.name] = extra
	}
	n := rapid.IntRange(0, 3).Draw(r, t.name+" rows")
	var all []T
	for i := range n {
		one := drawOne(r, t)
		*t.row(&one) = i + 2
		for range extra {
			*t.extra(&one) = append(*t.extra(&one), drawText(r))
		}
		all = append(all, one)
	}
	return all
}

// drawOne draws the cells of a record until it keeps what one row must keep by itself.
func drawOne[T any](r *rapid.T, t table[T]) T {
	for {
		var one T
		p := newPage("drawn", &finding.List{}, map[string]string{})
		for _, c := range t.columns {
			c.in(p, []byte(drawCell(r, c)), &one)
		}
		if t.within == nil {
			return one
		}
		if t.within(p, &one); !p.wrong {
			return one
		}
	}
}

// drawCell draws a cell that the column takes: now and then an unknown one, else one of
// the texts of all kinds, or one of its own making where it takes that.
func drawCell[T any](r *rapid.T, c column[T]) string {
	takes := func(cell string) bool {
		var one T
		p := newPage("tried", &finding.List{}, map[string]string{})
		c.in(p, []byte(cell), &one)
		return !p.wrong && (cell != "" || c.want != needed)
	}
	var taken []string
	for _, cell := range someCells {
		if takes(cell) {
			taken = append(taken, cell)
		}
	}
	number := string(appendNumber(nil, rapid.Float64().Draw(r, c.name)))
	for _, cell := range []string{drawText(r), number} {
		if cell != "" && takes(cell) {
			return rapid.SampledFrom(append(taken, cell, cell)).Draw(r, c.name)
		}
	}
	return rapid.SampledFrom(taken).Draw(r, c.name)
}

var someCells = slices.Concat([]string{"", "1", "3", "0", "2031", "2031-06", "2031-06-02", "0.1", "-21.4", "123456789.123", "1e-9", "true", "false", "F", "M", "L", "R"},
	contributorKinds, lengthUnits, weightUnits, conditions, membranes, purposes, markKinds, scales, regions, quantities, forms, measures,
	record.EdgeWords())

// drawText draws a text such as a cell can hold: no blanks around it, UTF-8, any signs
// that CSV must quote.
func drawText(r *rapid.T) string {
	text := rapid.OneOf(rapid.String(), rapid.StringMatching(`[a-z,;"\n\r =+-]{0,9}`)).Draw(r, "text")
	p := newPage("drawn", &finding.List{}, nil)
	return string(p.clean([]byte(strings.ToValidUTF8(text, ""))))
}

func drawSettings(r *rapid.T) record.Settings {
	s := record.Defaults()
	s.Name = rapid.StringMatching(`[A-Zäöß"<&]{1,9}`).Draw(r, "name")
	s.Species = []record.Species{"BFT", "YFT"}[:rapid.IntRange(1, 2).Draw(r, "species")]
	s.AgeConvention = rapid.SampledFrom(conventions).Draw(r, "convention")
	if rapid.Bool().Draw(r, "calendar") {
		birth, _ := date.ParseAnniversary("06-01")
		annulus, _ := date.ParseAnniversary("11-30")
		s.Calendars["BFT"] = record.Calendar{BirthDay: birth, AnnulusDay: annulus,
			AnnulusWindowDays: rapid.IntRange(0, 182).Draw(r, "window"), FirstAnnulusAge: rapid.Float64Range(0, 3).Draw(r, "a1")}
	}
	s.LengthBin = record.LengthBin{Unit: rapid.SampledFrom(lengthUnits).Draw(r, "unit"), Kind: record.CurvedFork}
	s.LengthBin.Width = rapid.Float64Range(0.2, 20).Draw(r, "width") * perCm[s.LengthBin.Unit]
	columns := rapid.SliceOfDistinct(rapid.SampledFrom(stratumNames), rapid.ID)
	s.Strata = slices.Concat([]string{"year"}, slices.DeleteFunc(columns.Draw(r, "strata"), func(c string) bool { return c == "year" }))
	s.Ladders = record.Ladders{Lengths: rapid.SliceOfN(columns, 0, 3).Draw(r, "lengths"), Key: rapid.SliceOfN(columns, 1, 3).Draw(r, "key")}
	s.Key = record.KeySettings{Form: rapid.SampledFrom(keyForms).Draw(r, "form"), LeastFish: rapid.IntRange(1, 50).Draw(r, "least"),
		AgeingError: rapid.Bool().Draw(r, "error"), EdgeBins: rapid.Bool().Draw(r, "edges")}
	s.PlusGroup = rapid.IntRange(0, 30).Draw(r, "plus")
	s.AgreedAge = record.AgreedAge{Rule: rapid.SampledFrom(agreedRules).Draw(r, "rule"), Expert: "KL", Tie: rapid.SampledFrom(tieRules).Draw(r, "tie")}
	s.Readers = [][]record.ReaderID{nil, {"KL", "MN"}}[rapid.IntRange(0, 1).Draw(r, "readers")]
	if rapid.Bool().Draw(r, "target") {
		s.Targets = []record.Target{{Quantity: "catch_at_age", Ages: [2]int{4, rapid.IntRange(4, 20).Draw(r, "old")}, WantCV: 0.15}}
	}
	s.Resample.Fish = rapid.Bool().Draw(r, "fish")
	return s
}

// A folder on the disk is the same programme as one in memory, and describes itself.
func TestProgrammeOnTheDisk(t *testing.T) {
	dir := t.TempDir()
	book := &record.Book{Settings: record.Defaults(), Trips: []record.Trip{{Trip: "T-01", LandedOn: date.On(2031, 6, 2), LandedKg: record.Some(math.Nextafter(0.3, 1))}}}
	book.Settings.Name, book.Settings.Species = "Quarrow Banks", []record.Species{"BFT"}
	book.Settings.Ladders = record.Ladders{Key: [][]string{nil}}
	if err := os.WriteFile(filepath.Join(dir, "marks.csv"), []byte("left over"), 0o666); err != nil {
		t.Fatal(err)
	}
	if err := WriteProgramme(dir, book, nil); err != nil {
		t.Fatal(err)
	}
	if got, want := names(t, dir), []string{"datapackage.json", "lengths.csv", "programme.json", "trips.csv"}; !slices.Equal(got, want) {
		t.Errorf("the folder holds %q, want %q", got, want)
	}
	if got, want := content(t, filepath.Join(dir, "trips.csv")), "trip,landed_on,area,gear,port,landed_number,landed_kg,contributor\nT-01,2031-06-02,,,,,0.30000000000000004,\n"; got != want {
		t.Errorf("trips.csv says %q, want %q", got, want)
	}
	tables, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer tables.Close()
	back, err := tables.Book()
	if err != nil {
		t.Fatal(err)
	}
	if tables.Findings().Of(finding.Error) > 0 || back.Trips[0].LandedKg != book.Trips[0].LandedKg {
		t.Errorf("read back %+v with %v", back.Trips, told(tables.Findings()))
	}
	for _, in := range tables.Inputs() {
		if sum := fmt.Sprintf("%x", sha256.Sum256([]byte(content(t, filepath.Join(dir, in.Name))))); in.SHA256 != sum {
			t.Errorf("%s has the hash %s, told as %s", in.Name, sum, in.SHA256)
		}
	}
}

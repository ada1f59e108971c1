// Package tables reads and writes a programme as plain files: CSV tables, or workbooks
// with sheets of the same names, beside a programme.json.
//
// Every problem is found and told with its place, never only the first; what is wrong
// in the files is a finding, and an error means that the files could not be reached.
package tables

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"earstone/programme/finding"
	"earstone/programme/record"
)

// Tables is a programme kept as plain files. It is a record.Source; its methods are for
// one goroutine at a time.
type Tables struct {
	files  fs.FS
	root   *os.Root // nil when the files came as an fs.FS
	only   string   // the one workbook that is the whole programme, or empty
	single string   // the one file that was opened by itself, or empty
	places map[string]place
	books  []*workbook
	input  []Input

	book         *record.Book
	found        finding.List // of everything but lengths
	foundLengths finding.List
}

var _ record.Source = (*Tables)(nil)

// Input is one file that was read whole.
type Input struct {
	Name   string
	SHA256 string
	Rows   int // below the header; of all its sheets for a workbook, 0 for settings
	Bytes  int64
}

// Open finds the tables of a programme: a folder, or a single .xlsx file. Nothing is
// read that lies outside the folder, links included.
func Open(path string) (*Tables, error) {
	about, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("opening the programme %s: %w", path, err)
	}
	folder, only := path, ""
	if !about.IsDir() {
		if !isWorkbook(path) {
			return nil, fmt.Errorf("opening the programme %s: it is neither a folder nor an .xlsx file", path)
		}
		folder, only = filepath.Dir(path), filepath.Base(path)
	}
	root, err := os.OpenRoot(folder)
	if err != nil {
		return nil, fmt.Errorf("opening the programme %s: %w", path, err)
	}
	t := &Tables{files: root.FS(), root: root, only: only}
	if err := t.locate(); err != nil {
		return nil, errors.Join(err, t.Close())
	}
	return t, nil
}

// OpenFS is Open for a folder that is held otherwise.
func OpenFS(folder fs.FS) (*Tables, error) {
	t := &Tables{files: folder}
	if err := t.locate(); err != nil {
		return nil, errors.Join(err, t.Close())
	}
	return t, nil
}

// Close lets go of the files.
func (t *Tables) Close() error {
	var all []error
	for _, w := range t.books {
		all = append(all, w.close())
	}
	if t.root != nil {
		all = append(all, t.root.Close())
	}
	return errors.Join(all...)
}

// Book reads everything but the length counts, once. A cell that was refused is unknown
// in it: whoever estimates asks Findings for errors first.
func (t *Tables) Book() (*record.Book, error) {
	if t.book != nil {
		return t.book, nil
	}
	book := &record.Book{ExtraColumns: map[string][]string{}}
	settings, err := t.settings()
	if err != nil {
		return nil, err
	}
	book.Settings = settings
	texts := map[string]string{}
	for _, table := range held {
		if err := t.readInto(book, table, texts); err != nil {
			return nil, fmt.Errorf("reading %s: %w", t.places[table.title()].label(), err)
		}
	}
	if book.ExtraColumns["lengths"], err = t.extraLengths(); err != nil {
		return nil, fmt.Errorf("reading the header of %s: %w", t.places["lengths"].label(), err)
	}
	if len(book.ExtraColumns["lengths"]) == 0 {
		delete(book.ExtraColumns, "lengths")
	}
	t.book = book
	return book, nil
}

// holder is a table that the book holds.
type holder interface {
	title() string
	vacant(book *record.Book) bool
	into(book *record.Book, p *page, in rows) (int, error)
	write(w *Writer, book *record.Book) error
	fields(extra []string) []field
	names() []string
	grid(book *record.Book) grid
	add(book *record.Book, p *page, cells map[string]string)
	rows(p *page, in rows, each func(extra []string, row Row) error) (extra []string, n int, err error)
}

// held are the tables of the book, in the order in which they are told.
var held = []holder{areas, contributors, trips, catch, fish, stones, preparations, images,
	readings, marks, knownAges, assays, standards, baseline, conversions}

// Names are the tables that a programme can have, without the ending.
func Names() []string {
	names := make([]string, 0, len(held)+1)
	for _, table := range held {
		names = append(names, table.title())
	}
	return append(names, lengths.name)
}

func (t *Tables) readInto(book *record.Book, table holder, texts map[string]string) error {
	where, there := t.places[table.title()]
	if !there {
		return nil
	}
	return t.reading(where, &t.found, texts, maxTable, func(p *page, in rows) (int, error) {
		return table.into(book, p, in)
	})
}

// Lengths hands over each length count that has no error, in the order of the table.
// What is wrong is in Findings afterwards; a second call finds it anew.
func (t *Tables) Lengths(each func(*record.LengthCount) error) error {
	book, err := t.Book()
	if err != nil {
		return err
	}
	t.foundLengths = finding.List{}
	where, there := t.places[lengths.name]
	if !there {
		return nil
	}
	checked := lengths
	checked.within = t.known(book)
	err = t.reading(where, &t.foundLengths, map[string]string{}, maxLengths, func(p *page, in rows) (int, error) {
		_, n, err := checked.read(p, in, false, each)
		return n, err
	})
	if err != nil {
		return fmt.Errorf("reading %s: %w", where.label(), err)
	}
	return nil
}

// known holds the trip and the species of each length count against the book.
func (t *Tables) known(book *record.Book) func(*page, *record.LengthCount) {
	var tripCodes, speciesCodes []string
	for i := range book.Trips {
		tripCodes = append(tripCodes, string(book.Trips[i].Trip))
	}
	for _, code := range book.Settings.Species { // none: told where the settings are read
		speciesCodes = append(speciesCodes, string(code))
	}
	if _, there := t.places["trips"]; !there {
		t.foundLengths.Add(finding.MissingTable, finding.Place{File: "trips.csv"}, "", t.places["lengths"].label())
	}
	knownTrips, knownSpecies := newCodes("trips.csv", tripCodes), newCodes("programme.json", speciesCodes)
	return func(p *page, c *record.LengthCount) {
		knownTrips.ask(p, "trip", string(c.Trip))
		knownSpecies.ask(p, "species", string(c.Species))
	}
}

// codes are what a column may say. Rows come trip by trip, so the verdict on the last
// code nearly always serves again.
type codes struct {
	holder  string // the file that lists them
	all     []string
	set     map[string]bool
	last    string
	unknown bool
	nearest string
	sought  int
}

// Names among which the nearest is sought, and how often: the rest is told without one.
const (
	mostNames  = 5000
	mostSought = 1000
)

func newCodes(holder string, all []string) *codes {
	c := &codes{holder: holder, all: all[:min(len(all), mostNames)], set: map[string]bool{}}
	for _, code := range all {
		c.set[code] = true
	}
	return c
}

// ask finds a code that is not listed; of an empty list none is asked for.
func (c *codes) ask(p *page, column, code string) {
	if code != c.last {
		c.last, c.unknown, c.nearest = code, code != "" && len(c.set) > 0 && !c.set[code], ""
		if c.unknown && c.sought < mostSought {
			c.sought++
			c.nearest = finding.Nearest(code, c.all)
		}
	}
	if c.unknown {
		p.column = column
		p.add(finding.UnknownID, []byte(code), c.holder, c.nearest)
	}
}

// Findings is all that was found until now: of the folder as soon as it is open, of the
// book once it is read, of the length counts as of their last reading.
func (t *Tables) Findings() *finding.List {
	all := &finding.List{}
	all.Join(&t.found)
	all.Join(&t.foundLengths)
	return all
}

// Missing finds which of the named tables are not there; needs says what needs them.
func (t *Tables) Missing(needs string, names ...string) *finding.List {
	found := &finding.List{}
	for _, name := range names {
		if _, there := t.places[name]; !there {
			found.Add(finding.MissingTable, finding.Place{File: name + ".csv"}, "", needs)
		}
	}
	return found
}

// Located gives findings about records the names of the files that hold them: a rule
// says fish.csv, and the fish may stand in a sheet of a workbook. What only echoes a cell
// or a table that was refused is left out: a refused cell is unknown to the rules, and
// misses nothing.
func (t *Tables) Located(found *finding.List) *finding.List {
	refused, workbook := map[finding.Place]bool{}, false
	for _, f := range t.found.All() {
		if f.Severity == finding.Error {
			refused[f.Place] = true
			refused[finding.Place{File: f.Place.File, Column: f.Place.Column}] = true // rules know no line of the settings
			workbook = workbook || isWorkbook(f.Place.File)
		}
	}
	moved := found.Moved(func(file string) string {
		if where, there := t.places[strings.TrimSuffix(file, ".csv")]; there {
			return where.label()
		}
		return file
	})
	return moved.Without(func(f finding.Finding) bool {
		switch f.Kind {
		case finding.Needed, finding.NoEdge:
			return refused[f.Place] && f.Place.Row > 0
		case finding.BadCalendar:
			return refused[f.Place]
		case finding.MissingTable:
			_, there := t.places[strings.TrimSuffix(f.Place.File, ".csv")]
			return there || workbook || strings.Contains(f.Place.File, "#")
		}
		return false
	})
}

// Inputs are the files that were read to their end, each once, in the order of reading.
func (t *Tables) Inputs() []Input { return append([]Input(nil), t.input...) }

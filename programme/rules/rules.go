// Package rules holds every record against the rest of the programme.
//
// What one cell must keep by itself is asked where it is read; here it is asked whether
// the records can be true together. Nothing is dropped or corrected: each doubt is a
// finding with its place. Methods, section 1, "Plausibility of a record".
package rules

import (
	"slices"
	"strconv"

	"earstone/programme/date"
	"earstone/programme/finding"
	"earstone/programme/measure"
	"earstone/programme/record"
	"earstone/programme/species"
)

// The files that findings name; whoever reads from other places renames them.
const (
	programmeFile    = "programme.json"
	areasFile        = "areas.csv"
	contributorsFile = "contributors.csv"
	tripsFile        = "trips.csv"
	catchFile        = "catch.csv"
	fishFile         = "fish.csv"
	stonesFile       = "stones.csv"
	preparationsFile = "preparations.csv"
	imagesFile       = "images.csv"
	readingsFile     = "readings.csv"
	marksFile        = "marks.csv"
	knownAgesFile    = "known_ages.csv"
	assaysFile       = "assays.csv"
	baselineFile     = "baseline.csv"
	conversionsFile  = "conversions.csv"
)

// check is one pass over a book.
type check struct {
	book      *record.Book
	today     date.Day
	found     finding.List
	converter *measure.Converter
	told      []string     // species and kinds of length without an equation
	missing   []string     // tables that are not there and were asked for
	inches    map[int]bool // rows of fish that were told to be in inches
	sought    int          // unknown identifiers for which the nearest was sought

	fish                 index[record.FishID]
	trips                index[record.TripID]
	areas, contributors  index[string]
	preparations, images index[string]
	readings             index[string]
}

// Check holds all records of a book against each other. today is the day against which
// a date is in the future; when it is unknown no date is. Findings come table by table,
// in the order of the rows.
func Check(book *record.Book, today date.Day) *finding.List {
	c := newCheck(book, today)
	c.calendars()
	c.places()
	c.tripTable()
	c.catchTable()
	c.landings()
	c.fishTable()
	c.stoneTable()
	c.preparationTables()
	c.readingTable()
	c.annuliMasses()
	c.markTable()
	c.tracerTables()
	c.conversionTable()
	return &c.found
}

func newCheck(book *record.Book, today date.Day) *check {
	return &check{book: book, today: today, inches: map[int]bool{},
		converter: measure.NewConverter(book.Conversions, species.Conversions(book.Settings.Species)),
		fish:      index[record.FishID]{}, trips: index[record.TripID]{},
		areas: index[string]{}, contributors: index[string]{},
		preparations: index[string]{}, images: index[string]{}, readings: index[string]{}}
}

func (c *check) add(kind finding.Kind, file string, row int, column, value string, facts ...string) {
	c.found.Add(kind, finding.Place{File: file, Row: row, Column: column}, value, facts...)
}

// index holds the row of each identifier and its place in the table.
type index[ID ~string] map[ID]entry

type entry struct{ row, at int }

// enter keeps an identifier; false when it stood there before, which is found.
func enter[ID ~string](c *check, ids index[ID], file, column string, id ID, row, at int) bool {
	if id == "" { // told where the cell was read
		return true
	}
	if first, twice := ids[id]; twice {
		c.add(finding.TwiceID, file, row, column, string(id), strconv.Itoa(first.row))
		return false
	}
	ids[id] = entry{row, at}
	return true
}

// Names among which the nearest is sought, and how often: the rest is told without one.
const (
	mostNames  = 5000
	mostSought = 1000
)

// refer asks whether an identifier stands in the table that should hold it; names
// yields what stands there, for the nearest. A table that is not there is told once.
func refer[ID ~string](c *check, ids index[ID], holder, file string, row int, column string, id ID, names func(int) string, n int) {
	if id == "" {
		return
	}
	if _, known := ids[id]; known {
		return
	}
	if n == 0 {
		if !slices.Contains(c.missing, holder) {
			c.missing = append(c.missing, holder)
			c.add(finding.MissingTable, holder, 0, "", "", file)
		}
		return
	}
	var among []string
	if c.sought++; c.sought <= mostSought {
		for i := range min(n, mostNames) {
			among = append(among, names(i))
		}
	}
	c.add(finding.UnknownID, file, row, column, string(id), holder, finding.Nearest(string(id), among))
}

func (c *check) referFish(file string, row int, id record.FishID) {
	refer(c, c.fish, fishFile, file, row, "fish", id, func(i int) string { return string(c.book.Fish[i].Fish) }, len(c.book.Fish))
}

// listed asks whether a species is one of the programme's.
func (c *check) listed(file string, row int, code record.Species) {
	all := c.book.Settings.Species
	if code == "" || len(all) == 0 {
		return
	}
	var names []string
	for _, one := range all {
		if one == code {
			return
		}
		names = append(names, string(one))
	}
	c.add(finding.UnknownID, file, row, "species", string(code), programmeFile, finding.Nearest(string(code), names))
}

// notFuture asks whether a date has come.
func (c *check) notFuture(file string, row int, column string, day date.Day) {
	if day.Known() && c.today.Known() && c.today.Last().Before(day) {
		c.add(finding.FutureDate, file, row, column, day.String(), c.today.String())
	}
}

// after asks whether a day can have come after an earlier one, or on it.
func (c *check) after(file string, row int, column string, day date.Day, what string, earlier date.Day) {
	if day.Known() && earlier.Known() && day.Last().Before(earlier) {
		c.add(finding.DateOrder, file, row, column, day.String(), what, earlier.String())
	}
}

// positive asks whether a size is more than zero.
func (c *check) positive(file string, row int, column string, x record.Number) {
	if x.Known && !(x.X > 0) {
		c.add(finding.OutOfRange, file, row, column, text(x.X), ">0", "")
	}
}

func (c *check) notNegative(file string, row int, column string, x record.Number) {
	if x.Known && !(x.X >= 0) {
		c.add(finding.OutOfRange, file, row, column, text(x.X), "0", "")
	}
}

func text(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// rounded is a derived figure as findings tell it.
func rounded(x float64) string {
	return strconv.FormatFloat(x, 'g', 3, 64)
}

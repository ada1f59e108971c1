package tables

import (
	"errors"
	"math"
	"strconv"

	"earstone/programme/date"
	"earstone/programme/finding"
	geo "earstone/programme/outline"
	"earstone/programme/record"
)

// want says whether a column, or even each of its cells, must be there.
type want uint8

const (
	optional want = iota
	wanted        // the column must stand in the header; its cells may be empty
	needed        // and no cell of it may be empty
)

// column is one column of a table of T: how a cell goes into a record and comes out.
type column[T any] struct {
	name string
	want want
	kind string // type of the field in datapackage.json
	in   func(p *page, cell []byte, to *T)
	out  func(b []byte, of *T) []byte
}

func text[T any, S ~string](name string, w want, at func(*T) *S) column[T] {
	return column[T]{name, w, "string",
		func(p *page, cell []byte, to *T) { *at(to) = S(p.text(cell)) },
		func(b []byte, of *T) []byte { return append(b, *at(of)...) }}
}

// outlined is a GeoJSON text. One that gives no outline is kept as it is, with a warning:
// nothing but the map of areas needs it.
func outlined[T any](name string, at func(*T) *string) column[T] {
	c := text(name, optional, at)
	keep := c.in
	c.in = func(p *page, cell []byte, to *T) {
		keep(p, cell, to)
		var reason geo.Reason
		if _, err := geo.Read(*at(to)); len(cell) > 0 && errors.As(err, &reason) {
			begins := []rune(string(cell[:min(len(cell), 4*longestShown)]))
			p.found.Keep(finding.Finding{Kind: finding.NotThisThing, Severity: finding.Warning, Place: p.place(),
				Value: string(begins[:min(len(begins), longestShown)]), Facts: []string{reason.String()}})
		}
	}
	return c
}

// longestShown is how many signs of an outline a finding carries.
const longestShown = 60

// word is a text from a closed list.
func word[T any](name string, w want, words []string, at func(*T) *string) column[T] {
	parse := func(text string) (string, bool) {
		for _, word := range words {
			if word == text {
				return word, true
			}
		}
		return "", false
	}
	return column[T]{name, w, "string",
		func(p *page, cell []byte, to *T) { *at(to) = listed(p, cell, parse, words) },
		func(b []byte, of *T) []byte { return append(b, *at(of)...) }}
}

// set is one of the closed sets of package record.
func set[T any, W interface{ String() string }](name string, w want, parse func(string) (W, bool), words []string, at func(*T) *W) column[T] {
	return column[T]{name, w, "string",
		func(p *page, cell []byte, to *T) { *at(to) = listed(p, cell, parse, words) },
		func(b []byte, of *T) []byte { return append(b, (*at(of)).String()...) }}
}

func truth[T any](name string, at func(*T) *record.Truth) column[T] {
	c := set(name, optional, record.ParseTruth, record.TruthWords(), at)
	c.kind = "boolean"
	return c
}

func number[T any](name string, w want, low, high float64, at func(*T) *record.Number) column[T] {
	return column[T]{name, w, "number",
		func(p *page, cell []byte, to *T) { *at(to) = p.number(cell, low, high) },
		func(b []byte, of *T) []byte {
			if x := *at(of); x.Known {
				return appendNumber(b, x.X)
			}
			return b
		}}
}

// float is a number that is never unknown: its cell must not be empty.
func float[T any](name string, low, high float64, at func(*T) *float64) column[T] {
	return column[T]{name, needed, "number",
		func(p *page, cell []byte, to *T) { *at(to) = p.number(cell, low, high).X },
		func(b []byte, of *T) []byte { return appendNumber(b, *at(of)) }}
}

// counted is a number of fish: one that an estimate gave need not be whole.
func counted[T any](name string, w want, at func(*T) *record.Number) column[T] {
	c := number(name, w, 0, mostFish, at)
	c.in = func(p *page, cell []byte, to *T) { *at(to) = p.numberOr(cell, 0, mostFish, likelyWhole) }
	return c
}

// countedAlways is counted where none is unknown: its cell must not be empty.
func countedAlways[T any](name string, at func(*T) *float64) column[T] {
	c := float(name, 0, mostFish, at)
	c.in = func(p *page, cell []byte, to *T) { *at(to) = p.numberOr(cell, 0, mostFish, likelyWhole).X }
	return c
}

// whole is a whole number; unknown is the value that stands for an empty cell.
func whole[T any](name string, w want, low, high, unknown int, at func(*T) *int) column[T] {
	return column[T]{name, w, "integer",
		func(p *page, cell []byte, to *T) {
			*at(to) = unknown
			if n, known := p.whole(cell, low, high); known {
				*at(to) = n
			}
		},
		func(b []byte, of *T) []byte {
			if n := *at(of); n != unknown {
				return strconv.AppendInt(b, int64(n), 10)
			}
			return b
		}}
}

// count is a whole number of which none is unknown.
func count[T any](name string, low, high int, at func(*T) *int) column[T] {
	return whole(name, needed, low, high, math.MinInt, at)
}

func day[T any](name string, w want, at func(*T) *date.Day) column[T] {
	return column[T]{name, w, "string", // a date that may stop at the month is no "date" of the standard
		func(p *page, cell []byte, to *T) { *at(to) = p.day(cell) },
		func(b []byte, of *T) []byte { return append(b, (*at(of)).String()...) }}
}

// table is how the records of one table are laid out.
type table[T any] struct {
	name    string
	columns []column[T]
	row     func(*T) *int
	extra   func(*T) *record.Extra
	within  func(p *page, of *T)    // what one row must keep by itself
	of      func(*record.Book) *[]T // nil for lengths, which are streamed
}

func (t table[T]) title() string { return t.name }

func (t table[T]) names() []string {
	names := make([]string, len(t.columns))
	for i, c := range t.columns {
		names[i] = c.name
	}
	return names
}

// layout tells for each cell of a row where it goes.
type layout struct {
	to    []int // index of the column, or -1 - index of the extra, or skipped
	extra []string
	cells int // columns in the header
}

const skipped = math.MinInt

// header reads the first row; ok is false when a column is missing or named twice, so
// that no row of the table can be believed.
func (t table[T]) header(p *page, cells [][]byte) (l layout, ok bool) {
	known := map[string]int{}
	for i, c := range t.columns {
		known[c.name] = i
	}
	for len(cells) > 0 && len(trim(cells[len(cells)-1])) == 0 {
		cells = cells[:len(cells)-1]
	}
	if len(cells) > maxColumns {
		p.add(finding.TooLarge, nil, "columns", strconv.Itoa(maxColumns))
		return l, false
	}
	ok = true
	seen := map[string]bool{}
	for _, cell := range cells {
		name := p.text(p.clean(cell))
		i, isKnown := known[name]
		switch p.column = name; {
		case seen[name]:
			p.add(finding.TwiceColumn, cell)
			l.to, ok = append(l.to, skipped), false
		case isKnown:
			l.to = append(l.to, i)
		default:
			l.to = append(l.to, -1-len(l.extra))
			l.extra = append(l.extra, name)
		}
		seen[name] = true
	}
	l.cells = len(cells)
	t.judge(p, l.extra, seen, &ok)
	p.column = ""
	return l, ok
}

// judge tells of columns that are missing and of those that nobody knows.
func (t table[T]) judge(p *page, extra []string, seen map[string]bool, ok *bool) {
	var absent []string
	for _, c := range t.columns {
		if !seen[c.name] {
			absent = append(absent, c.name)
		}
	}
	for _, c := range t.columns {
		if c.want != optional && !seen[c.name] {
			p.column, *ok = c.name, false
			p.add(finding.MissingColumn, nil, finding.Nearest(c.name, extra))
		}
	}
	for _, name := range extra {
		p.column = name
		p.add(finding.UnknownColumn, []byte(name), finding.Nearest(name, absent))
	}
}

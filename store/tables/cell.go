package tables

import (
	"bytes"
	"math"
	"strconv"
	"unicode/utf8"

	"earstone/programme/date"
	"earstone/programme/finding"
	"earstone/programme/record"
)

// page is one table while it is read: where the reader stands and what was found.
type page struct {
	found      *finding.List
	file       string
	row        int
	column     string // of the cell at hand
	semicolons bool   // decimal commas may be meant
	sheet      bool   // dates may be serial numbers
	era1904    bool   // of those serial numbers
	wrong      bool   // the row at hand has an error
	laid       layout // of the table's header

	texts map[string]string // one copy of each text
	first map[string]int    // row in which something assumed was first seen
}

func newPage(file string, found *finding.List, texts map[string]string) *page {
	return &page{found: found, file: file, texts: texts, first: map[string]int{}}
}

func (p *page) place() finding.Place {
	return finding.Place{File: p.file, Row: p.row, Column: p.column}
}

// refuse says why the file as a whole is not read.
func (p *page) refuse(why string) {
	p.found.Add(finding.NotReadable, finding.Place{File: p.file}, "", why)
}

func (p *page) add(kind finding.Kind, value []byte, facts ...string) {
	if kind.Severity() == finding.Error {
		p.wrong = true
	}
	p.found.Add(kind, p.place(), string(value), facts...)
}

// assume says once a file what was taken for granted, in the row that showed it first.
func (p *page) assume(what string) {
	if p.first[what] != 0 {
		return
	}
	p.first[what] = max(p.row, 1)
	p.found.Add(finding.Assumed, finding.Place{File: p.file, Row: max(p.row, 1), Column: p.column}, "", what)
}

// clean is a cell without the blanks around it, in UTF-8 and within its bound.
func (p *page) clean(raw []byte) []byte {
	cell := trim(raw)
	for _, sign := range cell {
		if sign >= utf8.RuneSelf {
			return p.cleanForeign(cell)
		}
	}
	return p.bounded(cell)
}

func (p *page) cleanForeign(cell []byte) []byte {
	if !utf8.Valid(cell) {
		decoded, ok := fromWindows1252(cell)
		if !ok {
			p.add(finding.NotReadable, decoded, "unknown_signs")
			return nil
		}
		p.assume("windows_1252")
		cell = decoded
	}
	return p.bounded(bytes.TrimSpace(cell)) // hard blanks, too
}

func validText(cell []byte) bool { return utf8.Valid(cell) }

func (p *page) bounded(cell []byte) []byte {
	if len(cell) > maxCell {
		p.add(finding.TooLarge, cell[:40], "cell", strconv.Itoa(maxCell))
		return nil
	}
	return cell
}

func trim(raw []byte) []byte {
	for len(raw) > 0 && (raw[0] == ' ' || raw[0] == '\t') {
		raw = raw[1:]
	}
	for n := len(raw); n > 0 && (raw[n-1] == ' ' || raw[n-1] == '\t'); n-- {
		raw = raw[:n-1]
	}
	return raw
}

// most texts that are kept once; past it the store of them begins anew, so that a
// table of ever new texts stays within bounds.
const mostTexts = 1 << 18

// text is the one copy of a text.
func (p *page) text(cell []byte) string {
	if len(cell) == 0 {
		return ""
	}
	if known, ok := p.texts[string(cell)]; ok {
		return known
	}
	if len(p.texts) >= mostTexts {
		clear(p.texts)
	}
	fresh := string(cell)
	p.texts[fresh] = fresh
	return fresh
}

// number reads a measured value within [low, high]; an empty cell is unknown.
func (p *page) number(cell []byte, low, high float64) record.Number {
	if len(cell) == 0 {
		return record.Number{}
	}
	x, comma, ok := parseNumber(cell, p.semicolons)
	if !ok {
		p.add(finding.NotNumber, cell, likelyNumber(cell))
		return record.Number{}
	}
	if p.semicolons {
		p.noteDecimals(cell, comma)
	}
	if !(x >= low && x <= high) {
		p.add(finding.OutOfRange, cell, bound(low), bound(high))
		return record.Number{}
	}
	return record.Some(x)
}

// noteDecimals says that decimal commas were taken, and warns when the same file has
// decimal points: then 1.250 may be either.
func (p *page) noteDecimals(cell []byte, comma bool) {
	if comma {
		p.assume("decimal_commas")
	} else if bytes.IndexByte(cell, '.') >= 0 && p.first["points"] == 0 {
		p.first["points"] = p.row
	}
	if points, commas := p.first["points"], p.first["decimal_commas"]; points > 0 && commas > 0 && p.first["mixed"] == 0 {
		p.first["mixed"] = p.row
		p.add(finding.MixedDecimals, cell, strconv.Itoa(min(points, commas)))
	}
}

// bound is a bound of a range as findings tell it: empty for none, >0 for more than zero.
func bound(x float64) string {
	switch {
	case math.IsInf(x, 0):
		return ""
	case x == above:
		return ">0"
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}

// whole reads a whole number within [low, high]; known is false for an empty cell and
// for one that was refused.
func (p *page) whole(cell []byte, low, high int) (n int, known bool) {
	x := p.number(cell, math.Inf(-1), math.Inf(1))
	switch {
	case !x.Known:
		return 0, false
	case x.X != math.Trunc(x.X):
		p.add(finding.NotWhole, cell)
		return 0, false
	case x.X < float64(low) || x.X > float64(high):
		p.add(finding.OutOfRange, cell, strconv.Itoa(low), strconv.Itoa(high))
		return 0, false
	}
	return int(x.X), true
}

// day reads a date that may stop at the month or the year. A spreadsheet keeps days as
// serial numbers; five digits are such a number, four are a year.
func (p *page) day(cell []byte) date.Day {
	if day, ok := date.Parse(string(cell)); ok {
		return day
	}
	if len(cell) > 11 && (cell[10] == 'T' || cell[10] == ' ') {
		if day, ok := date.Parse(string(cell[:10])); ok && isTime(cell[11:]) {
			p.assume("time_of_day")
			return day
		}
	}
	if p.sheet {
		if day, ok := fromSerial(cell, p.era1904); ok {
			p.assume("spreadsheet_dates")
			return day
		}
	}
	p.add(finding.NotDate, cell, likelyDate(string(cell)))
	return date.Day{}
}

// listed reads one of a closed list of words.
func listed[W any](p *page, cell []byte, parse func(string) (W, bool), words []string) W {
	value, ok := parse(p.text(cell))
	if !ok && len(cell) > 0 {
		facts := append(append([]string{}, words...), finding.Nearest(string(cell), words))
		p.add(finding.NotListed, cell, facts...)
	}
	return value
}

package tables

import (
	"bytes"
	"math"
	"strconv"
	"unicode"
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
	plain      bool   // texts stand there as they are, without the guard of written tables
	sheet      bool   // dates may be serial numbers
	era1904    bool   // of those serial numbers
	wrong      bool   // the row at hand has an error
	must       bool   // the cell at hand can't be empty
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
	p.found.Keep(finding.Finding{Kind: kind, Severity: kind.Severity(), Place: p.place(), Value: string(value), Facts: facts, Must: p.must})
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
			cell = p.cleanForeign(cell)
			break
		}
	}
	if bytes.ContainsFunc(cell, unseen) {
		p.assume("unseen_signs")
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
	return bytes.TrimSpace(cell) // hard blanks, too
}

// unseen tells a sign that no page shows as it is: a control sign other than those that
// part lines, or one that turns the direction of the text around it.
func unseen(r rune) bool {
	return unicode.IsControl(r) && r != '\n' && r != '\r' && r != '\t' || unicode.Is(unicode.Bidi_Control, r)
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
	if !p.plain {
		if cell[0] == '=' || cell[0] == '@' {
			p.assume("formula")
		}
		cell = unguarded(cell)
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
	return p.numberOr(cell, low, high, likelyNumber)
}

// numberOr is number with the proposal for a cell that is none.
func (p *page) numberOr(cell []byte, low, high float64, likely func([]byte) string) record.Number {
	if len(cell) == 0 {
		return record.Number{}
	}
	x, comma, ok := parseNumber(cell, p.semicolons)
	if !ok {
		p.add(finding.NotNumber, cell, likely(cell))
		return record.Number{}
	}
	if p.semicolons {
		p.noteDecimals(cell, comma)
	}
	if !(x >= low && x <= high) {
		p.add(finding.OutOfRange, cell, outside(x, low, high)...)
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

// outside is the range that a number lies out of. A bound that only catches slips of the
// pen is not told to one that breaks the other.
func outside(x, low, high float64) []string {
	if x < low && high >= mostParameter {
		return []string{bound(low), ""}
	}
	return []string{bound(low), bound(high)}
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
	x := p.numberOr(cell, math.Inf(-1), math.Inf(1), likelyWhole)
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

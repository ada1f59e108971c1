package tables

import (
	"bytes"
	"errors"
	"io"
)

// The bounds of what is read: past them a file is refused, never half believed.
const (
	maxCell    = 64 << 10 // bytes of one cell
	maxColumns = 500
	maxRecord  = 4 << 20   // bytes of one row
	maxTable   = 4 << 30   // bytes of a table that is held in memory
	maxLengths = 256 << 30 // bytes of lengths.csv, which is streamed
	maxJSON    = 4 << 20   // bytes of programme.json or datapackage.json
)

// errTooLong is a row that outgrows maxRecord.
var errTooLong = errors.New("tables: a row outgrows the bound")

// scanner cuts CSV into rows. A row without a quote is cut where it lies, with nothing
// copied; a quoted one by the rules of RFC 4180, line breaks inside quotes included.
// Cells are good until the next row.
type scanner struct {
	in         io.Reader
	separator  byte
	buf        []byte
	start, end int // of what is read and not yet cut
	ended      bool
	trouble    error

	row    int // as a spreadsheet numbers it
	cells  [][]byte
	broken int // 1 + the cell with a broken quote, or 0
}

func newScanner(in io.Reader) *scanner {
	return &scanner{in: in, separator: ',', buf: make([]byte, 256<<10)}
}

// fill reads more behind what is there; false at the end of the file.
func (s *scanner) fill() bool {
	if s.ended || s.trouble != nil {
		return false
	}
	if s.start > 0 {
		copy(s.buf, s.buf[s.start:s.end])
		s.end -= s.start
		s.start = 0
	}
	if s.end == len(s.buf) {
		if len(s.buf) >= maxRecord {
			s.trouble = errTooLong
			return false
		}
		grown := make([]byte, 2*len(s.buf))
		copy(grown, s.buf[:s.end])
		s.buf = grown
	}
	for range 100 { // a reader that gives nothing a hundred times has no more
		n, err := s.in.Read(s.buf[s.end:])
		s.end += n
		if err != nil {
			s.ended = true
			if err != io.EOF {
				s.trouble = err
			}
		}
		if n > 0 || err != nil {
			return n > 0
		}
	}
	s.trouble = io.ErrNoProgress
	return false
}

// next cuts the next row that is not blank; false at the end or at trouble.
func (s *scanner) next() bool {
	for {
		line, ok := s.line()
		if !ok {
			return false
		}
		s.row++
		s.cells, s.broken = s.cells[:0], 0
		if bytes.IndexByte(line, '"') < 0 {
			s.start += len(line)
			s.cut(trimBreak(line))
		} else {
			row, closed := s.whole(line)
			if s.trouble != nil {
				return false
			}
			s.start += len(row)
			s.cutQuoted(trimBreak(row), closed)
		}
		if !blank(s.cells) {
			return true
		}
	}
}

// line is the text up to and with the next line break, still unread.
func (s *scanner) line() ([]byte, bool) {
	seen := 0
	for {
		if at := bytes.IndexByte(s.buf[s.start+seen:s.end], '\n'); at >= 0 {
			return s.buf[s.start : s.start+seen+at+1], true
		}
		seen = s.end - s.start
		if !s.fill() {
			return s.buf[s.start:s.end], s.end > s.start && s.trouble == nil
		}
	}
}

func (s *scanner) cut(line []byte) {
	from := 0
	for i, sign := range line {
		if sign == s.separator {
			s.cells = append(s.cells, line[from:i])
			from = i + 1
		}
	}
	s.cells = append(s.cells, line[from:])
}

// whole extends a line that holds quotes to the row that it begins, which ends at the
// first line break outside quotes. A quote that finds no end within the bound of a cell
// breaks its own line only: what follows is read as if that line were whole.
func (s *scanner) whole(line []byte) (row []byte, closed bool) {
	first, opened := len(line), 0
	quoted, opens := false, true // opens: a quote here would open a quoted cell
	row = line
	for at := 0; ; at++ {
		if at == len(row) {
			row = s.buf[s.start:s.end]
			if at == len(row) && !s.fill() {
				break
			}
			row = s.buf[s.start:s.end]
		}
		switch sign := row[at]; {
		case sign == '"' && quoted:
			quoted, opens = false, true // a second quote means itself: it opens again
			continue
		case sign == '"' && opens:
			quoted, opened = true, at
		case sign == '\n' && !quoted:
			return row[:at+1], true
		}
		opens = row[at] == s.separator
		if quoted && at-opened > 2*maxCell { // twice: each sign may be a doubled quote
			break
		}
	}
	if quoted {
		return s.buf[s.start : s.start+first], false
	}
	return s.buf[s.start:s.end], true
}

// cutQuoted cuts a whole row and takes the quotes off its cells, in place.
func (s *scanner) cutQuoted(row []byte, closed bool) {
	for from := 0; ; {
		if closed && from < len(row) && row[from] == '"' {
			value, rest, clean := unquote(row[from:], s.separator)
			if !clean && s.broken == 0 {
				s.broken = len(s.cells) + 1
			}
			s.cells = append(s.cells, value)
			from = len(row) - rest
		} else {
			cell := row[from:]
			if to := bytes.IndexByte(cell, s.separator); to >= 0 {
				cell = cell[:to]
			}
			if s.broken == 0 && bytes.IndexByte(cell, '"') >= 0 {
				s.broken = len(s.cells) + 1
			}
			s.cells = append(s.cells, cell)
			from += len(cell)
		}
		if from >= len(row) {
			return
		}
		from++ // the separator; at the very end it opens an empty cell
	}
}

// unquote takes the quotes off the cell that opens text and says how much of text is
// left from the separator on. Signs between the closing quote and the separator are
// kept, and the cell is not clean.
func unquote(text []byte, separator byte) (value []byte, rest int, clean bool) {
	value, at := text[:0], 1
	for at < len(text) {
		to := bytes.IndexByte(text[at:], '"')
		if to < 0 {
			break
		}
		value = append(value, text[at:at+to]...)
		at += to + 1
		if at == len(text) || text[at] != '"' {
			break
		}
		value = append(value, '"')
		at++
	}
	stray := text[at:]
	if to := bytes.IndexByte(stray, separator); to >= 0 {
		stray = stray[:to]
	}
	return append(value, stray...), len(text) - at - len(stray), len(stray) == 0
}

func trimBreak(line []byte) []byte {
	if n := len(line); n > 0 && line[n-1] == '\n' {
		line = line[:n-1]
	}
	if n := len(line); n > 0 && line[n-1] == '\r' {
		line = line[:n-1]
	}
	return line
}

// blank tells a row of nothing but separators, as spreadsheets leave them behind.
func blank(cells [][]byte) bool {
	for _, cell := range cells {
		if len(trim(cell)) > 0 {
			return false
		}
	}
	return true
}

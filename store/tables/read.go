package tables

import (
	"errors"
	"strconv"

	"earstone/programme/finding"
	"earstone/programme/record"
)

// rows yields the rows of a table, blank ones left out, in the order of the file. Cells
// are good until the next row; broken is 1 + the cell with a broken quote, or 0.
type rows interface {
	next() bool
	at() (cells [][]byte, row, broken int)
	err() error
}

func (s *scanner) at() (cells [][]byte, row, broken int) { return s.cells, s.row, s.broken }
func (s *scanner) err() error                            { return s.trouble }

// read hands over each row as a record; the pointer is good until the next call. A row
// with an error is handed over when damaged is set, with its bad cells unknown. The
// error is one of each or of the surroundings: what is wrong in the table is found.
func (t table[T]) read(p *page, in rows, damaged bool, each func(*T) error) (extra []string, n int, err error) {
	if !in.next() {
		if in.err() == nil {
			p.found.Add(finding.NoHeader, finding.Place{File: p.file}, "")
		}
		return nil, 0, p.trouble(in.err())
	}
	cells, row, _ := in.at()
	p.row = row
	l, ok := t.header(p, cells)
	p.laid = l
	if !ok {
		return l.extra, 0, nil
	}
	var one T
	kept := make([]string, len(l.extra))
	for in.next() {
		n++
		p.wrong = false
		if t.take(p, in, l, &one, kept) && (damaged || !p.wrong) {
			if err := each(&one); err != nil {
				return l.extra, n, err
			}
		}
	}
	if n == 0 && in.err() == nil {
		p.found.Add(finding.EmptyTable, finding.Place{File: p.file}, "")
	}
	return l.extra, n, p.trouble(in.err())
}

// take fills the record from the row at hand; false when its cells can't be told apart.
func (t table[T]) take(p *page, in rows, l layout, to *T, kept []string) bool {
	var empty T
	*to = empty
	cells, row, broken := in.at()
	p.row, p.column = row, ""
	if broken > 0 {
		p.column = t.called(l, broken-1)
		p.add(finding.BrokenQuote, cells[broken-1])
		p.column = ""
	}
	if len(cells) > l.cells && !blank(cells[l.cells:]) {
		p.add(finding.RaggedRow, nil, strconv.Itoa(len(cells)), strconv.Itoa(l.cells))
		return false
	}
	whole := len(cells) >= l.cells || p.sheet // a sheet leaves trailing blanks out
	if !whole {
		p.add(finding.RaggedRow, nil, strconv.Itoa(len(cells)), strconv.Itoa(l.cells))
	}
	*t.row(to) = row
	for i, where := range l.to {
		p.column = t.called(l, i)
		var cell []byte
		if i < len(cells) {
			cell = p.clean(cells[i])
		}
		switch {
		case where >= 0:
			c := &t.columns[where]
			p.must = c.want == needed
			if len(cell) == 0 && c.want == needed && (i < len(cells) && len(trim(cells[i])) == 0 || i >= len(cells) && whole) {
				p.add(finding.Needed, nil)
			}
			c.in(p, cell, to)
			p.must = false
		case where != skipped:
			kept[-1-where] = p.text(cell)
		}
	}
	if len(kept) > 0 {
		*t.extra(to) = kept
	}
	if t.within != nil {
		t.within(p, to)
	}
	return true
}

// called is the name of the column of a cell.
func (t table[T]) called(l layout, cell int) string {
	if cell >= len(l.to) || l.to[cell] == skipped {
		return ""
	}
	if where := l.to[cell]; where < 0 {
		return l.extra[-1-where]
	}
	return t.columns[l.to[cell]].name
}

// into reads a whole table into the book.
func (t table[T]) into(book *record.Book, p *page, in rows) (n int, err error) {
	held := t.of(book)
	extra, n, err := t.read(p, in, true, func(one *T) error {
		*held = append(*held, *one)
		if kept := *t.extra(one); len(kept) > 0 {
			*t.extra(&(*held)[len(*held)-1]) = append(record.Extra(nil), kept...)
		}
		return nil
	})
	if len(extra) > 0 {
		book.ExtraColumns[t.name] = extra
	}
	return n, err
}

// trouble turns a table that outgrows its bounds into a finding; the rest is an error.
func (p *page) trouble(err error) error {
	var large tooLarge
	switch {
	case errors.Is(err, errTooLong):
		p.column = ""
		p.row++
		p.add(finding.TooLarge, nil, "row", strconv.Itoa(maxRecord))
		return nil
	case errors.As(err, &large):
		p.found.Add(finding.TooLarge, finding.Place{File: p.file}, "", large.what, strconv.FormatInt(large.most, 10))
		return nil
	}
	return err
}

// tooLarge is a file that outgrows its bound.
type tooLarge struct {
	what string
	most int64
}

func (t tooLarge) Error() string { return "tables: " + t.what + " too large" }

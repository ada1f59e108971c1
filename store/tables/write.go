package tables

import (
	"bufio"
	"bytes"
	"io"
	"strconv"

	"earstone/programme/record"
)

// Writer writes one CSV table: UTF-8, commas, a line feed after each row, quotes where
// RFC 4180 wants them. Cells go in from left to right, EndRow after each row. The first
// trouble stands in the error of Flush.
type Writer struct {
	to    *bufio.Writer
	cells int // in the row at hand
	buf   []byte
}

// NewWriter begins a table; Flush ends it.
func NewWriter(to io.Writer) *Writer { return &Writer{to: bufio.NewWriterSize(to, 64<<10)} }

// Text writes a text cell, guarded where a spreadsheet would take it for a formula.
func (w *Writer) Text(text string) {
	w.buf = append(w.buf[:0], text...)
	w.cell(guarded(w.buf))
}

// Number writes a number with the fewest digits that read back the same, or an empty
// cell when it is unknown.
func (w *Writer) Number(x record.Number) {
	w.buf = w.buf[:0]
	if x.Known {
		w.buf = appendNumber(w.buf, x.X)
	}
	w.cell(w.buf)
}

// Float writes a known number.
func (w *Writer) Float(x float64) { w.Number(record.Some(x)) }

// Int writes a whole number.
func (w *Writer) Int(n int) {
	w.buf = strconv.AppendInt(w.buf[:0], int64(n), 10)
	w.cell(w.buf)
}

// Empty writes an empty cell: unknown.
func (w *Writer) Empty() { w.cell(nil) }

// EndRow ends the row.
func (w *Writer) EndRow() {
	w.to.WriteByte('\n')
	w.cells = 0
}

// Row writes a row of texts.
func (w *Writer) Row(texts ...string) {
	for _, text := range texts {
		w.Text(text)
	}
	w.EndRow()
}

// Flush hands on what is buffered, and tells the first trouble that writing had.
func (w *Writer) Flush() error { return w.to.Flush() }

// cell writes one cell; a row must not look blank, so that an only empty cell and a
// cell with blanks at an end are quoted.
func (w *Writer) cell(text []byte) {
	if w.cells > 0 {
		w.to.WriteByte(',')
	}
	w.cells++
	if !bytes.ContainsAny(text, ",;\"\r\n") {
		w.to.Write(text)
		return
	}
	w.to.WriteByte('"')
	for {
		before, after, more := bytes.Cut(text, []byte{'"'})
		w.to.Write(before)
		if !more {
			break
		}
		w.to.WriteString(`""`)
		text = after
	}
	w.to.WriteByte('"')
}

// write writes the records that the book holds.
func (t table[T]) write(w *Writer, book *record.Book) error {
	extra := book.ExtraColumns[t.name]
	t.writeHeader(w, extra)
	held := *t.of(book)
	for i := range held {
		t.writeRow(w, &held[i], len(extra))
	}
	return w.Flush()
}

// vacant tells whether the book holds nothing of the table, not even a column's name.
func (t table[T]) vacant(book *record.Book) bool {
	return len(*t.of(book)) == 0 && len(book.ExtraColumns[t.name]) == 0
}

func (t table[T]) writeHeader(w *Writer, extra []string) {
	w.Row(append(t.names(), extra...)...)
}

// writeRow writes a record with as many extra cells as there are extra columns.
func (t table[T]) writeRow(w *Writer, one *T, extra int) {
	for i := range t.columns {
		w.buf = t.columns[i].out(w.buf[:0], one)
		if t.columns[i].kind == "string" {
			w.cell(guarded(w.buf))
		} else {
			w.cell(w.buf)
		}
	}
	kept := *t.extra(one)
	for i := range extra {
		if i < len(kept) {
			w.Text(kept[i])
		} else {
			w.Empty()
		}
	}
	w.EndRow()
}

package tables

import (
	"fmt"
	"slices"

	"earstone/programme/finding"
	"earstone/programme/record"
)

// Shaped is every record that a table holds.
type Shaped interface {
	record.Area | record.Contributor | record.Trip | record.LengthCount | record.Catch | record.Fish | record.Stone |
		record.Preparation | record.Image | record.Reading | record.Mark | record.KnownAge | record.Assay |
		record.ReferenceAssay | record.Baseline | record.Conversion
}

// shape is the table that holds records of a type.
func shape[T Shaped]() *table[T] {
	for _, t := range []any{&areas, &contributors, &trips, &lengths, &catch, &fish, &stones, &preparations, &images,
		&readings, &marks, &knownAges, &assays, &standards, &baseline, &conversions} {
		if found, is := t.(*table[T]); is {
			return found
		}
	}
	panic(fmt.Sprintf("tables: no table holds %T", *new(T)))
}

// Columns are the columns of a table in their order; nil when there is no such table.
func Columns(name string) []string {
	if name == lengths.name {
		return lengths.names()
	}
	for _, table := range held {
		if table.title() == name {
			return table.names()
		}
	}
	return nil
}

// Fields are the cells of a record by their columns, as its table would be written;
// unknown ones are left out. extra names the columns of its Extra.
func Fields[T Shaped](one *T, extra ...string) map[string]string {
	t := shape[T]()
	return t.cells(one, extra)
}

func (t table[T]) cells(one *T, extra []string) map[string]string {
	cells := make(map[string]string, len(t.columns))
	var buf []byte
	for i := range t.columns {
		if buf = t.columns[i].out(buf[:0], one); len(buf) > 0 {
			cells[t.columns[i].name] = string(buf)
		}
	}
	for i, text := range *t.extra(one) {
		if i < len(extra) && text != "" {
			cells[extra[i]] = text
		}
	}
	return cells
}

// Record reads the cells of a record by their columns, as if they stood in a row of its
// table, and finds what is wrong with each. Cells of other columns go to Extra in the
// order of extra.
func Record[T Shaped](cells map[string]string, extra ...string) (T, *finding.List) {
	t, found := shape[T](), &finding.List{}
	var one T
	p := newPage(t.name+".csv", found, map[string]string{})
	p.plain = true
	t.fill(p, cells, extra, &one)
	return one, found
}

// fill reads cells into a record that is empty.
func (t table[T]) fill(p *page, cells map[string]string, extra []string, to *T) {
	p.wrong = false
	for i := range t.columns {
		c := &t.columns[i]
		p.column = c.name
		cell := p.clean([]byte(cells[c.name]))
		if len(cell) == 0 && c.want == needed {
			p.add(finding.Needed, nil)
		}
		c.in(p, cell, to)
	}
	if len(extra) > 0 {
		kept := make(record.Extra, len(extra))
		for i, name := range extra {
			kept[i] = cells[name]
		}
		*t.extra(to) = kept
	}
	if t.within != nil {
		t.within(p, to)
	}
}

// Settings reads the text of a programme.json.
func Settings(text []byte) (record.Settings, *finding.List) {
	found := &finding.List{}
	return readSettings(newPage("programme.json", found, nil), text), found
}

// Filler puts records into a book from their cells, table after table.
type Filler struct {
	book  *record.Book
	texts map[string]string // one copy of each text
	Found finding.List
}

// NewFiller begins a book; its Settings and ExtraColumns are the caller's.
func NewFiller(book *record.Book) *Filler { return &Filler{book: book, texts: map[string]string{}} }

// Add reads a record of the named table and gives it the row behind the last one, as a
// table that holds all of them would number it.
func (f *Filler) Add(name string, cells map[string]string) {
	at := slices.IndexFunc(held, func(table holder) bool { return table.title() == name })
	if at < 0 {
		panic("tables: no table is called " + name)
	}
	p := newPage(name+".csv", &f.Found, f.texts)
	p.plain = true
	held[at].add(f.book, p, cells)
}

func (t table[T]) add(book *record.Book, p *page, cells map[string]string) {
	all := t.of(book)
	var one T
	p.row = len(*all) + 2
	t.fill(p, cells, book.ExtraColumns[t.name], &one)
	*t.row(&one) = p.row
	*all = append(*all, one)
}

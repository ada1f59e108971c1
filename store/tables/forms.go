package tables

import (
	"fmt"
	"io"

	"earstone/programme/record"
)

// Counts draws length counts one by one; what it yields is used at once.
type Counts func(yield func(*record.LengthCount) error) error

// WriteAs writes a whole programme in one of the forms csv, xlsx, parquet or dwc. What it
// writes is read back the same, to the last bit of each number.
func (f Folder) WriteAs(form string, book *record.Book, counts Counts) error {
	switch form {
	case "csv":
		return writeProgramme(f.Write, book, counts)
	case "xlsx":
		return f.Write("programme.xlsx", func(to io.Writer) error { return writeWorkbook(to, book, counts) })
	case "parquet":
		return f.writeParquet(book, counts)
	case "dwc":
		return f.writeDarwinCore(book, counts)
	}
	return fmt.Errorf("writing a programme: there is no form %q", form)
}

// sheetColumn is a column as the forms other than CSV need it.
type sheetColumn struct{ name, kind string }

// grid is a table that is written row by row as texts.
type grid struct {
	name    string
	columns []sheetColumn
	rows    func(each func(cells [][]byte) error) error
}

// outlines are all tables that hold something, lengths always.
func grids(book *record.Book, counts Counts) []grid {
	var all []grid
	for _, table := range held {
		if !table.vacant(book) {
			all = append(all, table.grid(book))
		}
	}
	return append(all, lengthsGrid(book, counts))
}

func lengthsGrid(book *record.Book, counts Counts) grid {
	extra := book.ExtraColumns[LengthsName]
	return grid{LengthsName, lengths.sheetColumns(extra), func(each func([][]byte) error) error {
		row := lengths.texts(extra, each)
		if counts == nil {
			return nil
		}
		return counts(row)
	}}
}

func (t table[T]) grid(book *record.Book) grid {
	extra := book.ExtraColumns[t.name]
	return grid{t.name, t.sheetColumns(extra), func(each func([][]byte) error) error {
		row, all := t.texts(extra, each), *t.of(book)
		for i := range all {
			if err := row(&all[i]); err != nil {
				return err
			}
		}
		return nil
	}}
}

func (t table[T]) sheetColumns(extra []string) []sheetColumn {
	var all []sheetColumn
	for _, c := range t.columns {
		all = append(all, sheetColumn{c.name, c.kind})
	}
	for _, name := range extra {
		all = append(all, sheetColumn{name, "string"})
	}
	return all
}

// texts turns a record into its cells for each, which are good until the next.
func (t table[T]) texts(extra []string, each func([][]byte) error) func(*T) error {
	cells := make([][]byte, len(t.columns)+len(extra))
	return func(one *T) error {
		for i := range t.columns {
			cells[i] = t.columns[i].out(cells[i][:0], one)
		}
		kept := *t.extra(one)
		for i := range extra {
			at := len(t.columns) + i
			cells[at] = cells[at][:0]
			if i < len(kept) {
				cells[at] = append(cells[at], kept[i]...)
			}
		}
		return each(cells)
	}
}

package tables

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"earstone/programme/finding"
	"earstone/programme/record"
)

// LengthsName is the table of length counts, which is streamed.
const LengthsName = "lengths"

// Row is one row of a table that has no error.
type Row struct {
	Number int               // the header is row 1
	Cells  map[string]string // as the table would be written
	Raw    map[string]string // what stood there, for each cell that reads otherwise
}

// Found tells which tables are there, in the order in which records refer to each other,
// lengths last.
func (t *Tables) Found() []string {
	var names []string
	for _, name := range Names() {
		if _, there := t.places[name]; there {
			names = append(names, name)
		}
	}
	return names
}

// Label is how findings name the place of a table.
func (t *Tables) Label(name string) string { return t.places[name].label() }

// Path is the file in which a table stands.
func (t *Tables) Path(name string) string { return t.places[name].path }

// Rows hands over each row of a table but lengths that has no error in itself, with the
// further columns that its header names. What is wrong is in Findings.
func (t *Tables) Rows(name string, each func(extra []string, row Row) error) (extra []string, err error) {
	where, there := t.places[name]
	at := slices.IndexFunc(held, func(table holder) bool { return table.title() == name })
	if !there || at < 0 {
		return nil, nil
	}
	err = t.reading(where, &t.found, map[string]string{}, maxTable, func(p *page, in rows) (int, error) {
		var n int
		var err error
		extra, n, err = held[at].rows(p, in, each)
		return n, err
	})
	if err != nil {
		return nil, fmt.Errorf("reading %s: %w", where.label(), err)
	}
	return extra, nil
}

func (t table[T]) rows(p *page, in rows, each func([]string, Row) error) (extra []string, n int, err error) {
	return t.read(p, in, false, func(one *T) error {
		kept := p.laid.extra
		row := Row{Number: p.row, Cells: t.cells(one, kept)}
		row.Raw = t.raw(p, in, row.Cells)
		return each(kept, row)
	})
}

// raw are the cells of the row at hand that stand there otherwise than they are written.
func (t table[T]) raw(p *page, in rows, cells map[string]string) (raw map[string]string) {
	row, _, _ := in.at()
	for i, cell := range row {
		if i >= len(p.laid.to) || p.laid.to[i] == skipped {
			continue
		}
		if name := t.called(p.laid, i); cells[name] != string(cell) && len(cell) > 0 {
			if raw == nil {
				raw = map[string]string{}
			}
			raw[name] = Legible(cell)
		}
	}
	return raw
}

// Legible is a raw cell as UTF-8.
func Legible(cell []byte) string {
	if !validText(cell) {
		decoded, _ := fromWindows1252(cell)
		return string(decoded)
	}
	return string(cell)
}

// RawLengths hands over each length count that has no error in itself, with its row as it
// stood there when that reads otherwise than it is written, else nil. Trips and species
// are not held against anything. The pointer and the raw cells are good until the next call.
func (t *Tables) RawLengths(each func(extra []string, count *record.LengthCount, raw [][]byte) error) error {
	t.foundLengths = finding.List{}
	where, there := t.places[lengths.name]
	if !there {
		return nil
	}
	var written []byte
	err := t.reading(where, &t.foundLengths, map[string]string{}, maxLengths, func(p *page, in rows) (int, error) {
		_, n, err := lengths.read(p, in, false, func(count *record.LengthCount) error {
			row, _, _ := in.at()
			if written = lengths.same(p, row, count, written); written == nil {
				return each(p.laid.extra, count, row)
			}
			return each(p.laid.extra, count, nil)
		})
		return n, err
	})
	if err != nil {
		return fmt.Errorf("reading %s: %w", where.label(), err)
	}
	return nil
}

// same tells whether a row stands there as it would be written: buf, or nil when not.
func (t table[T]) same(p *page, row [][]byte, one *T, buf []byte) []byte {
	if buf == nil {
		buf = make([]byte, 0, 64)
	}
	for i, cell := range row {
		if i >= len(p.laid.to) {
			return nil
		}
		where := p.laid.to[i]
		if where < 0 {
			if bytes.ContainsAny(cell, " \t") || !validText(cell) {
				return nil
			}
			continue
		}
		if buf = t.columns[where].out(buf[:0], one); !bytes.Equal(buf, cell) {
			return nil
		}
	}
	return buf
}

// LengthsText writes length counts as the text of a lengths.csv.
func LengthsText(extra []string, counts []record.LengthCount) (string, error) {
	var text bytes.Buffer
	err := writeLengths(NewWriter(&text), extra, func(yield func(*record.LengthCount) error) error {
		for i := range counts {
			if err := yield(&counts[i]); err != nil {
				return err
			}
		}
		return nil
	})
	return text.String(), err
}

// ReadLengthsText reads the text of a lengths.csv that LengthsText wrote. The pointer is
// good until the next call.
func ReadLengthsText(text string, each func(extra []string, count *record.LengthCount) error) (*finding.List, error) {
	found := &finding.List{}
	p := newPage(lengths.name+".csv", found, map[string]string{})
	in := &scanner{in: strings.NewReader(text), separator: ',', buf: make([]byte, min(len(text)+1, 256<<10))}
	_, _, err := lengths.read(p, in, false, func(count *record.LengthCount) error { return each(p.laid.extra, count) })
	return found, err
}

// SettingsText is the text of programme.json, or of the sheet that stands for it, and
// where it stands; nil when there is none.
func (t *Tables) SettingsText() (text []byte, label string, err error) {
	text, p, err := t.settingsText()
	if err != nil || text == nil {
		return nil, "", err
	}
	return text, p.file, nil
}

// ReadSettings reads the settings, which must be there, and what is wrong in them.
func (t *Tables) ReadSettings() (record.Settings, error) { return t.settings() }

// Package book lays the records of a programme into a history, from which they come back
// unchanged.
package book

import (
	"context"
	"encoding/json"
	"fmt"

	"earstone/programme/finding"
	"earstone/programme/record"
	"earstone/store/history"
	"earstone/store/tables"
)

// The fields of what has no table.
const (
	settingsField = "programme.json" // the text of the settings
	rowsField     = "rows"           // of lengths: the text of a lengths.csv with one trip in it
	columnsField  = "columns"        // of columns: a JSON list of names
)

// Programme is a programme as its history has it now. It is a record.Source whose records
// are those that the exported tables would hold, in the same rows; its methods are for
// one goroutine at a time.
type Programme struct {
	ctx      context.Context
	store    history.Store
	book     *record.Book
	found    finding.List
	subjects map[history.Kind][]history.ID
	counted  int // trips with length counts
}

var _ record.Source = (*Programme)(nil)

// Read reads everything but the length counts. ctx is that of the whole reading, the
// length counts included.
func Read(ctx context.Context, store history.Store) (*Programme, error) {
	p := &Programme{ctx: ctx, store: store, subjects: map[history.Kind][]history.ID{},
		book: &record.Book{ExtraColumns: map[string][]string{}}}
	if err := p.settings(); err != nil {
		return nil, err
	}
	if err := p.columns(); err != nil {
		return nil, err
	}
	fill := tables.NewFiller(p.book)
	for _, name := range tables.Names() {
		kind := history.Kind(name)
		if kind == history.Lengths {
			continue
		}
		err := store.Each(ctx, kind, func(r *history.Record) error {
			p.subjects[kind] = append(p.subjects[kind], r.Subject)
			p.conflict(r, len(p.subjects[kind])+1)
			fill.Add(name, r.Fields())
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	p.found.Join(&fill.Found)
	return p, nil
}

// conflict finds a record that two people have changed without knowledge of each other:
// an error, since no estimate may choose between them.
func (p *Programme) conflict(r *history.Record, row int) {
	if !r.Conflict() {
		return
	}
	a, b := &r.Heads[0], &r.Heads[1]
	for _, column := range append(tables.Columns(string(r.Kind)), settingsField, rowsField, columnsField) {
		if a.Fields[column] != b.Fields[column] {
			p.found.Keep(finding.Finding{Kind: finding.Contradiction, Severity: finding.Error,
				Place: finding.Place{File: string(r.Kind) + ".csv", Row: row, Column: column}, Value: shown(a.Fields[column]),
				Facts: []string{"what " + b.Who + " wrote", shown(b.Fields[column])}})
			return
		}
	}
}

// shown is a text as a finding tells it.
func shown(text string) string {
	if sign := []rune(text); len(sign) > 60 {
		return string(sign[:60]) + "..."
	}
	return text
}

func (p *Programme) settings() error {
	there := false
	err := p.store.Each(p.ctx, history.Settings, func(r *history.Record) error {
		p.conflict(r, 0)
		settings, found := tables.Settings([]byte(r.Fields()[settingsField]))
		p.book.Settings, there = settings, true
		p.found.Join(found)
		return nil
	})
	if !there {
		p.book.Settings = record.Defaults()
		p.found.Keep(finding.Finding{Kind: finding.MissingTable, Severity: finding.Error,
			Place: finding.Place{File: settingsField}, Facts: []string{"programme"}})
	}
	return err
}

func (p *Programme) columns() error {
	return p.store.Each(p.ctx, history.Columns, func(r *history.Record) error {
		var names []string
		if err := json.Unmarshal([]byte(r.Fields()[columnsField]), &names); err != nil {
			return fmt.Errorf("reading the further columns of %s: %w", r.Fields()["table"], history.ErrDamaged)
		}
		p.book.ExtraColumns[r.Fields()["table"]] = names
		return nil
	})
}

// Book is everything but the length counts.
func (p *Programme) Book() (*record.Book, error) { return p.book, nil }

// Lengths hands over each length count, trip by trip in the order in which the trips
// were first counted.
func (p *Programme) Lengths(each func(*record.LengthCount) error) error {
	extra, row, trips := p.book.ExtraColumns[tables.LengthsName], 1, 0
	return p.store.Each(p.ctx, history.Lengths, func(r *history.Record) error {
		trips++
		if trips > p.counted { // a second reading finds nothing twice
			p.counted = trips
			p.conflict(r, row+1)
		}
		_, err := tables.ReadLengthsText(r.Fields()[rowsField], func(names []string, count *record.LengthCount) error {
			row++
			count.Row = row
			count.Extra = aligned(count.Extra, names, extra)
			return each(count)
		})
		return err
	})
}

// aligned are cells of some further columns in the order of all of them.
func aligned(cells record.Extra, names, all []string) record.Extra {
	if len(all) == 0 {
		return nil
	}
	row := make(record.Extra, len(all))
	for i, name := range all {
		for j := range names {
			if names[j] == name && j < len(cells) {
				row[i] = cells[j]
			}
		}
	}
	return row
}

// Findings are what was found while reading: records that a person must settle.
func (p *Programme) Findings() *finding.List {
	all := &finding.List{}
	all.Join(&p.found)
	return all
}

// Located gives the findings as they are: the names of tables are those of an export.
func (p *Programme) Located(found *finding.List) *finding.List { return found }

// Missing finds which of the named tables hold nothing; needs says what needs them.
func (p *Programme) Missing(needs string, names ...string) *finding.List {
	found := &finding.List{}
	for _, name := range names {
		there := len(p.subjects[history.Kind(name)]) > 0
		if name == tables.LengthsName {
			err := p.store.Each(p.ctx, history.Lengths, func(*history.Record) error { return errThere })
			there = err == errThere
		}
		if !there {
			found.Add(finding.MissingTable, finding.Place{File: name + ".csv"}, "", needs)
		}
	}
	return found
}

var errThere = fmt.Errorf("book: there is one")

// Subject is the record in a row of a table, as findings name it; unknown where there is
// none.
func (p *Programme) Subject(kind history.Kind, row int) history.ID {
	if at := row - 2; at >= 0 && at < len(p.subjects[kind]) {
		return p.subjects[kind][at]
	}
	return history.ID{}
}

// Inputs names the state that was read: as many entries, chained to this hash.
func (p *Programme) Inputs() []tables.Input {
	var chain history.Hash
	n := 0
	_, err := p.store.Journal(p.ctx, 0, func(e *history.Entry) error {
		chain = chain.Link(e.Hash())
		n++
		return nil
	})
	if err != nil {
		return nil
	}
	return []tables.Input{{Name: "history", SHA256: chain.String(), Rows: n}}
}

// Close lets go of the store.
func (p *Programme) Close() error { return p.store.Close() }

// SettingsEntry is the entry by which a programme declares itself; was is the record of
// its settings until now, nil when it has none.
func SettingsEntry(s record.Settings, was *history.Record) (*history.Entry, error) {
	text, err := tables.SettingsJSON(s)
	if err != nil {
		return nil, err
	}
	e := &history.Entry{Kind: history.Settings, Fields: history.Fields{"programme": "programme", settingsField: string(text)}}
	if was != nil {
		e.Subject, e.Supersedes = was.Subject, headsOf(was)
	}
	return e, nil
}

func headsOf(r *history.Record) []history.ID {
	var all []history.ID
	for i := range r.Heads {
		all = append(all, r.Heads[i].ID)
	}
	return all
}

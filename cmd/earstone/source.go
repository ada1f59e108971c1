package main

import (
	"context"
	"errors"
	"fmt"

	"earstone/estimate/run"
	"earstone/programme/date"
	"earstone/programme/finding"
	"earstone/programme/record"
	"earstone/programme/rules"
	"earstone/store/book"
	"earstone/store/sqlite"
	"earstone/store/tables"
)

// records is a programme at rest, whatever it is kept in: plain tables or a history.
type records interface {
	record.Source
	Findings() *finding.List                             // until now
	Located(found *finding.List) *finding.List           // with the names of the files that hold the records
	Missing(needs string, names ...string) *finding.List // of tables
	Inputs() []tables.Input                              // what was read, by hash
	Close() error
}

// programme is SRC, opened, with all but its length counts read and checked.
type programme struct {
	tables records
	book   *record.Book
	rules  *finding.List // what the records say against each other and against the settings
	counts *finding.List // what the length counts say against them, once they were read
}

// openProgramme opens SRC. today is the day after which a date lies in the future.
func openProgramme(src string, today date.Day) (*programme, error) {
	t, err := openRecords(context.Background(), src)
	if err != nil {
		return nil, err
	}
	book, err := t.Book()
	if err != nil {
		return nil, errors.Join(err, t.Close())
	}
	return &programme{tables: t, book: book, rules: t.Located(rules.Check(book, today)), counts: &finding.List{}}, nil
}

// openRecords opens the folder of a programme that earstone new made, a folder of tables,
// or a workbook.
func openRecords(ctx context.Context, src string) (records, error) {
	if !sqlite.Is(src) {
		return tables.Open(src)
	}
	store, err := sqlite.Read(ctx, src)
	if err != nil {
		return nil, err
	}
	p, err := book.Read(ctx, store)
	if err != nil {
		return nil, errors.Join(fmt.Errorf("reading the programme %s: %w", src, err), store.Close())
	}
	return p, nil
}

func (p *programme) close() { _ = p.tables.Close() } // it was read only

// readLengths goes through the length counts for the sake of what is wrong in them.
func (p *programme) readLengths(ctx context.Context) error {
	return p.eachLength(func(*record.LengthCount) error { return ctx.Err() })
}

// eachLength hands over the length counts, each held against the rules on the way.
func (p *programme) eachLength(each func(*record.LengthCount) error) error {
	lengths := rules.NewLengths(p.book)
	err := p.tables.Lengths(func(row *record.LengthCount) error {
		lengths.Ask(row)
		return each(row)
	})
	p.counts = p.tables.Located(lengths.Found())
	return err
}

// look goes through the programme as an estimate would, to its counts, and tells what is
// found on the way; where there are errors already it reads the length counts alone.
func (p *programme) look(ctx context.Context) (*finding.List, error) {
	if p.findings().Of(finding.Error) > 0 {
		err := p.readLengths(ctx)
		return p.findings(), err
	}
	found, err := run.Look(ctx, sound{p, ctx}, converter(p.book))
	if err != nil && !errors.Is(err, errRefused) {
		return nil, err
	}
	all := p.findings()
	if err == nil {
		all.Join(p.told(found))
	}
	return all, nil
}

// told are the findings of a run under the names of the files that hold the records. That
// a species has no calendar is told once by the rules, not of each of its fish.
func (p *programme) told(found *finding.List) *finding.List {
	return p.tables.Located(found).Without(func(f finding.Finding) bool { return f.Kind == finding.NoCalendar && f.Place.Row > 0 })
}

// findings are all findings until now.
func (p *programme) findings() *finding.List {
	all := &finding.List{}
	all.Join(p.tables.Findings())
	all.Join(p.rules)
	all.Join(p.counts)
	return all
}

// errRefused ends a run whose length counts hold errors.
var errRefused = errors.New("the length counts hold errors")

// sound is the programme as a source that yields no length counts with errors: a run reads
// them once, and ends there when it must not go on.
type sound struct {
	*programme
	ctx context.Context
}

func (s sound) Book() (*record.Book, error) { return s.book, nil }

func (s sound) Lengths(each func(*record.LengthCount) error) error {
	err := s.eachLength(func(row *record.LengthCount) error {
		if err := s.ctx.Err(); err != nil {
			return err
		}
		return each(row)
	})
	if err == nil && s.findings().Of(finding.Error) > 0 {
		return errRefused
	}
	return err
}

package book

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"time"

	"earstone/programme/date"
	"earstone/programme/finding"
	"earstone/store/history"
	"earstone/store/tables"
)

// Job is who takes files into a programme, and when.
type Job struct {
	Who      string
	When     time.Time
	Progress func(stage string, done, of int) // may be nil
}

// Plan is what taking files in would do. Nothing is kept before its Entries are appended,
// all at once.
type Plan struct {
	Entries []*history.Entry
	Changes []Change      // one a table of a file, in the order of reading
	Found   *finding.List // every problem beside its cell; with an error nothing may be kept
}

// Change is what one table of a file brings.
type Change struct {
	File                 string // as findings name it
	New, Corrected, Same int    // rows
	Known                bool   // the very file was taken in before: nothing of it is new
}

// key are the columns by which a row of a file is taken for a record that is there. A
// table of measurements without names has none: there only an equal row is the same.
var key = map[history.Kind][]string{
	history.Areas: {"area"}, history.Contributors: {"contributor"}, history.Trips: {"trip"},
	history.Catch: {"year", "quarter", "month", "area", "gear", "species"},
	history.Fish:  {"fish"}, history.Stones: {"fish", "side"}, history.Preparations: {"preparation"},
	history.Images: {"image"}, history.Readings: {"reading"}, history.Marks: {"reading", "order"},
	history.KnownAges: {"fish"}, history.Baseline: {"fish"},
	history.Conversions: {"species", "quantity", "from", "to", "form", "source"},
}

// planner makes a plan.
type planner struct {
	ctx   context.Context
	store history.Store
	job   Job
	plan  *Plan
	files []*taken
	kept  map[history.Kind]*shelf // what is there

	settings *history.Record
	columns  map[string]*history.Record
	imports  map[string]bool // by SHA-256
}

// taken is one table of one file.
type taken struct {
	name   string // of the table
	label  string
	input  tables.Input
	extra  []string
	rows   []tables.Row
	counts *counts // of lengths
	known  bool
	entry  *history.Entry // of the file
}

// shelf is every record of a kind, with the rows that join it.
type shelf struct {
	records []history.Record
	by      map[string][]int // by key, those that no row has been matched with
	fresh   []fresh
}

// fresh is a row that is new, or that takes the place of a record.
type fresh struct {
	from *taken
	row  tables.Row
	at   int // of the record, -1: new
}

// Make reads files and finds what taking them in would do, and every problem of the
// programme as it would be then. today is the day after which a date lies in the future.
func Make(ctx context.Context, store history.Store, files []*tables.Tables, job Job, today date.Day) (*Plan, error) {
	p := &planner{ctx: ctx, store: store, job: job, plan: &Plan{Found: &finding.List{}},
		kept: map[history.Kind]*shelf{}, columns: map[string]*history.Record{}, imports: map[string]bool{}}
	for _, step := range []func() error{
		p.there,
		func() error { return p.read(files) },
		p.match,
		func() error { return p.check(files, today) },
		p.entries,
	} {
		if err := step(); err != nil {
			return nil, err
		}
	}
	return p.plan, nil
}

func (p *planner) tell(stage string, done, of int) {
	if p.job.Progress != nil {
		p.job.Progress(stage, done, of)
	}
}

// there reads what is there.
func (p *planner) there() error {
	p.tell("reading the programme", 0, 0)
	copied := func(r *history.Record) history.Record {
		one := *r
		one.Heads = slices.Clone(r.Heads)
		return one
	}
	for _, name := range tables.Names() {
		kind := history.Kind(name)
		s := &shelf{by: map[string][]int{}}
		err := p.store.Each(p.ctx, kind, func(r *history.Record) error {
			k := keyOf(kind, r.Fields())
			s.by[k] = append(s.by[k], len(s.records))
			s.records = append(s.records, copied(r))
			return nil
		})
		if err != nil {
			return err
		}
		p.kept[kind] = s
	}
	err := p.store.Each(p.ctx, history.Settings, func(r *history.Record) error {
		one := copied(r)
		p.settings = &one
		return nil
	})
	if err != nil {
		return err
	}
	err = p.store.Each(p.ctx, history.Columns, func(r *history.Record) error {
		one := copied(r)
		p.columns[one.Fields()["table"]] = &one
		return nil
	})
	if err != nil {
		return err
	}
	return p.store.Each(p.ctx, history.Imports, func(r *history.Record) error {
		p.imports[r.Fields()["sha256"]] = true
		return nil
	})
}

// keyOf is the text by which a row is taken for a record.
func keyOf(kind history.Kind, cells map[string]string) string {
	columns, named := key[kind]
	if kind == history.Lengths {
		columns, named = []string{"trip"}, true
	}
	if !named {
		columns = slices.Sorted(maps.Keys(cells))
	}
	text := make([]byte, 0, 64)
	for _, column := range columns {
		if !named {
			text = append(append(text, column...), 0x1e)
		}
		text = append(append(text, cells[column]...), 0x1f)
	}
	return string(text)
}

// read reads the files whole.
func (p *planner) read(files []*tables.Tables) error {
	for _, file := range files {
		var of []*taken
		for _, name := range file.Found() {
			t := &taken{name: name, label: file.Label(name)}
			if err := p.readTable(file, t); err != nil {
				return err
			}
			of = append(of, t)
		}
		inputs := map[string]tables.Input{}
		for _, in := range file.Inputs() {
			inputs[in.Name] = in
		}
		for _, t := range of {
			t.input = inputs[file.Path(t.name)]
			t.known = p.imports[t.input.SHA256]
		}
		p.files = append(p.files, of...)
	}
	// The order in which records refer to each other, whatever that of the files.
	place := tables.Names()
	slices.SortStableFunc(p.files, func(a, b *taken) int { return slices.Index(place, a.name) - slices.Index(place, b.name) })
	return nil
}

func (p *planner) readTable(file *tables.Tables, t *taken) (err error) {
	stage, n := "reading "+t.label, 0
	if t.name == tables.LengthsName {
		t.counts = newCounts()
		return file.RawLengths(t.counts.adder(func() error {
			if n++; n%10000 == 0 {
				p.tell(stage, n, 0)
			}
			return p.ctx.Err()
		}))
	}
	p.tell(stage, 0, 0)
	t.extra, err = file.Rows(t.name, func(_ []string, row tables.Row) error {
		t.rows = append(t.rows, row)
		return p.ctx.Err()
	})
	return err
}

// match finds for each row the record that it is, if that is there.
func (p *planner) match() error {
	for _, t := range p.files {
		change := Change{File: t.label, Known: t.known}
		switch {
		case t.known:
			change.Same = t.input.Rows
		case t.counts != nil:
			if err := p.matchCounts(t, &change); err != nil {
				return err
			}
		default:
			for _, row := range t.rows {
				if err := p.matchRow(t, row, &change); err != nil {
					return err
				}
			}
		}
		p.plan.Changes = append(p.plan.Changes, change)
	}
	return nil
}

func (p *planner) matchRow(t *taken, row tables.Row, change *Change) error {
	kind := history.Kind(t.name)
	s := p.kept[kind]
	k := keyOf(kind, row.Cells)
	at := -1
	if there := s.by[k]; len(there) > 0 {
		at = pick(s, there, row.Cells)
		s.by[k] = slices.DeleteFunc(slices.Clone(there), func(i int) bool { return i == at })
		was, err := p.said(&s.records[at], row.Cells)
		if err != nil {
			return err
		}
		if was {
			change.Same++
			return nil
		}
		change.Corrected++
	} else {
		change.New++
	}
	s.fresh = append(s.fresh, fresh{t, row, at})
	return nil
}

// pick is, of several records with the key of a row, the one that says the same, else
// the first.
func pick(s *shelf, among []int, cells map[string]string) int {
	for _, i := range among {
		if maps.Equal(s.records[i].Fields(), history.Fields(cells)) {
			return i
		}
	}
	return among[0]
}

// said tells whether a record says what the cells say, or said so before it was
// corrected: a file does not undo what a person put right after it.
func (p *planner) said(r *history.Record, cells map[string]string) (bool, error) {
	for i := range r.Heads {
		if maps.Equal(r.Heads[i].Fields, history.Fields(cells)) {
			return true, nil
		}
	}
	if len(r.Heads) == 1 && len(r.Heads[0].Supersedes) == 0 {
		return false, nil
	}
	all, err := p.store.History(p.ctx, r.Subject)
	if err != nil {
		return false, err
	}
	return slices.ContainsFunc(all, func(e history.Entry) bool { return maps.Equal(e.Fields, history.Fields(cells)) }), nil
}

// entries makes the entries, those of files first.
func (p *planner) entries() error {
	p.fileEntries()
	if err := p.columnEntries(); err != nil {
		return err
	}
	for _, name := range tables.Names() {
		kind := history.Kind(name)
		for _, f := range p.kept[kind].fresh {
			e := p.entry(kind, f.from)
			e.Fields, e.Raw, e.Row = f.row.Cells, f.row.Raw, f.row.Number
			if f.at >= 0 {
				p.supersede(e, &p.kept[kind].records[f.at], f.from.label)
			}
			p.plan.Entries = append(p.plan.Entries, e)
		}
	}
	return nil
}

func (p *planner) entry(kind history.Kind, from *taken) *history.Entry {
	e := &history.Entry{Kind: kind, Who: p.job.Who, When: p.job.When}
	if from != nil && from.entry != nil {
		e.Import = from.entry.ID
	}
	return e
}

func (p *planner) supersede(e *history.Entry, was *history.Record, label string) {
	e.Subject, e.Supersedes, e.Why = was.Subject, headsOf(was), "taken from "+label
}

// fileEntries notes each file that brings something.
func (p *planner) fileEntries() {
	made := map[string]*history.Entry{}
	brings := map[*taken]bool{}
	for _, s := range p.kept {
		for _, f := range s.fresh {
			brings[f.from] = true
		}
	}
	for _, t := range p.files {
		if !brings[t] {
			continue
		}
		if t.entry = made[t.input.SHA256]; t.entry == nil {
			t.entry = p.entry(history.Imports, nil)
			t.entry.ID = history.NewID()
			t.entry.Fields = history.Fields{"file": t.input.Name, "sha256": t.input.SHA256,
				"rows": fmt.Sprint(t.input.Rows), "bytes": fmt.Sprint(t.input.Bytes)}
			made[t.input.SHA256] = t.entry
			p.plan.Entries = append(p.plan.Entries, t.entry)
		}
	}
}

// columnEntries notes further columns that are new.
func (p *planner) columnEntries() error {
	for _, name := range tables.Names() {
		all := p.extra(name)
		text, err := json.Marshal(all)
		if err != nil {
			return fmt.Errorf("noting the further columns of %s: %w", name, err)
		}
		was := p.columns[name]
		if len(all) == 0 || was != nil && was.Fields()[columnsField] == string(text) {
			continue
		}
		e := p.entry(history.Columns, nil)
		e.Fields = history.Fields{"table": name, columnsField: string(text)}
		if was != nil {
			p.supersede(e, was, "a file with further columns")
		}
		p.plan.Entries = append(p.plan.Entries, e)
	}
	return nil
}

// extra are the further columns of a table: those that are there, then those of files.
func (p *planner) extra(name string) []string {
	var all []string
	if was := p.columns[name]; was != nil {
		_ = json.Unmarshal([]byte(was.Fields()[columnsField]), &all) // read back what Marshal wrote
	}
	for _, t := range p.files {
		if t.name != name || t.known {
			continue
		}
		for _, column := range t.extra {
			if !slices.Contains(all, column) {
				all = append(all, column)
			}
		}
	}
	return all
}

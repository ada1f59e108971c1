package fish

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"earstone/pages/words"
	"earstone/programme/measure"
	"earstone/programme/record"
	"earstone/programme/species"
	"earstone/store/history"
	"earstone/store/tables"
)

// view is the page of one fish.
type view struct {
	Subject, Label string
	MayCorrect     bool
	Corrected      bool
	Conflict       bool
	Facts          []fact
	Tables         []sheet
	Photographs    []photograph
	Trail          []event
}

// photograph came with the card from a phone.
type photograph struct{ Path, Of string }

// fact is one thing known of a fish: as it is read, what was written when that reads
// otherwise, and what it is worth in the programme's own measure.
type fact struct{ Name, Value, Written, Derived string }

// sheet is a table of the records of one kind.
type sheet struct {
	Name    string
	Columns []string
	Rows    [][]string
}

// event is one entry of the history.
type event struct {
	When, Who, What string
	Changes         []change
	Why             string
	Now, Imported   bool
	at              time.Time
	id              history.ID
}

// change is what an entry says of one column, and what was said before.
type change struct{ Name, Was, Is, Written string }

func (p *Page) view(ctx context.Context, of history.Record) (view, error) {
	fields := of.Fields()
	v := view{Subject: of.Subject.String(), Label: fields["fish"], Conflict: of.Conflict()}
	around, err := p.around(ctx, v.Label)
	if err != nil {
		return view{}, err
	}
	derived, err := p.derived(ctx, fields)
	if err != nil {
		return view{}, err
	}
	v.Facts = facts(of.Heads[0], derived)
	kinds := append(slices.Clone(belongs), history.Images)
	for _, kind := range kinds {
		if kind != history.Custody && kind != history.Photographs && len(around[kind]) > 0 {
			v.Tables = append(v.Tables, sheetOf(kind, around[kind]))
		}
	}
	for _, one := range around[history.Photographs] {
		v.Photographs = append(v.Photographs, photograph{"/photographs/" + one.Subject.String(), shownBy(one.Fields()["of"])})
	}
	subjects := []history.Record{of}
	for _, kind := range kinds {
		subjects = append(subjects, around[kind]...)
	}
	for _, one := range subjects {
		entries, err := p.store.History(ctx, one.Subject)
		if err != nil {
			return view{}, fmt.Errorf("reading the history of fish %s: %w", v.Label, err)
		}
		v.Trail = append(v.Trail, p.events(one, entries)...)
	}
	slices.SortStableFunc(v.Trail, func(a, b event) int { return cmp.Or(b.at.Compare(a.at), b.id.Compare(a.id)) })
	return v, nil
}

// shownBy is what a photograph is of.
func shownBy(of string) string {
	return map[string]string{"card": "The card", "tape": "The fish and the tape"}[of]
}

func (p *Page) told(at time.Time) string {
	return at.In(p.now().Location()).Format("2 January 2006, 15:04")
}

// derived is the length as the programme counts it, with the equation that made it so.
func (p *Page) derived(ctx context.Context, fields history.Fields) (string, error) {
	lists, err := p.desk.Lists(ctx)
	if err != nil {
		return "", err
	}
	fish, _ := tables.Record[record.Fish](fields)
	bin := lists.Settings.LengthBin
	if !fish.Length.Value.Known || fish.Length.Kind == bin.Kind && fish.Length.Unit == bin.Unit {
		return "", nil
	}
	var own []record.Conversion
	err = p.store.Each(ctx, history.Conversions, func(r *history.Record) error {
		one, _ := tables.Record[record.Conversion](r.Fields())
		own = append(own, one)
		return nil
	})
	if err != nil {
		return "", fmt.Errorf("reading the equations of the programme: %w", err)
	}
	got, err := measure.NewConverter(own, species.Conversions(lists.Settings.Species)).Length(fish.Species, fish.Length, bin.Kind, bin.Unit)
	var trouble measure.Trouble
	switch {
	case errors.As(err, &trouble) && trouble.Reason == measure.TwoEquations:
		return "as " + spaced(bin.Kind.String()) + ": two publications differ, and the programme has not chosen between them", nil
	case errors.As(err, &trouble):
		return "as " + spaced(bin.Kind.String()) + ": no equation leads there", nil
	case err != nil:
		return "", err
	}
	text := words.Figure(got.Value, 1) + " " + bin.Unit + " " + spaced(bin.Kind.String())
	for _, step := range got.Steps {
		text += ", by " + step.Source
	}
	if got.Extrapolated {
		text += ", beyond the lengths that it was made for"
	}
	return text, nil
}

// factColumns are the columns that stand among the facts, with the column of their unit.
var factColumns = []struct {
	column string
	beside []string
}{
	{"species", nil}, {"length", []string{"length_unit", "length_kind"}}, {"weight", []string{"weight_unit", "weight_form"}}, {"sex", nil},
	{"caught_on", nil}, {"area", nil}, {"gear", nil}, {"trip", nil}, {"contributor", nil}, {"received_on", nil}, {"remark", nil},
}

func facts(head history.Entry, derived string) (all []fact) {
	for _, c := range factColumns {
		text := head.Fields[c.column]
		if text == "" {
			continue
		}
		for _, unit := range c.beside {
			text += " " + spaced(head.Fields[unit])
		}
		f := fact{Name: columnName(c.column), Value: strings.TrimSpace(text), Written: head.Raw[c.column]}
		if c.column == "length" {
			f.Derived = derived
		}
		all = append(all, f)
	}
	return all
}

// sheetNames head the tables.
var sheetNames = map[history.Kind]string{
	history.Stones: "Stones", history.Preparations: "Sections and mounts", history.Images: "Pictures", history.Readings: "Readings",
	history.Assays: "Assays", history.KnownAges: "Known age", history.Baseline: "Known nursery", history.Custody: "The way of the stones",
}

// sheetOf lays out records of one kind under the columns that any of them fills.
func sheetOf(kind history.Kind, records []history.Record) sheet {
	s := sheet{Name: sheetNames[kind]}
	var columns []string
	for _, column := range tables.Columns(string(kind)) {
		filled := func(r history.Record) bool { return r.Fields()[column] != "" }
		if column != "fish" && slices.ContainsFunc(records, filled) {
			columns = append(columns, column)
			s.Columns = append(s.Columns, columnName(column))
		}
	}
	for _, r := range records {
		var row []string
		for _, column := range columns {
			row = append(row, cell(column, r.Fields()[column]))
		}
		s.Rows = append(s.Rows, row)
	}
	return s
}

// cell is a value as a table shows it.
func cell(column, text string) string {
	switch {
	case text == "":
		return "–"
	case column == "side":
		return sideName(text)
	}
	return spaced(text)
}

func sideName(side string) string {
	if name, ok := map[string]string{"L": "left", "R": "right", "unknown": "side unknown"}[side]; ok {
		return name
	}
	return side
}

// deeds say what an entry of a kind that is new does.
var deeds = map[history.Kind]string{
	history.Fish: "Card taken in", history.Stones: "Stone", history.Preparations: "Preparation", history.Images: "Picture",
	history.Readings: "Reading", history.Assays: "Assay", history.KnownAges: "Known age", history.Baseline: "Known nursery", history.Photographs: "Photograph from a phone",
}

// events tell the entries of a record, each against the one that it supersedes.
func (p *Page) events(of history.Record, entries []history.Entry) (all []event) {
	byID := map[history.ID]history.Entry{}
	for _, e := range entries {
		byID[e.ID] = e
		ev := event{When: p.told(e.When), Who: e.Who, Why: e.Why, at: e.When, id: e.ID, Imported: e.Import.Known(),
			Now: slices.ContainsFunc(of.Heads, func(h history.Entry) bool { return h.ID == e.ID })}
		var before history.Fields
		for _, id := range e.Supersedes {
			before = byID[id].Fields
		}
		ev.What = what(e, len(e.Supersedes) > 0)
		ev.Changes = changes(e, before)
		all = append(all, ev)
	}
	return all
}

func what(e history.Entry, corrects bool) string {
	side := ""
	if s := e.Fields["side"]; s != "" {
		side = ", " + sideName(s)
	}
	switch {
	case e.Kind == history.Removals || e.Removed:
		return "Removed for privacy"
	case e.Kind == history.Custody:
		return strings.ToUpper(e.Fields["step"][:min(1, len(e.Fields["step"]))]) + spaced(e.Fields["step"][min(1, len(e.Fields["step"])):]) + side
	case corrects && e.Kind == history.Fish:
		return "Card corrected"
	case corrects:
		return deeds[e.Kind] + side + ", changed"
	}
	return deeds[e.Kind] + side
}

func changes(e history.Entry, before history.Fields) (all []change) {
	names := slices.Collect(maps.Keys(e.Fields))
	for name := range before {
		if _, there := e.Fields[name]; !there {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	for _, name := range names {
		if name == "fish" && e.Kind != history.Fish || name == "side" || name == "step" || name == "sha256" && e.Kind == history.Photographs || before != nil && before[name] == e.Fields[name] {
			continue
		}
		all = append(all, change{columnName(name), spaced(before[name]), spaced(e.Fields[name]), e.Raw[name]})
	}
	return all
}

// spaced is a word of a closed list as people read it; other text is left as it is.
func spaced(word string) string {
	if strings.Trim(word, "abcdefghijklmnopqrstuvwxyz_") == "" {
		return strings.ReplaceAll(word, "_", " ")
	}
	return word
}

// columnNames say columns in the words of the card.
var columnNames = map[string]string{
	"fish": "label", "contributor": "sent by", "mass_mg": "mass, mg", "thickness_um": "thickness, µm", "um_per_pixel": "µm a pixel",
	"place": "lies in", "purpose": "kept for", "sd": "SD",
}

func columnName(column string) string {
	if name, ok := columnNames[column]; ok {
		return name
	}
	return spaced(column)
}

package fish

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"earstone/pages/web/form"
	"earstone/pages/web/frame"
	"earstone/store/accounts"
	"earstone/store/history"
)

// Corrects are the roles that may correct a card.
const Corrects = accounts.Coordinator | accounts.Bench

// correction is the form of a correction.
type correction struct {
	Subject, Label string
	Heads          []string // what the person saw when they began
	Fields         []frame.Field
	Why            frame.Field
	Seen           string
	Refused        bool
	Conflict       []version
	Rest           []frame.Problem
}

// version is one of several things that are said of a fish.
type version struct {
	Who, When, Says string
}

// Ask shows the card of a fish to be corrected.
func (p *Page) Ask(r *frame.Request) (frame.Answer, error) {
	record, err := p.find(r)
	if err != nil {
		return frame.Answer{}, err
	}
	v, err := p.correction(r, record, form.Cells(record.Fields()), form.Typed{})
	if err != nil {
		return frame.Answer{}, err
	}
	for _, h := range record.Heads {
		v.Heads = append(v.Heads, h.ID.String())
	}
	return correctPage.Show("Correct "+v.Label, v), nil
}

func (p *Page) correction(r *frame.Request, record history.Record, cells form.Cells, typed form.Typed) (correction, error) {
	lists, err := p.desk.Lists(r.Context())
	if err != nil {
		return correction{}, err
	}
	v := correction{Subject: record.Subject.String(), Label: record.Fields()["fish"], Rest: frame.Problems(typed.Found, ""),
		Why: frame.Field{Name: "why", Label: "Why", Value: r.Typed("why"), Needed: true, Span: "whole", Hint: "What was wrong, and how it is known: it stands beside the correction for good."}}
	fields := form.CardFields(cells, typed, lists)
	for _, column := range form.CardColumns {
		v.Fields = append(v.Fields, fields[column])
	}
	if record.Conflict() {
		for _, h := range record.Heads {
			v.Conflict = append(v.Conflict, version{h.Who, p.told(h.When), said(h.Fields)})
		}
	}
	return v, nil
}

// said is all that an entry says, as one line.
func said(fields history.Fields) string {
	var parts []string
	for _, name := range slices.Sorted(maps.Keys(fields)) {
		parts = append(parts, columnName(name)+" "+fields[name])
	}
	return strings.Join(parts, ", ")
}

// Correct keeps a correction, which supersedes what the person saw.
func (p *Page) Correct(r *frame.Request) (frame.Answer, error) {
	record, err := p.find(r)
	if err != nil {
		return frame.Answer{}, err
	}
	cells := form.ReadCard(r)
	typed, err := p.desk.Fish(r.Context(), cells)
	if err != nil {
		return frame.Answer{}, err
	}
	label, why := typed.Fields["fish"], strings.TrimSpace(r.Typed("why"))
	taken, err := p.desk.Taken(r.Context(), label)
	if err != nil {
		return frame.Answer{}, err
	}
	other, is := taken[label]
	clash := is && other != record.Subject
	if why == "" || clash || typed.Grave() || typed.Doubtful() && r.Typed("seen") != typed.Seal() {
		return p.again(r, record, cells, typed, why == "", clash)
	}
	p.desk.Labels.Lock()
	defer p.desk.Labels.Unlock()
	entries, err := p.corrected(r, record, typed, why)
	if err != nil {
		return frame.Answer{}, err
	}
	err = p.store.Append(r.Context(), entries...)
	if errors.Is(err, history.ErrTaken) {
		return p.again(r, record, cells, typed, false, true)
	}
	if err != nil {
		return frame.Answer{}, fmt.Errorf("correcting fish %s: %w", label, err)
	}
	return frame.Next("/fish/" + record.Subject.String() + "?corrected=yes"), nil
}

// corrected are the entries of a correction: the card, and when its label changes, all
// records that name it.
func (p *Page) corrected(r *frame.Request, record history.Record, typed form.Typed, why string) ([]*history.Entry, error) {
	saw, err := heads(r.Form["head"])
	if err != nil {
		return nil, err
	}
	supersede := func(of history.Record, saw []history.ID, fields history.Fields) *history.Entry {
		return &history.Entry{Kind: of.Kind, Subject: of.Subject, Supersedes: saw, Fields: fields, Why: why, Who: r.By(), When: p.now()}
	}
	card := supersede(record, saw, maps.Clone(typed.Fields))
	for name, text := range record.Fields() { // further columns stay
		if !slices.Contains(form.CardColumns, name) {
			card.Fields[name] = text
		}
	}
	card.Raw = typed.Raw
	entries := []*history.Entry{card}
	for _, n := range typed.New {
		entries = append(entries, &history.Entry{Kind: n.Kind, Fields: n.Fields, Who: r.By(), When: p.now()})
	}
	before, after := record.Fields()["fish"], typed.Fields["fish"]
	if before == after {
		return entries, nil
	}
	around, err := p.around(r.Context(), before)
	if err != nil {
		return nil, err
	}
	for _, kind := range belongs {
		for _, of := range around[kind] {
			fields := maps.Clone(of.Fields())
			fields["fish"] = after
			entries = append(entries, supersede(of, ids(of), fields))
		}
	}
	return entries, nil
}

func ids(of history.Record) (all []history.ID) {
	for _, h := range of.Heads {
		all = append(all, h.ID)
	}
	return all
}

// heads are the entries that the form says were seen; the store holds them against those
// that hold now.
func heads(texts []string) (all []history.ID, err error) {
	for _, text := range texts {
		id, err := history.ParseID(text)
		if err != nil || !id.Known() {
			return nil, history.ErrStale
		}
		all = append(all, id)
	}
	if len(all) == 0 {
		return nil, history.ErrStale
	}
	return all, nil
}

func (p *Page) again(r *frame.Request, record history.Record, cells form.Cells, typed form.Typed, noReason, clash bool) (frame.Answer, error) {
	v, err := p.correction(r, record, cells, typed)
	if err != nil {
		return frame.Answer{}, err
	}
	v.Heads = r.Form["head"]
	if noReason {
		v.Why.Problems = []frame.Problem{{Says: "A correction wants a reason.", Do: "A few words do.", Grave: true}}
	}
	if clash {
		v.Fields[0].Problems = append(v.Fields[0].Problems, frame.Problem{Says: "Another fish has this label already.", Do: "Look at that one first.", Grave: true})
	}
	why := []frame.Field{v.Why}
	frame.Begin(v.Fields, why)
	v.Why = why[0]
	v.Refused = v.Why.Grave() || slices.ContainsFunc(v.Fields, frame.Field.Grave)
	if !v.Refused {
		v.Seen = typed.Seal()
	}
	return correctPage.Again("Correct "+v.Label, v), nil
}

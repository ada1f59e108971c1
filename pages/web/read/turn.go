package read

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"earstone/pages/web/form"
	"earstone/pages/web/frame"
	"earstone/programme/finding"
	"earstone/programme/record"
	"earstone/reading/sitting"
	"earstone/reading/transect"
	"earstone/store/history"
)

// view is the page of one turn.
type view struct {
	Sitting string
	Sheet   sitting.Sheet
	Glass   bool
	Picture bool
	Whole   string // the level of tiles that fits into one
	Data    string // the sheet, for the script
	Work    string // what was done so far, for the script
	Fields  []frame.Field
	Refused bool
	Read    int
	Done    bool
	Mine    string
}

// turn is the turn of the address, in a sitting of whoever asks.
func (p *Page) turn(r *frame.Request) (dealt, sitting.Turn, error) {
	d, err := p.mine(r)
	if err != nil {
		return dealt{}, sitting.Turn{}, err
	}
	turn, known := d.sitting.Find(r.PathValue("ticket"))
	if !known {
		return dealt{}, sitting.Turn{}, errNoSitting
	}
	return d, turn, nil
}

// GoOn leads to the turn that is next, or shows that all are done.
func (p *Page) GoOn(r *frame.Request) (frame.Answer, error) {
	d, err := p.mine(r)
	if err != nil {
		return frame.Answer{}, err
	}
	at, err := p.state(r.Context(), d)
	if err != nil {
		return frame.Answer{}, err
	}
	if at.Next != "" {
		return frame.Next("/read/" + d.label + "/" + at.Next), nil
	}
	return turnPage.Show("All are read", view{Sitting: d.label, Done: true, Read: at.Read}), nil
}

// Turn shows the turn that is next with what was done at it. Any other leads there: a turn
// is met once, in the order of the sitting.
func (p *Page) Turn(r *frame.Request) (frame.Answer, error) {
	d, turn, err := p.turn(r)
	if err != nil {
		return frame.Answer{}, err
	}
	at, err := p.state(r.Context(), d)
	if err != nil {
		return frame.Answer{}, err
	}
	if at.Next != turn.Ticket {
		return frame.Next("/read/" + d.label), nil
	}
	w, err := p.draft(r.Context(), d, turn.Ticket)
	if err != nil {
		return frame.Answer{}, err
	}
	v, err := p.view(r, d, turn, at, w.work, nil)
	return turnPage.Show(fmt.Sprintf("Section %d of %d", at.Number, at.Of), v), err
}

func (p *Page) view(r *frame.Request, d dealt, turn sitting.Turn, at sitting.State, w Work, wrong map[string][]frame.Problem) (view, error) {
	pic, there, err := p.picture(r.Context(), turn)
	if err != nil {
		return view{}, err
	}
	v := view{Sitting: d.label, Glass: d.glass, Picture: there, Refused: len(wrong) > 0, Read: at.Read}
	v.Sheet, _ = d.sitting.Sheet(turn.Ticket, at, pic.Shown, nil)
	sheet, err := json.Marshal(v.Sheet)
	if err != nil {
		return view{}, fmt.Errorf("writing the sheet of a turn: %w", err)
	}
	work, err := json.Marshal(w)
	if err != nil {
		return view{}, fmt.Errorf("writing the work at a turn: %w", err)
	}
	v.Data, v.Work = string(sheet), string(work)
	if there {
		about, err := p.pictures.Picture(pic.hash)
		if err != nil {
			return view{}, fmt.Errorf("reading the picture of a turn: %w", err)
		}
		v.Whole = strconv.Itoa(about.Levels() - 1)
	}
	v.Fields = fieldsOf(w, wrong, !there)
	frame.Begin(v.Fields)
	return v, nil
}

// fieldsOf is the form of a count: the same with a picture and without.
func fieldsOf(w Work, wrong map[string][]frame.Problem, first bool) []frame.Field {
	edge := frame.Field{Name: "edge", Label: "Edge: growth outside the last annulus", Kind: "choice", Span: "wide", Problems: wrong["edge"]}
	for _, e := range record.EdgeWords() {
		if e != "" {
			edge.Options = append(edge.Options, frame.Option{Value: e, Text: strings.ReplaceAll(e, "_", " "), Chosen: e == w.Edge})
		}
	}
	readable := frame.Field{Name: "readability", Label: "Readability", Kind: "choice", Span: "wide", Problems: wrong["readability"]}
	for i, text := range []string{"1 worst", "2", "3", "4", "5 best"} {
		value := strconv.Itoa(i + 1)
		readable.Options = append(readable.Options, frame.Option{Value: value, Text: text, Chosen: value == w.Readability})
	}
	return []frame.Field{
		{Name: "annuli", Label: "Annuli, complete", Value: w.Annuli, Number: true, Code: true, Needed: true, Focus: first, Problems: wrong["annuli"]},
		edge, readable,
		{Name: "remark", Label: "Remark", Value: w.Remark, Span: "whole", Problems: wrong["remark"]},
	}
}

// Mark keeps what was done at a turn, as soon as it was done.
func (p *Page) Mark(r *frame.Request) (frame.Answer, error) {
	d, turn, err := p.turn(r)
	if err != nil {
		return frame.Answer{}, err
	}
	text := r.Typed("work")
	if _, err := parseWork(text); err != nil {
		return frame.Answer{}, frame.Trouble{Status: http.StatusUnprocessableEntity, Says: "What was sent can't be kept.", Do: "Load the page again."}
	}
	if err := p.change(r, d, turn.Ticket, func(w *draft) { w.reported = text }); err != nil {
		return frame.Answer{}, err
	}
	return frame.Send("application/json", []byte(`{"kept":true}`)), nil
}

// Keep makes a reading of a turn, or puts it aside until the end.
func (p *Page) Keep(r *frame.Request) (frame.Answer, error) {
	d, turn, err := p.turn(r)
	if err != nil {
		return frame.Answer{}, err
	}
	if r.Typed("do") == aside {
		err := p.change(r, d, turn.Ticket, func(w *draft) { w.state = aside })
		return frame.Next("/read/" + d.label), err
	}
	p.desk.Labels.RLock() // the fish of this turn is not renamed until its reading is kept
	defer p.desk.Labels.RUnlock()
	for tries := 0; ; tries++ {
		answer, err := p.keep(r, d, turn)
		if (errors.Is(err, history.ErrStale) || errors.Is(err, history.ErrTaken)) && tries < 5 {
			continue // another window wrote to this turn: look at it again
		}
		return answer, err
	}
}

// keep keeps a count, unless one was kept of this turn: the same sent again changes nothing,
// and another is refused.
func (p *Page) keep(r *frame.Request, d dealt, turn sitting.Turn) (frame.Answer, error) {
	w, err := p.draft(r.Context(), d, turn.Ticket)
	if err != nil {
		return frame.Answer{}, err
	}
	typed := w.work
	typed.Annuli, typed.Edge, typed.Readability, typed.Remark = strings.TrimSpace(r.Typed("annuli")), r.Typed("edge"), r.Typed("readability"), strings.TrimSpace(r.Typed("remark"))
	if w.state == done && w.work.saysOtherThan(typed) {
		return frame.Answer{}, readAlready(w.work)
	}
	if w.state == done {
		return frame.Next("/read/" + d.label), nil
	}
	entries, wrong, err := p.reading(r, d, turn, w, typed)
	if err != nil {
		return frame.Answer{}, err
	}
	if len(wrong) > 0 {
		at, err := p.state(r.Context(), d)
		if err != nil {
			return frame.Answer{}, err
		}
		v, err := p.view(r, d, turn, at, typed, wrong)
		return turnPage.Again(fmt.Sprintf("Section %d of %d", at.Number, at.Of), v), err
	}
	if err := p.store.Append(r.Context(), entries...); err != nil {
		return frame.Answer{}, fmt.Errorf("keeping a reading of the sitting %s: %w", d.label, err)
	}
	return frame.Next("/read/" + d.label), nil
}

// readAlready refuses a second count of a turn.
func readAlready(kept Work) frame.Trouble {
	count := kept.Annuli + " annuli"
	switch kept.Annuli {
	case "":
		count = "no count"
	case "1":
		count = "1 annulus"
	}
	return frame.Trouble{Status: http.StatusConflict, Says: "This section is read already, with " + count + ". What was sent now says something else and is not kept.",
		Do: "Go on with the sitting. If the first was a slip, tell whoever deals: the section can be read again."}
}

// reading are the entries that make a reading of a turn: itself, its marks, and the draft,
// which is done.
func (p *Page) reading(r *frame.Request, d dealt, turn sitting.Turn, w draft, typed Work) ([]*history.Entry, map[string][]frame.Problem, error) {
	found, err := p.store.Where(r.Context(), history.Query{Kind: history.Preparations, Field: "preparation", Value: turn.Preparation, Most: 1})
	if err != nil || len(found) == 0 {
		return nil, nil, fmt.Errorf("looking for the preparation of a turn: %w", errors.Join(err, history.ErrNotFound))
	}
	of := found[0].Fields()
	cells := form.Cells{"reading": d.label + "-" + turn.Ticket, "fish": of["fish"], "side": of["side"], "preparation": turn.Preparation, "image": turn.Image,
		"reader": string(d.set.Reader), "read_at": p.desk.Today().String(), "session": d.label, "blind": "true", "annuli": typed.Annuli, "edge": typed.Edge,
		"readability": typed.Readability, "control": strconv.FormatBool(turn.Control), "remark": typed.Remark}
	_, read := form.Read[record.Reading](cells)
	wrong := map[string][]frame.Problem{}
	for _, f := range read.Found {
		if f.Severity == finding.Error {
			wrong[f.Place.Column] = append(wrong[f.Place.Column], frame.ProblemOf(f))
		}
	}
	n, numeric := strconv.Atoi(typed.Annuli)
	switch {
	case typed.Annuli == "" && typed.Readability != "1":
		wrong["annuli"] = []frame.Problem{{Says: "No count is given.", Do: "Count, put it aside, or call it unreadable with a readability of 1.", Grave: true}}
	case typed.Annuli != "" && len(typed.Marks) > 0 && numeric == nil && n != len(typed.Marks):
		wrong["annuli"] = []frame.Problem{{Says: fmt.Sprintf("%d annuli are marked, and %d are counted.", len(typed.Marks), n), Do: "Set or take away marks until both agree.", Grave: true}}
	}
	if typed.Edge == "" && typed.Annuli != "" {
		wrong["edge"] = []frame.Problem{{Says: "The edge is not told.", Do: "Choose “not judged” where it can't be seen.", Grave: true}}
	}
	if len(wrong) > 0 {
		return nil, wrong, nil
	}
	read.Fields[suggestionsColumn] = "not shown"
	if w.saw {
		read.Fields[suggestionsColumn] = "shown"
	}
	now := p.now()
	entries := []*history.Entry{{Kind: history.Readings, Fields: read.Fields, Raw: read.Raw, Who: r.By(), When: now}}
	marks, err := p.marks(r, turn, cells["reading"], typed)
	if err != nil {
		return nil, nil, err
	}
	for _, m := range marks {
		entries = append(entries, &history.Entry{Kind: history.Marks, Fields: m, Who: r.By(), When: now})
	}
	text, err := json.Marshal(typed)
	if err != nil {
		return nil, nil, fmt.Errorf("writing the work at a turn: %w", err)
	}
	w.state, w.reported = done, string(text)
	return append(entries, p.entry(d, w, r.By())), nil, nil
}

// marks are the rows of a reading's marks: core, annuli outwards, edge.
func (p *Page) marks(r *frame.Request, turn sitting.Turn, reading string, w Work) ([]history.Fields, error) {
	axis, err := transect.Through(w.Axis)
	if err != nil {
		return nil, nil // no axis was drawn
	}
	pic, _, err := p.picture(r.Context(), turn)
	if err != nil {
		return nil, err
	}
	type place struct {
		kind     string
		at       transect.Point
		distance float64
	}
	places := []place{{kind: "core", at: w.Axis[0]}}
	for _, m := range w.Marks {
		at := transect.Point{X: m.X, Y: m.Y}
		distance, _ := axis.Nearest(at)
		places = append(places, place{"annulus", at, distance})
	}
	places = append(places, place{"edge", w.Axis[len(w.Axis)-1], axis.Length()})
	slices.SortStableFunc(places[1:len(places)-1], func(a, b place) int {
		if a.distance < b.distance {
			return -1
		}
		return truth(a.distance > b.distance)
	})
	var rows []history.Fields
	tenth := func(x float64) string { return strconv.FormatFloat(math.Round(x*10)/10, 'f', -1, 64) }
	for i, m := range places {
		cells := form.Cells{"reading": reading, "order": strconv.Itoa(i), "kind": m.kind, "x_px": tenth(m.at.X), "y_px": tenth(m.at.Y)}
		if pic.UmPerPixel > 0 {
			cells["distance_um"] = tenth(m.distance * pic.UmPerPixel)
		}
		_, typed := form.Read[record.Mark](cells)
		rows = append(rows, typed.Fields)
	}
	return rows, nil
}

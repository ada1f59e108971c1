// Package plan is the page of what to ask for next.
//
// A plan is work of the queue, as a run is, and is read from its tables. Beside each quota
// stands what came of it so far, counted from the journal of the records as it grows.
package plan

import (
	"cmp"
	"context"
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"io/fs"
	"net/http"
	"time"

	"earstone/pages/request"
	"earstone/pages/web/frame"
	"earstone/pages/words"
	"earstone/programme/record"
	"earstone/store/history"
	"earstone/store/jobs"
	"earstone/store/tables"
)

//go:embed plan.html
var files embed.FS

var planPage = frame.Parse(frame.Plan, files, "plan.html")

// Kind is the kind of work that a plan is in the queue.
const Kind = "plan"

// Printed is the file of a plan's results that is the page to print.
const Printed = "request.html"

// Page makes plans and shows the last one.
type Page struct {
	queue jobs.Queue
	store history.Store
	now   func() time.Time
	came  *came
}

// New is the page of a queue and a store.
func New(queue jobs.Queue, store history.Store, now func() time.Time) *Page {
	return &Page{queue, store, now, newCame(store)}
}

// view is what the page shows.
type view struct {
	Made, By string // of the plan that is shown; empty: there is none
	Season   int    // whose fish are counted against it
	State    string // of work that is not done: it waits or runs
	Why      []string
	Species  []species
	Lengths  string
	Other    int // fish that came in another measure of length than the quotas
}

type species struct {
	Code    string
	Months  []month
	Says    string
	Picture template.HTML
}

type month struct {
	Name, Closes string
	Rows         []row
}

// row is a quota with what came of it.
type row struct {
	Area, Gear        string
	Trips             int
	Came, Asked       int
	Share             int // that came, in hundredths, 100 at most
	State             string
	Full              bool
	Lacks             []bin
	TripWorth, Stones string // of one more, against the best of all; empty: not told
}

// bin is a length bin with what is still asked for.
type bin struct {
	Name string
	N    int
}

// Show shows the last plan and what came of it.
func (p *Page) Show(r *frame.Request) (frame.Answer, error) {
	v, busy, err := p.view(r.Context())
	if err != nil {
		return frame.Answer{}, err
	}
	a := planPage.Show("Plan", v)
	if busy {
		a.Refresh = 5
	}
	return a, nil
}

// Make puts a new plan into the queue.
func (p *Page) Make(r *frame.Request) (frame.Answer, error) {
	_, err := p.queue.Ask(r.Context(), Kind, json.RawMessage("{}"), r.By())
	switch {
	case errors.Is(err, jobs.ErrMany):
		return frame.Answer{}, frame.Trouble{Status: http.StatusTooManyRequests, Says: "Too much work waits already.", Do: "The page Estimate lists it. Wait until some is done."}
	case err != nil:
		return frame.Answer{}, fmt.Errorf("asking for a plan: %w", err)
	}
	return frame.Next("/plan"), nil
}

// Print is the last plan as a page to print.
func (p *Page) Print(r *frame.Request) (frame.Answer, error) {
	last, _, err := p.last(r.Context())
	if err != nil {
		return frame.Answer{}, err
	}
	if last.ID == "" {
		return frame.Answer{}, frame.Trouble{Status: http.StatusNotFound, Says: "There is no plan yet.", Do: "Make one on the page Plan."}
	}
	folder, err := p.queue.Results(r.Context(), last.ID)
	if err != nil {
		return frame.Answer{}, fmt.Errorf("opening a plan: %w", err)
	}
	page, err := fs.ReadFile(folder, Printed)
	if err != nil {
		return frame.Answer{}, fmt.Errorf("reading a plan: %w", err)
	}
	return frame.Apart(page)
}

// last is the newest plan that is done, and the newest of all that was asked for.
func (p *Page) last(ctx context.Context) (done, newest jobs.Job, err error) {
	all, err := p.queue.Jobs(ctx)
	if err != nil {
		return done, newest, fmt.Errorf("reading the plans: %w", err)
	}
	for _, j := range all {
		if j.Kind != Kind {
			continue
		}
		if newest.ID == "" {
			newest = j
		}
		if j.State == jobs.Done && done.ID == "" {
			done = j
		}
	}
	return done, newest, nil
}

func (p *Page) view(ctx context.Context) (v view, busy bool, err error) {
	done, newest, err := p.last(ctx)
	if err != nil {
		return v, false, err
	}
	busy = newest.State.Open()
	switch {
	case busy:
		v.State = map[jobs.State]string{jobs.Waiting: "A plan waits for the work before it.", jobs.Running: "A plan is being made."}[newest.State]
	case newest.ID != done.ID:
		v.State = "The last plan that was asked for was not made."
		v.Why = newest.Says
	}
	if done.ID == "" {
		return v, busy, nil
	}
	v.Made, v.By, v.Season = done.At.UTC().Format("2 January 2006"), done.By, p.now().Year()
	folder, err := p.queue.Results(ctx, done.ID)
	if err != nil {
		return v, busy, fmt.Errorf("opening a plan: %w", err)
	}
	plan, err := request.Open(folder)
	if err != nil {
		return v, busy, err
	}
	lengths, err := p.lengths(ctx)
	if err != nil {
		return v, busy, err
	}
	v.Lengths = request.Lengths(lengths)
	got, err := p.came.until(ctx, v.Season, lengths)
	if err != nil {
		return v, busy, err
	}
	for _, s := range plan.Species {
		v.Species = append(v.Species, p.species(s, got, lengths))
	}
	v.Other = got.other
	return v, busy, nil
}

// lengths are the bins of the programme's settings.
func (p *Page) lengths(ctx context.Context) (bins record.LengthBin, err error) {
	err = p.store.Each(ctx, history.Settings, func(r *history.Record) error {
		settings, _ := tables.Settings([]byte(r.Fields()["programme.json"])) // what is wrong in them is told elsewhere
		bins = settings.LengthBin
		return nil
	})
	if err != nil {
		return bins, fmt.Errorf("reading the settings of the programme: %w", err)
	}
	return bins, nil
}

func (p *Page) species(s *request.Species, got tally, lengths record.LengthBin) species {
	out := species{Code: s.Code}
	out.Says, out.Picture = s.Promise()
	best := 0.0
	for _, w := range s.Worth {
		best = max(best, w.ByCost)
	}
	for i := range s.Places {
		place := &s.Places[i]
		name := request.MonthName(place.Quarter, place.Month)
		if n := len(out.Months); n == 0 || out.Months[n-1].Name != name {
			out.Months = append(out.Months, month{Name: name, Closes: p.closes(place)})
		}
		m := &out.Months[len(out.Months)-1]
		m.Rows = append(m.Rows, p.row(s, place, got, lengths, best))
	}
	return out
}

// span is when a place's quota is open: its month, its quarter or the year.
func (p *Page) span(place *request.Place) (from, to time.Time) {
	year := p.now().Year()
	first, months := time.January, 12
	switch {
	case place.Month > 0:
		first, months = time.Month(place.Month), 1
	case place.Quarter > 0:
		first, months = time.Month(3*place.Quarter-2), 3
	}
	from = time.Date(year, first, 1, 0, 0, 0, 0, time.UTC)
	return from, from.AddDate(0, months, 0)
}

func (p *Page) closes(place *request.Place) string {
	from, to := p.span(place)
	day := func(t time.Time) string { return t.Format("2 January") }
	switch now := p.now(); {
	case now.Before(from):
		return "opens on " + day(from)
	case now.Before(to):
		return "open until " + day(to.AddDate(0, 0, -1))
	}
	return "closed on " + day(to.AddDate(0, 0, -1))
}

func (p *Page) row(s *request.Species, place *request.Place, got tally, lengths record.LengthBin, best float64) row {
	_, to := p.span(place)
	r := row{Area: place.Area, Gear: place.Gear, Trips: place.Trips, Asked: place.Count(), Came: got.at(s.Code, place, nil)}
	short := 0
	for _, b := range place.Stones {
		lacks := max(b.N-got.at(s.Code, place, &b.From), 0)
		short += lacks
		if lacks > 0 {
			r.Lacks = append(r.Lacks, bin{request.BinName(b.From, lengths), lacks})
		}
	}
	r.Share = 100
	if r.Asked > 0 {
		r.Share = min(100*(r.Asked-short)/r.Asked, 100)
	}
	switch {
	case r.Asked == 0:
		r.State = ""
	case short == 0:
		r.State, r.Full = "full", true
	case p.now().Before(to):
		r.State = words.Count(short) + " to come"
	default:
		r.State = words.Count(short) + " short"
	}
	trip, stone := 0.0, 0.0
	for _, w := range s.Worth {
		if !within(w, place) {
			continue
		}
		if w.Item == "trip" {
			trip = max(trip, w.ByCost)
		} else if w.Item == "stone" {
			stone = max(stone, w.ByCost)
		}
	}
	if best > 0 {
		r.TripWorth, r.Stones = against(trip, best), against(stone, best)
	}
	return r
}

// against is a worth in hundredths of the best one.
func against(x, best float64) string {
	if !(x > 0) {
		return ""
	}
	return words.Figure(100*x/best, 0)
}

// within tells whether a worth is of a place: what it does not tell apart fits any.
func within(w request.Worth, p *request.Place) bool {
	return (w.Quarter == 0 || w.Quarter == p.Quarter) && (w.Month == 0 || w.Month == p.Month) && (cmp.Or(w.Area, p.Area) == p.Area) && (cmp.Or(w.Gear, p.Gear) == p.Gear)
}

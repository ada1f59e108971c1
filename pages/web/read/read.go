// Package read is the page of a reader: a sitting in which annuli are counted, blind.
//
// A sitting is dealt once and written down whole. What a reader does at a turn is kept
// mark by mark as a draft, which becomes a reading with its marks when the reader keeps
// it; where a sitting stands follows from the drafts, so that it goes on where it was
// left. All that reaches the reader's browser of a turn is a sitting.Sheet, a
// sitting.Along, the picture's tiles, and what the reader wrote.
package read

import (
	"context"
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"earstone/pages/web/form"
	"earstone/pages/web/frame"
	"earstone/reading/sitting"
	"earstone/store/history"
	"earstone/store/pictures"
)

//go:embed lobby.html turn.html tray.html
var files embed.FS

var (
	lobbyPage = frame.Parse(frame.Read, files, "lobby.html")
	turnPage  = frame.Parse(frame.Read, files, "turn.html")
	trayPage  = frame.Parse(frame.Read, files, "tray.html")
)

// Page keeps the sittings of readers.
type Page struct {
	store    history.Store
	desk     *form.Desk
	pictures *pictures.Folder
	now      func() time.Time
	seed     func() uint64
	alone    func(context.Context) (bool, error)

	grey sync.Mutex // guards what follows: the picture that was read last at full depth
	of   pictures.Hash
	seen *image.Gray16
}

// New is the page of a store and its pictures. seed gives each sitting its own; alone
// tells whether nobody has an account, and one person does everything.
func New(store history.Store, desk *form.Desk, folder *pictures.Folder, now func() time.Time, seed func() uint64, alone func(context.Context) (bool, error)) *Page {
	return &Page{store: store, desk: desk, pictures: folder, now: now, seed: seed, alone: alone}
}

// The states of a sitting and of a draft.
const (
	open  = "open"
	aside = "aside"
	done  = "read"
)

// dealt is a sitting as it was written down.
type dealt struct {
	label   string
	reader  string
	glass   bool // under the microscope
	offers  bool // suggested annuli may be shown
	begun   time.Time
	sitting sitting.Sitting
	seed    uint64
	set     sitting.Set
}

// fields are what is written down of a sitting. The set stands in a column that nobody's
// search goes through.
func (d dealt) fields() (history.Fields, error) {
	set, err := json.Marshal(d.set)
	if err != nil {
		return nil, fmt.Errorf("writing the set of a sitting: %w", err)
	}
	f := history.Fields{"label": d.label, "reader": d.reader, "seed": strconv.FormatUint(d.seed, 10), "rows": string(set)}
	if d.glass {
		f["glass"] = "true"
	}
	if d.offers {
		f["suggestions"] = "true"
	}
	return f, nil
}

// readSitting is a sitting dealt anew from what was written down of it.
func readSitting(r history.Record) (dealt, error) {
	f := r.Fields()
	d := dealt{label: f["label"], reader: f["reader"], glass: f["glass"] == "true", offers: f["suggestions"] == "true", begun: r.Heads[0].When}
	var err error
	if d.seed, err = strconv.ParseUint(f["seed"], 10, 64); err == nil {
		err = json.Unmarshal([]byte(f["rows"]), &d.set)
	}
	if err != nil {
		return dealt{}, fmt.Errorf("reading the sitting %s: %w", d.label, errors.Join(err, history.ErrDamaged))
	}
	d.sitting = sitting.Deal(d.set, d.seed)
	return d, nil
}

var errNoSitting = frame.Trouble{Status: http.StatusNotFound, Says: "There is no such sitting of yours.", Do: "Your sittings stand on the page Read."}

// mine is a sitting of whoever asks.
func (p *Page) mine(r *frame.Request) (dealt, error) {
	d, err := p.one(r.Context(), r.PathValue("sitting"))
	if err == nil && d.reader != r.By() {
		err = errNoSitting
	}
	return d, err
}

func (p *Page) one(ctx context.Context, label string) (dealt, error) {
	found, err := p.store.Where(ctx, history.Query{Kind: history.Sittings, Field: "label", Value: label, Most: 1})
	if err != nil {
		return dealt{}, fmt.Errorf("looking for the sitting %s: %w", label, err)
	}
	if len(found) == 0 {
		return dealt{}, errNoSitting
	}
	return readSitting(found[0])
}

// draft is a turn as far as it was done.
type draft struct {
	record   history.Record // none yet: no heads
	ticket   string
	state    string
	saw      bool // suggested annuli were sent
	work     Work
	reported string // the work as it was written
}

// drafts are those of a sitting in the order in which they were last written to.
func (p *Page) drafts(ctx context.Context, d dealt) ([]draft, error) {
	found, err := p.store.Where(ctx, history.Query{Kind: history.Drafts, Field: "session", Value: d.label})
	if err != nil {
		return nil, fmt.Errorf("reading what was done in the sitting %s: %w", d.label, err)
	}
	var all []draft
	for _, r := range found {
		all = append(all, readDraft(r))
	}
	slices.SortStableFunc(all, func(a, b draft) int { return a.record.Heads[0].ID.Compare(b.record.Heads[0].ID) })
	return all, nil
}

func readDraft(r history.Record) draft {
	f := r.Fields()
	_, ticket, _ := strings.Cut(f["label"], "/")
	d := draft{record: r, ticket: ticket, state: f["state"], saw: f["suggestions"] == "seen", reported: f["rows"]}
	d.work, _ = parseWork(f["rows"]) // it was held against the same rules before it was kept
	return d
}

// draft is that of one ticket.
func (p *Page) draft(ctx context.Context, d dealt, ticket string) (draft, error) {
	found, err := p.store.Where(ctx, history.Query{Kind: history.Drafts, Field: "label", Value: d.label + "/" + ticket, Most: 1})
	if err != nil {
		return draft{}, fmt.Errorf("reading what was done at a turn of %s: %w", d.label, err)
	}
	if len(found) == 0 {
		return draft{ticket: ticket, state: open}, nil
	}
	return readDraft(found[0]), nil
}

// entry is a draft as it is kept.
func (p *Page) entry(d dealt, w draft, who string) *history.Entry {
	e := &history.Entry{Kind: history.Drafts, Who: who, When: p.now(),
		Fields: history.Fields{"label": d.label + "/" + w.ticket, "session": d.label, "state": w.state, "rows": w.reported}}
	if w.saw {
		e.Fields["suggestions"] = "seen"
	}
	if len(w.record.Heads) > 0 {
		e.Subject, e.Why = w.record.Subject, "the reading goes on"
		for _, h := range w.record.Heads {
			e.Supersedes = append(e.Supersedes, h.ID)
		}
	}
	return e
}

// change writes to the draft of a ticket. Two windows of one reader may write at once: who
// comes second writes on what the first one wrote.
func (p *Page) change(r *frame.Request, d dealt, ticket string, change func(*draft)) error {
	for tries := 0; ; tries++ {
		w, err := p.draft(r.Context(), d, ticket)
		if err != nil {
			return err
		}
		if w.state == done {
			return nil
		}
		change(&w)
		err = p.store.Append(r.Context(), p.entry(d, w, r.By()))
		if (errors.Is(err, history.ErrStale) || errors.Is(err, history.ErrTaken)) && tries < 5 {
			continue
		}
		if err != nil {
			return fmt.Errorf("keeping what was done at a turn of %s: %w", d.label, err)
		}
		return nil
	}
}

// state is where a sitting stands.
func (p *Page) state(ctx context.Context, d dealt) (sitting.State, error) {
	drafts, err := p.drafts(ctx, d)
	if err != nil {
		return sitting.State{}, err
	}
	var records []sitting.Record
	for _, w := range drafts {
		if w.state != open {
			records = append(records, sitting.Record{Ticket: w.ticket, Aside: w.state == aside})
		}
	}
	return d.sitting.State(records), nil
}

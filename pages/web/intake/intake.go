// Package intake is the page on which cards and vials are taken in.
//
// One card is kept at a time, on the disk before the next empty one is shown. What the
// last card said of day, place and sender stays for the next one, since vials come in
// bags. A whole table is taken in by pasting it: all of it or nothing.
package intake

import (
	"cmp"
	"context"
	"embed"
	"errors"
	"fmt"
	"net/url"
	"time"

	"earstone/pages/web/form"
	"earstone/pages/web/frame"
	"earstone/store/history"
)

//go:embed card.html table.html
var files embed.FS

var cardPage = frame.Parse(frame.Intake, files, "card.html")

const title = "Take in a card"

// Page takes in cards.
type Page struct {
	store history.Store
	desk  *form.Desk
	now   func() time.Time

	workbook chan struct{} // holds one while a workbook is open
}

// New is the page of a store.
func New(store history.Store, desk *form.Desk, now func() time.Time) *Page {
	return &Page{store, desk, now, make(chan struct{}, 1)}
}

// constant are the columns that the next card takes over from the last.
var constant = []string{"species", "caught_on", "area", "gear", "trip", "contributor", "received_on", "length_unit", "length_kind", "weight_unit", "weight_form"}

// Card shows an empty card.
func (p *Page) Card(r *frame.Request) (frame.Answer, error) {
	lists, err := p.desk.Lists(r.Context())
	if err != nil {
		return frame.Answer{}, err
	}
	last, err := p.last(r.Context())
	if err != nil {
		return frame.Answer{}, err
	}
	cells, stones, kept := p.carried(r, last, lists)
	v := newView(cells, stones, form.Typed{}, lists)
	v.Kept, v.Last = kept, last
	if n := r.Typed("took"); n != "" {
		v.Took = n
	}
	return cardPage.Show(title, v), nil
}

// carried is what an empty card says already: what the card before it said, or else the
// usual of the programme.
func (p *Page) carried(r *frame.Request, last []lastCard, lists form.Lists) (cells form.Cells, stones string, kept *lastCard) {
	s := lists.Settings
	cells = form.Cells{"received_on": p.desk.Today().String(), "length_unit": cmp.Or(s.LengthBin.Unit, "cm"), "length_kind": "curved_fork", "weight_unit": "kg", "weight_form": "round"}
	if len(s.Species) > 0 {
		cells["species"] = string(s.Species[0])
	}
	for i, one := range last {
		mine := one.Who == r.By() && p.now().Sub(one.When) < 12*time.Hour
		if after := r.Typed("after"); after == one.Subject.String() {
			kept = &last[i]
		} else if after != "" || !mine {
			continue
		}
		for _, column := range constant {
			cells[column] = one.fields[column]
		}
		break
	}
	return cells, cmp.Or(r.Typed("stones"), "both"), kept
}

// Take keeps a card and shows the next.
func (p *Page) Take(r *frame.Request) (frame.Answer, error) {
	cells := form.ReadCard(r)
	stones := r.Typed("stones")
	typed, err := p.desk.Fish(r.Context(), cells)
	if err != nil {
		return frame.Answer{}, err
	}
	taken, err := p.desk.Taken(r.Context(), typed.Fields["fish"])
	if err != nil {
		return frame.Answer{}, err
	}
	if other, is := taken[typed.Fields["fish"]]; is {
		return p.again(r, cells, stones, typed, other)
	}
	if _, known := sidesOf[stones]; !known || typed.Grave() || typed.Doubtful() && r.Typed("seen") != typed.Seal() {
		return p.again(r, cells, stones, typed, history.ID{})
	}
	entries := Entries(typed, sidesOf[stones], r.By(), p.now())
	err = p.store.Append(r.Context(), entries...)
	if errors.Is(err, history.ErrTaken) { // in the moment since it was asked
		return p.again(r, cells, stones, typed, entries[0].Subject)
	}
	if err != nil {
		return frame.Answer{}, fmt.Errorf("keeping card %s: %w", typed.Fields["fish"], err)
	}
	return frame.Next("/intake?" + url.Values{"after": {entries[0].Subject.String()}, "stones": {stones}}.Encode()), nil
}

// again shows the card with what is wrong beside each field; other bears its label already.
func (p *Page) again(r *frame.Request, cells form.Cells, stones string, typed form.Typed, other history.ID) (frame.Answer, error) {
	lists, err := p.desk.Lists(r.Context())
	if err != nil {
		return frame.Answer{}, err
	}
	last, err := p.last(r.Context())
	if err != nil {
		return frame.Answer{}, err
	}
	v := newView(cells, stones, typed, lists)
	v.Last = last
	if other.Known() {
		v.First[0].Problems = append(v.First[0].Problems, frame.Problem{Grave: true, Says: "A fish with this label is here already.",
			Do: "Is it the same card? Then leave it. If not, one of the two labels is wrong."})
		v.Other = other.String()
	}
	frame.Begin(v.First, v.Same, v.More)
	v.Refused = v.grave()
	if !v.Refused {
		v.Seen = typed.Seal()
	}
	return cardPage.Again(title, v), nil
}

// sidesOf are the stones that a vial holds, by the word of the form.
var sidesOf = map[string][]string{"both": {"L", "R"}, "left": {"L"}, "right": {"R"}, "one": {"unknown"}, "none": {}}

// Entries are all that a card says: the names that are new, the fish, its stones, and
// that they came. The fish is the first.
func Entries(typed form.Typed, sides []string, who string, when time.Time) []*history.Entry {
	entry := func(kind history.Kind, fields history.Fields) *history.Entry {
		return &history.Entry{Kind: kind, Fields: fields, Who: who, When: when}
	}
	fish := entry(history.Fish, typed.Fields)
	fish.Raw = typed.Raw
	all := []*history.Entry{fish}
	for _, n := range typed.New {
		all = append(all, entry(n.Kind, n.Fields))
	}
	for _, side := range sides {
		of := typed.Fields["fish"]
		all = append(all, entry(history.Stones, history.Fields{"fish": of, "side": side}),
			entry(history.Custody, history.Fields{"fish": of, "side": side, "step": "received", "on": typed.Fields["received_on"]}))
	}
	return all
}

// lastCard is a card that was taken in lately.
type lastCard struct {
	Subject    history.ID
	Fish, Says string
	Who, At    string
	When       time.Time
	Correction bool
	fields     history.Fields
}

// shown is how many of the last cards are listed, out of how many of the last entries.
const (
	shown   = 8
	entries = 60
)

// last are the cards that were taken in or corrected last, each once.
func (p *Page) last(ctx context.Context) (cards []lastCard, err error) {
	recent, err := p.store.Recent(ctx, entries)
	if err != nil {
		return nil, fmt.Errorf("reading the last cards: %w", err)
	}
	seen := map[history.ID]bool{}
	for _, e := range recent {
		if e.Kind != history.Fish || e.Removed || seen[e.Subject] || len(cards) == shown {
			continue
		}
		seen[e.Subject] = true
		cards = append(cards, lastCard{Subject: e.Subject, Fish: e.Fields["fish"], Says: inShort(e.Fields), Who: e.Who,
			At: e.When.In(p.now().Location()).Format("15:04"), When: e.When, Correction: len(e.Supersedes) > 0, fields: e.Fields})
	}
	return cards, nil
}

// inShort is what a line of the list says of a fish.
func inShort(f history.Fields) string {
	text := f["species"]
	add := func(part string) {
		if part != "" {
			text += ", " + part
		}
	}
	if f["length"] != "" {
		add(f["length"] + " " + f["length_unit"])
	}
	add(f["caught_on"])
	add(f["area"])
	return text
}

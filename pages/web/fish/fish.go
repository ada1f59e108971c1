// Package fish is the page of one fish: all that is known of it, and how it came to be known.
//
// What was written stands beside what was read or derived from it, and every correction
// beside what it corrects, with who, when and why.
package fish

import (
	"context"
	"embed"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"time"

	"earstone/pages/web/form"
	"earstone/pages/web/frame"
	"earstone/store/history"
)

//go:embed fish.html correct.html
var files embed.FS

var (
	fishPage    = frame.Parse(frame.NoStage, files, "fish.html")
	correctPage = frame.Parse(frame.NoStage, files, "correct.html")
)

// Page shows and corrects fish.
type Page struct {
	store history.Store
	desk  *form.Desk
	now   func() time.Time
}

// New is the page of a store.
func New(store history.Store, desk *form.Desk, now func() time.Time) *Page {
	return &Page{store, desk, now}
}

var errNoFish = frame.Trouble{Status: http.StatusNotFound, Says: "There is no such fish.", Do: "Look for its label in the box above."}

// find is the fish that the address names.
func (p *Page) find(r *frame.Request) (history.Record, error) {
	id, err := history.ParseID(r.PathValue("fish"))
	if err != nil || !id.Known() {
		return history.Record{}, errNoFish
	}
	record, err := p.store.Current(r.Context(), id)
	switch {
	case errors.Is(err, history.ErrNotFound):
		return history.Record{}, errNoFish
	case err != nil:
		return history.Record{}, fmt.Errorf("reading a fish: %w", err)
	case record.Kind != history.Fish || record.Removed():
		return history.Record{}, errNoFish
	}
	return record, nil
}

// ByLabel goes on to the fish that bears a label.
func (p *Page) ByLabel(r *frame.Request) (frame.Answer, error) {
	taken, err := p.desk.Taken(r.Context(), r.Typed("label"))
	if err != nil {
		return frame.Answer{}, err
	}
	id, there := taken[r.Typed("label")]
	if !there {
		return frame.Next("/find?" + url.Values{"q": {r.Typed("label")}}.Encode()), nil
	}
	return frame.Next("/fish/" + id.String()), nil
}

// Show shows a fish.
func (p *Page) Show(r *frame.Request) (frame.Answer, error) {
	record, err := p.find(r)
	if err != nil {
		return frame.Answer{}, err
	}
	v, err := p.view(r.Context(), record)
	if err != nil {
		return frame.Answer{}, err
	}
	v.MayCorrect = r.Who.Roles.Has(Corrects)
	v.Corrected = r.Typed("corrected") != ""
	return fishPage.Show("Fish "+v.Label, v), nil
}

// belongs are the kinds of records that name their fish, in the order of a stone's way.
var belongs = []history.Kind{history.Stones, history.Preparations, history.Readings, history.Assays, history.KnownAges, history.Baseline, history.Custody, history.Photographs}

// around are the records that name a fish.
func (p *Page) around(ctx context.Context, label string) (map[history.Kind][]history.Record, error) {
	all := map[history.Kind][]history.Record{}
	for _, kind := range belongs {
		records, err := p.store.Where(ctx, history.Query{Kind: kind, Field: "fish", Value: label})
		if err != nil {
			return nil, fmt.Errorf("reading the %s of fish %s: %w", kind, label, err)
		}
		all[kind] = records
	}
	for _, prepared := range all[history.Preparations] {
		images, err := p.store.Where(ctx, history.Query{Kind: history.Images, Field: "preparation", Value: prepared.Fields()["preparation"]})
		if err != nil {
			return nil, fmt.Errorf("reading the pictures of fish %s: %w", label, err)
		}
		all[history.Images] = append(all[history.Images], images...)
	}
	return all, nil
}

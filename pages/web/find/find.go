// Package find is the page of one box in which anything is looked for.
package find

import (
	"context"
	"embed"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"earstone/pages/web/form"
	"earstone/pages/web/frame"
	"earstone/programme/label"
	"earstone/store/history"
)

//go:embed find.html
var files embed.FS

var page = frame.Parse(frame.NoStage, files, "find.html")

// Page looks through a store.
type Page struct {
	store history.Store
	desk  *form.Desk
}

// New is the page of a store.
func New(store history.Store, desk *form.Desk) *Page { return &Page{store, desk} }

// The bounds of what is looked for: each word costs a walk of its own through the index.
const (
	mostSigns = 200
	mostWords = 12
	patience  = 5 * time.Second
)

// past is what is wrong with a text past a bound; a word that stands twice counts once.
func past(text string) string {
	if utf8.RuneCountInString(text) > mostSigns {
		return fmt.Sprintf("This is longer than %d signs.", mostSigns)
	}
	seen := map[string]bool{}
	for _, word := range strings.Fields(text) {
		seen[strings.ToLower(word)] = true
	}
	if len(seen) > mostWords {
		return fmt.Sprintf("These are more than %d words.", mostWords)
	}
	return ""
}

var errTooSlow = frame.Trouble{Status: http.StatusServiceUnavailable, Says: "Looking for this takes too long.", Do: "Look for a label, or for a longer beginning of a word."}

// most is how many hits are shown; who has more types more.
const most = 50

// view is what was found.
type view struct {
	Box    frame.Field
	Sought string
	Hits   []hit
	More   bool
}

type hit struct{ Path, Label, Kind, Text string }

// Seek looks for what was typed; a label goes on to its fish at once.
func (p *Page) Seek(r *frame.Request) (frame.Answer, error) {
	sought := strings.TrimSpace(r.Typed("q"))
	v := view{Sought: sought, Box: frame.Field{Name: "q", Label: "A label, or the beginning of any word", Value: sought, Kind: "search", Code: true, Focus: true, Span: "whole"}}
	if sought == "" {
		return page.Show("Find", v), nil
	}
	if wrong := past(sought); wrong != "" {
		v.Sought, v.Box.Problems = "", []frame.Problem{{Says: wrong, Do: "Look for a label, or for a few words.", Grave: true}}
		return page.Again("Find", v), nil
	}
	labels := []string{sought}
	if code := label.Parse(sought).Code; code.Known() {
		labels = append(labels, code.String())
	}
	taken, err := p.desk.Taken(r.Context(), labels...)
	if err != nil {
		return frame.Answer{}, err
	}
	for _, one := range labels {
		if id, there := taken[one]; there {
			return frame.Next("/fish/" + id.String()), nil
		}
	}
	ctx, cancel := context.WithTimeout(r.Context(), patience)
	defer cancel()
	hits, err := p.store.Find(ctx, sought, most+1)
	if ctx.Err() != nil && r.Context().Err() == nil {
		return frame.Answer{}, errTooSlow
	}
	if err != nil {
		return frame.Answer{}, fmt.Errorf("looking for a text: %w", err)
	}
	v.More = len(hits) > most
	for _, h := range hits[:min(len(hits), most)] {
		one, err := p.hit(r, h)
		if err != nil {
			return frame.Answer{}, err
		}
		v.Hits = append(v.Hits, one)
	}
	return page.Show("Find", v), nil
}

// kinds say of what kind a hit is.
var kinds = map[history.Kind]string{
	history.Areas: "area", history.Contributors: "contributor", history.Trips: "trip", history.Fish: "fish", history.Stones: "stone",
	history.Preparations: "section or mount", history.Images: "picture", history.Readings: "reading", history.KnownAges: "known age",
	history.Assays: "assay", history.Baseline: "known nursery", history.Custody: "step at the bench", history.Kits: "kit", history.Photographs: "photograph",
	history.Letters: "letter", history.Catch: "catch", history.Lengths: "length counts", history.Standards: "reference material",
	history.Conversions: "equation", history.Imports: "imported file", history.Settings: "settings", history.Columns: "columns",
	history.Drafts: "reading on its way", history.References: "reference preparation", history.Agreed: "agreed age",
}

// hit is a hit with the way to its fish, where it has one.
func (p *Page) hit(r *frame.Request, h history.Hit) (hit, error) {
	one := hit{Label: h.Label, Kind: kinds[h.Kind], Text: h.Text}
	if one.Kind == "" {
		one.Kind = strings.ReplaceAll(string(h.Kind), "_", " ")
	}
	record, err := p.store.Current(r.Context(), h.Subject)
	if err != nil {
		return hit{}, fmt.Errorf("reading what was found: %w", err)
	}
	if h.Kind == history.Fish {
		one.Path, one.Text = "/fish/"+h.Subject.String(), inShort(record.Fields())
		return one, nil
	}
	if of := record.Fields()["fish"]; of != "" {
		one.Path = "/fish?" + url.Values{"label": {of}}.Encode()
		if one.Label == "" {
			one.Label = of
		}
	}
	return one, nil
}

// inShort is what a line says of a fish.
func inShort(f history.Fields) string {
	parts := []string{f["species"], strings.TrimSpace(f["length"] + " " + f["length_unit"]), f["caught_on"], f["area"], f["contributor"], f["remark"]}
	return strings.Join(slices.DeleteFunc(parts, func(part string) bool { return part == "" || part == f["length_unit"] }), ", ")
}

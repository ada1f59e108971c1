// Package form reads what was typed as the tables read it, against what is kept already.
//
// A card on the screen, a row that was pasted and a correction all pass the same rules as
// a table that is imported: each problem is a finding with the column it stands in. What
// was typed stays beside what it was read as.
package form

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
	"time"

	"earstone/programme/date"
	"earstone/programme/finding"
	"earstone/programme/label"
	"earstone/programme/record"
	"earstone/programme/rules"
	"earstone/store/history"
	"earstone/store/tables"
)

// Cells are what was typed, by column.
type Cells map[string]string

// Typed is a record as it was typed and as it was read.
type Typed struct {
	Fields, Raw history.Fields
	Found       []finding.Finding
	Label       label.Reading // of a fish: what became of its label
	New         []New         // what it names and no list holds
}

// New is something that a card names and no list of the programme holds: kept with the
// card when the person says so.
type New struct {
	Kind   history.Kind
	Fields history.Fields
}

// Grave tells whether a finding forbids keeping it.
func (t Typed) Grave() bool { return t.worst(finding.Error) }

// Doubtful tells whether it may be kept, but looks wrong.
func (t Typed) Doubtful() bool { return t.worst(finding.Warning) || t.doubtfulLabel() }

// doubtfulLabel tells a label whose check letter does not fit, or that was read with a sign
// taken for another.
func (t Typed) doubtfulLabel() bool {
	return t.Label.Remark == label.LookAlike || t.Label.Remark == label.WrongCheck
}

func (t Typed) worst(s finding.Severity) bool {
	return slices.ContainsFunc(t.Found, func(f finding.Finding) bool { return f.Severity == s })
}

// Seal stands for what was typed and what was doubted: who sends it back has seen both.
func (t Typed) Seal() string {
	h := sha256.New()
	for _, name := range slices.Sorted(maps.Keys(t.Fields)) {
		fmt.Fprintf(h, "%s=%q\n", name, t.Fields[name])
	}
	for _, f := range t.Found {
		fmt.Fprintf(h, "%s %s\n", f.Kind, f.Place.Column)
	}
	return hex.EncodeToString(h.Sum(nil)[:8])
}

// numbers are the columns in which a decimal comma may be typed.
var numbers = []string{"length", "length_resolution", "weight", "mass_mg", "thickness_um"}

// plain is a cell as the tables take it: without blanks around it, a decimal comma as a
// point. 1,250 stays as it is, since it may be either.
func plain(column, typed string) string {
	cell := strings.TrimSpace(typed)
	whole, decimals, comma := strings.Cut(cell, ",")
	if comma && slices.Contains(numbers, column) && len(decimals) != 3 && digits(whole) && digits(decimals) {
		return whole + "." + decimals
	}
	return cell
}

func digits(text string) bool { return text != "" && strings.Trim(text, "0123456789") == "" }

// Read reads a record of a table from what was typed.
func Read[T tables.Shaped](cells Cells) (T, Typed) {
	clean := make(map[string]string, len(cells))
	for column, typed := range cells {
		clean[column] = plain(column, typed)
	}
	one, found := tables.Record[T](clean)
	t := Typed{Fields: tables.Fields(&one), Raw: history.Fields{}, Found: found.All()}
	for column, typed := range cells {
		if read := t.Fields[column]; typed != "" && typed != read {
			t.Raw[column] = typed
		}
	}
	return one, t
}

// Lists are what a programme's records may name, for offering while one types.
type Lists struct {
	Settings                  record.Settings
	Areas, Contributors, Gear []string
}

// most are how many names of a kind are offered, and how long lists are kept.
const (
	most      = 200
	keptFor   = 3 * time.Second
	mostNames = 5000
)

// Desk reads what is typed for one programme. It is safe for several goroutines.
type Desk struct {
	store history.Store
	now   func() time.Time

	// Labels is held for reading from the look-up of a fish until what names it by its label
	// is kept, and for writing while a fish gets another label: no record then names a fish
	// that is no more. A programme has one writer, so that a lock of this process will do.
	Labels sync.RWMutex

	mu    sync.Mutex
	lists Lists
	at    time.Time
}

// NewDesk is the desk of a store.
func NewDesk(store history.Store, now func() time.Time) *Desk { return &Desk{store: store, now: now} }

// Today is the day by the clock.
func (d *Desk) Today() date.Day {
	now := d.now()
	return date.On(now.Year(), int(now.Month()), now.Day())
}

// Lists are the lists as they are, or were a moment ago.
func (d *Desk) Lists(ctx context.Context) (Lists, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	now := d.now()
	if !d.at.IsZero() && now.Sub(d.at) < keptFor && now.After(d.at) {
		return d.lists, nil
	}
	l := Lists{Settings: record.Defaults()}
	err := d.store.Each(ctx, history.Settings, func(r *history.Record) error {
		if text := r.Fields()["programme.json"]; text != "" {
			l.Settings, _ = tables.Settings([]byte(text))
		}
		return nil
	})
	if err != nil {
		return Lists{}, fmt.Errorf("reading the settings of the programme: %w", err)
	}
	if l.Areas, err = d.names(ctx, history.Areas, "area"); err != nil {
		return Lists{}, err
	}
	if l.Contributors, err = d.names(ctx, history.Contributors, "contributor"); err != nil {
		return Lists{}, err
	}
	d.lists, d.at = l, now
	return l, nil
}

// names are the first labels of a kind.
func (d *Desk) names(ctx context.Context, kind history.Kind, field string) ([]string, error) {
	records, err := d.store.Where(ctx, history.Query{Kind: kind, Field: field, Prefix: true, Most: most})
	if err != nil {
		return nil, fmt.Errorf("reading the names of %s: %w", kind, err)
	}
	var all []string
	for _, r := range records {
		all = append(all, r.Fields()[field])
	}
	slices.Sort(all)
	return all, nil
}

// Fish reads a card and holds it against the programme: its own cells, what it refers to,
// what its species can be. It does not ask whether the label is taken.
func (d *Desk) Fish(ctx context.Context, cells Cells) (Typed, error) {
	reading := label.Parse(cells["fish"])
	read := maps.Clone(cells)
	if reading.Code.Known() {
		read["fish"] = reading.Code.String()
	}
	fish, typed := Read[record.Fish](read)
	typed.Label = reading
	if got, was := typed.Fields["fish"], cells["fish"]; was != got {
		typed.Raw["fish"] = was
	}
	l, err := d.Lists(ctx)
	if err != nil {
		return Typed{}, err
	}
	book := &record.Book{Settings: l.Settings, Fish: []record.Fish{fish}}
	if err := d.refer(ctx, book, fish); err != nil {
		return Typed{}, err
	}
	for _, f := range rules.Check(book, d.Today()).All() {
		if f.Place.File == "fish.csv" && !slices.Contains(ofProgramme, f.Kind) {
			typed.Found = append(typed.Found, typed.listed(f))
		}
	}
	return typed, nil
}

// ofProgramme are findings that blame the equations of the programme and not the card.
var ofProgramme = []finding.Kind{finding.NoConversion, finding.TwoPublications, finding.Extrapolated}

// listed makes a doubt of a name that no list holds, where the card says enough to put it
// on its list.
func (t *Typed) listed(f finding.Finding) finding.Finding {
	if f.Kind != finding.UnknownID {
		return f
	}
	kind, there := listOf[f.Place.Column]
	if !there {
		return f
	}
	named := New{Kind: kind, Fields: history.Fields{f.Place.Column: f.Value}}
	if kind == history.Trips {
		if t.Fields["caught_on"] == "" {
			return f // a trip has a day
		}
		named.Fields["landed_on"] = t.Fields["caught_on"]
		for _, column := range []string{"area", "gear", "contributor"} {
			if text := t.Fields[column]; text != "" {
				named.Fields[column] = text
			}
		}
	}
	t.New = append(t.New, named)
	f.Severity = finding.Warning
	return f
}

// refer puts into the book what a fish refers to. A list that holds nothing is not asked:
// a programme may do without it.
func (d *Desk) refer(ctx context.Context, book *record.Book, fish record.Fish) error {
	for _, ref := range []struct {
		kind        history.Kind
		field, name string
		add         func(history.Fields)
	}{
		{history.Areas, "area", fish.Area, func(f history.Fields) { book.Areas = append(book.Areas, record.Area{Area: f["area"]}) }},
		{history.Contributors, "contributor", fish.Contributor, func(f history.Fields) {
			book.Contributors = append(book.Contributors, record.Contributor{Contributor: f["contributor"]})
		}},
		{history.Trips, "trip", string(fish.Trip), func(f history.Fields) {
			trip := record.Trip{Trip: record.TripID(f["trip"])}
			trip.LandedOn, _ = date.Parse(f["landed_on"])
			book.Trips = append(book.Trips, trip)
		}},
	} {
		if ref.name == "" {
			continue
		}
		found, err := d.store.Where(ctx, history.Query{Kind: ref.kind, Field: ref.field, Value: ref.name, Most: 1})
		if err != nil {
			return fmt.Errorf("looking for %s in %s: %w", ref.name, ref.kind, err)
		}
		if len(found) == 0 { // the nearest of those there are is told
			if found, err = d.store.Where(ctx, history.Query{Kind: ref.kind, Field: ref.field, Prefix: true, Most: mostNames}); err != nil {
				return fmt.Errorf("reading the names of %s: %w", ref.kind, err)
			}
		}
		for _, r := range found {
			ref.add(r.Fields())
		}
	}
	return nil
}

// Taken tells which of some labels of fish another record bears, and which record that is.
func (d *Desk) Taken(ctx context.Context, labels ...string) (map[string]history.ID, error) {
	taken := map[string]history.ID{}
	for _, one := range labels {
		if one == "" {
			continue
		}
		found, err := d.store.Where(ctx, history.Query{Kind: history.Fish, Field: "fish", Value: one, Most: 1})
		if err != nil {
			return nil, fmt.Errorf("looking for the label %s: %w", one, err)
		}
		for _, r := range found {
			taken[one] = r.Subject
		}
	}
	return taken, nil
}

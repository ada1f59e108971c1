// Package bench is the page of what is done to stones: scan a label, do the step, next.
//
// A step is chosen once and stays, since a bench does one thing to many vials. Each step
// of each stone is an entry of its own, so that the way of a stone is a trail; what the
// step found out (mass, condition, where it lies) is written on the stone as well.
package bench

import (
	"context"
	"embed"
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"earstone/pages/web/form"
	"earstone/pages/web/frame"
	"earstone/programme/finding"
	"earstone/programme/label"
	"earstone/programme/record"
	"earstone/store/history"
	"earstone/store/pictures"
)

//go:embed steps.html step.html pictures.html
var files embed.FS

var (
	stepsPage    = frame.Parse(frame.Bench, files, "steps.html")
	stepPage     = frame.Parse(frame.Bench, files, "step.html")
	picturesPage = frame.Parse(frame.Bench, files, "pictures.html")
)

// Page keeps the steps of stones.
type Page struct {
	store    history.Store
	desk     *form.Desk
	pictures *pictures.Folder
	now      func() time.Time
}

// New is the page of a store and its pictures.
func New(store history.Store, desk *form.Desk, folder *pictures.Folder, now func() time.Time) *Page {
	return &Page{store, desk, folder, now}
}

// choiceOfSteps is the page on which a step is chosen.
type choiceOfSteps struct {
	Steps []Step
	Last  []done
}

// done is a step that was kept lately.
type done struct{ Fish, Side, Step, Says, At, Who string }

// Steps shows the steps to choose from, and what was done last.
func (p *Page) Steps(r *frame.Request) (frame.Answer, error) {
	last, err := p.last(r.Context(), "")
	return stepsPage.Show("At the bench", choiceOfSteps{steps, last}), err
}

// view is the page of one step.
type view struct {
	Step    Step
	Label   frame.Field
	Sides   frame.Field
	Fields  []frame.Field
	Place   frame.Field
	Refused bool
	KeptOf  string
	Last    []done
}

var errNoStep = frame.Trouble{Status: http.StatusNotFound, Says: "There is no such step.", Do: "Choose one on the page of the bench."}

// Ask shows the empty form of a step.
func (p *Page) Ask(r *frame.Request) (frame.Answer, error) {
	step, there := stepOf(r.PathValue("step"))
	if !there {
		return frame.Answer{}, errNoStep
	}
	sticky := func(name string) string {
		if strings.HasPrefix(name, "mass_") {
			return ""
		}
		return r.Typed(name)
	}
	v := newView(step, "", sticky, nil)
	v.KeptOf = r.Typed("kept")
	var err error
	v.Last, err = p.last(r.Context(), step.Word)
	return stepPage.Show(step.Name, v), err
}

// newView lays out the form; wrong are the problems by field.
func newView(step Step, typedLabel string, typed func(string) string, wrong map[string][]frame.Problem) view {
	problems := func(name string) []frame.Problem { return wrong[name] }
	v := view{Step: step,
		Label: frame.Field{Name: "fish", Label: "Label on the vial", Value: typedLabel, Code: true, Scan: step.each, Focus: true, Needed: true, Span: "wide", Problems: problems("fish")},
		Place: frame.Field{Name: "place", Label: "Lies in", Value: typed("place"), Span: "wide", Hint: "Box, row, drawer. It stays for the next vial.", Problems: problems("place")}}
	if !step.each {
		v.Sides = frame.Field{Name: "sides", Label: "Which stones", Kind: "choice", Span: "wide", Problems: problems("sides")}
		chosen := typed("sides")
		if _, known := sidesOf[chosen]; !known {
			chosen = "all"
		}
		for _, o := range []frame.Option{{Value: "all", Text: "all that there are"}, {Value: "L", Text: "left"}, {Value: "R", Text: "right"}} {
			o.Chosen = o.Value == chosen
			v.Sides.Options = append(v.Sides.Options, o)
		}
	}
	if step.ask != nil {
		v.Fields = step.ask(typed, problems)
	}
	return v
}

var sidesOf = map[string]bool{"all": true, "L": true, "R": true}

// Do keeps a step and shows its form again, empty.
func (p *Page) Do(r *frame.Request) (frame.Answer, error) {
	step, there := stepOf(r.PathValue("step"))
	if !there {
		return frame.Answer{}, errNoStep
	}
	fish, err := p.fish(r.Context(), r.Typed("fish"))
	if err != nil {
		return frame.Answer{}, err
	}
	wrong := map[string][]frame.Problem{}
	if fish == "" {
		wrong["fish"] = []frame.Problem{{Says: "No fish has this label.", Do: "Look at the vial again, or take its card in first.", Grave: true}}
		return p.again(r, step, wrong)
	}
	stones, err := p.store.Where(r.Context(), history.Query{Kind: history.Stones, Field: "fish", Value: fish})
	if err != nil {
		return frame.Answer{}, fmt.Errorf("reading the stones of fish %s: %w", fish, err)
	}
	entries, sides := p.entries(r, step, fish, stones, wrong)
	if len(wrong) > 0 {
		return p.again(r, step, wrong)
	}
	if step.makes != "" {
		made, err := p.preparations(r, step, fish, sides, wrong)
		if err != nil {
			return frame.Answer{}, err
		}
		if len(wrong) > 0 {
			return p.again(r, step, wrong)
		}
		entries = append(entries, made...)
	}
	if err := p.store.Append(r.Context(), entries...); err != nil {
		return frame.Answer{}, fmt.Errorf("keeping the step %s of fish %s: %w", step.Word, fish, err)
	}
	stay := url.Values{"kept": {fish}}
	for _, name := range []string{"place", "sides", "condition", "purpose", "thickness_um"} {
		if text := r.Typed(name); text != "" {
			stay.Set(name, text)
		}
	}
	return frame.Next("/bench/" + step.Word + "?" + stay.Encode()), nil
}

// fish is the label under which a fish is kept, "" when there is none of what was typed.
func (p *Page) fish(ctx context.Context, typed string) (string, error) {
	labels := []string{strings.TrimSpace(typed)}
	if code := label.Parse(typed).Code; code.Known() {
		labels = append(labels, code.String())
	}
	taken, err := p.desk.Taken(ctx, labels...)
	if err != nil {
		return "", err
	}
	for _, one := range labels {
		if _, there := taken[one]; there {
			return one, nil
		}
	}
	return "", nil
}

// sides are the stones that the step was done to.
func (step Step) sides(r *frame.Request, stones []history.Record) (sides []string) {
	if step.each {
		for _, side := range []string{"L", "R", "unknown"} {
			if strings.TrimSpace(r.Typed("mass_"+side)) != "" {
				sides = append(sides, side)
			}
		}
		return sides
	}
	if chosen := r.Typed("sides"); chosen == "L" || chosen == "R" {
		return []string{chosen}
	}
	for _, s := range stones {
		if f := s.Fields(); f["condition"] != "absent" {
			sides = append(sides, f["side"])
		}
	}
	slices.Sort(sides)
	return slices.Compact(sides)
}

// entries are the step of each stone, and what it found out, on the record of the stone.
func (p *Page) entries(r *frame.Request, step Step, fish string, stones []history.Record, wrong map[string][]frame.Problem) (entries []*history.Entry, sides []string) {
	sides = step.sides(r, stones)
	if len(sides) == 0 {
		where := "sides"
		if step.each {
			where = "mass_L"
		}
		wrong[where] = []frame.Problem{{Says: "No stone is chosen.", Do: "Say which; this fish has none on record that is not absent.", Grave: true}}
		if step.each {
			wrong[where][0].Do = "Type a mass."
		}
		return nil, nil
	}
	place := strings.TrimSpace(r.Typed("place"))
	if step.Word == "placed" && place == "" {
		wrong["place"] = []frame.Problem{{Says: "Where does it lie?", Do: "Name the box.", Grave: true}}
	}
	for _, side := range sides {
		said := history.Fields{}
		if step.stone != nil {
			said = step.stone(r.Typed, side)
		}
		if place != "" {
			said["place"] = place
		}
		stone, raw := p.stone(fish, side, stones, said, step, wrong)
		step := &history.Entry{Kind: history.Custody, Who: r.By(), When: p.now(),
			Fields: history.Fields{"fish": fish, "side": side, "step": step.Word, "on": p.desk.Today().String()}}
		for column := range said {
			if text := stone.Fields[column]; text != "" {
				step.Fields[column] = text
			}
		}
		entries = append(entries, step)
		if len(said) > 0 {
			stone.Raw, stone.Who, stone.When = raw, r.By(), p.now()
			entries = append(entries, stone)
		}
	}
	return entries, sides
}

// stone is the record of a stone with what the step says of it, read as the table of
// stones reads it. A stone that has no record gets one.
func (p *Page) stone(fish, side string, stones []history.Record, said history.Fields, step Step, wrong map[string][]frame.Problem) (*history.Entry, history.Fields) {
	e := &history.Entry{Kind: history.Stones}
	cells := form.Cells{"fish": fish, "side": side}
	for _, s := range stones {
		if s.Fields()["side"] == side {
			e.Subject, e.Why = s.Subject, "at the bench: "+strings.ToLower(step.Name)
			for _, h := range s.Heads {
				e.Supersedes = append(e.Supersedes, h.ID)
			}
			cells = maps.Clone(form.Cells(s.Fields()))
			break
		}
	}
	for column, text := range said {
		cells[column] = text
		if text == "" {
			wrong[column] = []frame.Problem{{Says: "Nothing is said here.", Do: "Choose one.", Grave: true}}
		}
	}
	_, typed := form.Read[record.Stone](cells)
	for _, f := range typed.Found {
		column := f.Place.Column
		if column == "mass_mg" {
			column = "mass_" + side
		}
		if _, asked := said[f.Place.Column]; asked && f.Severity == finding.Error {
			wrong[column] = []frame.Problem{frame.ProblemOf(f)}
		}
	}
	for column, text := range cells { // further columns stay
		if _, read := typed.Fields[column]; !read && typed.Raw[column] == text {
			typed.Fields[column] = text
			delete(typed.Raw, column)
		}
	}
	e.Fields = typed.Fields
	return e, typed.Raw
}

// preparations are the sections or mounts that the step makes, each under a fresh name.
func (p *Page) preparations(r *frame.Request, step Step, fish string, sides []string, wrong map[string][]frame.Problem) (entries []*history.Entry, err error) {
	before, err := p.store.Where(r.Context(), history.Query{Kind: history.Preparations, Field: "fish", Value: fish})
	if err != nil {
		return nil, fmt.Errorf("reading the preparations of fish %s: %w", fish, err)
	}
	names := map[string]bool{}
	for _, one := range before {
		names[one.Fields()["preparation"]] = true
	}
	for _, side := range sides {
		name := ""
		for n := 1; name == "" || names[name]; n++ {
			name = fmt.Sprintf("%s-%s%d", fish, strings.ToUpper(side[:1]), n)
		}
		names[name] = true
		_, typed := form.Read[record.Preparation](form.Cells{"preparation": name, "fish": fish, "side": side, "kind": step.makes,
			"thickness_um": r.Typed("thickness_um"), "made_on": p.desk.Today().String(), "made_by": r.By()})
		if problems := frame.Problems(typed.Found, "thickness_um"); len(problems) > 0 {
			wrong["thickness_um"] = problems
		}
		entries = append(entries, &history.Entry{Kind: history.Preparations, Fields: typed.Fields, Raw: typed.Raw, Who: r.By(), When: p.now()})
	}
	return entries, nil
}

func (p *Page) again(r *frame.Request, step Step, wrong map[string][]frame.Problem) (frame.Answer, error) {
	v := newView(step, r.Typed("fish"), r.Typed, wrong)
	v.Refused = true
	label, sides, place := []frame.Field{v.Label}, []frame.Field{v.Sides}, []frame.Field{v.Place}
	frame.Begin(label, sides, v.Fields, place)
	v.Label, v.Sides, v.Place = label[0], sides[0], place[0]
	var err error
	v.Last, err = p.last(r.Context(), step.Word)
	return stepPage.Again(step.Name, v), err
}

// last are the steps that were kept last, of one step or of all.
func (p *Page) last(ctx context.Context, of string) (all []done, err error) {
	recent, err := p.store.Recent(ctx, 80)
	if err != nil {
		return nil, fmt.Errorf("reading the last steps: %w", err)
	}
	for _, e := range recent {
		if e.Kind != history.Custody || e.Removed || of != "" && e.Fields["step"] != of || len(all) == 10 {
			continue
		}
		all = append(all, done{e.Fields["fish"], sideName(e.Fields["side"]), e.Fields["step"], says(e.Fields), e.When.In(p.now().Location()).Format("15:04"), e.Who})
	}
	return all, nil
}

// says is what a step found out.
func says(f history.Fields) string {
	var parts []string
	for _, column := range []string{"membrane", "mass_mg", "condition", "purpose", "place"} {
		switch text := f[column]; {
		case text == "":
		case column == "mass_mg":
			parts = append(parts, text+" mg")
		case column == "membrane":
			parts = append(parts, "membrane "+text)
		case column == "purpose":
			parts = append(parts, "for "+text)
		default:
			parts = append(parts, text)
		}
	}
	return strings.Join(parts, ", ")
}

func sideName(side string) string {
	if name, ok := map[string]string{"L": "left", "R": "right"}[side]; ok {
		return name
	}
	return "side unknown"
}

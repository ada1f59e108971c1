package intake

import (
	"slices"

	"earstone/pages/web/form"
	"earstone/pages/web/frame"
)

// view is the page of one card.
type view struct {
	First, Same, More []frame.Field
	Open              bool // something in More is wrong
	Refused           bool // it can't be kept as it is
	Seen              string
	Other             string // the record that bears the label already
	Rest              []frame.Problem
	Kept              *lastCard
	Took              string
	Last              []lastCard
}

func newView(cells form.Cells, stones string, typed form.Typed, lists form.Lists) view {
	fields := form.CardFields(cells, typed, lists)
	at := func(name string) frame.Field { return fields[name] }
	v := view{First: []frame.Field{at("fish"), at("length"), at("length_unit"), at("length_kind"), stonesField(stones)},
		Rest: frame.Problems(typed.Found, "")}
	v.First[0].Focus, v.First[0].Scan = true, true
	same := []string{"caught_on", "area", "gear", "contributor", "trip", "received_on"}
	more := []string{"weight", "weight_unit", "weight_form", "sex", "length_resolution", "remark"}
	if len(lists.Settings.Species) == 1 && !at("species").Wrong() {
		more = append([]string{"species"}, more...)
	} else {
		same = append([]string{"species"}, same...)
	}
	for _, name := range same {
		v.Same = append(v.Same, at(name))
	}
	for _, name := range more {
		v.More = append(v.More, at(name))
		v.Open = v.Open || at(name).Wrong() || name == "remark" && cells[name] != ""
	}
	return v
}

func (v view) grave() bool {
	all := slices.Concat(v.First, v.Same, v.More)
	return slices.ContainsFunc(all, frame.Field.Grave) || slices.ContainsFunc(v.Rest, func(p frame.Problem) bool { return p.Grave })
}

func stonesField(chosen string) frame.Field {
	f := frame.Field{Name: "stones", Label: "Stones in the vial", Kind: "choice", Span: "whole"}
	for _, o := range []frame.Option{{Value: "both", Text: "both"}, {Value: "left", Text: "left"}, {Value: "right", Text: "right"}, {Value: "one", Text: "one, side unknown"}, {Value: "none", Text: "none"}} {
		o.Chosen = o.Value == chosen
		f.Options = append(f.Options, o)
	}
	if _, known := sidesOf[chosen]; !known {
		f.Problems = []frame.Problem{{Says: "How many stones are in the vial?", Do: "Choose one.", Grave: true}}
	}
	return f
}

package form

import (
	"slices"
	"strings"

	"earstone/pages/web/frame"
	"earstone/programme/label"
	"earstone/programme/record"
	"earstone/store/history"
)

// CardColumns are the columns of a card, in the order of fish.csv.
var CardColumns = []string{"fish", "species", "caught_on", "area", "gear", "trip", "contributor", "length", "length_unit", "length_kind",
	"length_resolution", "weight", "weight_unit", "weight_form", "sex", "received_on", "remark"}

// ReadCard is what was typed on a card.
func ReadCard(r *frame.Request) Cells {
	cells := Cells{}
	for _, column := range CardColumns {
		if typed := r.Typed(column); typed != "" {
			cells[column] = typed
		}
	}
	return cells
}

// CardFields are the fields of a card by column, with what is wrong in each.
func CardFields(cells Cells, typed Typed, lists Lists) map[string]frame.Field {
	all := map[string]frame.Field{
		"fish":              {Label: "Label on the vial", Code: true, Needed: true, Span: "five"},
		"species":           {Label: "Species", Needed: true, Suggest: speciesCodes(lists.Settings), Hint: "Three letters, as BFT"},
		"caught_on":         {Label: "Caught on", Hint: "2031-06-15, or 2031-06 when the day is not known"},
		"area":              {Label: "Area", Suggest: lists.Areas},
		"gear":              {Label: "Gear"},
		"trip":              {Label: "Trip or landing"},
		"contributor":       {Label: "Sent by", Suggest: lists.Contributors},
		"length":            {Label: "Length", Number: true, Code: true, Span: "narrow"},
		"length_unit":       {Label: "in", Kind: "select", Span: "narrow", Options: frame.Choices(cells["length_unit"], []string{"mm", "cm", "in"}, asIs)},
		"length_kind":       {Label: "Measured", Kind: "select", Span: "tall", Options: frame.Choices(cells["length_kind"], record.LengthKindWords(), spaced)},
		"length_resolution": {Label: "Length rounded to", Number: true, Hint: "1 when read to the whole unit"},
		"weight":            {Label: "Weight", Number: true},
		"weight_unit":       {Label: "Weight in", Kind: "select", Options: frame.Choices(cells["weight_unit"], []string{"kg", "g", "lb"}, asIs)},
		"weight_form":       {Label: "Weighed", Kind: "select", Options: frame.Choices(cells["weight_form"], record.WeightFormWords(), spaced)},
		"sex":               {Label: "Sex", Kind: "select", Options: frame.Choices(cells["sex"], record.SexWords(), sexName)},
		"received_on":       {Label: "Received on"},
		"remark":            {Label: "Remark", Span: "wide"},
	}
	for name, f := range all {
		f.Name, f.Value = name, cells[name]
		f.Problems = Problems(typed, name)
		all[name] = f
	}
	return all
}

// Problems are what is wrong in one column of a card.
func Problems(typed Typed, column string) []frame.Problem {
	all := frame.Problems(typed.Found, column)
	if names(typed, column) {
		for i := range all {
			all[i].Says = "The programme has no " + column + " “" + typed.Fields[column] + "”."
			all[i].Do += " Or keep it as it is: it becomes a new " + column + " of the programme."
		}
	}
	if column == "fish" && len(typed.Fields) > 0 {
		all = append(all, labelProblems(typed.Label)...)
	}
	return all
}

// listOf is the list on which the name in a column stands.
var listOf = map[string]history.Kind{"area": history.Areas, "contributor": history.Contributors, "trip": history.Trips}

// names tells whether a column names something that no list holds.
func names(typed Typed, column string) bool {
	kind, listed := listOf[column]
	return listed && slices.ContainsFunc(typed.New, func(n New) bool { return n.Kind == kind && n.Fields[column] != "" })
}

// labelProblems are the doubts about a label as it was typed.
func labelProblems(r label.Reading) []frame.Problem {
	switch r.Remark {
	case label.LookAlike:
		return []frame.Problem{{Says: "The sign " + r.Sign + " was read as " + r.As + ": " + r.Code.String() + ".", Do: "Compare it with the vial."}}
	case label.WrongCheck:
		p := frame.Problem{Says: "The last letter does not fit the rest.", Do: "A sign is wrong, or two are swapped. Compare it with the vial."}
		for _, near := range r.Near {
			p.Do += " Is it " + near.String() + "?"
		}
		return []frame.Problem{p}
	}
	return nil
}

func speciesCodes(s record.Settings) (codes []string) {
	for _, one := range s.Species {
		codes = append(codes, string(one))
	}
	return codes
}

func asIs(word string) string   { return word }
func spaced(word string) string { return strings.ReplaceAll(word, "_", " ") }

func sexName(word string) string {
	return map[string]string{"F": "female", "M": "male"}[word]
}

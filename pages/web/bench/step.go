package bench

import (
	"earstone/pages/web/frame"
	"earstone/store/history"
)

// Step is one thing that is done to stones at the bench.
type Step struct {
	Word, Name, Does string
	ask              func(typed func(string) string, problems func(string) []frame.Problem) []frame.Field
	// stone says what the step writes on the record of a stone, from what was typed.
	stone func(typed func(string) string, side string) history.Fields
	// makes is the kind of preparation that the step makes, or empty.
	makes string
	// each asks for a value of each side instead of asking which sides.
	each bool
}

// steps in the order in which a stone passes them; each may be done again or left out.
var steps = []Step{
	{Word: "received", Name: "Received", Does: "the vial came to this bench"},
	{Word: "cleaned", Name: "Cleaned", Does: "the membrane is off", stone: fixed("membrane", "off")},
	{Word: "weighed", Name: "Weighed", Does: "mass of each stone, dry", each: true, ask: masses,
		stone: func(typed func(string) string, side string) history.Fields {
			return history.Fields{"mass_mg": typed("mass_" + side)}
		}},
	{Word: "broken", Name: "Condition", Does: "whole, chipped, broken, absent", ask: choice("condition", "Condition", "whole", "chipped", "broken", "absent"), stone: from("condition")},
	{Word: "chosen", Name: "Chosen", Does: "for age, for chemistry", ask: choice("purpose", "Kept for", "age", "chemistry", "both", "archive"), stone: from("purpose")},
	{Word: "mounted", Name: "Mounted", Does: "on a slide or in a block", makes: "mount"},
	{Word: "sectioned", Name: "Sectioned", Does: "cut through the core", makes: "section", ask: thickness},
	{Word: "imaged", Name: "Imaged", Does: "a picture was taken"},
	{Word: "placed", Name: "Laid away", Does: "box, row, drawer"},
}

// OfEach tells a step that asks for a value of each side.
func (step Step) OfEach() bool { return step.each }

func stepOf(word string) (Step, bool) {
	for _, s := range steps {
		if s.Word == word {
			return s, true
		}
	}
	return Step{}, false
}

// fixed writes one thing whatever was typed.
func fixed(column, value string) func(func(string) string, string) history.Fields {
	return func(func(string) string, string) history.Fields { return history.Fields{column: value} }
}

// from writes what was typed into the field of the column.
func from(column string) func(func(string) string, string) history.Fields {
	return func(typed func(string) string, _ string) history.Fields { return history.Fields{column: typed(column)} }
}

func choice(column, label string, values ...string) func(func(string) string, func(string) []frame.Problem) []frame.Field {
	return func(typed func(string) string, problems func(string) []frame.Problem) []frame.Field {
		f := frame.Field{Name: column, Label: label, Kind: "choice", Span: "wide", Problems: problems(column)}
		for _, v := range values {
			f.Options = append(f.Options, frame.Option{Value: v, Text: v, Chosen: v == typed(column)})
		}
		return []frame.Field{f}
	}
}

func masses(typed func(string) string, problems func(string) []frame.Problem) (fields []frame.Field) {
	for _, side := range []struct{ code, name string }{{"L", "Left, mg"}, {"R", "Right, mg"}, {"unknown", "Unknown, mg"}} {
		name := "mass_" + side.code
		fields = append(fields, frame.Field{Name: name, Label: side.name, Value: typed(name), Number: true, Span: "narrow", Problems: problems(name)})
	}
	return fields
}

func thickness(typed func(string) string, problems func(string) []frame.Problem) []frame.Field {
	return []frame.Field{{Name: "thickness_um", Label: "Thickness, µm", Value: typed("thickness_um"), Number: true, Span: "narrow", Problems: problems("thickness_um")}}
}

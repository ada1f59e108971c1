package frame

import (
	"earstone/pages/words"
	"earstone/programme/finding"
)

// Field is one field of a form with what was typed and what is wrong with it.
type Field struct {
	Name, Label, Hint string
	Value             string
	Kind              string   // text when empty; password, select, area, checks
	Options           []Option // of select and checks
	Suggest           []string // offered while typing
	Problems          []Problem
	Focus             bool   // the keyboard begins here
	Needed            bool   // said in the label; the server asks for it
	Code              bool   // a label: large, in letters of one width
	Number            bool   // a phone shows digits
	Scan              bool   // a scanner's Enter goes on to the next field
	Fill              string // what a browser may fill in by itself
	Span              string // narrow, wide or empty
}

// Option is one choice.
type Option struct {
	Value, Text string
	Chosen      bool
}

// Problem is something wrong with what was typed, beside its field.
type Problem struct {
	Says, Do string
	Grave    bool // it can't be kept as it is
}

// Problems are those of the findings that stand in a column.
func Problems(found []finding.Finding, column string) (all []Problem) {
	for _, f := range found {
		if f.Place.Column == column && f.Severity != finding.Note {
			all = append(all, ProblemOf(f))
		}
	}
	return all
}

// ProblemOf puts a finding into words.
func ProblemOf(f finding.Finding) Problem {
	return Problem{words.English.Says(f), words.Remedy(f), f.Severity == finding.Error}
}

// Wrong tells whether a field has any problem.
func (f Field) Wrong() bool { return len(f.Problems) > 0 }

// Grave tells whether one of them forbids keeping it.
func (f Field) Grave() bool {
	for _, p := range f.Problems {
		if p.Grave {
			return true
		}
	}
	return false
}

// Described are the elements that describe a field, for those who can't see them.
func (f Field) Described() string {
	switch {
	case f.Wrong() && f.Hint != "":
		return "hint-" + f.Name + " wrong-" + f.Name
	case f.Wrong():
		return "wrong-" + f.Name
	case f.Hint != "":
		return "hint-" + f.Name
	}
	return ""
}

// Choices are options of which one is chosen. The empty value is offered as unknown.
func Choices(chosen string, values []string, text func(string) string) []Option {
	all := []Option{{"", "–", chosen == ""}}
	for _, v := range values {
		all = append(all, Option{v, text(v), v == chosen})
	}
	return all
}

// Begin puts the keyboard into the first field with a problem; where none has one it stays
// where it was.
func Begin(groups ...[]Field) {
	for _, fields := range groups {
		for i := range fields {
			if fields[i].Wrong() {
				for _, others := range groups {
					for j := range others {
						others[j].Focus = false
					}
				}
				fields[i].Focus = true
				return
			}
		}
	}
}

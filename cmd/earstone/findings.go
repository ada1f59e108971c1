package main

import (
	"fmt"
	"slices"
	"strings"

	"earstone/pages/words"
	"earstone/programme/finding"
)

// findingObject is a finding as JSON, as docs/tables.md names its parts.
type findingObject struct {
	File     string `json:"file"`
	Row      int    `json:"row"`
	Column   string `json:"column"`
	Value    string `json:"value"`
	Expected string `json:"expected"`
	Remedy   string `json:"remedy"`
	Severity string `json:"severity"`
}

// findings tells all findings, the gravest first, and ends with their count; found when
// there are errors among them.
func (to *output) findings(list *finding.List) (status, error) {
	for _, f := range gravestFirst(list) {
		if to.json {
			object := findingObject{f.Place.File, f.Place.Row, f.Place.Column, f.Value,
				words.Expected(f), words.Remedy(f), f.Severity.String()}
			if err := to.object(object); err != nil {
				return failed, err
			}
			continue
		}
		to.say("%s: %s", f.Severity, words.Line(f))
	}
	if !to.json {
		to.say("%s", counted(list))
	}
	if list.Of(finding.Error) > 0 {
		return found, nil
	}
	return done, nil
}

func gravestFirst(list *finding.List) []finding.Finding {
	all := slices.Clone(list.All())
	slices.SortStableFunc(all, func(a, b finding.Finding) int { return int(b.Severity) - int(a.Severity) })
	return all
}

// counted is "3 errors, no warning, 1 note: what was assumed stands in the note."
func counted(list *finding.List) string {
	errors, warnings, notes := list.Of(finding.Error), list.Of(finding.Warning), list.Of(finding.Note)
	said := strings.Join([]string{several(errors, "error"), several(warnings, "warning"), several(notes, "note")}, ", ")
	switch {
	case notes == 1:
		said += ": the note says what was assumed"
	case notes > 1:
		said += ": the notes say what was assumed"
	}
	if beyond := list.Beyond(); beyond > 0 {
		said += fmt.Sprintf("; %s of them are counted and not listed, of kinds that are listed a thousand times above", words.Count(beyond))
	}
	return said + "."
}

// several is "no warning", "1 warning", "12 warnings".
func several(n int, what string) string {
	switch n {
	case 0:
		return "no " + what
	case 1:
		return "1 " + what
	}
	return words.Count(n) + " " + what + "s"
}

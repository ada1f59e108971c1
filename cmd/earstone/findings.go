package main

import (
	"fmt"
	"slices"
	"strconv"
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
	if to.json {
		if err := to.findingObjects(list); err != nil {
			return failed, err
		}
	} else {
		for _, line := range lines(list) {
			to.say("%s", line)
		}
		to.say("%s", counted(list))
	}
	if list.Of(finding.Error) > 0 {
		return found, nil
	}
	return done, nil
}

func (to *output) findingObjects(list *finding.List) error {
	for _, f := range gravestFirst(list) {
		object := findingObject{f.Place.File, f.Place.Row, f.Place.Column, f.Value,
			words.Expected(f), words.Remedy(f), f.Severity.String()}
		if err := to.object(object); err != nil {
			return err
		}
	}
	return nil
}

// lines are findings as a person reads them, the gravest first. What is said alike of
// several rows of a column is said once, with the rows; of what differs by its value alone
// some are told whole.
func lines(list *finding.List) []string {
	type column struct {
		severity   finding.Severity
		kind       finding.Kind
		file, name string
		about      string // the first fact
	}
	type saying struct {
		column
		text string
	}
	var told []line
	at, of := map[saying]int{}, map[column][]int{}
	for _, f := range gravestFirst(list) {
		c := column{f.Severity, f.Kind, f.Place.File, f.Place.Column, ""}
		if len(f.Facts) > 0 {
			c.about = f.Facts[0]
		}
		said := saying{c, words.English.Says(f) + words.Remedy(f)}
		first, again := at[said]
		switch alike := of[c]; {
		case again && f.Place.Row == 0:
		case again:
			told[first].same = append(told[first].same, f.Place.Row)
		case len(alike) >= mostAlike && f.Place.Row > 0:
			last := &told[alike[len(alike)-1]]
			last.likewise = append(last.likewise, f.Place.Row)
		default:
			at[said], of[c] = len(told), append(alike, len(told))
			told = append(told, line{whole: f.Severity.String() + ": " + words.Line(f)})
		}
	}
	all := make([]string, len(told))
	for i, l := range told {
		all[i] = l.whole + inRows("The same in row", l.same) + inRows("Likewise in row", l.likewise)
	}
	return all
}

// line is a finding told whole, with the rows of which the same is said, and those of which
// the same is said but for the value.
type line struct {
	whole          string
	same, likewise []int
}

// How many findings that differ by their value alone are told whole, and how many rows are
// named of the others.
const (
	mostAlike = 10
	mostRows  = 5
)

// inRows is " The same in rows 4, 5, 6, 7, 8 and 12 more."; empty without a row.
func inRows(what string, rows []int) string {
	named := make([]string, min(len(rows), mostRows))
	for i := range named {
		named[i] = strconv.Itoa(rows[i])
	}
	switch more := len(rows) - len(named); {
	case len(rows) == 0:
		return ""
	case len(rows) == 1:
		return " " + what + " " + named[0] + "."
	case more > 0:
		return " " + what + "s " + strings.Join(named, ", ") + " and " + words.Count(more) + " more."
	}
	return " " + what + "s " + strings.Join(named[:len(named)-1], ", ") + " and " + named[len(named)-1] + "."
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

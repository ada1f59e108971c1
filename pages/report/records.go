package report

import (
	"fmt"
	"slices"

	"earstone/pages/words"
	"earstone/programme/finding"
)

// mostFindings is how many findings the page lists; run.json has all.
const mostFindings = 60

// aboutRecords groups what was found in the records by kind, file and column. The
// answer is the table of single findings, nil when there is none.
func (k *told) aboutRecords(b *board) *table {
	if k.name != "species-1" { // they are of the programme: told once
		return nil
	}
	type group struct{ kind, file, column, first string }
	var order []group
	of := map[group][]finding.Finding{}
	all := k.about.Found.All()
	for _, f := range all {
		if f.Severity != finding.Warning || f.Kind == finding.NoSample { // filled strata are told by their share of the catch
			continue
		}
		if f.Kind == finding.GrowthAssumed { // each tells of another year
			b.warn(words.English.Says(f), words.English.Remedy(f))
			continue
		}
		g := group{string(f.Kind), f.Place.File, f.Place.Column, ""}
		if _, apart := words.English.Kinds[g.kind+"."+firstFact(f)]; apart {
			g.first = firstFact(f)
		}
		if of[g] == nil {
			order = append(order, g)
		}
		of[g] = append(of[g], f)
	}
	for _, g := range order {
		f := of[g][0]
		where := words.English.Where(finding.Place{File: f.Place.File, Column: f.Place.Column})
		says := fmt.Sprintf("%s: %s", where, words.English.Says(f))
		if n := len(of[g]); n > 1 {
			says = fmt.Sprintf("%s, %s, the first: %s", where, plural(n, "time", "times"), words.English.Says(f))
		}
		b.note(says, words.English.Remedy(f))
	}
	return recordTable(all)
}

func firstFact(f finding.Finding) string {
	if len(f.Facts) == 0 {
		return ""
	}
	return f.Facts[0]
}

func recordTable(all []finding.Finding) *table {
	warnings := slices.DeleteFunc(slices.Clone(all), func(f finding.Finding) bool { return f.Severity != finding.Warning })
	t := &table{Summary: "Each finding in the records, with its place", File: "run.json",
		Caption: "What was found in the records, and what to do.", Head: append(text("Place"), sentences("What", "What to do")...)}
	if len(warnings) == 0 {
		return nil
	}
	if len(warnings) > mostFindings {
		t.Caption = fmt.Sprintf("The first %d of %s findings in the records, and what to do; run.json has all.", mostFindings, words.Count(len(warnings)))
		warnings = warnings[:mostFindings]
	}
	for _, f := range warnings {
		place := words.English.Where(f.Place)
		if f.Place.Row == 0 && f.Value != "" {
			place += ", " + f.Value
		}
		t.Rows = append(t.Rows, []string{place, words.English.Says(f), words.English.Remedy(f)})
	}
	return t
}

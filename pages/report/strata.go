package report

import (
	"fmt"
	"slices"

	"earstone/estimate/run"
	"earstone/pages/words"
)

// mostStrata is how many strata the page lists; the result tables have all.
const mostStrata = 1000

// strata is the table of strata.
func (k *told) strata() section {
	if k.s.Catch == nil {
		return section{}
	}
	c := k.section("strata", "Stratum by stratum")
	places := k.s.Catch.Strata
	if len(places) > mostStrata {
		places = places[len(places)-mostStrata:]
		c.Says = append(c.Says, fmt.Sprintf("The last %s of %s strata stand here; catch_at_age.csv has all.", words.Count(mostStrata), words.Count(len(k.s.Catch.Strata))))
	}
	of := &table{Summary: plural(len(places), "stratum", "strata"), Paper: len(places) <= 120, File: "catch_at_age.csv",
		Caption: "Each stratum: its catch in fish, the sampled trips and aged fish beneath it, the effective number of fish, and its commonest ages with their shares.",
		Head:    append(text("Stratum"), figures("Catch", "Trips", "Aged fish", "Effective fish")...)}
	of.Head = append(of.Head, text("Filled by", "Commonest ages")...)
	for i := range places {
		p := &places[i]
		of.Rows = append(of.Rows, []string{p.Cell.String(), rounded(p.Total.Value, 0), words.Count(p.Trips), words.Count(p.Stones), rounded(p.Effective, 0), filledBy(p), k.largest(p)})
	}
	c.Says = append(c.Says, k.strataSay())
	c.Tables = []table{*k.table(of)}
	return c
}

func filledBy(p *run.Place) string {
	switch {
	case p.Filled > 0:
		return "trips that share " + columnsOf(p.FilledBy)
	case p.Single:
		return "one trip; spread of strata like it"
	}
	return ""
}

// strataSay counts the strata by what they stand on.
func (k *told) strataSay() string {
	all, single, filled := len(k.s.Catch.Strata), 0, 0
	for i := range k.s.Catch.Strata {
		switch p := &k.s.Catch.Strata[i]; {
		case p.Filled > 0:
			filled++
		case p.Single:
			single++
		}
	}
	if single+filled == 0 {
		return fmt.Sprintf("Each of %s stands on two sampled trips or more of its own.", plural(all, "stratum", "strata"))
	}
	return fmt.Sprintf("Of %s %s on sampled trips of %s own, %s of them on one trip alone; %s filled from others.", plural(all, "stratum", "strata"),
		numberWith(all-filled, "stands", "stand"), either(all-filled, "its", "their"), numberOrNone(single), numberWith(filled, "is", "are"))
}

// numberWith is a number with its verb: 1 stands, none are.
func numberWith(n int, one, many string) string { return numberOrNone(n) + " " + either(n, one, many) }

// largest are the three commonest ages of a place.
func (k *told) largest(p *run.Place) string {
	var ages []int
	for a, e := range p.Share {
		if e.Value.Known && e.Value.X > 0 {
			ages = append(ages, a)
		}
	}
	slices.SortStableFunc(ages, func(a, b int) int {
		switch x, y := p.Share[a].Value.X, p.Share[b].Value.X; {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return 0
	})
	said := ""
	for i, a := range ages[:min(3, len(ages))] {
		if i > 0 {
			said += ", "
		}
		said += k.s.Catch.Ages[a] + " (" + percent(p.Share[a].Value.X) + ")"
	}
	return orElse(said, none)
}

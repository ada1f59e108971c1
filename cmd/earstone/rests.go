package main

import (
	"fmt"
	"sort"
	"strings"

	"earstone/estimate/run"
	"earstone/pages/words"
	"earstone/programme/strata"
	"earstone/reading/age"
)

// restsOn says in plain sentences what the estimates of a species rest on beside its own
// samples: filled strata, borrowed keys, fish without an age.
func restsOn(o *run.Outcome, s *run.Species) []string {
	var said []string
	say := func(format string, args ...any) { said = append(said, fmt.Sprintf(format, args...)) }
	if s.Catch != nil {
		say("%s: the estimates rest on %s, %s measured and %s aged fish; the catch is drawn again %s times, the trip being the unit.", s.Species,
			plural(len(s.Counts.Trips), "trip", "trips"), words.Figure(s.Counts.Measured, 0), words.Count(s.Counts.Aged), words.Count(o.Options.Replicates))
		sayStrata(s, say)
	}
	if s.Key != nil && s.Catch != nil {
		r := sharesOfKey(s)
		if r.borrowed > 0 {
			say("%s of the catch lies at lengths at which its own stratum of the key has too few aged fish; their ages are borrowed along the ladder of the key.", percentOf(r.borrowed))
		}
		if r.unaged > 0 {
			say("%s of the catch lies at lengths that no key reaches; these fish stay unaged.", percentOf(r.unaged))
		}
		if n := s.Catch.Unknown; n > 0 {
			say("In %d of %d replicates the fit of the key did not come to its end.", n, o.Options.Replicates)
		}
	}
	if s.Counts != nil && s.Counts.Unsettled > 0 {
		say("%s because the readings differ and the programme's rule leaves the age open: %s in ages.csv as unresolved, out of every key until read again.",
			plural(s.Counts.Unsettled, "fish waits", "fish wait"), are(s.Counts.Unsettled))
	}
	return said
}

func are(n int) string {
	if n == 1 {
		return "it stands"
	}
	return "they stand"
}

// sayStrata tells the strata that don't stand on their own sample.
func sayStrata(s *run.Species, say func(string, ...any)) {
	for i := range s.Catch.Years {
		year := &s.Catch.Years[i]
		single, filled, by := 0, 0, map[strata.Set]int{}
		for j := range s.Catch.Strata {
			p := &s.Catch.Strata[j]
			switch {
			case p.Cell.Year != year.Cell.Year:
			case p.Single:
				single++
			case p.Filled > 0:
				filled++
				by[p.FilledBy]++
			}
		}
		if filled > 0 {
			say("%s of the catch of %d lies in %s without a sample of their own; their lengths come from trips that share %s.",
				percentOf(year.Filled), year.Cell.Year, plural(filled, "stratum", "strata"), sharing(by))
		}
		if single > 0 {
			say("In %d %s a single sampled trip; how far it may be off is taken from strata like it.", year.Cell.Year, plural(single, "stratum has", "strata have"))
		}
	}
	if n := len(s.Counts.Unheard); n > 0 {
		say("No sample reaches %s of the catch along the ladder of lengths; their fish stay unaged.", plural(n, "stratum", "strata"))
	}
}

// sharing is "year, gear (3), year (1)".
func sharing(by map[strata.Set]int) string {
	var said []string
	for set, n := range by {
		columns := strings.Join(set.Names(), " and ")
		if columns == "" {
			columns = "nothing with them"
		}
		said = append(said, fmt.Sprintf("%s (%d)", columns, n))
	}
	sort.Strings(said)
	return strings.Join(said, ", ")
}

// keyShares are shares of the catch.
type keyShares struct{ borrowed, unaged float64 }

// sharesOfKey weighs each row of the key by the catch of its length.
func sharesOfKey(s *run.Species) keyShares {
	d := &s.Counts.Design
	p := make([]float64, d.Bins)
	var r keyShares
	total := 0.0
	for i := range s.Catch.Strata {
		fish := s.Catch.Strata[i].Total.Value.X
		total += fish
		if !d.LengthShares(p, i, nil) {
			r.unaged += fish
			continue
		}
		for l, share := range p {
			switch rung := s.Key.From[d.Strata[i].Key*d.Bins+l].Rung(); {
			case rung < 0:
				r.unaged += fish * share
			case rung > 0:
				r.borrowed += fish * share
			}
		}
	}
	if total > 0 {
		r.borrowed, r.unaged = r.borrowed/total, r.unaged/total
	}
	return r
}

// missing says why there is no key or no catch at age of a species that was asked for,
// and what would give one; empty when nothing is missing.
func missing(o *run.Outcome, s *run.Species) string {
	what := "catch at age"
	if !asked(o, run.Catch) {
		what = "key"
	}
	if s.Catch != nil || what == "key" && (s.Key != nil || !asked(o, run.Key)) {
		return ""
	}
	var why []string
	if what == "catch at age" && len(s.Counts.Cells) == 0 {
		why = append(why, fmt.Sprintf("catch.csv tells no catch of it: add a row for each %s, with the number of fish or their weight.",
			strings.Join(o.Settings.Strata, ", ")))
	}
	if what == "catch at age" && s.Counts.Measured == 0 {
		why = append(why, "lengths.csv holds no fish of it that was measured on a trip of trips.csv: add the length counts of at least one trip.")
	}
	if s.Key == nil {
		why = append(why, withoutKey(s))
	}
	if len(why) == 0 {
		why = append(why, "its fish can't be brought together: no trip with lengths belongs to a stratum with a catch.")
	}
	return fmt.Sprintf("There is no %s of %s: %s", what, s.Species, strings.Join(why, " And "))
}

func asked(o *run.Outcome, part run.Part) bool {
	for _, only := range o.Options.Only {
		if only == part {
			return true
		}
	}
	return len(o.Options.Only) == 0
}

// withoutKey says why no fish can enter a key, counted by reason.
func withoutKey(s *run.Species) string {
	if s.Counts.Aged > 0 {
		return fmt.Sprintf("%s. The form agreed_direct (--key agreed_direct) asks for least.", s.NoKey)
	}
	if len(s.Ages) == 0 {
		return "fish.csv holds no fish of it: add the fish whose stones were read, with date and length."
	}
	said := []string{fmt.Sprintf("none of its %s has both an age and a length", plural(len(s.Ages), "fish", "fish"))}
	for _, reason := range []struct {
		flag age.Flags
		text string
	}{
		{age.Unread, "not read: add readings.csv"},
		{age.Undated, "without a date of capture"},
		{age.Uncalendared, "without a calendar: tell birth day and annulus day of the species in programme.json"},
		{age.Miscalendared, "under a calendar that contradicts itself"},
		{age.Disagreement, "unresolved between readers"},
		{age.Impossible, "with a reading that gives no possible age"},
	} {
		n := 0
		for i := range s.Ages {
			if s.Ages[i].Flags&reason.flag != 0 {
				n++
			}
		}
		if n > 0 {
			said = append(said, fmt.Sprintf("%d %s", n, reason.text))
		}
	}
	return strings.Join(said, "; ") + "."
}

// any tells whether there is something to write: an age of some fish.
func (r *results) any() bool {
	for _, s := range r.outcome.Species {
		for i := range s.Ages {
			if len(s.Ages[i].Used) > 0 || s.Ages[i].Class.Known() {
				return true
			}
		}
	}
	return false
}

// refuse tells that nothing could be estimated, with all that was found on the way.
func (r *results) refuse(to *output) (status, error) {
	if _, err := to.findings(r.found); err != nil {
		return failed, err
	}
	if to.json {
		return found, nil
	}
	for _, s := range r.outcome.Species {
		if reason := missing(r.outcome, s); reason != "" {
			to.say("%s", reason)
		}
	}
	to.say("Nothing was written.")
	return found, nil
}

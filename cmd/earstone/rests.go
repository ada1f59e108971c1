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
	if s.Key != nil {
		sayKey(o, s, say)
	}
	sayOrigin(s, say)
	if s.Counts != nil && s.Counts.Unsettled > 0 {
		say("%s: the readings differ and the programme's rule leaves the age open. Marked unresolved in ages.csv, and out of keys of agreed ages until read again.",
			plural(s.Counts.Unsettled, "fish waits", "fish wait"))
	}
	return said
}

// sayKey tells what the key leans on beside the cells of its own strata.
func sayKey(o *run.Outcome, s *run.Species, say func(string, ...any)) {
	if s.Key.InPlace != "" {
		say("The key is %s; %s was asked for and could not be had%s.", s.Key.Form, s.Key.InPlace, because(s))
	}
	if rests := s.Key.Rests; s.Catch != nil && rests.Borrowed > 0 {
		say("%s of the catch lies at lengths at which its own stratum of the key has too few aged fish; their ages are borrowed along the ladder of the key.", percentOf(rests.Borrowed))
	}
	if rests := s.Key.Rests; s.Catch != nil && rests.Unaged > 0 {
		say("%s of the catch lies at lengths that no key reaches; these fish stay unaged.", percentOf(rests.Unaged))
	}
	for _, area := range s.Key.Areas {
		if area.Differs && area.Shift.Known && area.Shift.X >= largeShift {
			say("Age at a given length differs by %s (p = %.2g), and the key pools it: with a key of its own for each, a share at age would move by up to %s points. A ladder of the key that begins with %s avoids that where there are stones enough.",
				strings.Join(area.Column.Names(), " and "), area.ByTrip, words.Figure(100*area.Shift.X, 1), strings.Join(area.Column.Names(), ", "))
		}
	}
	if s.Catch != nil && s.Catch.Unknown > 0 {
		say("In %d of %d replicates the fit of the key did not come to its end.", s.Catch.Unknown, o.Options.Replicates)
	}
}

// largeShift is from which change of a share at age on a pooled key is warned of.
const largeShift = 0.02

// because says why the ageing error is not there, when that is what stood in the way.
func because(s *run.Species) string {
	if s.Errors == nil && s.NoErrors != nil {
		return ": " + s.NoErrors.Error()
	}
	return ""
}

// sayStrata tells the strata that don't stand on their own sample.
func sayStrata(s *run.Species, say func(string, ...any)) {
	for i := range s.Catch.Years {
		year := &s.Catch.Years[i]
		single, alone, filled, by := 0, 0, 0, map[strata.Set]int{}
		for j := range s.Catch.Strata {
			p := &s.Catch.Strata[j]
			switch {
			case p.Cell.Year != year.Cell.Year:
			case p.Single && s.Counts.Design.Strata[j].Relative == nil:
				alone++
			case p.Single:
				single++
			case p.Filled > 0:
				filled++
				by[p.FilledBy]++
			}
		}
		if filled > 0 {
			say("%s of the catch of %d lies in %s without a sample; the lengths there are taken from %s.",
				percentOf(year.Filled), year.Cell.Year, plural(filled, "stratum", "strata"), sharing(by))
		}
		if single > 0 {
			say("In %d %s a single sampled trip; how far that may be off is taken from strata like it.", year.Cell.Year, plural(single, "stratum has", "strata have"))
		}
		if alone > 0 {
			say("In %d %s a single sampled trip, and no stratum like it has two: nothing tells how trips differ. The intervals take fish of one trip for independent, and are too narrow.",
				year.Cell.Year, plural(alone, "stratum has", "strata have"))
		}
	}
	if n := len(s.Counts.Unheard); n > 0 {
		say("No sample reaches %s of the catch along the ladder of lengths; their fish stay unaged.", plural(n, "stratum", "strata"))
	}
}

// sharing is "trips of the same year and gear (3 strata), trips of the same year (1 stratum)".
func sharing(by map[strata.Set]int) string {
	var said []string
	for set, n := range by {
		from := "trips of the same " + strings.Join(set.Names(), " and ")
		if len(set.Names()) == 0 {
			from = "all trips"
		}
		said = append(said, from+" ("+plural(n, "stratum", "strata")+")")
	}
	sort.Strings(said)
	return strings.Join(said, ", ")
}

// missing says that there is no key or no catch at age of a species, though it was asked
// for, why, and what would give one; nil when nothing is missing.
func missing(o *run.Outcome, s *run.Species) []string {
	said := withoutOrigin(o, s)
	catch := asked(o, run.Catch)
	switch {
	case catch && s.Catch != nil, !catch && (s.Key != nil || !asked(o, run.Key)):
		return said
	case !catch:
		return append(said, fmt.Sprintf("There is no key of %s.", s.Species), withoutKey(s))
	}
	said = append(said, fmt.Sprintf("There is no catch at age of %s.", s.Species))
	if len(s.Counts.Cells) == 0 {
		said = append(said, fmt.Sprintf("catch.csv holds no catch of it. Add a row for each %s, with the number of fish or their weight.",
			strings.Join(o.Settings.Strata, " and ")))
	}
	if s.Counts.Measured == 0 {
		said = append(said, "lengths.csv holds no fish of it whose length can be used. Add the length counts of at least one trip that stands in trips.csv.")
	}
	if s.Key == nil {
		said = append(said, withoutKey(s))
	}
	return said
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
		return fmt.Sprintf("There is no key: %s. The form agreed_direct asks for least (--key agreed_direct).", s.NoKey)
	}
	if len(s.Ages) == 0 {
		return "fish.csv holds no fish of it. Add the fish whose stones were read, each with its date and length."
	}
	aged := 0
	var reasons []string
	for i := range s.Ages {
		if s.Ages[i].Class.Known() {
			aged++
		}
	}
	if aged > 0 {
		reasons = append(reasons, fmt.Sprintf("%d with an age have no length that can be used", aged))
	}
	for _, reason := range []struct {
		flag age.Flags
		text string
	}{
		{age.Unread, "are not read (readings.csv)"},
		{age.Undated, "have no date of capture (caught_on)"},
		{age.Uncalendared, "are of a species without a calendar (birth_day and annulus_day in programme.json)"},
		{age.Miscalendared, "are of a species whose calendar contradicts itself"},
		{age.Disagreement, "wait for another reading, since readers differ"},
		{age.Impossible, "have a reading that gives no possible age"},
	} {
		n := 0
		for i := range s.Ages {
			if s.Ages[i].Flags&reason.flag != 0 {
				n++
			}
		}
		if n > 0 {
			reasons = append(reasons, fmt.Sprintf("%d %s", n, reason.text))
		}
	}
	return fmt.Sprintf("Of its %s none has both an age and a length: %s.", plural(len(s.Ages), "fish", "fish"), strings.Join(reasons, ", "))
}

// any tells whether there is something to write: an age of some fish.
func (r *results) any() bool {
	for _, s := range r.outcome.Species {
		for i := range s.Ages {
			if s.Ages[i].Class.Known() {
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
		to.sentences(missing(r.outcome, s))
	}
	to.say("Nothing was written.")
	return found, nil
}

// sentences prints some sentences, one a line.
func (to *output) sentences(all []string) {
	for _, sentence := range all {
		to.say("%s", sentence)
	}
}

package report

import (
	"fmt"
	"math"
	"strings"

	"earstone/estimate/run"
	"earstone/pages/words"
	"earstone/programme/record"
	"earstone/programme/strata"
	"earstone/reading/ageerror"
)

const gap = 0.2 // between the two standard errors, above which it is told

// board collects notices, warnings before notes.
type board struct{ warnings, notes []notice }

func (b *board) warn(says string, more ...string) {
	b.warnings = append(b.warnings, notice{"warning", "Weigh this", says, join(more...)})
}

func (b *board) note(says string, more ...string) {
	b.notes = append(b.notes, notice{"note", "Good to know", says, join(more...)})
}

// notices is what to know before the numbers are used.
func (k *told) notices() section {
	c := k.section("notices", "Before you use these numbers")
	b := &board{}
	k.aboutKey(b)
	k.aboutStrata(b)
	k.aboutSpread(b)
	k.aboutReaders(b)
	records := k.aboutRecords(b)
	c.Notices = append(b.warnings, b.notes...)
	if len(c.Notices) == 0 {
		c.Says = []string{"Nothing was found that speaks against them: every stratum has its own sample, readers and calendar agree, and the two standard errors lie close together."}
	}
	if records != nil {
		c.Tables = append(c.Tables, *k.table(records))
	}
	return c
}

func (k *told) aboutKey(b *board) {
	if k.s.Counts != nil && k.s.Counts.Unsettled > 0 {
		n := k.s.Counts.Unsettled
		b.warn(fmt.Sprintf("%s for another reading.", plural(n, "fish waits", "fish wait")),
			"Their readings differ and the programme's rule leaves the age open; they stand in ages.csv as unresolved and are in no key of agreed ages.")
	}
	found := k.s.Key
	if found == nil {
		if k.s.Catch == nil && k.s.NoKey != nil {
			b.warn("There is no age–length key.", k.withoutKey())
		}
		return
	}
	if found.InPlace != "" {
		why := ""
		if k.s.NoErrors != nil {
			why = sentence("The errors of the readers could not be had: " + k.s.NoErrors.Error())
		}
		b.warn(fmt.Sprintf("A key of %s stands in for one of %s.", formName(found.Form), formName(found.InPlace)), why,
			"What readers count wrongly is still in these numbers: a weak year class beside a strong one looks too strong.")
	}
	if !found.Told.Converged {
		b.warn("The fit of the key did not come to its end.", "Look at the curves below before you trust it.")
	}
	if k.s.Catch != nil && k.s.Catch.Unknown > 0 {
		b.warn(fmt.Sprintf("In %s of %s the fit of the key did not come to its end.", words.Count(k.s.Catch.Unknown), plural(k.o.Options.Replicates, "replicate", "replicates")))
	}
	k.aboutAreas(b)
	if r := found.Rests; r.Borrowed > 0 {
		b.note(fmt.Sprintf("%s of the catch borrows its ages.", capital(percent(r.Borrowed))),
			"At these lengths the stratum of the key has too few aged fish of its own, and the next rung of the ladder serves.")
	}
	if r := found.Rests; r.Unaged > 0 {
		b.note(fmt.Sprintf("%s of the catch stays unaged.", capital(percent(r.Unaged))), "No aged fish is of these lengths; the fish are counted, not dropped.")
	}
}

func (k *told) aboutAreas(b *board) {
	for _, a := range k.s.Key.Areas {
		if !a.Differs {
			continue
		}
		shift := ""
		if a.Shift.Known {
			shift = fmt.Sprintf("A key of its own for each would move no share of the catch by more than %s percentage points.", rounded(asPercent(a.Shift), 2))
		}
		says := fmt.Sprintf("One key serves all %ss, and age at a length differs between them (%s %ss, p %s).", a.Column, words.Count(a.Groups), a.Column, p(record.Some(a.P)))
		if a.Shift.Known && a.Shift.X < 0.01 {
			b.note(says, shift)
		} else {
			b.warn(says, shift)
		}
	}
}

// aboutStrata tells the strata that do not stand on their own sample.
func (k *told) aboutStrata(b *board) {
	if k.s.Catch == nil {
		return
	}
	for i := range k.s.Catch.Years {
		year := &k.s.Catch.Years[i]
		single, filled, by := k.thin(int(year.Cell.Year))
		if filled > 0 {
			b.warn(fmt.Sprintf("%s of the catch of %d lies in %s without a sample.", capital(percent(year.Filled)), year.Cell.Year, plural(filled, "stratum", "strata")),
				"Their lengths come from trips that share "+by+". No interval knows whether these strata are unlike the sampled ones.")
		}
		if single > 0 {
			b.note(fmt.Sprintf("In %d %s a single sampled trip.", year.Cell.Year, plural(single, "stratum has", "strata have")),
				"How far it may be off is taken from strata like it.")
		}
	}
	if n := len(k.s.Counts.Unheard); n > 0 {
		b.warn(fmt.Sprintf("No sample reaches %s of the catch along the ladder of lengths.", plural(n, "stratum", "strata")), "Their fish stay unaged.")
	}
}

// thin counts the strata of a year with one trip and with none, and says what fills them.
func (k *told) thin(year int) (single, filled int, by string) {
	sets, number := []strata.Set{}, map[strata.Set]int{}
	for i := range k.s.Catch.Strata {
		switch p := &k.s.Catch.Strata[i]; {
		case int(p.Cell.Year) != year:
		case p.Single:
			single++
		case p.Filled > 0:
			filled++
			if number[p.FilledBy] == 0 {
				sets = append(sets, p.FilledBy)
			}
			number[p.FilledBy]++
		}
	}
	var said []string
	for _, set := range sets {
		said = append(said, fmt.Sprintf("%s (%s)", columnsOf(set), plural(number[set], "stratum", "strata")))
	}
	return single, filled, strings.Join(said, ", or ")
}

// columnsOf are the columns of a set in words: year, area and gear.
func columnsOf(set strata.Set) string {
	if set == 0 {
		return "nothing with them"
	}
	return list(set.Names())
}

// aboutSpread tells ages at which the two standard errors part.
func (k *told) aboutSpread(b *board) {
	if k.s.Catch == nil {
		return
	}
	for i := range k.s.Catch.Years {
		year := &k.s.Catch.Years[i]
		var apart []string
		for a, e := range year.Number {
			if over, ok := parted(e); ok && math.Abs(over) > gap {
				apart = append(apart, "age "+k.s.Catch.Ages[a]+" ("+signed(over)+")")
			}
		}
		if len(apart) > 0 {
			b.note(fmt.Sprintf("At %s of %d the standard error by formula and the resampled one lie more than %s apart.", plural(len(apart), "age", "ages"), year.Cell.Year, percent(gap)),
				"Formula less resampling: "+list(apart)+".", "Intervals rest on the resampling, which knows that fish of one trip are alike; a formula that is too small says how much the trips matter.")
		}
	}
}

// parted is by what share the formula is above the resampling; not ok where one is not
// known.
func parted(e run.Estimate) (over float64, ok bool) {
	if !e.Analytic.Known || !e.SE.Known || !(e.SE.X > 0) {
		return 0, false
	}
	return e.Analytic.X/e.SE.X - 1, true
}

func signed(share float64) string {
	text := words.Figure(100*share, 0) + narrow + "%"
	if share > 0 {
		text = "+" + text
	}
	return text
}

func (k *told) aboutReaders(b *board) {
	if r := k.s.Agreement; r != nil {
		if w := r.Calendar; w.Given {
			b.warn(fmt.Sprintf("The calendar may be wrong: narrow edges are commonest in %s, not after the declared annulus day, %s.", month(w.Month), dayOf(w.Declared)),
				fmt.Sprintf("%s of the edges judged in %s are narrow (%d of %d), and %s in %s (%d of %d). If the annulus forms on another day, all fish caught between the two days are a year off.",
					capital(percent(w.Seen.Share)), month(w.Seen.Month), w.Seen.N, w.Seen.Of, percent(w.Expected.Share), month(w.Expected.Month), w.Expected.N, w.Expected.Of))
		}
		for _, d := range r.Drift {
			if d.Breached.Known() {
				b.warn(fmt.Sprintf("The readings of %s drift: first out of their limits on %s.", d.Reader, words.English.Date(d.Breached)),
					"What follows is for a person to settle: look at the stones read since, side by side with the first ones.")
			}
		}
	}
	k.aboutFit(b)
}

// aboutFit tells what the fit of the ageing error leaves to be said.
func (k *told) aboutFit(b *board) {
	fit := k.s.Errors
	if fit == nil {
		return
	}
	if fit.Differ {
		b.note("The fit of the ageing error reached different ends from different starts.", "The best of them is reported.")
	}
	for _, n := range fit.Notes {
		reader := k.reader(n.Reader)
		switch n.Remark {
		case ageerror.Pooled:
			b.note(fmt.Sprintf("%s has too few second readings for an ageing error of its own.", reader), "It shares one with other readers.")
		case ageerror.Shared:
			b.note(fmt.Sprintf("%s shares one ageing error with other readers.", reader), "Apart, the scatter ran to the edge of what is possible; together the fit is better.")
		case ageerror.Held:
			b.note(fmt.Sprintf("The scatter of %s is too small to be seen.", reader), "It is held at the least that is fitted.")
		}
	}
}

// reader names a reader by number.
func (k *told) reader(r int) string {
	if r < len(k.o.Readers) {
		return string(k.o.Readers[r])
	}
	return fmt.Sprintf("reader %d", r+1)
}

func capital(text string) string { return strings.ToUpper(text[:1]) + text[1:] }

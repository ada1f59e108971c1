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
	b.warnings = append(b.warnings, notice{says, join(more...)})
}

func (b *board) note(says string, more ...string) {
	b.notes = append(b.notes, notice{says, join(more...)})
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
	if len(b.warnings) > 0 {
		c.Notices = append(c.Notices, notices{"Weigh these", true, b.warnings})
	}
	if len(b.notes) > 0 {
		c.Notices = append(c.Notices, notices{"Good to know", false, b.notes})
	}
	switch {
	case c.Notices != nil:
	case k.s.Catch == nil:
		return section{}
	default:
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
		return // the answer says so
	}
	if found.InPlace != "" {
		why := ""
		if k.s.NoErrors != nil {
			why = sentence("The errors of the readers could not be had: " + k.s.NoErrors.Error())
		}
		b.warn(fmt.Sprintf("A key of %s, stands in for one of %s.", formName(found.Form), formName(found.InPlace)), why,
			"What readers count wrongly is still in these numbers: a weak year class beside a strong one looks too strong.")
	}
	if !found.Told.Converged {
		b.warn("The fit of the key did not come to its end.", "Look at the curves below before you trust it.")
	}
	if k.s.Catch != nil && k.s.Catch.Unknown > 0 {
		b.warn(fmt.Sprintf("In %s of %s the fit of the key did not come to its end.", words.Count(k.s.Catch.Unknown), plural(k.o.Options.Replicates, "replicate", "replicates")))
	}
	k.aboutAreas(b)
	if share := found.Rests.Borrowed; share > 0 {
		tell := b.note
		if share > 0.5 {
			tell = b.warn
		}
		tell(ofCatch(share)+" borrows its ages.", "At these lengths the stratum of the key has too few aged fish of its own, and the next rung of the ladder serves.")
	}
	if share := found.Rests.Unaged; share > 0 {
		b.note(ofCatch(share)+" stays unaged.", "No aged fish is of these lengths; the fish are counted, not dropped.")
	}
}

// ofCatch is a share of the catch at the beginning of a sentence.
func ofCatch(share float64) string {
	if share > 0.9995 {
		return "All of the catch"
	}
	return capital(percent(share)) + " of the catch"
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
		says := fmt.Sprintf("One key serves all %ss, and age at a length differs between them (%s %ss, p %s).", a.Column, words.Count(a.Values), a.Column, p(record.Some(a.ByTrip)))
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
	var filled, single []string
	for i := range k.s.Catch.Years {
		year := &k.s.Catch.Years[i]
		ones, others := k.thin(int(year.Cell.Year))
		if others > 0 {
			filled = append(filled, fmt.Sprintf("%s of the catch of %d (%s)", percent(year.Filled), year.Cell.Year, plural(others, "stratum", "strata")))
		}
		if ones > 0 {
			single = append(single, fmt.Sprintf("%s of %d", plural(ones, "stratum", "strata"), year.Cell.Year))
		}
	}
	if len(filled) > 0 {
		b.warn(fmt.Sprintf("Strata without a sample hold %s.", list(filled)),
			"Their lengths come from trips that share "+k.fillers()+". No interval knows whether these strata are unlike the sampled ones.")
	}
	if len(single) > 0 {
		b.note(fmt.Sprintf("One sampled trip alone stands for %s.", list(single)), "How far it may be off is taken from strata like it.")
	}
	if n := len(k.s.Counts.Unheard); n > 0 {
		b.warn(fmt.Sprintf("No sample reaches %s of the catch along the ladder of lengths.", plural(n, "stratum", "strata")), "Their fish stay unaged.")
	}
}

// thin counts the strata of a year with one trip and with none.
func (k *told) thin(year int) (single, filled int) {
	for i := range k.s.Catch.Strata {
		switch p := &k.s.Catch.Strata[i]; {
		case int(p.Cell.Year) != year:
		case p.Filled > 0:
			filled++
		case p.Single:
			single++
		}
	}
	return single, filled
}

// fillers says what the filled strata share with the trips that fill them.
func (k *told) fillers() string {
	var sets []strata.Set
	number := map[strata.Set]int{}
	for i := range k.s.Catch.Strata {
		if p := &k.s.Catch.Strata[i]; p.Filled > 0 {
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
	return strings.Join(said, ", or ")
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
	var apart []string
	worst, where := 0.0, ""
	for i := range k.s.Catch.Years {
		year, ages := &k.s.Catch.Years[i], 0
		for a, e := range year.Number {
			over, ok := parted(e)
			if !ok || math.Abs(over) <= gap {
				continue
			}
			ages++
			if math.Abs(over) > math.Abs(worst) {
				worst, where = over, fmt.Sprintf("age %s of %d", k.s.Catch.Ages[a], year.Cell.Year)
			}
		}
		if ages > 0 {
			apart = append(apart, fmt.Sprintf("%s of %d", plural(ages, "age", "ages"), year.Cell.Year))
		}
	}
	if len(apart) > 0 {
		b.note(fmt.Sprintf("The standard error by formula and the resampled one lie more than %s apart at %s.", percent(gap), list(apart)),
			fmt.Sprintf("The farthest is %s, where the formula lies %s from the resampling.", where, signed(worst)),
			"Intervals rest on the resampling, which knows that fish of one trip are alike.")
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

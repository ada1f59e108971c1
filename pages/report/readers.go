package report

import (
	"fmt"
	"slices"

	"earstone/pages/words"
	"earstone/programme/record"
	"earstone/reading/agreement"
)

// mostPairs is how many pairs of readers are drawn.
const mostPairs = 6

func (k *told) readers() section {
	r := k.s.Agreement
	if r == nil || len(k.s.Ages) == 0 {
		return section{}
	}
	c := k.section("readers", "Readers against each other")
	if len(r.Pairs) == 0 && len(r.Self) == 0 {
		c.Says = []string{"No fish was read twice, so that nothing tells how far readers agree. Have some stones read by a second reader, or by the same one again."}
		return c
	}
	c.Says = []string{k.agreementSays()}
	c.Tables = []table{*k.table(k.agreementTable())}
	pairs := slices.Clone(r.Pairs)
	if len(pairs) > mostPairs {
		slices.SortStableFunc(pairs, func(a, b agreement.Pair) int { return b.ReadTwice - a.ReadTwice })
		pairs = pairs[:mostPairs]
		c.Says = append(c.Says, fmt.Sprintf("The %d pairs with most fish in common are drawn; the table has all.", mostPairs))
	}
	for i := range pairs {
		c.Sets = append(c.Sets, k.pair(&pairs[i]))
	}
	return c
}

func (k *told) agreementSays() string {
	all := k.s.Agreement.All
	if all.ReadTwice == 0 {
		return "No fish was read by two readers; each reader stands against an earlier day of their own."
	}
	says := fmt.Sprintf("Of %s read by two readers or more, all readers agree exactly on %s and within one year on %s.",
		plural(all.ReadTwice, "fish", "fish"), inPercent(all.Exact), inPercent(all.Within1))
	return join(says, fmt.Sprintf("The average percent error is %s, the mean coefficient of variation %s.", inPercent(all.APE), inPercent(all.CV)),
		"This is agreement, not accuracy: readers may share an error.")
}

// inPercent writes a number that is in percent already.
func inPercent(n record.Number) string {
	if !n.Known {
		return none
	}
	return words.Figure(n.X, 1) + narrow + "%"
}

func (k *told) agreementTable() *table {
	of := &table{Summary: "Agreement in numbers", Paper: true,
		Caption: "Agreement of counts. APE is the average percent error, CV the mean coefficient of variation, both in %; exact and within 1 year in % of fish; difference is second less first reader, in years, with its interval of 95 %; p of the symmetry of each table.",
		Head:    append(text("Readers"), figures("Fish", "APE", "CV", "Exact", "Within 1", "Difference", "From", "To", "p Bowker", "p diagonals", "p above–below")...)}
	add := func(name string, s agreement.Summary) []string {
		return []string{name, words.Count(s.ReadTwice), rounded(s.APE, 1), rounded(s.CV, 1), rounded(s.Exact, 1), rounded(s.Within1, 1)}
	}
	of.Rows = append(of.Rows, append(add("All together", k.s.Agreement.All), "", "", "", "", "", ""))
	for _, each := range [][]agreement.Pair{k.s.Agreement.Pairs, k.s.Agreement.Self} {
		for i := range each {
			pair := &each[i]
			of.Rows = append(of.Rows, append(add(pairName(pair), pair.Summary), rounded(pair.Difference.Mean, 2), rounded(pair.Difference.Low, 2), rounded(pair.Difference.High, 2),
				p(pair.Bowker.P), p(pair.EvansHoenig.P), p(pair.McNemar.P)))
		}
	}
	return of
}

func pairName(p *agreement.Pair) string {
	if p.ReaderA == p.ReaderB {
		return string(p.ReaderA) + " on two days"
	}
	return string(p.ReaderA) + " and " + string(p.ReaderB)
}

// drift follows the control readings.
func (k *told) drift() section {
	if k.s.Agreement == nil || len(k.s.Agreement.Drift) == 0 {
		return section{}
	}
	c := k.section("drift", "Readers through time")
	of := &table{Summary: "Control readings of each reader", Paper: true,
		Caption: fmt.Sprintf("Control readings: the running mean over the last %d, of again less first count (rings) and of the CV (%%), with the limits of the reader's own first %d.",
			agreement.RunningOver, agreement.ReferencePeriod),
		Head: append(text("Reader"), figures("Controls", "Mean now", "Low limit", "High limit", "CV now", "CV limit")...)}
	of.Head = append(of.Head, text("First breach")...)
	var breached, steady, early []string
	for _, d := range k.s.Agreement.Drift {
		row := []string{string(d.Reader), words.Count(d.Controls), none, none, none, none, none, "none"}
		switch n := len(d.Points); {
		case n == 0:
			early = append(early, string(d.Reader))
			row[7] = "too few controls yet"
		default:
			last := d.Points[n-1]
			for i, x := range []float64{last.Mean, d.Difference.Low, d.Difference.High, last.CV, d.CV.High} {
				row[2+i] = rounded(record.Some(x), []int{2, 2, 2, 1, 1}[i])
			}
			if d.Breached.Known() {
				breached = append(breached, string(d.Reader))
				row[7] = words.English.Date(d.Breached)
			} else {
				steady = append(steady, string(d.Reader))
			}
		}
		of.Rows = append(of.Rows, row)
	}
	said := []string{}
	for _, group := range []struct {
		of        []string
		one, many string
	}{
		{breached, "has left the limits of their first readings", "have left the limits of their first readings"},
		{steady, "reads as at the beginning", "read as at the beginning"},
		{early, "has too few control readings to tell", "have too few control readings to tell"},
	} {
		if len(group.of) > 0 {
			said = append(said, sentence(list(group.of)+" "+either(len(group.of), group.one, group.many)))
		}
	}
	c.Says = []string{join(said...)}
	c.Tables = []table{*k.table(of)}
	return c
}

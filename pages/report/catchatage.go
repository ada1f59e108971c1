package report

import (
	"fmt"
	"html/template"
	"strings"

	"earstone/estimate/run"
	"earstone/pages/chart"
	"earstone/pages/words"
)

// mostYears is how many years stand open on the page; the others are folded.
const mostYears = 3

// answer is the catch at age and what it rests on.
func (k *told) answer() section {
	c := k.section("catch", "Catch at age")
	if k.s.Catch == nil {
		c.Says = []string{k.missing()}
		return c
	}
	years := k.s.Catch.Years
	if len(years) == 0 {
		c.Says = []string{"The strata tell no year, so that there is no catch at age by year. The strata themselves stand in catch_at_age.csv."}
		return c
	}
	first := max(0, len(years)-mostYears)
	for i := len(years) - 1; i >= first; i-- {
		c.Sets = append(c.Sets, set{Figures: []figure{k.year(&years[i])}})
	}
	c.Sets = append(c.Sets, set{Figures: []figure{k.basis()}})
	if first > 0 {
		c.Says = append(c.Says, fmt.Sprintf("The last %d of %d years stand here, the newest first; the others are folded in below.", mostYears, len(years)))
		earlier := set{Folded: "Earlier years: " + years[0].Cell.String() + " to " + years[first-1].Cell.String()}
		for i := first - 1; i >= 0; i-- {
			earlier.Figures = append(earlier.Figures, k.year(&years[i]))
		}
		c.Sets = append(c.Sets, earlier)
	}
	return c
}

// truth is the known catch of an age in a year.
func (k *told) truth(year, age int) chart.Amount {
	known := k.about.Truth[k.s.Species][year]
	if age >= len(known) {
		return chart.Amount{}
	}
	return chart.Of(known[age])
}

// plus tells whether the last kept age holds all older ones too.
func (k *told) plus() bool {
	names := k.s.Catch.Ages
	return len(names) > 0 && strings.HasSuffix(names[len(names)-1], "+")
}

// year is the picture of one year.
func (k *told) year(p *run.Place) figure {
	year := int(p.Cell.Year)
	says := join(k.commonest(p), halfway(p, k.s.Catch.Ages), filledOf(p), k.held(p))
	pic := chart.CatchAtAge{Frame: chart.Frame{Title: fmt.Sprintf("Catch at age of %s in %d", k.s.Species, year), Alt: says, Level: k.o.Options.Level},
		Plus: k.plus(), Unit: "fish"}
	begun := false
	for a, e := range p.Number {
		truth := k.truth(year, a)
		begun = begun || e.Value.X >= 0.5 || truth.Value >= 0.5 // a whole fish
		if !begun || !e.Value.Known {
			continue
		}
		pic.Ages = append(pic.Ages, chart.CatchBar{Age: a, Number: e.Value.X, Interval: between(e), Filled: e.Value.X * p.Filled, Truth: truth})
	}
	return k.figure(figure{Title: fmt.Sprintf("Catch at age, %d.", year), Says: says, Picture: template.HTML(pic.Draw()), Table: k.yearTable(p)})
}

// commonest names the age with most fish.
func (k *told) commonest(p *run.Place) string {
	best := -1
	for a, e := range p.Number {
		if e.Value.X > 0 && (best < 0 || e.Value.X > p.Number[best].Value.X) {
			best = a
		}
	}
	if best < 0 {
		return fmt.Sprintf("None of the fish of %d could be given an age.", p.Cell.Year)
	}
	opening := "The commonest age of %d was %s"
	if p.Share[best].Value.X > 0.5 {
		opening = "Most fish of %d were age %s"
	}
	e := p.Number[best]
	within := ""
	if has(e) {
		within = " (" + interval(e) + ")"
	}
	return fmt.Sprintf(opening+": %s of %s fish%s.", p.Cell.Year, k.s.Catch.Ages[best], value(e), value(p.Total), within)
}

// halfway says by which age half of the fish are counted.
func halfway(p *run.Place, ages []string) string {
	total, sum := 0.0, 0.0
	for _, e := range p.Number {
		total += e.Value.X
	}
	for a, e := range p.Number {
		if sum += e.Value.X; total > 0 && sum >= total/2 {
			if a == len(ages)-1 {
				return ""
			}
			return "Half of all fish were age " + ages[a] + " or younger."
		}
	}
	return ""
}

func filledOf(p *run.Place) string {
	if p.Filled <= 0 {
		return ""
	}
	return sentence(percent(p.Filled) + " of this catch lies in strata without a sample (hatched).")
}

// held counts the intervals that hold the known truth.
func (k *told) held(p *run.Place) string {
	held, of := 0, 0
	for a, e := range p.Number {
		truth := k.truth(int(p.Cell.Year), a)
		if truth.Known && truth.Value > 0 && has(e) {
			of++
			if e.Low.X <= truth.Value && truth.Value <= e.High.X {
				held++
			}
		}
	}
	if of == 0 {
		return ""
	}
	return fmt.Sprintf("%d of %s the known truth (open diamonds).", held, plural(of, "interval holds", "intervals hold"))
}

func (k *told) yearTable(p *run.Place) *table {
	year := int(p.Cell.Year)
	known := k.about.Truth[k.s.Species][year] != nil
	of := &table{Summary: fmt.Sprintf("The numbers of %d", year), Paper: true, File: "catch_at_age.csv",
		Caption: fmt.Sprintf("Catch at age of %s in %d, in fish, with intervals of %s. Mean length in %s, mean weight in kg. %s",
			k.s.Species, year, level(k.o.Options.Level), k.s.Counts.Bins.Unit, sentence(k.beneath(p))),
		Head: append(text("Age"), figures("Fish", "From", "To", "CV %", "Share", "Mean length", "Mean weight")...)}
	if known {
		of.Head = append(of.Head, figures("Known truth")...)
	}
	for a, e := range p.Number {
		low, high := ends(e)
		row := []string{k.s.Catch.Ages[a], value(e), low, high, cv(e), share(p.Share[a]), meanSize(p.MeanLength[a], e), meanSize(p.MeanWeight[a], e)}
		if known {
			row = append(row, whole(k.truth(year, a)))
		}
		of.Rows = append(of.Rows, row)
	}
	for _, more := range []struct {
		name string
		e    run.Estimate
	}{{"unaged", p.Unaged}, {"all", p.Total}} {
		low, high := ends(more.e)
		row := []string{more.name, rounded(more.e.Value, 0), low, high, cv(more.e), "", "", ""}
		if known {
			row = append(row, "")
		}
		of.Rows = append(of.Rows, row)
	}
	return of
}

// beneath says what a year rests on.
func (k *told) beneath(p *run.Place) string {
	said := plural(p.Trips, "trip", "trips") + " and " + plural(p.Stones, "aged fish", "aged fish") + " lie beneath"
	if p.Effective.Known {
		said += "; as informative as " + rounded(p.Effective, 0) + " fish drawn singly (effective sample size)"
	}
	return said
}

func share(e run.Estimate) string {
	if !e.Value.Known {
		return none
	}
	return percent(e.Value.X)
}

// meanSize is a mean size, where fish of the age were found.
func meanSize(e, number run.Estimate) string {
	if !e.Value.Known || !(number.Value.X >= 0.5) {
		return none
	}
	return words.Figure(e.Value.X, 1)
}

func whole(a chart.Amount) string {
	if !a.Known {
		return none
	}
	return words.Figure(a.Value, 0)
}

package report

import (
	"html/template"
	"math"
	"slices"
	"strconv"

	"earstone/estimate/run"
	"earstone/pages/chart"
	"earstone/pages/words"
	"earstone/plan/budget"
	"earstone/statistics/stream"
)

// budgetSection tells whose variance that of the figures of the last year is.
func (k *told) budgetSection() section {
	b := k.s.Budget
	if b == nil || k.s.Catch == nil {
		return section{}
	}
	shown := k.budgeted()
	if len(shown) == 0 {
		return section{}
	}
	c := k.section("budget", say("budget.heading"))
	c.Says = []string{say("budget.says", "n", words.Count(b.Design.N)), say("budget.names")}
	says := k.budgetSays(shown)
	pic := chart.Budget{Frame: chart.Frame{Title: say("budget.title"), Alt: says}, Together: say("budget.together")}
	of := &table{Summary: say("budget.summary"), File: "budget.csv", Caption: say("budget.caption"),
		Head: append(text(say("column.figure"), say("column.source_of")), figures(say("column.alone"), say("column.se"), say("column.with"), say("column.se"))...)}
	for _, q := range shown {
		bar := chart.BudgetBar{Name: k.budgetName(q)}
		if mean := q.Mean.Value; mean > 0 && q.Variance.Value > 0 {
			bar.Note = say("budget.cv", "cv", oneOrTwo(100*math.Sqrt(q.Variance.Value)/mean))
		}
		for _, share := range q.Shares {
			bar.Parts = append(bar.Parts, chart.BudgetPart{Source: sourceName(share.Source), Look: int(share.Source - stream.Trips), Share: share.First.Value, SE: share.First.SE})
			row := []string{bar.Name, sourceName(share.Source)}
			of.Rows = append(of.Rows, append(row, append(shareCells(share.First), shareCells(share.Total)...)...))
		}
		pic.Bars = append(pic.Bars, bar)
	}
	c.Sets = []set{{Figures: []figure{k.figure(figure{Title: say("budget.head"), Says: says, Picture: template.HTML(pic.Draw()), Table: of})}}}
	return c
}

// oneOrTwo is a number of percent with one decimal below ten.
func oneOrTwo(x float64) string {
	if x < 9.95 {
		return words.Figure(x, 1)
	}
	return words.Figure(x, 0)
}

// shareCells is a share with its standard error; a share may come out below nothing.
func shareCells(n budget.Number) []string {
	return []string{words.Figure(100*n.Value, 1) + narrow + "%", words.Figure(100*n.SE, 1)}
}

func sourceName(s stream.Source) string { return say("budget.source." + s.String()) }

// mostAges is how many ages of a year are drawn.
const mostAges = 5

// budgeted are the figures that are drawn: of the last year the catch, its mean length and
// up to five ages that hold a fiftieth of it or more, spread from the youngest to the
// oldest; then the nurseries.
func (k *told) budgeted() (shown []*run.Budgeted) {
	last := k.lastYear()
	pick := func(year, age int, quantity string) {
		for i := range k.s.Budget.Quantities {
			q := &k.s.Budget.Quantities[i]
			if q.Year == year && q.Age == age && q.Quantity == quantity {
				shown = append(shown, q)
			}
		}
	}
	pick(last, -1, "total")
	pick(last, -1, "mean_length")
	for _, age := range k.tellingAges(last) {
		pick(last, age, "number")
	}
	pick(0, -1, "nursery_share")
	return shown
}

func (k *told) tellingAges(year int) []int {
	total, of := 0.0, map[int]float64{}
	for i := range k.s.Budget.Quantities {
		if q := &k.s.Budget.Quantities[i]; q.Year == year && q.Quantity == "number" {
			of[q.Age] = q.Mean.Value
			total += q.Mean.Value
		}
	}
	var ages []int
	for age := range k.s.Catch.Ages {
		if of[age] > 0 && of[age] >= total/50 {
			ages = append(ages, age)
		}
	}
	if len(ages) <= mostAges {
		return ages
	}
	var spread []int
	for i := range mostAges {
		spread = append(spread, ages[i*(len(ages)-1)/(mostAges-1)])
	}
	return spread
}

// budgetName is a figure in words.
func (k *told) budgetName(q *run.Budgeted) string {
	year := strconv.Itoa(q.Year)
	switch {
	case q.Quantity == "nursery_share" && !slices.Contains(k.s.Origin.Nurseries, q.Nursery):
		return say("budget.unlike")
	case q.Quantity == "nursery_share":
		return say("budget.nursery", "nursery", q.Nursery)
	case q.Quantity == "total":
		return say("budget.total", "year", year)
	case q.Age < 0:
		return say("budget.length", "year", year)
	}
	return say("budget.number", "age", k.s.Catch.Ages[q.Age], "year", year)
}

// budgetSays tells which source is the largest, of which figures.
func (k *told) budgetSays(shown []*run.Budgeted) string {
	largest := func(q *run.Budgeted) budget.Share {
		best := q.Shares[0]
		for _, s := range q.Shares {
			if s.First.Value > best.First.Value {
				best = s
			}
		}
		return best
	}
	if len(shown) == 1 {
		best := largest(shown[0])
		return say("budget.largest.one", "figure", k.budgetName(shown[0]), "source", sourceName(best.Source), "share", percent(best.First.Value))
	}
	var parts []string
	for _, source := range stream.Sources() {
		n := 0
		for _, q := range shown {
			if largest(q).Source == source {
				n++
			}
		}
		if n > 0 {
			parts = append(parts, say("budget.largest.part", "source", sourceName(source), "figures", counted("figuresOf", n)))
		}
	}
	return say("budget.largest.many", "list", list(parts))
}

package report

import (
	"fmt"
	"html/template"

	"earstone/pages/chart"
)

// cohorts follows year classes through the years.
func (k *told) cohorts() section {
	if k.s.Catch == nil || len(k.s.Catch.Years) == 0 {
		return section{}
	}
	c := k.section("cohorts", "Cohorts through the years")
	says := k.cohortsSay()
	pic := chart.Cohorts{Frame: chart.Frame{Title: fmt.Sprintf("Cohorts of %s", k.s.Species), Alt: says}, Unit: "fish"}
	if k.plus() {
		pic.Plus = len(k.s.Catch.Ages) - 1
	}
	of := &table{Summary: "Catch at age of all years", Paper: true, File: "catch_at_age.csv", Caption: "Catch at age in fish, a year to a row. Follow a cohort down the diagonal.",
		Head: append(text("Year"), figures(k.s.Catch.Ages...)...)}
	for i := range k.s.Catch.Years {
		p := &k.s.Catch.Years[i]
		row := []string{p.Cell.String()}
		for a, e := range p.Number {
			row = append(row, value(e))
			if e.Value.Known && e.Value.X > 0 {
				pic.Marks = append(pic.Marks, chart.CohortMark{Year: int(p.Cell.Year), Age: a, Number: e.Value.X})
			}
		}
		of.Rows = append(of.Rows, row)
	}
	c.Sets = []set{{Figures: []figure{k.figure(figure{Title: "Catch by year and age.", Says: says, Picture: template.HTML(pic.Draw()), Table: of})}}}
	return c
}

// cohortsSay names the strongest cohort; the plus group is of many.
func (k *told) cohortsSay() string {
	number, best, total := map[int]float64{}, 0, 0.0
	for i := range k.s.Catch.Years {
		p := &k.s.Catch.Years[i]
		for a, e := range p.Number {
			total += e.Value.X
			if k.plus() && a == len(p.Number)-1 {
				continue
			}
			born := int(p.Cell.Year) - a
			number[born] += e.Value.X
			if best == 0 || number[born] > number[best] {
				best = born
			}
		}
	}
	years := len(k.s.Catch.Years)
	if total == 0 || number[best] == 0 {
		return "No fish has an age, so that there is no cohort to follow."
	}
	says := fmt.Sprintf("The fish born in %d are the most in the catch: %s of all", best, percent(number[best]/total))
	if years == 1 {
		return says + " in this one year. Cohorts can be followed once there is a second."
	}
	return fmt.Sprintf("%s over %d years.", says, years)
}

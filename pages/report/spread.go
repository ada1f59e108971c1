package report

import (
	"fmt"
	"html/template"
	"math"

	"earstone/estimate/run"
	"earstone/pages/chart"
	"earstone/pages/words"
)

// spreadSection sets the standard errors by formula beside the resampled ones.
func (k *told) spreadSection() section {
	if k.s.Catch == nil || len(k.s.Catch.Years) == 0 {
		return section{}
	}
	c := k.section("spread", "How sure: two standard errors")
	years := k.s.Catch.Years
	first := max(0, len(years)-mostYears)
	for i := len(years) - 1; i >= first; i-- {
		c.Sets = append(c.Sets, set{Figures: []figure{k.twoErrors(&years[i])}})
	}
	return c
}

func (k *told) twoErrors(p *run.Place) figure {
	says := k.twoErrorsSay(p)
	pic := chart.TwoErrors{Frame: chart.Frame{Title: fmt.Sprintf("Standard errors by age in %d", p.Cell.Year), Alt: says}, Plus: k.plus(), Unit: "fish", Gap: gap}
	of := &table{Summary: fmt.Sprintf("The two standard errors of %d", p.Cell.Year), File: "catch_at_age.csv",
		Caption: "Standard errors of the catch at age, in fish; formula less resampling, in % of the resampled one; percentile and BCa intervals of the replicates.",
		Head:    append(text("Age"), figures("Resampled", "Formula", "Difference", "Trips behind it (df)", "Percentile from", "to", "BCa from", "to")...)}
	for a, e := range p.Number {
		if e.Value.X > 0 {
			pic.Ages = append(pic.Ages, chart.TwoError{Age: a, Analytic: amount(e.Analytic), Resampled: amount(e.SE)})
		}
		difference, df := none, none
		if over, ok := parted(e); ok {
			difference = signed(over)
		}
		if e.Freedom > 0 && finite(e.Freedom) {
			df = words.Figure(e.Freedom, 0)
		}
		places := decimals(e.Value.X, spread(e))
		of.Rows = append(of.Rows, []string{k.s.Catch.Ages[a], rounded(e.SE, places), rounded(e.Analytic, places), difference, df,
			rounded(e.Percentile.Low, places), rounded(e.Percentile.High, places), rounded(e.BCa.Low, places), rounded(e.BCa.High, places)})
	}
	return k.figure(figure{Title: fmt.Sprintf("Standard error by formula and by resampling, %d.", p.Cell.Year), Says: says, Picture: template.HTML(pic.Draw()), Table: of})
}

func (k *told) twoErrorsSay(p *run.Place) string {
	n, apart, sum, worst, worstAge := 0, 0, 0.0, 0.0, ""
	for a, e := range p.Number {
		over, ok := parted(e)
		if !ok {
			continue
		}
		n++
		sum += over
		if math.Abs(over) > gap {
			apart++
		}
		if math.Abs(over) > math.Abs(worst) {
			worst, worstAge = over, k.s.Catch.Ages[a]
		}
	}
	if n == 0 {
		return fmt.Sprintf("In %d the two can't be set side by side at any age.", p.Cell.Year)
	}
	side := "above"
	if sum < 0 {
		side = "below"
	}
	mean := "agree on the whole"
	if math.Abs(sum/float64(n)) >= 0.005 {
		mean = fmt.Sprintf("the formula lies %s %s the resampling on average", percent(math.Abs(sum)/float64(n)), side)
	}
	if mean == "agree on the whole" {
		mean = "the two agree on the whole"
	}
	return sentence(fmt.Sprintf("In %d %s; at %s of %s they differ by more than %s, most at age %s (%s)", p.Cell.Year, mean,
		numberOrNone(apart), plural(n, "age", "ages"), percent(gap), worstAge, signed(worst)))
}

func numberOrNone(n int) string {
	if n == 0 {
		return "none"
	}
	return words.Count(n)
}

func lower(text string) string {
	return string([]rune{rune(text[0] | 0x20)}) + text[1:]
}

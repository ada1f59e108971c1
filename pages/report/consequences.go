package report

import (
	"html/template"
	"strconv"

	"earstone/estimate/run"
	"earstone/pages/chart"
	"earstone/pages/words"
	"earstone/programme/record"
	"earstone/programme/result"
)

// consequences tell what the catch at age would lead to. The section, and each of its
// pictures, says that this is no assessment.
func (k *told) consequences() section {
	a := k.s.Advice
	if a == nil && k.s.NoAdvice == nil || k.s.Catch == nil {
		return section{}
	}
	c := k.section("consequences", say("consequences.heading"))
	if a == nil {
		c.Says = []string{say("consequences.none", "why", sentence(k.s.NoAdvice.Error()))}
		return c
	}
	c.Says = []string{say("consequences.standing"), k.takenForGranted()}
	for _, f := range []figure{k.seaAtAge(), k.recruit(), k.yearsAhead()} {
		if f.Title != "" {
			c.Sets = append(c.Sets, set{Figures: []figure{f}})
		}
	}
	return c
}

// takenForGranted tells what nobody estimated.
func (k *told) takenForGranted() string {
	a := k.s.Advice
	by := func(byDefault bool, rule string) string {
		if byDefault {
			return rule
		}
		return say("consequences.isgiven")
	}
	says := say("consequences.given", "m", words.Figure(a.Given.Natural, 2), "m_by", by(a.ByDefault[0], say("consequences.bylife")),
		"f", words.Figure(a.Given.Terminal, 2), "f_by", by(a.ByDefault[1], say("consequences.asnatural")))
	if a.Given.Mature > 0 {
		says = join(says, say("consequences.mature", "age", strconv.Itoa(a.Given.Mature)))
	} else {
		says = join(says, say("consequences.immature"))
	}
	if a.Steady {
		says = join(says, say("consequences.steady"))
	}
	return says
}

// figureOf is a consequence by name; one that is not there is not known.
func (k *told) figureOf(quantity string, age, ahead int) run.Figure {
	for _, f := range k.s.Advice.Figures {
		if f.Quantity == quantity && f.Age == age && f.Ahead == ahead {
			return f
		}
	}
	return run.Figure{Quantity: quantity, Age: age, Ahead: ahead}
}

// seaAtAge draws fish in the sea and fishing mortality at age.
func (k *told) seaAtAge() figure {
	a := k.s.Advice
	sea, f := chart.AgePanel{Name: say("consequences.ages.sea"), Unit: say("unit.fish")}, chart.AgePanel{Name: say("consequences.ages.f"), Unit: say("unit.year")}
	pic := chart.ByAge{Standing: say("consequences.foot")}
	of := &table{Summary: say("consequences.ages.summary"), Paper: true, File: "advice.csv", Caption: say("consequences.ages.caption", "level", level(k.levelOr95())),
		Head: append(text(say("column.age")), figures(say("column.sea"), say("column.from"), say("column.to"), "F", say("column.from"), say("column.to"))...)}
	highest := run.Figure{Age: -1}
	for age := a.First; age <= a.Last; age++ {
		n, rate := k.figureOf("number", age, 0), k.figureOf("f", age, 0)
		if rate.Today.Value.Known && (highest.Age < 0 || rate.Today.Value.X > highest.Today.Value.X) {
			highest = rate
		}
		pic.Ages = append(pic.Ages, age)
		sea.Values, sea.Intervals = append(sea.Values, amount(n.Today.Value)), append(sea.Intervals, between(n.Today))
		f.Values, f.Intervals = append(f.Values, amount(rate.Today.Value)), append(f.Intervals, between(rate.Today))
		low, high := ends(n.Today)
		from, to := measuredEnds(rate.Today)
		of.Rows = append(of.Rows, []string{strconv.Itoa(age), value(n.Today), low, high, measured(rate.Today), from, to})
	}
	if highest.Age < 0 {
		return figure{}
	}
	first := k.figureOf("number", a.First, 0)
	says := join(say("consequences.ages.says", "age", strconv.Itoa(highest.Age), "f", measured(highest.Today), "within", inBrackets(measuredInterval(highest.Today)),
		"first", strconv.Itoa(a.First), "n", value(first.Today), "n_within", inBrackets(interval(first.Today)), "year", strconv.Itoa(k.lastYear())), say("consequences.not"))
	pic.Frame, pic.Panels = chart.Frame{Title: say("consequences.ages.title"), Alt: says, Level: k.levelOr95()}, []chart.AgePanel{sea, f}
	return k.figure(figure{Title: say("consequences.ages.head"), Says: says, Picture: template.HTML(pic.Draw()), Table: of})
}

// recruit draws what a recruit yields over fishing mortality.
func (k *told) recruit() figure {
	now, yield := k.figureOf("f_now", -1, 0), k.figureOf("yield_now", -1, 0)
	if !now.Today.Value.Known || len(k.s.Advice.Curve) == 0 {
		return figure{}
	}
	says := say("consequences.recruit.says", "f", measured(now.Today), "within", inBrackets(measuredInterval(now.Today)), "y", measured(yield.Today), "y_within", inBrackets(measuredInterval(yield.Today)))
	if s := k.figureOf("spawning_now", -1, 0).Today.Value; s.Known {
		says = join(says, say("consequences.recruit.spawning", "share", percent(s.X)))
	}
	if f := k.figureOf("f01", -1, 0).Today; f.Value.Known {
		says = join(says, say("consequences.recruit.share", "f", measured(f), "y", measured(k.figureOf("yield_f01", -1, 0).Today)))
	}
	says = join(says, say("consequences.not"))
	pic := chart.PerRecruit{Frame: chart.Frame{Title: say("consequences.recruit.title"), Alt: says, Level: k.levelOr95()}, YieldUnit: "kg", Standing: say("consequences.foot")}
	for _, p := range k.s.Advice.Curve {
		pic.Curve = append(pic.Curve, chart.RecruitPoint{F: p.F, Yield: p.Yield, Spawning: amount(p.Spawning)})
	}
	of := &table{Summary: say("consequences.recruit.summary"), Paper: true, File: "advice.csv", Caption: say("consequences.recruit.caption", "level", level(k.levelOr95())),
		Head: append(text(say("column.figure")), figures(say("column.value"), say("column.se"), say("column.from"), say("column.to"))...)}
	for i, name := range []string{"f_now", "f01", "fmax", "f40", "yield_now", "yield_f01", "spawning_now", "spawning_f01", "recruits"} {
		f := k.figureOf(name, -1, 0).Today
		if !f.Value.Known {
			continue
		}
		if i < 4 {
			pic.Marks = append(pic.Marks, chart.RecruitMark{Name: say("consequences.figure." + name), F: f.Value.X, Interval: between(f)})
		}
		low, high := measuredEnds(f)
		row := []string{say("consequences.figure." + name), measured(f), rounded(f.SE, behind(f)), low, high}
		if name == "recruits" { // a number of fish
			low, high = ends(f)
			row = []string{row[0], value(f), rounded(f.SE, decimals(f.Value.X, spread(f))), low, high}
		}
		of.Rows = append(of.Rows, row)
	}
	return k.figure(figure{Title: say("consequences.recruit.head"), Says: says, Picture: template.HTML(pic.Draw()), Table: of})
}

// weighed is an estimate in tonnes in words, with the ends of its interval.
func weighed(e run.Estimate) (said, low, high string) {
	if e.Value.X >= 1000 {
		low, high = ends(e)
		return value(e), low, high
	}
	low, high = measuredEnds(e)
	return measured(e), low, high
}

// inTonnes is an estimate of kg in tonnes.
func inTonnes(e run.Estimate) run.Estimate {
	t := func(n record.Number) record.Number { return record.Number{X: n.X / 1000, Known: n.Known} }
	return run.Estimate{Estimate: result.Estimate{Value: t(e.Value), SE: t(e.SE), Low: t(e.Low), High: t(e.High)}}
}

// yearsAhead draws the next years as they would be known with less, with today's and with
// more sampling.
func (k *told) yearsAhead() figure {
	last := k.lastYear()
	pic := chart.Ahead{Less: say("consequences.ahead.half"), Today: say("consequences.ahead.today"), More: say("consequences.ahead.twice"), Sampling: say("consequences.ahead.sampling"), Standing: say("consequences.foot")}
	for ahead := 1; k.figureOf("yield_at_f_now", -1, ahead).Today.Value.Known; ahead++ {
		pic.Years = append(pic.Years, strconv.Itoa(last+ahead))
	}
	if len(pic.Years) == 0 {
		return figure{}
	}
	of := &table{Summary: say("consequences.ahead.summary"), File: "advice.csv", Caption: say("consequences.ahead.caption", "level", level(k.levelOr95())),
		Head: append(text(say("column.figure"), say("column.year")), figures(say("column.tonnes"), say("column.halffrom"), say("column.halfto"), say("column.todayfrom"), say("column.todayto"), say("column.twicefrom"), say("column.twiceto"))...)}
	for _, quantity := range []string{"yield_at_f_now", "spawners_at_f_now", "yield_at_f01", "spawners_at_f01"} {
		if !k.figureOf(quantity, -1, 1).Today.Value.Known {
			continue
		}
		panel := chart.AheadPanel{Name: say("consequences.ahead." + quantity), Unit: "t"}
		for i, year := range pic.Years {
			f := k.figureOf(quantity, -1, i+1)
			today := inTonnes(f.Today)
			point := chart.AheadPoint{Value: amount(today.Value), Today: between(today)}
			said, _, _ := weighed(today)
			row := []string{panel.Name, year, said}
			for _, e := range []run.Estimate{inTonnes(f.Half), today, inTonnes(f.Twice)} {
				_, low, high := weighed(e)
				row = append(row, low, high)
			}
			point.Less, point.More = between(inTonnes(f.Half)), between(inTonnes(f.Twice))
			panel.Points, of.Rows = append(panel.Points, point), append(of.Rows, row)
		}
		pic.Panels = append(pic.Panels, panel)
	}
	says := k.aheadSays(pic.Years[0])
	pic.Frame = chart.Frame{Title: say("consequences.ahead.title"), Alt: says, Level: k.levelOr95()}
	return k.figure(figure{Title: say("consequences.ahead.head"), Says: says, Picture: template.HTML(pic.Draw()), Table: of})
}

// aheadSays tells the next year, and what ear stones would do to its interval.
func (k *told) aheadSays(year string) string {
	f := k.figureOf("yield_at_f_now", -1, 1)
	today := inTonnes(f.Today)
	said, low, high := weighed(today)
	within := ""
	if low != none && high != none {
		within = inBrackets(low + " to " + high)
	}
	says := say("consequences.ahead.says", "year", year, "y", said, "within", within)
	wide := func(e run.Estimate) float64 { return e.High.X - e.Low.X }
	if has(f.Half) && has(f.Today) && has(f.Twice) {
		says = join(says, say("consequences.ahead.stones", "less", percent(1-wide(f.Twice)/wide(f.Today)), "more", percent(wide(f.Half)/wide(f.Today)-1)))
	}
	return join(says, say("consequences.not"))
}

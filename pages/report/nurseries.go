package report

import (
	"html/template"
	"math"
	"slices"
	"strconv"

	"earstone/estimate/origin"
	"earstone/estimate/run"
	"earstone/pages/chart"
	"earstone/pages/words"
	"earstone/programme/record"
	"earstone/programme/strata"
)

// simulated are the shares of a simulation as estimates.
func simulated(s *origin.Simulated) (shares []run.Estimate) {
	for i := range s.Share {
		e := run.Estimate{}
		e.Value, e.SE = record.Some(s.Share[i]), record.Some(s.SD[i])
		e.Low, e.High = record.Some(s.Low[i]), record.Some(s.High[i])
		shares = append(shares, e)
	}
	return shares
}

// nurseries is the catch at age by nursery.
func (k *told) nurseries() section {
	o := k.s.Origin
	if o == nil || k.s.Catch == nil || len(o.Years) == 0 {
		return section{}
	}
	c := k.section("nurseries", say("nurseries.heading"))
	c.Says = []string{say("nurseries.says")}
	first := max(0, len(o.Years)-mostYears)
	for i := len(o.Years) - 1; i >= first; i-- {
		c.Sets = append(c.Sets, set{Figures: []figure{k.byNursery(&o.Years[i], i, false)}})
	}
	if f, ok := k.nurseriesThroughYears(); ok {
		c.Sets = append(c.Sets, set{Figures: []figure{f}})
	}
	if f, ok := k.nurseryChanges(); ok {
		c.Sets = append(c.Sets, set{Figures: []figure{f}})
	}
	c.Sets = append(c.Sets, set{Folded: say("nurseries.folded"), Figures: []figure{k.byNursery(&o.Years[len(o.Years)-1], len(o.Years)-1, true)}})
	if first > 0 {
		earlier := set{Folded: say("nurseries.earlier", "from", strconv.Itoa(int(o.Years[0].Cell.Year)), "to", strconv.Itoa(int(o.Years[first-1].Cell.Year)))}
		for i := first - 1; i >= 0; i-- {
			earlier.Figures = append(earlier.Figures, k.byNursery(&o.Years[i], i, false))
		}
		c.Sets = append(c.Sets, earlier)
	}
	return c
}

// nurseryNames are the nurseries and what lies outside them.
func (k *told) nurseryNames() []string {
	return append(slices.Clone(k.s.Origin.Nurseries), say("nurseries.outside"))
}

// byNursery draws the catch at age of a year by nursery, or the shares at each age.
func (k *told) byNursery(p *run.NurseryPlace, at int, shares bool) figure {
	year := strconv.Itoa(int(p.Cell.Year))
	what := "number"
	if shares {
		what = "share"
	}
	says := k.nurserySays(p)
	if shares {
		says = k.nurseryAgesSay(p)
	}
	pic := chart.CatchParts{Frame: chart.Frame{Title: say("nurseries."+what+".title", "year", year), Alt: says, Level: k.o.Options.Level}, Unit: say("unit.fish"), Plus: k.plus(), Share: shares, AllName: say("nurseries.all")}
	of := &table{Summary: say("nurseries."+what+".summary", "year", year), Paper: !shares, File: "catch_by_nursery.csv", Caption: say("nurseries."+what+".caption", "level", level(k.o.Options.Level)),
		Head: append(text(say("column.age"), say("column.nursery")), figures(say("column."+what), say("column.from"), say("column.to"), say("column.assayed"))...)}
	ages := len(p.Number) - 1
	first := 0
	for first < ages-1 && k.emptyRow(p, first) {
		first++
	}
	for a := first; a < ages; a++ {
		pic.Ages = append(pic.Ages, a)
		pic.Fish = append(pic.Fish, p.Assayed[a])
		if !shares && at < len(k.s.Catch.Years) {
			pic.All = append(pic.All, amount(k.s.Catch.Years[at].Number[a].Value))
		}
	}
	for c, name := range k.nurseryNames() {
		part := chart.CatchPart{Name: name}
		for a := first; a <= ages; a++ {
			e := p.Number[a][c]
			if shares && len(p.Share) > a {
				e = p.Share[a][c]
			}
			if a < ages {
				part.Numbers, part.Intervals = append(part.Numbers, amount(e.Value)), append(part.Intervals, between(e))
			}
			of.Rows = append(of.Rows, k.nurseryRow(p, a, name, e, shares))
		}
		if c < len(k.s.Origin.Nurseries) || k.s.Origin.Outside.Value.X > leastOutside {
			pic.Parts = append(pic.Parts, part)
		}
	}
	return k.figure(figure{Title: say("nurseries."+what+".head", "year", year), Says: says, Picture: template.HTML(pic.Draw()), Table: of})
}

// leastOutside is the share of fish unlike all nurseries from which they are drawn; the
// tables have them always.
const leastOutside = 0.01

// emptyRow tells that nobody caught fish of an age.
func (k *told) emptyRow(p *run.NurseryPlace, a int) bool {
	return !slices.ContainsFunc(p.Number[a], func(e run.Estimate) bool { return e.Value.X >= 0.5 })
}

func (k *told) nurseryRow(p *run.NurseryPlace, a int, name string, e run.Estimate, shares bool) []string {
	age := say("all")
	if a < len(k.s.Catch.Ages) {
		age = k.s.Catch.Ages[a]
	}
	low, high := ends(e)
	said := value(e)
	if shares {
		low, high, said = none, none, share(e)
		if has(e) {
			low, high = percent(e.Low.X), percent(e.High.X)
		}
	}
	return []string{age, name, said, low, high, words.Count(p.Assayed[a])}
}

// nurserySays tells how many fish came from each nursery.
func (k *told) nurserySays(p *run.NurseryPlace) string {
	all := p.Number[len(p.Number)-1]
	var said []string
	for c, name := range k.s.Origin.Nurseries {
		if e := all[c]; e.Value.Known {
			said = append(said, say("nurseries.part", "fish", value(e), "within", inBrackets(interval(e)), "nursery", name))
		}
	}
	if said == nil {
		return say("nurseries.nothing", "year", strconv.Itoa(int(p.Cell.Year)))
	}
	return say("nurseries.number.says", "year", strconv.Itoa(int(p.Cell.Year)), "parts", list(said), "fish", counted("fish", p.Stones), "trips", counted("trips", p.Trips))
}

// nurseryAgesSay tells the share of the commonest nursery at the youngest and oldest ages
// that have ten fish or more.
func (k *told) nurseryAgesSay(p *run.NurseryPlace) string {
	ages := len(p.Number) - 1
	first, last := -1, -1
	for a := range ages {
		if p.Assayed[a] >= 10 && len(p.Share) > a {
			if first < 0 {
				first = a
			}
			last = a
		}
	}
	few := say("nurseries.share.few")
	if first < 0 || first == last {
		return few
	}
	best := 0
	for c := range k.s.Origin.Nurseries {
		if p.Share[ages][c].Value.X > p.Share[ages][best].Value.X {
			best = c
		}
	}
	return join(say("nurseries.share.says", "nursery", k.s.Origin.Nurseries[best], "a", k.s.Catch.Ages[first], "share_a", share(p.Share[first][best]),
		"b", k.s.Catch.Ages[last], "share_b", share(p.Share[last][best])), few)
}

// nurseriesThroughYears follows the catch of each nursery; not ok with one year.
func (k *told) nurseriesThroughYears() (figure, bool) {
	o := k.s.Origin
	if len(o.Years) < 2 {
		return figure{}, false
	}
	panels := make([]chart.SeriesPanel, len(o.Nurseries))
	of := &table{Summary: say("nurseries.years.summary"), Paper: true, File: "catch_by_nursery.csv", Caption: say("nurseries.years.caption", "level", level(k.o.Options.Level)),
		Head: append(text(say("column.nursery"), say("column.year")), figures(say("column.fish"), say("column.from"), say("column.to"), say("column.assayed"))...)}
	for c, name := range o.Nurseries {
		panels[c].Name = name
		for i := range o.Years {
			p := &o.Years[i]
			e := p.Number[len(p.Number)-1][c]
			if !e.Value.Known {
				continue
			}
			panels[c].Points = append(panels[c].Points, chart.SeriesPoint{Year: int(p.Cell.Year), Value: e.Value.X, Interval: between(e)})
			low, high := ends(e)
			of.Rows = append(of.Rows, []string{name, strconv.Itoa(int(p.Cell.Year)), value(e), low, high, words.Count(p.Stones)})
		}
	}
	says := k.yearsSay(panels)
	pic := chart.Series{Frame: chart.Frame{Title: say("nurseries.years.title"), Alt: says, Level: k.o.Options.Level}, Unit: say("unit.fish"), Panels: panels}
	return k.figure(figure{Title: say("nurseries.years.head"), Says: says, Picture: template.HTML(pic.Draw()), Table: of}), true
}

// nurseryChanges are the differences of shares between the last years and between the
// areas of the last one; not ok without any.
func (k *told) nurseryChanges() (figure, bool) {
	o := k.s.Origin
	last := int16(k.lastYear())
	pic := chart.Ranges{Unit: say("changes.share.unit"), Zero: true}
	of := k.differencesTable(say("nurseries.changes.summary"), say("nurseries.changes.caption", "level", level(k.o.Options.Level)), say("column.between"))
	n, sure := 0, 0
	for i := len(o.Changes) - 1; i >= 0; i-- {
		c := &o.Changes[i]
		years := between2(c.A, c.B) == strata.Year
		if years && c.B.Year <= last-mostYears || !years && c.A.Year != last {
			continue
		}
		pair := k.pairOf(c.A, c.B)
		for j, d := range c.Shares {
			pic.Rows = append(pic.Rows, difference(pair, o.Nurseries[j], d, 100))
			of.Rows = append(of.Rows, differenceRow(pair+", "+o.Nurseries[j], d, 100))
			if n++; clear(d) {
				sure++
			}
		}
	}
	if n == 0 || n > 40 {
		return figure{}, false
	}
	says := say("nurseries.changes.says", "sure", numberOrNone(sure), "of", counted("differences", n))
	pic.Frame = chart.Frame{Title: say("nurseries.changes.title"), Alt: says, Level: k.o.Options.Level}
	return k.figure(figure{Title: say("nurseries.changes.head"), Says: says, Picture: template.HTML(pic.Draw()), Table: of}), true
}

// classification is how fish of known nursery are called when they are held out.
func (k *told) classification() *table {
	o := k.s.Origin
	held := o.Fit.Held
	if held == nil || held.Fish == 0 {
		return nil
	}
	of := &table{Summary: say("origin.classes.summary"), Paper: true, File: "classification.csv", Caption: say("origin.classes.caption", "form", say("origin.form."+held.Form.String())),
		Head: append(text(say("column.truly")), figures(o.Nurseries...)...)}
	of.Head = append(of.Head, figures(say("column.right"))...)
	n := len(o.Nurseries)
	for i, name := range o.Nurseries {
		row, total := []string{name}, 0.0
		for j := range o.Nurseries {
			row = append(row, count(held.Called[i*n+j]))
			total += held.Called[i*n+j]
		}
		right := none
		if total > 0 {
			right = percent(held.Called[i*n+i] / total)
		}
		of.Rows = append(of.Rows, append(row, right))
	}
	return of
}

// assayRuns are the runs that are outside their limits.
func (k *told) assayRuns() *table {
	runs := k.o.Assays.Runs
	if len(runs) == 0 {
		return nil
	}
	of := &table{Summary: say("origin.runs.summary"), File: "assay_runs.csv", Caption: say("origin.runs.caption"),
		Head: append(text(say("column.run"), say("column.material"), say("column.tracer")), figures(say("column.measured"), say("column.offset"), say("column.limit"), say("column.sd"))...)}
	of.Head = append(of.Head, text(say("column.verdict"))...)
	for _, r := range runs {
		limit, sd := none, none
		if r.OffsetLimit > 0 {
			limit = words.Figure(r.OffsetLimit, places3(r.OffsetLimit))
		}
		if r.Measured > 1 {
			sd = words.Figure(r.SD, places3(r.SD))
		}
		of.Rows = append(of.Rows, []string{r.Run, r.Material, r.Tracer, words.Count(r.Measured), words.Figure(r.Offset, places3(r.OffsetLimit)), limit, sd, r.Verdict.String()})
	}
	return of
}

// places3 are the decimals that show three digits of a number.
func places3(x float64) int {
	if !(x > 0) || !finite(x) {
		return 3
	}
	return max(0, min(2-int(math.Floor(math.Log10(x))), 6))
}

package report

import (
	"html/template"
	"math"
	"strconv"
	"strings"

	"earstone/estimate/run"
	"earstone/pages/chart"
	"earstone/pages/words"
)

// mortality is how fast fish die.
func (k *told) mortality() section {
	m := k.s.Mortality
	if m == nil || len(m.Years)+len(m.Natural) == 0 {
		return section{}
	}
	c := k.section("mortality", say("mortality.heading"))
	c.Says = []string{say("mortality.warn")}
	if n := len(m.Years); n > 0 && k.s.Catch != nil && n == len(k.s.Catch.Years) {
		c.Sets = append(c.Sets, set{Figures: []figure{k.catchCurve(&m.Years[n-1], &k.s.Catch.Years[n-1])}})
	}
	if len(m.Years) > 0 {
		c.Sets = append(c.Sets, set{Figures: []figure{k.totalMortality()}})
	}
	if len(m.Natural) > 0 {
		c.Sets = append(c.Sets, set{Figures: []figure{k.naturalMortality()}})
	}
	return c
}

// methodsOfZ are the methods of a year in the order in which they are told.
func methodsOfZ(y *run.YearMortality) []struct {
	name string
	of   *run.TotalMortality
} {
	return []struct {
		name string
		of   *run.TotalMortality
	}{{say("mortality.robson"), &y.ChapmanRobson}, {say("mortality.line"), &y.CatchCurve}}
}

// catchCurve draws the catch at age of a year with the lines of the methods.
func (k *told) catchCurve(y *run.YearMortality, p *run.Place) figure {
	says := k.zSays(y)
	pic := chart.CatchCurve{Frame: chart.Frame{Title: say("mortality.curve.title", "year", strconv.Itoa(y.Year)), Alt: says, Level: k.o.Options.Level}, Unit: say("unit.fish"), Plus: k.plus()}
	used := func(a int) bool {
		for _, m := range methodsOfZ(y) {
			if m.of.Z.Value.Known && a >= m.of.FirstAge && a < m.of.FirstAge+m.of.Ages {
				return true
			}
		}
		return false
	}
	of := &table{Summary: say("mortality.curve.summary", "year", strconv.Itoa(y.Year)), File: "catch_at_age.csv", Caption: say("mortality.curve.caption", "level", level(k.o.Options.Level)),
		Head: append(text(say("column.age")), figures(say("column.fish"), say("column.from"), say("column.to"))...)}
	of.Head = append(of.Head, text(say("column.used"))...)
	for a, e := range p.Number {
		if !e.Value.Known || !(e.Value.X >= 0.5) {
			continue
		}
		pic.Ages = append(pic.Ages, chart.CurveAge{Age: a, Number: e.Value.X, Interval: between(e), Used: used(a)})
		low, high := ends(e)
		word := say("no")
		if used(a) {
			word = say("yes")
		}
		of.Rows = append(of.Rows, []string{k.s.Catch.Ages[a], value(e), low, high, word})
	}
	for _, m := range methodsOfZ(y) {
		if l, ok := zLine(m.name, m.of, p); ok {
			pic.Lines = append(pic.Lines, l)
		}
	}
	return k.figure(figure{Title: say("mortality.curve.head", "year", strconv.Itoa(y.Year)), Says: says, Picture: template.HTML(pic.Draw()), Table: of})
}

// zLine is the line of a rate through the mean logarithm of the ages it rests on.
func zLine(name string, m *run.TotalMortality, p *run.Place) (chart.CurveLine, bool) {
	last := min(m.FirstAge+m.Ages, len(p.Number)) - 1
	if !m.Z.Value.Known || last <= m.FirstAge {
		return chart.CurveLine{}, false
	}
	var n, logs, ages float64
	for a := m.FirstAge; a <= last; a++ {
		if x := p.Number[a].Value.X; x > 0 {
			n, logs, ages = n+x, logs+x*math.Log(x), ages+x*float64(a)
		}
	}
	if n == 0 {
		return chart.CurveLine{}, false
	}
	at := func(a int) float64 { return math.Exp(logs/n - m.Z.Value.X*(float64(a)-ages/n)) }
	return chart.CurveLine{Name: name, From: m.FirstAge, To: last, NumberFrom: at(m.FirstAge), NumberTo: at(last)}, true
}

// zSays tells the rate of a year as the share that dies.
func (k *told) zSays(y *run.YearMortality) string {
	m := y.ChapmanRobson
	if !m.Z.Value.Known {
		if m = y.CatchCurve; !m.Z.Value.Known {
			return say("mortality.none", "year", strconv.Itoa(y.Year), "why", sentence(troubleOf(y.ChapmanRobson.Trouble)))
		}
	}
	z := m.Z.Value.X
	says := say("mortality.says", "year", strconv.Itoa(y.Year), "age", strconv.Itoa(m.FirstAge), "z", measured(m.Z), "within", inBrackets(measuredInterval(m.Z)), "share", percent(1-math.Exp(-z)))
	if y.Plus {
		says = join(says, say("mortality.plus"))
	}
	return says
}

func troubleOf(err error) string {
	if err == nil {
		return say("mortality.unknown")
	}
	return err.Error()
}

// totalMortality sets years and methods side by side.
func (k *told) totalMortality() figure {
	years := k.s.Mortality.Years
	says := k.totalSays()
	pic := chart.Ranges{Frame: chart.Frame{Title: say("mortality.total.title"), Alt: says, Level: k.o.Options.Level}, Unit: say("unit.year")}
	of := &table{Summary: say("mortality.total.summary"), Paper: true, File: "mortality.csv", Caption: say("mortality.total.caption", "level", level(k.o.Options.Level)),
		Head: append(text(say("column.year"), say("column.method")), figures("Z", say("column.se"), say("column.from"), say("column.to"), say("column.sampling"), say("column.first"), say("column.ages"))...)}
	first := max(0, len(years)-10)
	for at := range methodsOfZ(&years[0]) {
		for i := len(years) - 1; i >= first; i-- {
			m := methodsOfZ(&years[i])[at]
			r := chart.Range{Group: m.name, Name: strconv.Itoa(years[i].Year), Value: amount(m.of.Z.Value), Interval: between(m.of.Z)}
			if !m.of.Z.Value.Known {
				r.Why = troubleOf(m.of.Trouble)
			}
			pic.Rows = append(pic.Rows, r)
		}
	}
	for i := len(years) - 1; i >= 0; i-- {
		for _, m := range methodsOfZ(&years[i]) {
			low, high := measuredEnds(m.of.Z)
			row := []string{strconv.Itoa(years[i].Year), m.name, measured(m.of.Z), rounded(m.of.Z.SE, behind(m.of.Z)), low, high, orElse(measuredInterval(m.of.Sampling), none), none, none}
			if m.of.Z.Value.Known {
				row[7], row[8] = words.Count(m.of.FirstAge), words.Count(m.of.Ages)
			}
			of.Rows = append(of.Rows, row)
		}
	}
	return k.figure(figure{Title: say("mortality.total.head"), Says: says, Picture: template.HTML(pic.Draw()), Table: of})
}

// totalSays tells between which rates the methods lie.
func (k *told) totalSays() string {
	low, high, n := math.Inf(1), math.Inf(-1), 0
	for i := range k.s.Mortality.Years {
		for _, m := range methodsOfZ(&k.s.Mortality.Years[i]) {
			if z := m.of.Z.Value; z.Known {
				low, high, n = min(low, z.X), max(high, z.X), n+1
			}
		}
	}
	switch n {
	case 0:
		return say("mortality.total.none")
	case 1:
		return join(say("mortality.total.one", "z", words.Figure(low, 2)), say("mortality.total.both"))
	}
	return join(say("mortality.total.says", "low", words.Figure(low, 2), "high", words.Figure(high, 2)), say("mortality.total.both"))
}

// naturalMortality sets the published formulas side by side.
func (k *told) naturalMortality() figure {
	m := k.s.Mortality
	low, high := math.Inf(1), math.Inf(-1)
	for _, n := range m.Natural {
		low, high = min(low, n.M.Value.X), max(high, n.M.Value.X)
	}
	says := join(say("mortality.natural.says", "low", words.Figure(low, 2), "high", words.Figure(high, 2), "age", strconv.Itoa(m.Longest)), say("mortality.natural.warn"))
	pic := chart.Ranges{Frame: chart.Frame{Title: say("mortality.natural.title"), Alt: says, Level: k.o.Options.Level}, Unit: say("unit.year")}
	of := &table{Summary: say("mortality.natural.summary"), Paper: true, File: "mortality.csv", Caption: say("mortality.natural.caption", "level", level(k.o.Options.Level)),
		Head: append(text(say("column.formula")), figures("M", say("column.from"), say("column.to"))...)}
	of.Head = append(of.Head, sentences(say("column.equation"), say("column.source"))...)
	for _, byGrowth := range []bool{false, true} {
		for _, n := range m.Natural {
			if n.Growth != byGrowth {
				continue
			}
			group := say("mortality.natural.life")
			if byGrowth {
				group = say("mortality.natural.growth")
			}
			pic.Rows = append(pic.Rows, chart.Range{Group: group, Name: formulaName(n.Name), Value: amount(n.M.Value), Interval: between(n.M)})
			from, to := none, none
			if has(n.M) {
				from, to = words.Figure(n.M.Low.X, 2), words.Figure(n.M.High.X, 2)
			}
			of.Rows = append(of.Rows, []string{formulaName(n.Name), words.Figure(n.M.Value.X, 2), from, to, n.Equation, n.Source + " (" + n.Known.String() + ")"})
		}
	}
	return k.figure(figure{Title: say("mortality.natural.head"), Says: says, Picture: template.HTML(pic.Draw()), Table: of})
}

// formulaName is the method of mortality.csv as a person reads it.
func formulaName(name string) string {
	return capital(strings.ReplaceAll(name, "_", " "))
}

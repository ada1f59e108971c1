package report

import (
	"html/template"
	"slices"

	"earstone/estimate/growth"
	"earstone/estimate/run"
	"earstone/pages/chart"
	"earstone/pages/words"
	"earstone/programme/record"
)

// growthGroups tell whether sexes, areas and nurseries grow alike, with their curves.
func (k *told) growthGroups(c *section) {
	for _, g := range k.s.Growth.Groups {
		says := k.groupsSay(g)
		if g.Apart == nil {
			c.Says = append(c.Says, says)
		} else {
			c.Sets = append(c.Sets, set{Figures: []figure{k.groupCurves(g, says)}})
		}
		c.Tables = append(c.Tables, *k.table(casesTable(g)))
	}
}

// groupsSay tells whether the curves of the groups may be one.
func (k *told) groupsSay(g *run.GroupsFound) string {
	of, says := say("growth.groups.of."+g.By), ""
	switch {
	case g.Apart == nil:
		says = say("growth.groups.none", "of", of, "why", sentence(g.NoApart.Error()))
	case !g.Tested:
		says = say("growth.groups.untested", "of", of)
	case g.Differ():
		says = say("growth.groups.differ", "of", of, "p", p(record.Some(g.Equal.P)))
	default:
		says = say("growth.groups.alike", "of", of, "p", p(record.Some(g.Equal.P)))
	}
	says = join(says, casesSay(&g.Comparison))
	if g.Left > 0 {
		says = join(says, say("growth.groups.left", "fish", counted("fish", g.Left)))
	}
	if g.By == "nursery" {
		says = join(says, say("growth.groups.called"))
	}
	return says
}

// casesSay tells which case has the lowest AICc.
func casesSay(c *growth.Comparison) string {
	if c.Best < 0 || c.Cases[0].Err != nil {
		return ""
	}
	if c.Best == 0 {
		return say("growth.groups.one")
	}
	best := &c.Cases[c.Best]
	return say("growth.groups.best", "which", apartIn(best), "less", words.Figure(c.Cases[0].Fit.AICc.X-best.Fit.AICc.X, 1))
}

// apartIn names the parameters of a case that differ between groups.
func apartIn(c *growth.Case) string {
	var names []string
	for i, name := range c.Fit.Curve.Model.Parameters() {
		if c.Apart[i] {
			names = append(names, name)
		}
	}
	if names == nil {
		return say("growth.groups.nothing")
	}
	return list(names)
}

// groupName is a group as a person reads it.
func groupName(g *run.GroupsFound, name string) string {
	if sex, ok := record.ParseSex(name); ok && g.By == "sex" {
		if sex == record.Female {
			return say("growth.groups.female")
		}
		return say("growth.groups.male")
	}
	return name
}

// groupCurves is the picture of the curves, each over the ages of its fish.
func (k *told) groupCurves(g *run.GroupsFound, says string) figure {
	pic := chart.GroupCurves{Frame: chart.Frame{Title: say("growth.groups.title", "of", say("growth.groups.of."+g.By), "species", string(k.s.Species)), Alt: says, Level: k.levelOr95()}, Unit: k.unit()}
	names := g.Apart.Curve.Model.Parameters()
	of := &table{Summary: say("growth.groups.summary"), Paper: true, File: "growth.csv", Caption: say("growth.groups.caption", "model", modelName(g.Apart.Curve.Model), "level", level(k.levelOr95())),
		Head: append(text(say("column.group"), say("column.parameter")), figures(say("column.fish"), say("column.value"), say("column.se"), say("column.from"), say("column.to"))...)}
	for i, name := range g.Names {
		curve := chart.GroupCurve{Name: groupName(g, name)}
		for _, at := range g.Bands[i] {
			curve.Curve = append(curve.Curve, chart.CurvePoint{Age: at.Age, Length: at.Length, Interval: chart.Between(at.Low, at.High)})
		}
		pic.Groups = append(pic.Groups, curve)
		for j, e := range g.Parameters[i] {
			low, high := measuredEnds(e)
			of.Rows = append(of.Rows, []string{groupName(g, name), k.parameterName(names[j]), words.Count(g.Fish[i]), measured(e), rounded(e.SE, behind(e)), low, high})
		}
	}
	return k.figure(figure{Title: say("growth.groups." + g.By), Says: says, Picture: template.HTML(pic.Draw()), Table: of})
}

// casesTable sets the cases of how groups may differ side by side, the best first.
func casesTable(g *run.GroupsFound) *table {
	of := say("growth.groups.of." + g.By)
	t := &table{Summary: say("growth.groups.cases", "of", of), File: "growth.csv", Caption: say("growth.groups.cases.caption", "of", of),
		Head: append(text(say("column.apart")), figures(say("column.parameters"), say("column.loglik"), "AICc", "χ²", "df", "p")...)}
	order := make([]int, 0, len(g.Comparison.Cases))
	for i, c := range g.Comparison.Cases {
		if c.Err == nil && c.Fit.AICc.Known {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		if g.Comparison.Cases[a].Fit.AICc.X < g.Comparison.Cases[b].Fit.AICc.X {
			return -1
		}
		return 1
	})
	for _, i := range order {
		c := &g.Comparison.Cases[i]
		row := []string{apartIn(c), words.Count(c.Fit.Parameters), words.Figure(c.Fit.LogLikelihood, 1), words.Figure(c.Fit.AICc.X, 1), none, none, none}
		if i > 0 {
			if test, ok := g.Comparison.Test(0, i); ok {
				row[4], row[5], row[6] = words.Figure(test.ChiSquare, 2), words.Count(test.DF), p(record.Some(test.P))
			}
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

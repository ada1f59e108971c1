package run

import (
	"strings"

	"earstone/estimate/growth"
	"earstone/programme/record"
	"earstone/programme/result"
)

// growthTable is every curve that was fitted: its parameters and how well it fits. The
// reported curve has intervals over trips.
func (o *Outcome) growthTable() result.Table {
	t := result.Table{Name: "growth", ID: []string{"species", "group", "model", "error", "apart", "quantity"}, Further: []string{"reported", "interval"}}
	for _, s := range o.Species {
		if s.Growth == nil {
			continue
		}
		for i, c := range s.Growth.Curves {
			if c.Fit == nil {
				continue
			}
			rows := curveRows{table: &t, id: []string{string(s.Species), "all", c.Model.String(), c.Scatter.String(), ""}}
			if i == s.Growth.Chosen {
				rows.reported = s.Growth.Parameters
			}
			rows.fit(c.Fit)
		}
		for _, c := range s.Growth.Scatters {
			if c.Fit != nil && c.Fit.AICc.Known {
				rows := curveRows{table: &t, id: []string{string(s.Species), "unweighted", c.Model.String(), c.Fit.Scatter.String(), ""}}
				rows.fit(c.Fit)
			}
		}
		for _, g := range s.Growth.Groups {
			g.rows(&t, string(s.Species))
		}
	}
	return t
}

type curveRows struct {
	table    *result.Table
	id       []string
	reported []Estimate // nil: the fit's own
}

func (r curveRows) add(quantity string, e Estimate, fish float64) {
	reported := ""
	if r.reported != nil {
		reported = "true"
	}
	e.ID = append(append([]string(nil), r.id...), quantity)
	e.Stones = int(fish + 0.5)
	e.Further = []string{reported, e.Method}
	r.table.Estimate = append(r.table.Estimate, e.Estimate)
}

func (r curveRows) fit(f *growth.Fit) {
	plain := func(x, se record.Number) Estimate { return Estimate{Estimate: result.Estimate{Value: x, SE: se}} }
	for p, name := range f.Curve.Model.Parameters() {
		e := plain(record.Some(f.Estimates[p]), f.SE(0, p))
		if r.reported != nil {
			e = r.reported[p]
		}
		r.add(name, e, f.Fish)
	}
	scale := plain(record.Some(f.Scale), f.ScaleSE())
	if r.reported != nil {
		scale = r.reported[len(r.reported)-1]
	}
	r.add("scale", scale, f.Fish)
	r.add("log_likelihood", plain(record.Some(f.LogLikelihood), record.Number{}), f.Fish)
	if f.AICc.Known {
		r.add("aicc", plain(f.AICc, record.Number{}), f.Fish)
	}
	r.add("n", plain(record.Some(f.Fish), record.Number{}), f.Fish)
}

// rows are every case of how the groups may differ, held against the common curve, then
// whether all of the curves may be one, then the curve of each group.
func (g *GroupsFound) rows(t *result.Table, species string) {
	plain := func(x float64) Estimate { return Estimate{Estimate: result.Estimate{Value: record.Some(x)}} }
	cases := g.Comparison.Cases
	for i, c := range cases {
		if c.Err != nil {
			continue
		}
		rows := curveRows{table: t, id: []string{species, g.By, c.Fit.Curve.Model.String(), g.Scatter.String(), apart(&c.Fit, c.Apart)}}
		rows.add("log_likelihood", plain(c.Fit.LogLikelihood), c.Fit.Fish)
		if c.Fit.AICc.Known {
			rows.add("aicc", plain(c.Fit.AICc.X), c.Fit.Fish)
		}
		if i == 0 {
			continue
		}
		if test, ok := g.Comparison.Test(0, i); ok {
			rows.test("", test, c.Fit.Fish)
		}
	}
	if g.Apart == nil {
		return
	}
	all := make([]bool, len(cases[0].Apart))
	for p := range all {
		all[p] = true
	}
	id := func(group string) curveRows {
		return curveRows{table: t, id: []string{species, group, g.Apart.Curve.Model.String(), g.Scatter.String(), apart(g.Apart, all)}}
	}
	if g.Tested {
		id(g.By).test("equal_", g.Equal, g.Apart.Fish)
	}
	for k, name := range g.Names {
		for p, parameter := range g.Apart.Curve.Model.Parameters() {
			id(g.By+" "+name).add(parameter, g.Parameters[k][p], float64(g.Fish[k]))
		}
		id(g.By+" "+name).add("n", plain(float64(g.Fish[k])), float64(g.Fish[k]))
	}
}

func (r curveRows) test(before string, t growth.Test, fish float64) {
	for _, q := range []struct {
		name string
		x    float64
	}{{"chi_square", t.ChiSquare}, {"df", float64(t.DF)}, {"p", t.P}} {
		r.add(before+q.name, Estimate{Estimate: result.Estimate{Value: record.Some(q.x)}}, fish)
	}
}

// apart names the parameters that differ between groups: none, or Linf K.
func apart(f *growth.Fit, differ []bool) string {
	var names []string
	for p, name := range f.Curve.Model.Parameters() {
		if differ[p] {
			names = append(names, name)
		}
	}
	if names == nil {
		return "none"
	}
	return strings.Join(names, " ")
}

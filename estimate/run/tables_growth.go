package run

import (
	"earstone/estimate/growth"
	"earstone/programme/record"
	"earstone/programme/result"
)

// growthTable is every curve that was fitted: its parameters and how well it fits. The
// reported curve has intervals over trips.
func (o *Outcome) growthTable() result.Table {
	t := result.Table{Name: "growth", ID: []string{"species", "group", "model", "error", "quantity"}, Further: []string{"reported", "interval"}}
	for _, s := range o.Species {
		if s.Growth == nil {
			continue
		}
		for i, c := range s.Growth.Curves {
			if c.Fit == nil {
				continue
			}
			rows := curveRows{table: &t, id: []string{string(s.Species), "all", c.Model.String(), c.Scatter.String()}}
			if i == s.Growth.Chosen {
				rows.reported = s.Growth.Parameters
			}
			rows.fit(c.Fit)
		}
		for _, c := range s.Growth.Scatters {
			if c.Fit != nil && c.Fit.AICc.Known {
				rows := curveRows{table: &t, id: []string{string(s.Species), "unweighted", c.Model.String(), c.Fit.Scatter.String()}}
				rows.fit(c.Fit)
			}
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

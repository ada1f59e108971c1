package run

import (
	"strconv"

	"earstone/programme/record"
	"earstone/programme/result"
)

// mortalityTable is total mortality by year and method, and natural mortality by formula.
func (o *Outcome) mortalityTable() result.Table {
	t := result.Table{Name: "mortality", ID: []string{"species", "year", "method", "quantity"},
		Further: []string{"interval", "sampling_se", "sampling_low", "sampling_high", "rests_on", "source"}}
	for _, s := range o.Species {
		if s.Mortality == nil {
			continue
		}
		for i := range s.Mortality.Years {
			y := &s.Mortality.Years[i]
			rows := deathRows{&t, string(s.Species), strconv.Itoa(y.Year), y}
			rows.method("chapman_robson", y.ChapmanRobson)
			if y.Survival.Value.Known {
				rows.add("chapman_robson", "survival", y.Survival, Estimate{})
			}
			rows.method("catch_curve", y.CatchCurve)
		}
		for _, n := range s.Mortality.Natural {
			e := n.M
			e.ID = []string{string(s.Species), "", n.Name, "natural"}
			rests := "the oldest agreed age, " + strconv.Itoa(s.Mortality.Longest)
			if n.Growth {
				rests = "the reported curve of growth"
			}
			e.Further = []string{e.Method, "", "", "", rests, n.Source + " (" + n.Known.String() + ")"}
			t.Estimate = append(t.Estimate, e.Estimate)
		}
	}
	return t
}

type deathRows struct {
	table         *result.Table
	species, year string
	of            *YearMortality
}

func (r deathRows) method(name string, t TotalMortality) {
	if !t.Z.Value.Known {
		return
	}
	r.add(name, "z", t.Z, t.Sampling)
	r.add(name, "first_age", Estimate{Estimate: result.Estimate{Value: record.Some(float64(t.FirstAge))}}, Estimate{})
	r.add(name, "ages", Estimate{Estimate: result.Estimate{Value: record.Some(float64(t.Ages))}}, Estimate{})
	r.add(name, "n", Estimate{Estimate: result.Estimate{Value: record.Some(t.Fish)}}, Estimate{})
}

func (r deathRows) add(method, quantity string, e, sampling Estimate) {
	e.ID = []string{r.species, r.year, method, quantity}
	e.Trips, e.Stones = r.of.Trips, r.of.Stones
	rests := "effective number of fish"
	switch {
	case r.of.Plus && method == "catch_curve":
		rests += ", without the plus group"
	case r.of.Plus:
		rests += ", the plus group as survivors"
	}
	e.Further = []string{e.Method, number(sampling.SE), number(sampling.Low), number(sampling.High), rests, ""}
	r.table.Estimate = append(r.table.Estimate, e.Estimate)
}

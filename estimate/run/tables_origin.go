package run

import (
	"slices"
	"strconv"

	"earstone/estimate/origin"
	"earstone/programme/record"
	"earstone/programme/result"
	"earstone/programme/strata"
)

// outsideName stands in the column of nurseries for fish unlike all of them.
const outsideName = "outside the baseline"

// names are the nurseries and what lies outside them.
func (o *OriginFound) names() []string { return append(slices.Clone(o.Nurseries), outsideName) }

// nurseryTable is the catch at age by nursery of every stratum, year and sum.
func (o *Outcome) nurseryTable() result.Table {
	t := result.Table{Name: "catch_by_nursery", ID: append(append([]string{"species"}, strata.Columns()...), "age", "plus", "quantity", "nursery"),
		Further: []string{"interval", "percentile_low", "percentile_high", "bca_low", "bca_high", "age_assayed"}}
	for _, s := range o.Species {
		if s.Origin == nil {
			continue
		}
		for _, places := range [][]NurseryPlace{s.Origin.Years, s.Origin.Sums, s.Origin.Strata} {
			for i := range places {
				rows := nurseryRows{&t, s, &places[i]}
				rows.add("number", places[i].Number, places[i].Cell.Texts())
			}
		}
	}
	return t
}

// compositionTable is the shares of nurseries by place and age, and of all fish together.
func (o *Outcome) compositionTable() result.Table {
	t := result.Table{Name: "composition", ID: []string{"species", "year", "quarter", "area", "age", "nursery", "method"},
		Further: []string{"interval", "percentile_low", "percentile_high", "bca_low", "bca_high", "age_assayed", "rhat", "ess"}}
	for _, s := range o.Species {
		if s.Origin == nil {
			continue
		}
		s.Origin.whole(&t, string(s.Species), o.Options.Level)
		for _, places := range [][]NurseryPlace{s.Origin.Years, s.Origin.Sums} {
			for i := range places {
				if p := &places[i]; p.Cell.Gear == "" && p.Cell.Month == 0 {
					texts := p.Cell.Texts()
					rows := nurseryRows{&t, s, p}
					rows.add("", p.Share, []string{texts[0], texts[1], texts[3]})
				}
			}
		}
	}
	return t
}

// whole adds the composition of all assayed fish: with design weights, of the stones as
// they came, and by simulation.
func (o *OriginFound) whole(t *result.Table, species string, level float64) {
	add := func(nursery, method string, e Estimate, chains ...string) {
		e.ID = []string{species, "", "", "", "", nursery, method}
		e.Stones, e.Further = o.Fit.Composition.Fish, append(further(e, ""), chains...)
		t.Estimate = append(t.Estimate, e.Estimate)
	}
	for k, name := range o.Nurseries {
		add(name, "likelihood", o.Whole[k], "", "")
	}
	add(outsideName, "likelihood", o.Outside, "", "")
	for k, name := range o.Nurseries {
		e := Estimate{}
		if o.Fit.Unweighted.Fish > 0 {
			e.Value = record.Some(o.Fit.Unweighted.Share[k])
			if o.Fit.Unweighted.SE != nil {
				e.SE = record.Some(o.Fit.Unweighted.SE[k])
			}
		}
		add(name, "unweighted", e, "", "")
	}
	for k, name := range o.Nurseries {
		if o.Bayes == nil {
			break
		}
		e := Estimate{}
		e.Value, e.SE = record.Some(o.Bayes.Share[k]), record.Some(o.Bayes.SD[k])
		e.Low, e.High, e.Level = record.Some(o.Bayes.Low[k]), record.Some(o.Bayes.High[k]), level
		d, judged := o.Bayes.Convergence[k], o.Bayes.Judged[k]
		add(name, "bayes", e, number(record.Number{X: d.RHat, Known: judged}), number(record.Number{X: min(d.BulkESS, d.TailESS), Known: judged}))
	}
}

// further are the columns behind an estimate by nursery.
func further(e Estimate, assayed string) []string {
	return []string{e.Method, number(e.Percentile.Low), number(e.Percentile.High), number(e.BCa.Low), number(e.BCa.High), assayed}
}

type nurseryRows struct {
	table *result.Table
	s     *Species
	place *NurseryPlace
}

// add has a row for each age and nursery, then those of all ages. With no quantity the
// rows are those of a composition, whose method is the pooled one.
func (r nurseryRows) add(quantity string, rows [][]Estimate, where []string) {
	ages := len(rows) - 1
	d := &r.s.Counts.Design
	for a, columns := range rows {
		age, plus := "", "false"
		if a < ages {
			age, plus = strconv.Itoa(a), strconv.FormatBool(d.Plus > 0 && d.Ages > d.Plus && a == ages-1)
		}
		for c, e := range columns {
			if !e.Value.Known || a < ages && nothing(r.place.Number[a]) {
				continue
			}
			name := r.s.Origin.names()[c]
			e.ID = append(append([]string{string(r.s.Species)}, where...), age, plus, quantity, name)
			if quantity == "" {
				e.ID = append(append([]string{string(r.s.Species)}, where...), age, name, "pooled")
			}
			e.Trips, e.Stones, e.Filled = r.place.Trips, r.place.Stones, record.Some(r.place.Filled)
			e.Further = further(e, strconv.Itoa(r.place.Assayed[a]))
			if quantity == "" {
				e.Further = append(e.Further, "", "") // of chains, which these have none of
			}
			r.table.Estimate = append(r.table.Estimate, e.Estimate)
		}
	}
}

// nothing tells that nobody caught fish of a row, in the estimate or any replicate.
func nothing(row []Estimate) bool {
	return !slices.ContainsFunc(row, func(e Estimate) bool { return e.Value.X > 0 || e.High.X > 0 })
}

// originPlain is what is said of each assayed fish: a row a fish and nursery.
func (o *Outcome) originPlain() result.Plain {
	t := result.Plain{Name: "origin", Columns: []string{"fish", "species", "nursery", "value", "even", "tail_p", "call", "weight"}}
	for _, s := range o.Species {
		if s.Origin == nil {
			continue
		}
		for i, f := range s.Origin.Fish {
			judged := &s.Origin.Fit.Fish[i]
			for k, name := range s.Origin.Nurseries {
				t.Rows = append(t.Rows, []string{string(f.Fish.Fish), string(s.Species), name, plain(judged.Posterior[k]), plain(judged.Even[k]),
					plain(judged.Tail[k]), s.Origin.CallOf(judged.Call), plain(f.Weight)})
			}
		}
	}
	return t
}

// CallOf is a call in a word: a nursery, unclear or outside.
func (o *OriginFound) CallOf(call origin.Call) string {
	switch call {
	case origin.Unclear:
		return "unclear"
	case origin.Outside:
		return "outside"
	}
	return o.Nurseries[call]
}

// classificationPlain is how fish of known nursery are called when they are held out.
func (o *Outcome) classificationPlain() result.Plain {
	t := result.Plain{Name: "classification", Columns: []string{"species", "form", "nursery", "called", "count"}}
	for _, s := range o.Species {
		if s.Origin == nil || s.Origin.Fit.Held == nil {
			continue
		}
		held, K := s.Origin.Fit.Held, len(s.Origin.Nurseries)
		for k, name := range s.Origin.Nurseries {
			for j, called := range s.Origin.Nurseries {
				t.Rows = append(t.Rows, []string{string(s.Species), held.Form.String(), name, called, plain(held.Called[k*K+j])})
			}
		}
	}
	return t
}

// runsPlain is what the reference materials say of the assay runs.
func (o *Outcome) runsPlain() result.Plain {
	t := result.Plain{Name: "assay_runs", Columns: []string{"run", "material", "tracer", "measured", "offset", "sd", "offset_limit", "sd_limit", "verdict", "held_out"}}
	for _, r := range o.Assays.Runs {
		sd := record.Number{X: r.SD, Known: r.Measured > 1}
		limit := func(x float64) string { return number(record.Number{X: x, Known: x > 0}) }
		held := slices.Contains(o.Assays.Held, origin.Held{Run: r.Run, Tracer: r.Tracer})
		t.Rows = append(t.Rows, []string{r.Run, r.Material, r.Tracer, strconv.Itoa(r.Measured), plain(r.Offset), number(sd),
			limit(r.OffsetLimit), limit(r.SDLimit), r.Verdict.String(), strconv.FormatBool(held)})
	}
	return t
}

func plain(x float64) string { return number(record.Some(x)) }

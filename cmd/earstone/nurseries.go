package main

import (
	"errors"
	"fmt"
	"strings"

	"earstone/estimate/origin"
	"earstone/estimate/run"
	"earstone/pages/words"
	"earstone/plan/fishery"
	"earstone/plan/rehearsal"
	"earstone/programme/record"
	"earstone/programme/strata"
)

// sayOrigin tells what the nurseries of origin rest on, or why there are none.
func sayOrigin(s *run.Species, say func(string, ...any)) {
	if s.NoOrigin != nil && !errors.Is(s.NoOrigin, run.ErrNoBaseline) {
		say("%s: there is no nursery of origin: %s.", s.Species, strings.TrimPrefix(s.NoOrigin.Error(), "no origin: "))
	}
	o := s.Origin
	if o == nil {
		return
	}
	say("%s: nurseries rest on %s of %s and %s of the catch; the densities are %s.", s.Species,
		plural(len(o.Known), "fish", "fish"), plural(len(o.Nurseries), "nursery", "nurseries"), plural(len(o.Fish), "assayed fish", "assayed fish"), o.Fit.Form)
	if held := o.Fit.Held; held != nil {
		say("Held out one by one, %s of the baseline's fish are called for their own nursery.", percentOf(held.Right))
	}
	if !o.Designed {
		say("There is no catch for the assayed fish to stand for: the composition is that of the stones.")
	}
	if o.NoGroups != nil {
		say("There is no composition by place and age: %s.", strings.TrimPrefix(o.NoGroups.Error(), "no origin: "))
	}
	if o.Bayes != nil && !o.Bayes.Converged {
		say("The chains that simulate the composition have not settled; do not rest on them.")
	}
	if o.Fit.WeightsMatter {
		say("The composition of the catch and that of the stones as they came differ by more than their error: which stones were picked matters.")
	}
	sayUnused(o, say)
	sayDoubts(o, say)
	sayAlone(o, say)
	if o.Unfit > 0 {
		say("In %s the redrawn baseline gave no densities, and those of the estimate stood in.", plural(o.Unfit, "replicate", "replicates"))
	}
	if o.Unsettled > 0 {
		say("In %s the composition did not settle.", plural(o.Unsettled, "replicate", "replicates"))
	}
}

// sayUnused counts the values that could not be taken.
func sayUnused(o *run.OriginFound, say func(string, ...any)) {
	u := o.Unused
	for _, left := range []struct {
		n   int
		why string
	}{
		{u.Held, "of assay runs that are held out (assay_runs.csv)"},
		{u.Region, "of another region than the core"},
		{u.Scale, "on a scale that can't be turned into VPDB"},
		{u.Unit, "in another unit than most values of their tracer"},
	} {
		if left.n > 0 {
			say("%s: left out of the nurseries.", plural(left.n, "value "+left.why, "values "+left.why))
		}
	}
	if len(u.Tracers) > 0 {
		say("%s left out: fewer than half of the baseline's fish were assayed for it.", strings.Join(u.Tracers, ", "))
	}
}

// sayDoubts tells each reason once, with the number of fish concerned. A year class that
// several nurseries lack counts a fish once.
func sayDoubts(o *run.OriginFound, say func(string, ...any)) {
	var order []origin.Reason
	fish := map[origin.Reason]map[int]bool{}
	for _, d := range o.Fit.Doubts {
		if fish[d.Reason] == nil {
			order, fish[d.Reason] = append(order, d.Reason), map[int]bool{}
		}
		for _, i := range d.Known {
			fish[d.Reason][-1-i] = true
		}
		for _, i := range d.Mixed {
			fish[d.Reason][i] = true
		}
	}
	for _, reason := range order {
		text := reason.String()
		if n := len(fish[reason]); n > 0 {
			say("%s (%s).", strings.ToUpper(text[:1])+text[1:], plural(n, "fish", "fish"))
		} else {
			say("%s.", strings.ToUpper(text[:1])+text[1:])
		}
	}
}

// sayAlone names the caught ages of a year without an assayed fish.
func sayAlone(o *run.OriginFound, say func(string, ...any)) {
	for i := range o.Years {
		p := &o.Years[i]
		var ages []string
		for a := range len(p.Number) - 1 {
			if p.Assayed[a] == 0 && p.Number[a][0].Value.X > 0 {
				ages = append(ages, fmt.Sprint(a))
			}
		}
		if len(ages) > 0 {
			say("No fish of age %s was assayed in %d: the nurseries there are told from the ages beside.", strings.Join(ages, ", "), p.Cell.Year)
		}
	}
}

// withoutOrigin says that nurseries or mortality were asked for by name and could not be had.
func withoutOrigin(o *run.Outcome, s *run.Species) []string {
	if len(o.Options.Only) == 0 {
		return nil
	}
	var said []string
	if asked(o, run.Origin) && s.Origin == nil {
		said = append(said, fmt.Sprintf("There is no nursery of origin of %s: %s.", s.Species, strings.TrimPrefix(s.NoOrigin.Error(), "no origin: ")))
	}
	if asked(o, run.Mortality) && (s.Mortality == nil || len(s.Mortality.Years) == 0) {
		said = append(said, fmt.Sprintf("There is no total mortality of %s: there is no catch at age.", s.Species))
	}
	return said
}

// inventedTruth is what else is known of an invented fishery: the shares of nurseries by
// year, and what growth can be held against.
type inventedTruth struct {
	nurseries map[int]map[string]float64
	truth     *fishery.Truth
}

// grown is the truth of each parameter of the reported curve, of a census of the catch; nil
// where there is none to hold it against.
func (t *inventedTruth) grown(g *run.GrowthFound) map[string]float64 {
	model := g.Curves[g.Chosen].Model
	census, err := rehearsal.Census(t.truth, g.Scatter)
	if err != nil || model != census.Curve.Model {
		return nil
	}
	known := map[string]float64{}
	for i, name := range model.Parameters() {
		known[name] = census.Estimates[i]
	}
	return known
}

func knownOrigins(s fishery.Settings, t *fishery.Truth) *inventedTruth {
	known := &inventedTruth{nurseries: map[int]map[string]float64{}, truth: t}
	for year := s.FirstYear; year < s.FirstYear+s.Years; year++ {
		known.nurseries[year] = map[string]float64{}
		for k, share := range t.Composition(func(cell strata.Cell) bool { return int(cell.Year) == year }) {
			known.nurseries[year][t.Nurseries[k]] = share
		}
	}
	return known
}

// tellOrigins prints the shares of nurseries in the catch of each year.
func (r *results) tellOrigins(to *output, s *run.Species) {
	if s.Origin == nil {
		return
	}
	years := s.Origin.Years
	years = years[max(0, len(years)-mostYears):]
	for i := range years {
		place, year := &years[i], int(years[i].Cell.Year)
		g := grid{head: []string{"nursery", "share %", "from", "to"}}
		if r.invented != nil {
			g.head = append(g.head, "truth", "held")
		}
		shares := place.Share[len(place.Share)-1]
		for k, e := range shares {
			name, truth, known := "outside", 0.0, false
			if k < len(s.Origin.Nurseries) {
				name = s.Origin.Nurseries[k]
				if r.invented != nil {
					truth, known = r.invented.nurseries[year][name]
				}
			}
			row := []string{name, percentPlain(e.Value), percentPlain(e.Low), percentPlain(e.High)}
			if r.invented != nil {
				row = append(row, against(e, truth, known, 100, 1)...)
			}
			g.add(row...)
		}
		to.say("\n%s, %d: nurseries of the catch, %s assayed\n", s.Species, year, plural(place.Stones, "fish", "fish"))
		to.say("%s", g.text())
	}
}

// tellGrowth prints the reported curve of growth beside the truth of an invented fishery.
func (r *results) tellGrowth(to *output, s *run.Species) {
	byItself := s.Catch == nil // and asked for
	if byItself && s.NoGrowth != nil && asked(r.outcome, run.Growth) {
		to.say("There is no curve of growth of %s: %s.", s.Species, s.NoGrowth)
	}
	if r.invented == nil && !byItself || s.Growth == nil || len(s.Growth.Parameters) == 0 {
		return
	}
	g := grid{head: []string{"growth", "estimate", "from", "to"}}
	var truth map[string]float64
	if r.invented != nil {
		truth = r.invented.grown(s.Growth)
		g.head = append(g.head, "truth of the catch", "held")
	}
	for i, name := range s.Growth.Curves[s.Growth.Chosen].Model.Parameters() {
		e := s.Growth.Parameters[i]
		decimals := 3
		if e.Value.X > 100 {
			decimals = 1
		}
		figure := func(n record.Number) string {
			if !n.Known {
				return ""
			}
			return words.Figure(n.X, decimals)
		}
		row := []string{name, figure(e.Value), figure(e.Low), figure(e.High)}
		if r.invented != nil {
			x, known := truth[name]
			row = append(row, against(e, x, known, 1, decimals)...)
		}
		g.add(row...)
	}
	to.say("%s", g.text())
}

func percentPlain(n record.Number) string {
	if !n.Known {
		return ""
	}
	return words.Figure(100*n.X, 1)
}

// against is a truth, in a scale, and whether an interval holds it.
func against(e run.Estimate, truth float64, known bool, scale float64, decimals int) []string {
	switch {
	case !known:
		return []string{"", ""}
	case !e.Low.Known:
		return []string{words.Figure(scale*truth, decimals), "no interval"}
	case holds(e, truth):
		return []string{words.Figure(scale*truth, decimals), "yes"}
	}
	return []string{words.Figure(scale*truth, decimals), "no"}
}

// nurseryObject is the share of one nursery in a year's catch as JSON.
type nurseryObject struct {
	Species string   `json:"species"`
	Year    int      `json:"year"`
	Nursery string   `json:"nursery"`
	Share   *float64 `json:"share"`
	SE      *float64 `json:"se"`
	Low     *float64 `json:"low"`
	High    *float64 `json:"high"`
	Truth   *float64 `json:"truth,omitempty"`
}

// originObjects prints the shares of nurseries by year as objects.
func (r *results) originObjects(to *output, s *run.Species) error {
	if s.Origin == nil {
		return nil
	}
	for i := range s.Origin.Years {
		place := &s.Origin.Years[i]
		for k, name := range s.Origin.Nurseries {
			e := place.Share[len(place.Share)-1][k]
			object := nurseryObject{Species: string(s.Species), Year: int(place.Cell.Year), Nursery: name,
				Share: known(e.Value), SE: known(e.SE), Low: known(e.Low), High: known(e.High)}
			if r.invented != nil {
				if truth, known := r.invented.nurseries[object.Year][name]; known {
					object.Truth = &truth
				}
			}
			if err := to.object(object); err != nil {
				return err
			}
		}
	}
	return nil
}

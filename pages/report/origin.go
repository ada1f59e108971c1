package report

import (
	"errors"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"

	"earstone/estimate/origin"
	"earstone/estimate/run"
	"earstone/pages/chart"
	"earstone/pages/words"
)

// origin is the nursery that fish grew up in. Without a baseline nobody asked for it.
func (k *told) origin() section {
	o := k.s.Origin
	if o == nil && (k.s.NoOrigin == nil || errors.Is(k.s.NoOrigin, run.ErrNoBaseline)) {
		return section{}
	}
	c := k.section("origin", say("origin.heading"))
	if o == nil || o.Fit == nil {
		c.Says = []string{say("origin.none", "why", sentence(k.s.NoOrigin.Error()))}
		return c
	}
	c.Says = []string{k.originSays(), k.originDoubts()}
	if t := k.classification(); t != nil {
		c.Tables = append(c.Tables, *k.table(t))
	}
	if t := k.assayRuns(); t != nil {
		c.Tables = append(c.Tables, *k.table(t))
	}
	if len(o.Tracers) > 1 {
		c.Sets = append(c.Sets, set{Figures: []figure{k.tracers()}})
	}
	if len(o.Fish) > 0 {
		c.Sets = append(c.Sets, set{Figures: []figure{k.everyFish()}})
	}
	c.Sets = append(c.Sets, set{Figures: []figure{k.composition()}})
	return c
}

// originSays tells what the densities rest on and how well they tell nurseries apart.
func (k *told) originSays() string {
	o := k.s.Origin
	says := say("origin.says", "known", counted("fish", len(o.Known)), "nurseries", list(o.Nurseries), "fish", counted("fish", len(o.Fish)), "tracers", list(k.tracerNames()), "form", say("origin.form."+o.Fit.Form.String()))
	if held := o.Fit.Held; held != nil && held.Fish > 0 {
		says = join(says, say("origin.right", "share", percent(held.Right)))
	}
	if len(o.Fish) > 0 {
		says = join(says, say("origin.outside", "n", counted("fishAre", o.Fit.Outsiders)))
	}
	return says
}

func (k *told) tracerNames() (names []string) {
	for _, t := range k.s.Origin.Tracers {
		names = append(names, tracerName(t.Name))
	}
	return names
}

// tracerName is a tracer as it is printed: δ¹³C for d13C, Sr:Ca for Sr_Ca.
func tracerName(name string) string {
	if isotope, ok := strings.CutPrefix(name, "d"); ok && isotope != "" && isotope[0] >= '0' && isotope[0] <= '9' {
		raised := []rune("⁰¹²³⁴⁵⁶⁷⁸⁹")
		var b strings.Builder
		b.WriteString("δ")
		for _, r := range isotope {
			if r >= '0' && r <= '9' {
				r = raised[r-'0']
			}
			b.WriteRune(r)
		}
		return b.String()
	}
	return strings.ReplaceAll(name, "_", ":")
}

// unitName is a unit as it is printed.
func unitName(unit string) string {
	if unit == "permil" {
		return "‰"
	}
	return unit
}

// originDoubts tells what to know before the compositions are used.
func (k *told) originDoubts() string {
	o := k.s.Origin
	var said []string
	if !o.Designed {
		said = append(said, say("origin.alone"))
	}
	if o.Fit.WeightsMatter {
		said = append(said, say("origin.weights"))
	}
	if u := o.Unused; u.Held > 0 {
		said = append(said, say("origin.held", "n", counted("values", u.Held)))
	}
	if u := o.Unused.Scale + o.Unused.Unit; u > 0 {
		said = append(said, say("origin.scale", "n", counted("values", u)))
	}
	if o.Bayes != nil && !o.Bayes.Converged {
		said = append(said, say("origin.chains"))
	}
	if o.Unfit+o.Unsettled > 0 {
		said = append(said, say("origin.unsettled", "n", words.Count(o.Unfit+o.Unsettled), "of", counted("replicates", k.o.Options.Replicates)))
	}
	for _, reason := range reasonsOf(o.Fit.Doubts) {
		said = append(said, k.doubt(reason))
	}
	return join(said...)
}

// reasonsOf are the reasons to doubt, each once, in the order in which they came.
func reasonsOf(doubts []origin.Doubt) (reasons []origin.Reason) {
	for _, d := range doubts {
		if !slices.Contains(reasons, d.Reason) {
			reasons = append(reasons, d.Reason)
		}
	}
	return reasons
}

// doubt is a reason to doubt, with the nurseries, tracers and fish that it is about.
func (k *told) doubt(reason origin.Reason) string {
	o := k.s.Origin
	var nurseries, tracers []string
	known, mixed := map[int]bool{}, map[int]bool{}
	add := func(to *[]string, names []string, at int) {
		if at >= 0 && at < len(names) && !slices.Contains(*to, names[at]) {
			*to = append(*to, names[at])
		}
	}
	for _, d := range o.Fit.Doubts {
		if d.Reason != reason {
			continue
		}
		add(&nurseries, o.Nurseries, d.Nursery)
		add(&tracers, k.tracerNames(), d.Tracer)
		for _, i := range d.Known {
			known[i] = true
		}
		for _, i := range d.Mixed {
			mixed[i] = true
		}
	}
	about := append(nurseries, tracers...)
	if n := len(known) + len(mixed); n > 0 {
		about = append(about, counted("fish", n))
	}
	if about == nil {
		return sentence(reason.String())
	}
	return sentence(say("origin.doubt", "reason", reason.String(), "about", list(about)))
}

// plane is a value of a tracer as it lies in the plane of the densities.
func plane(t run.TracerFound, x float64) float64 {
	if t.Log {
		return math.Log(x)
	}
	return x
}

func planeName(t run.TracerFound) string {
	unit := ""
	if t.Unit != "" {
		unit = " (" + unitName(t.Unit) + ")"
	}
	if t.Log {
		return say("origin.log", "tracer", tracerName(t.Name), "unit", unit)
	}
	return tracerName(t.Name) + unit
}

// tracers draws the fish in the plane of the first two tracers.
func (k *told) tracers() figure {
	o := k.s.Origin
	n := len(o.Tracers)
	says := k.tracersSay()
	pic := chart.Tracers{Frame: chart.Frame{Title: say("origin.plane.title", "x", tracerName(o.Tracers[0].Name), "y", tracerName(o.Tracers[1].Name)), Alt: says, Level: 0.95}, X: planeName(o.Tracers[0]), Y: planeName(o.Tracers[1])}
	of := &table{Summary: say("origin.plane.summary"), Caption: say("origin.plane.caption"), Head: text(say("column.nursery"))}
	for _, t := range o.Tracers {
		of.Head = append(of.Head, figures(planeName(t), say("column.sd"))...)
	}
	of.Head = append(of.Head, figures(say("column.known"), say("column.called"))...)
	called := map[origin.Call]int{}
	for i := range o.Fit.Fish {
		called[o.Fit.Fish[i].Call]++
	}
	known := map[int]int{}
	for _, f := range o.Known {
		known[f.Nursery]++
	}
	spreads := o.Fit.YearSpread
	at := func(m []float64, i int) float64 {
		if i < len(m) {
			return m[i]
		}
		return 0
	}
	for i, name := range o.Nurseries {
		v := o.Fit.Covariance[i*n*n : (i+1)*n*n]
		mean := o.Fit.Mean[i*n : (i+1)*n]
		pic.Nurseries = append(pic.Nurseries, chart.NurseryArea{Name: name, MeanX: mean[0], MeanY: mean[1],
			VarX: v[0] + at(spreads, 0), VarY: v[n+1] + at(spreads, n+1), CoXY: v[1] + at(spreads, 1)})
		row := []string{name}
		for j := range o.Tracers {
			row = append(row, words.Figure(mean[j], 2), words.Figure(math.Sqrt(max(v[j*n+j]+at(spreads, j*n+j), 0)), 2))
		}
		of.Rows = append(of.Rows, append(row, words.Count(known[i]), words.Count(called[origin.Call(i)])))
	}
	for i, f := range o.Fish {
		if f.Lacks&3 == 0 {
			pic.Fish = append(pic.Fish, chart.TracerFish{X: plane(o.Tracers[0], f.X[0]), Y: plane(o.Tracers[1], f.X[1]), Call: int(o.Fit.Fish[i].Call)})
		}
	}
	return k.figure(figure{Title: say("origin.plane.head"), Says: says, Picture: template.HTML(pic.Draw()), Table: of})
}

// tracersSay counts the calls.
func (k *told) tracersSay() string {
	o := k.s.Origin
	called := map[origin.Call]int{}
	for i := range o.Fit.Fish {
		called[o.Fit.Fish[i].Call]++
	}
	var said []string
	for i, name := range o.Nurseries {
		said = append(said, say("origin.called", "n", words.Count(called[origin.Call(i)]), "nursery", name))
	}
	said = append(said, say("origin.unclear", "n", words.Count(called[origin.Unclear])), say("origin.unlike", "n", words.Count(called[origin.Outside])))
	return say("origin.plane.says", "fish", counted("fish", len(o.Fish)), "calls", list(said))
}

// everyFish is the strip of posteriors.
func (k *told) everyFish() figure {
	o := k.s.Origin
	says := k.surenessSays()
	pic := chart.Posteriors{Frame: chart.Frame{Title: say("origin.strip.title"), Alt: says}, Nurseries: o.Nurseries}
	for i := range o.Fit.Fish {
		pic.Fish = append(pic.Fish, chart.PosteriorFish{Shares: o.Fit.Fish[i].Posterior, Call: int(o.Fit.Fish[i].Call)})
	}
	of := &table{Summary: say("origin.strip.summary"), File: "origin.csv", Caption: say("origin.strip.caption"), Head: append(text(say("column.likeliest")), figures(say("column.fish"), say("column.share"))...)}
	classes := []float64{0.5, 0.7, 0.8, 0.9, 0.95, 0.99, 1.0001}
	counts := make([]int, len(classes))
	for _, f := range o.Fit.Fish {
		best := 0.0
		for _, x := range f.Posterior {
			best = max(best, x)
		}
		for c, to := range classes {
			if best < to {
				counts[c]++
				break
			}
		}
	}
	for c, n := range counts {
		name := say("origin.below", "share", percent(classes[c]))
		if c > 0 {
			name = say("origin.from", "low", percent(classes[c-1]), "high", percent(min(classes[c], 1)))
		}
		of.Rows = append(of.Rows, []string{name, words.Count(n), percent(float64(n) / float64(max(len(o.Fit.Fish), 1)))})
	}
	return k.figure(figure{Title: say("origin.strip.head"), Says: says, Picture: template.HTML(pic.Draw()), Table: of})
}

// surenessSays tells how many fish are as good as sure.
func (k *told) surenessSays() string {
	sure := 0
	fish := k.s.Origin.Fit.Fish
	for _, f := range fish {
		for _, x := range f.Posterior {
			if x >= 0.9 {
				sure++
				break
			}
		}
	}
	return say("origin.strip.says", "n", words.Count(sure), "of", counted("fish", len(fish)), "share", percent(0.9))
}

// composition sets the shares of nurseries side by side: all fish together by each
// method, then the years and areas.
func (k *told) composition() figure {
	o := k.s.Origin
	says := k.compositionSays()
	pic := chart.Compositions{Frame: chart.Frame{Title: say("origin.composition.title"), Alt: says, Level: k.levelOr95()}, Nurseries: o.Nurseries}
	of := &table{Summary: say("origin.composition.summary"), Paper: true, File: "composition.csv", Caption: say("origin.composition.caption", "level", level(k.levelOr95())),
		Head: append(text(say("column.part"), say("column.nursery")), figures(say("column.share"), say("column.se"), say("column.from"), say("column.to"), say("column.fish"))...)}
	add := func(name string, fish int, shares []run.Estimate, draw bool) {
		g := chart.CompositionGroup{Name: name, Fish: fish}
		for i, e := range shares[:len(o.Nurseries)] {
			g.Shares = append(g.Shares, chart.CompositionShare{Share: amount(e.Value), Interval: between(e)})
			of.Rows = append(of.Rows, shareRow(name, o.Nurseries[i], e, fish))
		}
		if draw {
			pic.Groups = append(pic.Groups, g)
		}
	}
	fish := o.Fit.Composition.Fish
	if len(o.Whole) > 0 && fish > 0 {
		add(say("origin.whole"), fish, o.Whole, true)
	}
	if o.Bayes != nil {
		add(say("origin.bayes"), fish, simulated(o.Bayes), true)
	}
	first := max(0, len(o.Years)-mostYears)
	for i := len(o.Years) - 1; i >= 0; i-- {
		k.addPlace(&o.Years[i], add, i >= first && len(o.Years) > 1)
	}
	for i := range o.Sums {
		p := &o.Sums[i]
		if int(p.Cell.Year) == k.lastYear() && p.Cell.Area != "" {
			k.addPlace(p, add, len(pic.Groups) < 12)
		}
	}
	return k.figure(figure{Title: say("origin.composition.head"), Says: says, Picture: template.HTML(pic.Draw()), Table: of})
}

// addPlace adds the composition of all ages of a place.
func (k *told) addPlace(p *run.NurseryPlace, add func(string, int, []run.Estimate, bool), draw bool) {
	if len(p.Share) == 0 {
		return
	}
	name := strconv.Itoa(int(p.Cell.Year))
	if p.Cell.Area != "" {
		name = say("origin.place", "place", k.placeName(p.Cell), "year", name)
	}
	add(name, p.Stones, p.Share[len(p.Share)-1], draw)
}

func shareRow(part, nursery string, e run.Estimate, fish int) []string {
	low, high := none, none
	if has(e) {
		low, high = percent(e.Low.X), percent(e.High.X)
	}
	se := none
	if e.SE.Known {
		se = percent(e.SE.X)
	}
	return []string{part, nursery, share(e), se, low, high, words.Count(fish)}
}

// compositionSays tells the nursery of most fish.
func (k *told) compositionSays() string {
	o := k.s.Origin
	best := -1
	for i, e := range o.Whole {
		if e.Value.Known && (best < 0 || e.Value.X > o.Whole[best].Value.X) {
			best = i
		}
	}
	if best < 0 {
		return say("origin.composition.none")
	}
	within := ""
	if e := o.Whole[best]; has(e) {
		within = " (" + percent(e.Low.X) + " to " + percent(e.High.X) + ")"
	}
	says := say("origin.composition.says", "nursery", o.Nurseries[best], "share", percent(o.Whole[best].Value.X), "within", within)
	if o.Bayes != nil && best < len(o.Bayes.Share) {
		says = join(says, say("origin.composition.bayes", "share", percent(o.Bayes.Share[best])))
	}
	return says
}

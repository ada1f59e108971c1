package report

import (
	"html/template"
	"math"
	"slices"
	"strconv"

	"earstone/estimate/growth"
	"earstone/estimate/run"
	"earstone/pages/chart"
	"earstone/pages/words"
	"earstone/programme/record"
	"earstone/statistics/dist"
)

// say is a sentence of the catalogue.
func say(name string, pairs ...string) string { return words.Report.Say(name, pairs...) }

// counted is a number with its word, from the catalogue.
func counted(name string, n int) string { return words.Report.Count(name, n) }

// growth is length at age.
func (k *told) growth() section {
	g := k.s.Growth
	if g == nil && k.s.NoGrowth == nil {
		return section{}
	}
	c := k.section("growth", say("growth.heading"))
	if k.s.NoGrowth != nil || g == nil || g.Curves[g.Chosen].Fit == nil {
		why := "–"
		if k.s.NoGrowth != nil {
			why = k.s.NoGrowth.Error()
		}
		c.Says = []string{say("growth.none", "why", sentence(why))}
		if g != nil && len(g.Curves) > 0 {
			c.Tables = []table{*k.table(k.curvesTable())}
		}
		k.lengthsAtAnnuli(&c)
		return c
	}
	curve := g.Curves[g.Chosen]
	c.Says = []string{join(say("growth.fitted", "model", modelName(curve.Model), "scatter", say("growth.scatter."+g.Scatter.String()), "fish", counted("fish", int(curve.Fit.Fish+0.5))), k.designed())}
	c.Tables = []table{*k.table(k.parametersTable()), *k.table(k.curvesTable())}
	c.Sets = []set{{Figures: []figure{k.lengthAtAge()}}, {Figures: []figure{k.residuals()}}}
	if f, ok := k.largestLength(); ok {
		c.Sets = append(c.Sets, set{Figures: []figure{f}})
	}
	k.growthGroups(&c)
	k.lengthsAtAnnuli(&c)
	return c
}

// designed says what each fish stands for.
func (k *told) designed() string {
	g := k.s.Growth
	if !g.Designed {
		return say("growth.unweighted")
	}
	said := say("growth.weighted")
	if g.Failed > 0 {
		said = join(said, say("growth.failed", "n", words.Count(g.Failed), "of", counted("replicates", k.o.Options.Replicates)))
	}
	return said
}

func modelName(m growth.Model) string { return say("growth.model." + m.String()) }

// parameterName is a parameter as a person reads it.
func (k *told) parameterName(name string) string {
	if name == "Linf" {
		return say("growth.largest", "unit", k.unit())
	}
	return name
}

func (k *told) unit() string { return k.s.Counts.Bins.Unit }

// asymptote is the largest length of the reported curve with its place among the
// parameters; not ok for a curve without one.
func (k *told) asymptote() (at int, e run.Estimate, ok bool) {
	g := k.s.Growth
	at = slices.Index(g.Curves[g.Chosen].Model.Parameters(), "Linf")
	if at < 0 || at >= len(g.Parameters) || !g.Parameters[at].Value.Known {
		return at, run.Estimate{}, false
	}
	return at, g.Parameters[at], true
}

// lengthAtAge is the picture of the fish, the curve and its band.
func (k *told) lengthAtAge() figure {
	g := k.s.Growth
	says := k.growthSays()
	pic := chart.Growth{Frame: chart.Frame{Title: say("growth.curve.title", "species", string(k.s.Species)), Alt: says, Level: k.o.Options.Level}, Unit: k.unit(), Fish: k.spots(nil)}
	for _, p := range g.Band {
		d := chart.CurvePoint{Age: p.Age, Length: p.Length}
		if finite(p.Low) && finite(p.High) && p.Low < p.High {
			d.Interval = chart.Between(p.Low, p.High)
		}
		pic.Curve = append(pic.Curve, d)
	}
	if _, e, ok := k.asymptote(); ok {
		pic.Asymptote = amount(e.Value)
	}
	of := &table{Summary: say("growth.curve.summary"), Paper: true, Caption: say("growth.curve.caption", "unit", k.unit(), "level", level(k.o.Options.Level)),
		Head: append(text(say("column.age")), figures(say("column.length"), say("column.from"), say("column.to"), say("column.fish"))...)}
	fish := k.fishByAge()
	for _, p := range k.wholeAges() {
		low, high := none, none
		if finite(p.Low) && finite(p.High) {
			low, high = words.Figure(p.Low, 1), words.Figure(p.High, 1)
		}
		of.Rows = append(of.Rows, []string{words.Figure(p.Age, 0), words.Figure(p.Length, 1), low, high, words.Count(fish[int(p.Age)])})
	}
	return k.figure(figure{Title: say("growth.curve.head"), Says: says, Picture: template.HTML(pic.Draw()), Table: of})
}

// spots are the aged fish; less, where given, is taken off each length.
func (k *told) spots(less func(age float64) float64) (fish []chart.Spot) {
	cells := &k.s.Growth.Cells
	for i, age := range cells.Age {
		s := chart.Spot{X: age, Y: cells.Length[i], Fish: 1}
		if cells.Count != nil {
			s.Fish = int(cells.Count[i] + 0.5)
		}
		if less != nil {
			s.Y -= less(age)
		}
		fish = append(fish, s)
	}
	return fish
}

// fishByAge counts the aged fish of each whole year of age.
func (k *told) fishByAge() map[int]int {
	fish := map[int]int{}
	for _, s := range k.spots(nil) {
		fish[int(math.Floor(s.X))] += s.Fish
	}
	return fish
}

// wholeAges is the curve at the whole ages within those of the fish.
func (k *told) wholeAges() []growth.Point {
	g := k.s.Growth
	if len(g.Band) == 0 {
		return nil
	}
	var ages []float64
	for a := math.Ceil(g.Band[0].Age); a <= g.Band[len(g.Band)-1].Age; a++ {
		ages = append(ages, a)
	}
	fit := g.Curves[g.Chosen].Fit
	if n := len(fit.Estimates); len(ages) > 0 && n > 0 && len(g.Replicates) >= 20*n {
		return fit.BootstrapBand(0, ages, g.Replicates, k.levelOr95())
	}
	return fit.Band(0, ages, k.levelOr95())
}

func (k *told) levelOr95() float64 {
	if l := k.o.Options.Level; l > 0 && l < 1 {
		return l
	}
	return 0.95
}

// growthSays tells the length at the age of most fish, and the largest length.
func (k *told) growthSays() string {
	best, at := -1, growth.Point{}
	fish := k.fishByAge()
	for _, p := range k.wholeAges() {
		if n := fish[int(p.Age)]; n > best {
			best, at = n, p
		}
	}
	says := ""
	if best > 0 {
		says = say("growth.curve.says", "age", words.Figure(at.Age, 0), "length", words.Figure(at.Length, 1), "unit", k.unit(), "low", words.Figure(at.Low, 1), "high", words.Figure(at.High, 1))
	}
	if _, e, ok := k.asymptote(); ok {
		says = join(says, say("growth.largest.says", "length", measured(e), "unit", k.unit(), "within", inBrackets(measuredInterval(e))))
		if oldest := k.s.Growth.Band; len(oldest) > 0 && e.Value.X > 1.15*oldest[len(oldest)-1].Length {
			says = join(says, say("growth.largest.far"))
		}
	}
	return says
}

func inBrackets(text string) string {
	if text == "" {
		return ""
	}
	return " (" + text + ")"
}

// measured is an estimate that is no number of fish, to the place that its spread bears.
func measured(e run.Estimate) string {
	if !e.Value.Known || !finite(e.Value.X) {
		return none
	}
	return words.Figure(e.Value.X, behind(e))
}

// behind is the number of decimals that the spread of an estimate bears.
func behind(e run.Estimate) int {
	of := spread(e)
	if !(of > 0) || !finite(of) {
		of = math.Abs(e.Value.X) / 20
	}
	if of == 0 {
		return 0
	}
	return max(0, min(1-int(math.Floor(math.Log10(of)+1e-9)), 9))
}

func measuredEnds(e run.Estimate) (low, high string) {
	if !has(e) {
		return none, none
	}
	return rounded(e.Low, behind(e)), rounded(e.High, behind(e))
}

func measuredInterval(e run.Estimate) string {
	low, high := measuredEnds(e)
	if low == none || high == none {
		return ""
	}
	return low + " to " + high
}

// residuals are the fish about the curve.
func (k *told) residuals() figure {
	g := k.s.Growth
	fit := g.Curves[g.Chosen].Fit
	spots := k.spots(func(age float64) float64 { return fit.Curve.Length(age, fit.Estimates) })
	means := residualMeans(spots, k.levelOr95())
	says := k.residualsSay(means)
	pic := chart.Residuals{Frame: chart.Frame{Title: say("growth.residuals.title", "species", string(k.s.Species)), Alt: says, Level: k.levelOr95()}, Unit: k.unit(), Fish: spots, Means: means}
	of := &table{Summary: say("growth.residuals.summary"), Caption: say("growth.residuals.caption", "unit", k.unit(), "level", level(k.levelOr95())),
		Head: append(text(say("column.age")), figures(say("column.fish"), say("column.mean"), say("column.from"), say("column.to"))...)}
	for _, m := range means {
		low, high := none, none
		if m.Interval.Known {
			low, high = words.Figure(m.Interval.Low, 1), words.Figure(m.Interval.High, 1)
		}
		of.Rows = append(of.Rows, []string{words.Figure(math.Floor(m.At), 0), words.Count(m.Fish), words.Figure(m.Mean, 1), low, high})
	}
	return k.figure(figure{Title: say("growth.residuals.head"), Says: says, Picture: template.HTML(pic.Draw()), Table: of})
}

// residualMeans are the means of each whole year of age, with the t interval of fish
// drawn singly.
func residualMeans(spots []chart.Spot, level float64) (means []chart.ResidualMean) {
	type sums struct{ n, x, xx float64 }
	of := map[int]sums{}
	var ages []int
	for _, s := range spots {
		if !finite(s.Y) {
			continue
		}
		a, n := int(math.Floor(s.X)), float64(s.Fish)
		if _, seen := of[a]; !seen {
			ages = append(ages, a)
		}
		was := of[a]
		of[a] = sums{was.n + n, was.x + n*s.Y, was.xx + n*s.Y*s.Y}
	}
	slices.Sort(ages)
	for _, a := range ages {
		s := of[a]
		m := chart.ResidualMean{At: float64(a) + 0.5, Mean: s.x / s.n, Fish: int(s.n)}
		if variance := (s.xx - s.x*s.x/s.n) / (s.n - 1); s.n > 1 && variance > 0 {
			half := dist.TQuantile((1+level)/2, s.n-1) * math.Sqrt(variance/s.n)
			m.Interval = chart.Between(m.Mean-half, m.Mean+half)
		}
		means = append(means, m)
	}
	return means
}

// residualsSay counts the ages whose mean is clear of the curve.
func (k *told) residualsSay(means []chart.ResidualMean) string {
	n, clear := 0, 0
	worst := chart.ResidualMean{}
	for _, m := range means {
		if !m.Interval.Known {
			continue
		}
		n++
		if m.Interval.Low > 0 || m.Interval.High < 0 {
			clear++
			if math.Abs(m.Mean) > math.Abs(worst.Mean) {
				worst = m
			}
		}
	}
	switch {
	case n == 0:
		return say("growth.residuals.unknown")
	case clear == 0:
		return join(say("growth.residuals.none", "n", counted("ages", n)), k.picked())
	}
	side := say("growth.longer")
	if worst.Mean < 0 {
		side = say("growth.shorter")
	}
	return join(say("growth.residuals.says", "clear", words.Count(clear), "n", counted("ages", n), "age", words.Figure(math.Floor(worst.At), 0),
		"length", words.Figure(math.Abs(worst.Mean), 1), "unit", k.unit(), "side", side), k.picked())
}

// picked warns that the fish were not picked evenly.
func (k *told) picked() string {
	if !k.s.Growth.Designed {
		return ""
	}
	return say("growth.residuals.picked")
}

// largestLength is how sure the largest length is: its refits, or the profile of its
// likelihood.
func (k *told) largestLength() (figure, bool) {
	at, e, ok := k.asymptote()
	if !ok {
		return figure{}, false
	}
	g := k.s.Growth
	name := k.parameterName("Linf")
	n := len(g.Curves[g.Chosen].Fit.Estimates)
	if len(g.Replicates) >= 20*n {
		says := say("growth.draws.says", "n", counted("refits", len(g.Replicates)/n), "length", measured(e), "unit", k.unit(), "within", inBrackets(measuredInterval(e)), "skew", skewSays(e))
		pic := chart.Draws{Frame: chart.Frame{Title: name, Alt: says, Level: k.levelOr95()}, Name: name, Estimate: amount(e.Value), Interval: between(e)}
		for i := at; i < len(g.Replicates); i += n {
			pic.Values = append(pic.Values, g.Replicates[i])
		}
		return k.figure(figure{Title: say("growth.draws.head"), Says: says, Picture: template.HTML(pic.Draw()), Table: quantilesTable(pic.Values, name)}), true
	}
	if g.Designed {
		return figure{}, false
	}
	return k.profile(at, e, name)
}

// skewSays tells on which side the interval is longer.
func skewSays(e run.Estimate) string {
	if !has(e) {
		return ""
	}
	up, down := e.High.X-e.Value.X, e.Value.X-e.Low.X
	switch {
	case up > 1.25*down:
		return say("growth.skew.up")
	case down > 1.25*up:
		return say("growth.skew.down")
	}
	return say("growth.skew.even")
}

// quantilesTable is the distribution of replicates in numbers.
func quantilesTable(values []float64, name string) *table {
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	of := &table{Summary: say("growth.draws.summary"), File: "growth.csv", Caption: say("growth.draws.caption", "name", name), Head: append(text(say("column.share")), figures(name)...)}
	for _, p := range []float64{0.025, 0.05, 0.25, 0.5, 0.75, 0.95, 0.975} {
		at := min(max(int(math.Round(p*float64(len(sorted)+1)))-1, 0), len(sorted)-1)
		of.Rows = append(of.Rows, []string{strconv.FormatFloat(100*p, 'f', -1, 64) + narrow + "%", words.Figure(sorted[at], 1)})
	}
	return of
}

// profile holds the largest length at some values and fits the rest again.
func (k *told) profile(at int, e run.Estimate, name string) (figure, bool) {
	g := k.s.Growth
	fit := g.Curves[g.Chosen].Fit
	pic := chart.Profile{Frame: chart.Frame{Title: name, Level: k.levelOr95()}, Name: name, Estimate: amount(e.Value), Low: amount(e.Low), High: amount(e.High),
		Cut: dist.ChiSquareQuantile(k.levelOr95(), 1) / 2}
	reach := 2.2 * spread(e)
	if !(reach > 0) || !finite(reach) {
		return figure{}, false
	}
	of := &table{Summary: say("growth.profile.summary"), Caption: say("growth.profile.caption", "name", name), Head: append(text(name), figures(say("growth.fall"))...)}
	const points = 24
	for i := range points + 1 {
		x := e.Value.X + reach*(2*float64(i)/points-1)*1.4
		hold := make([]record.Number, len(fit.Estimates))
		hold[at] = record.Some(x)
		if x <= 0 {
			continue
		}
		held, err := growth.FitCurve(g.Cells.Data, growth.Settings{Model: fit.Curve.Model, Scatter: fit.Scatter, Hold: hold, Start: fit.Estimates})
		if err != nil {
			continue
		}
		fall := max(fit.LogLikelihood-held.LogLikelihood, 0)
		pic.Points = append(pic.Points, chart.ProfilePoint{Value: x, Fall: fall})
		of.Rows = append(of.Rows, []string{words.Figure(x, 1), words.Figure(fall, 2)})
	}
	if len(pic.Points) < 5 {
		return figure{}, false
	}
	pic.Alt = say("growth.profile.says", "length", measured(e), "unit", k.unit(), "within", inBrackets(measuredInterval(e)))
	return k.figure(figure{Title: say("growth.profile.head"), Says: pic.Alt, Picture: template.HTML(pic.Draw()), Table: of}), true
}

func (k *told) parametersTable() *table {
	g := k.s.Growth
	of := &table{Summary: say("growth.parameters.summary"), Paper: true, File: "growth.csv", Caption: say("growth.parameters.caption", "model", modelName(g.Curves[g.Chosen].Model), "level", level(k.o.Options.Level)),
		Head: append(text(say("column.parameter")), figures(say("column.value"), say("column.se"), say("column.from"), say("column.to"))...)}
	names := append(slices.Clone(g.Curves[g.Chosen].Model.Parameters()), say("growth.scale."+g.Scatter.String()))
	for i, e := range g.Parameters {
		low, high := measuredEnds(e)
		of.Rows = append(of.Rows, []string{k.parameterName(names[i]), measured(e), rounded(e.SE, behind(e)), low, high})
	}
	return of
}

// curvesTable sets the models side by side.
func (k *told) curvesTable() *table {
	g := k.s.Growth
	of := &table{Summary: say("growth.models.summary"), Paper: true, File: "growth.csv", Caption: say("growth.models.caption"),
		Head: append(text(say("column.curve")), figures(say("column.parameters"), say("column.loglik"), say("growth.largest", "unit", k.unit()))...)}
	of.Head = append(of.Head, sentences(say("column.remark"))...)
	for i, c := range g.Curves {
		row := []string{modelName(c.Model), none, none, none, ""}
		if c.Fit != nil {
			row[1], row[2] = words.Count(c.Fit.Parameters), words.Figure(c.Fit.LogLikelihood, 1)
			if at := slices.Index(c.Model.Parameters(), "Linf"); at >= 0 {
				row[3] = words.Figure(c.Fit.Estimates[at], 0)
			}
		}
		switch {
		case c.Trouble != nil:
			row[4] = sentence(c.Trouble.Error())
		case i == g.Chosen:
			row[4] = say("growth.reported")
		}
		of.Rows = append(of.Rows, row)
	}
	return of
}

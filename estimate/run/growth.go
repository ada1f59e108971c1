package run

import (
	"math"

	"earstone/estimate/growth"
	"earstone/estimate/resample"
	"earstone/programme/record"
)

// GrowthFound is length at age: curves side by side, and the reported one with what the
// trips say of it.
type GrowthFound struct {
	Curves   []CurveFound // every model under the chosen scatter
	Chosen   int          // the reported one
	Scatter  growth.Scatter
	Scatters []CurveFound // the chosen model under every scatter, fish unweighted
	Designed bool         // fish stand for the catch they were picked from
	Cells    growth.Cells // the aged fish, drawn together, with the catch they stand for
	// Parameters are those of the reported curve, then its scale, with intervals over
	// trips; without a catch, from the fit alone.
	Parameters []Estimate
	Band       []growth.Point
	Replicates []float64 // refits × parameters, for whoever wants another band
	Failed     int       // refits that came to no curve
	Groups     []*GroupsFound

	sample *growthSample
}

// CurveFound is a model that was fitted, or why it was not.
type CurveFound struct {
	Model   growth.Model
	Scatter growth.Scatter
	Fit     *growth.Fit
	Trouble error
}

// growthSample are the fish with a decimal age and a length, at the ages that each may be of.
type growthSample struct {
	fish   int
	each   []*record.Fish
	stands stands // by fish
	ages   *trueAges
	data   growth.Data // by row of ages; Count is the share of the fish
	cells  growth.Cells
}

// sampleGrowth gathers the fish. Lengths are in the bins' unit and kind.
func (c *chain) sampleGrowth(s *Species) growthSample {
	var g growthSample
	var fish []*record.Fish
	var aged []*FishAge
	var each growth.Data
	for i := range s.Ages {
		f := &s.Ages[i]
		x, _, ok := c.convert.Length(s.Species, f.Fish.Length, c.book.Settings.LengthBin)
		if !ok || !(x > 0) || !f.Decimal.Known || !f.Class.Known() {
			continue
		}
		fish, aged = append(fish, f.Fish), append(aged, f)
		each.Age, each.Length = append(each.Age, f.Decimal.X), append(each.Length, x)
	}
	if g.fish = len(fish); g.fish == 0 {
		return g
	}
	g.each, g.stands = fish, c.newStands(s.Counts, fish, partGrowth)
	var q []float64
	var matrices [][]float64
	oldest := 0
	if s.Key != nil && ofTrueAges(s.Key.Form) {
		q, matrices, oldest = s.Key.Q, c.matrices(s, s.Key.Form), s.Errors.Oldest
	}
	g.ages = newTrueAges(aged, g.stands.cell, s.Counts, oldest, q, matrices)
	g.data = g.ages.spread(each, aged)
	g.data.Count = make([]float64, len(g.ages.rows))
	sharing := g.ages.worker()
	sharing.look(matrices)
	sharing.shares(g.data.Count, make([]float64, g.ages.ages), q)
	g.cells = growth.Aggregate(g.data, ageStep, s.Counts.Bins.Width/5)
	return g
}

// ageStep is half a month: ages are rounded to it where fish are drawn together.
const ageStep = 1.0 / 24

// Parts of the stream stones that draw fish of no trip for what stands beside the catch.
const (
	partGrowth = 1 + iota
	partOrigin
)

// growth fits the curves and gives what the replicates refit; nil when there is no curve,
// or no catch for its fish to stand for.
func (c *chain) growth(s *Species) []part {
	sample := c.sampleGrowth(s)
	if sample.fish == 0 {
		s.NoGrowth = &growth.Trouble{Reason: growth.TooFewFish, Model: growth.VonBertalanffy}
		return nil
	}
	weights := c.pointWeights(s, &sample.stands)
	found := &GrowthFound{Cells: sample.cells, sample: &sample}
	found.Scatter = c.scatter(found, sample.cells.Data)
	weighted := sample.data
	if weights != nil {
		found.Designed = true
		weighted = sample.positive(weights)
	}
	weighted = growth.Aggregate(weighted, ageStep, 0).Data // a curve costs what its ages cost
	models := growth.Models()
	found.Curves = make([]CurveFound, len(models))
	resample.Each(c.options.Workers, len(models), func(i int) {
		i = len(models) - 1 - i // the curve of most parameters first: the others fit beside it
		found.Curves[i] = fitCurve(weighted, growth.Settings{Model: models[i], Scatter: found.Scatter})
	})
	s.Growth = found
	found.Chosen = 0 // von Bertalanffy, the first of Models; the others stand beside it
	reported := found.Curves[found.Chosen]
	c.stage("growth")
	if reported.Fit == nil {
		s.NoGrowth = reported.Trouble
		return nil
	}
	found.fromFit(reported.Fit, c.options.Level)
	if weights == nil {
		return nil
	}
	beside := newBesideGrowth(&sample, weights, growth.Settings{Model: reported.Model, Scatter: found.Scatter, Start: reported.Fit.Estimates})
	if beside == nil {
		return nil
	}
	return []part{{beside, func(v *view, at int) { found.absorb(v, at, reported.Fit) }}}
}

// agedTrips is the number of trips that brought aged fish.
func (v *view) agedTrips() (n int) {
	for _, trip := range v.counts.Trips {
		if trip.Aged > 0 {
			n++
		}
	}
	return n
}

// absorb gives parameters and band their intervals over the replicates.
func (g *GrowthFound) absorb(v *view, at int, fit *growth.Fit) {
	n, replicates := len(g.Parameters), v.drawn.Replicates
	for p := range g.Parameters {
		draws := make([]float64, replicates)
		v.drawn.Column(draws, at+p)
		s := spread{point: g.Parameters[p].Value.X, draws: draws, level: v.options.Level}
		s.moves = v.allMoves(func(row int) float64 { return v.left.Drawn.Row(row)[at+p] })
		g.Parameters[p] = s.summarise()
		g.Parameters[p].Trips = v.agedTrips()
	}
	for b := range replicates {
		row := v.drawn.Row(b)[at : at+n-1]
		if math.IsNaN(row[0]) {
			g.Failed++
			continue
		}
		g.Replicates = append(g.Replicates, row...)
	}
	if replicates-g.Failed >= 20 {
		g.Band = fit.BootstrapBand(0, bandAges(g.Cells.Age), g.Replicates, v.options.Level)
	}
}

// scatter is how lengths scatter around the curve: of constant SD, constant CV and
// lognormal the one with the lowest AICc, the fish counted once each, since a weighted sum
// is no likelihood.
func (c *chain) scatter(found *GrowthFound, data growth.Data) growth.Scatter {
	best, lowest := growth.ConstantSD, math.Inf(1)
	scatters := growth.Scatters()
	found.Scatters = make([]CurveFound, len(scatters))
	resample.Each(c.options.Workers, len(scatters), func(i int) {
		found.Scatters[i] = fitCurve(data, growth.Settings{Scatter: scatters[i]})
	})
	for i, scatter := range scatters {
		fitted := found.Scatters[i]
		if scatter != growth.Student && fitted.Fit != nil && fitted.Fit.AICc.Known && fitted.Fit.AICc.X < lowest {
			best, lowest = scatter, fitted.Fit.AICc.X
		}
	}
	return best
}

func fitCurve(data growth.Data, set growth.Settings) CurveFound {
	fit, err := growth.FitCurve(data, set)
	found := CurveFound{Model: set.Model, Scatter: set.Scatter, Trouble: err}
	if found.Model == 0 {
		found.Model = growth.VonBertalanffy
	}
	if err == nil {
		found.Fit = &fit
	}
	return found
}

// pointWeights is what each fish stands for in the season as it is; nil without a catch.
func (c *chain) pointWeights(s *Species, sample *stands) []float64 {
	d := &s.Counts.Design
	if d.KeyStrata == 0 || s.Counts.Measured == 0 {
		return nil
	}
	weights, total := make([]float64, len(sample.trip)), 0.0
	sample.worker().weights(weights, resample.Still(s.Counts))
	for _, w := range weights {
		total += w
	}
	if total == 0 {
		return nil
	}
	return weights
}

// positive are the rows of fish that stand for some, the weights, one a fish, scaled to
// mean 1.
func (g *growthSample) positive(weights []float64) growth.Data {
	var kept growth.Data
	fish, total := 0, 0.0
	for _, w := range weights {
		if w > 0 {
			fish, total = fish+1, total+w
		}
	}
	for i, r := range g.ages.rows {
		if w := weights[r.fish]; w > 0 && g.data.Count[i] > 0 {
			kept.Age, kept.Length = append(kept.Age, g.data.Age[i]), append(kept.Length, g.data.Length[i])
			kept.Count = append(kept.Count, g.data.Count[i])
			kept.Weight = append(kept.Weight, w*float64(fish)/total)
		}
	}
	return kept
}

// fromFit takes parameters and band from the fit itself; replicates overrule them.
func (g *GrowthFound) fromFit(fit *growth.Fit, level float64) {
	for p := range fit.Curve.Model.Parameters() {
		e := Estimate{}
		e.Value, e.SE = record.Some(fit.Estimates[p]), fit.SE(0, p)
		if !g.Designed {
			if low, high, err := fit.Profile(0, p, level); err == nil && low.Known && high.Known {
				e.Low, e.High, e.Level, e.Method = low, high, level, ByProfile
			}
		}
		g.Parameters = append(g.Parameters, e)
	}
	scale := Estimate{}
	scale.Value, scale.SE = record.Some(fit.Scale), fit.ScaleSE()
	g.Parameters = append(g.Parameters, scale)
	g.Band = fit.Band(0, bandAges(g.Cells.Age), level)
}

// bandAges are forty ages over the range of the data.
func bandAges(ages []float64) []float64 {
	low, high := math.Inf(1), math.Inf(-1)
	for _, a := range ages {
		low, high = math.Min(low, a), math.Max(high, a)
	}
	out := make([]float64, 40)
	for i := range out {
		out[i] = low + (high-low)*float64(i)/float64(len(out)-1)
	}
	return out
}

// besideGrowth refits the reported curve in every replicate.
type besideGrowth struct {
	sample *growthSample
	fit    growth.Fit
}

// newBesideGrowth fits the curve to the cells, so that a refit starts where it will end
// and costs what the cells cost. nil when that fails.
func newBesideGrowth(sample *growthSample, weights []float64, set growth.Settings) *besideGrowth {
	cells := growth.Data{Age: sample.cells.Age, Length: sample.cells.Length, Count: make([]float64, len(sample.cells.Age))}
	total := 0.0
	for _, w := range weights {
		total += w
	}
	for row, cell := range sample.cells.Of {
		cells.Count[cell] += weights[sample.ages.rows[row].fish] * sample.data.Count[row] * float64(len(weights)) / total
	}
	fit, err := growth.FitCurve(cells, set)
	if err != nil {
		return nil
	}
	return &besideGrowth{sample, fit}
}

// Size is the parameters and the scale.
func (b *besideGrowth) Size() int { return len(b.fit.Estimates) + 1 }

// Worker refits for one goroutine.
func (b *besideGrowth) Worker() resample.BesideWorker {
	return &growthWorker{b: b, work: b.fit.NewWork(), standing: b.sample.stands.worker(), sharing: b.sample.ages.worker(),
		weights: make([]float64, b.sample.fish), counts: make([]float64, len(b.sample.cells.Age)),
		shares: append([]float64(nil), b.sample.data.Count...), share: make([]float64, b.sample.ages.ages)}
}

type growthWorker struct {
	b        *besideGrowth
	work     *growth.Work
	standing standing
	sharing  ageSharing
	weights  []float64 // by fish
	shares   []float64 // by row
	share    []float64 // by age
	counts   []float64 // by cell
}

// Evaluate fills the parameters and the scale; all of them NaN where no curve was found.
func (w *growthWorker) Evaluate(dst []float64, drawn *resample.Drawing) {
	w.standing.weights(w.weights, drawn)
	if len(w.sharing.patterns) > 0 {
		w.sharing.look(drawn.Readers)
		w.sharing.shares(w.shares, w.share, drawn.Key)
	}
	clear(w.counts)
	total := 0.0
	for row, cell := range w.b.sample.cells.Of {
		weight := w.weights[w.b.sample.ages.rows[row].fish] * w.shares[row]
		w.counts[cell] += weight
		total += weight
	}
	for i := range w.counts {
		w.counts[i] *= float64(len(w.weights)) / total
	}
	if total == 0 || w.work.Refit(w.counts) != nil {
		for i := range dst {
			dst[i] = math.NaN()
		}
		return
	}
	copy(dst, w.work.Estimates)
	dst[len(dst)-1] = w.work.Scale
}

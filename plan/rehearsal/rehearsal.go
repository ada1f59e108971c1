// Package rehearsal runs the whole chain on invented seasons of known truth and counts
// how often it was right.
//
// Each season is a fishery of its own and one sampling of it; every key form is fitted to
// the same seasons, so that forms are compared on the same luck. What comes out are bias,
// root mean square error, coverage and width of intervals, each with its Monte Carlo
// error, which is taken over seasons: the ages of one season share their trips.
//
// Methods, section 12.
package rehearsal

import (
	"context"
	"fmt"
	"math"

	"earstone/estimate/resample"
	"earstone/estimate/run"
	"earstone/plan/fishery"
	"earstone/programme/strata"
)

// Design is what is rehearsed.
type Design struct {
	Fishery    fishery.Settings
	Seasons    int
	Replicates int
	Seed       uint64
	Workers    int
	Forms      []string   // key forms, as in run.Options.Key
	FewTrips   int        // strata with fewer own trips are left out of the coverage by stratum
	Beside     []run.Part // scored beside the catch at age: run.Growth, run.Origin
	Keeper     Keeper     // of what seasons gave; nil: none
}

// Report is how the chain did.
type Report struct {
	Design Design
	Forms  []Form
}

// Form is how one key form did.
type Form struct {
	Key    string
	Ages   []Score // of the catch at each age, all strata together
	All    Score   // over those ages
	Strata Score   // over strata with enough trips, and their ages
	Beside []Named // what Design.Beside asks for; those without a trial are left out
	Failed int     // seasons without an answer
}

// Named is the score of a quantity beside the catch at age.
type Named struct {
	Name string
	Score
}

// Score gathers errors of many estimates of known quantities.
type Score struct {
	Estimates int
	Bias      float64 // mean of (estimate − truth)/truth
	BiasSE    float64
	RMSE      float64 // root mean square of the same
	RMSESE    float64
	Coverage  float64 // share of intervals that hold the truth
	CoverSE   float64
	Width     float64 // mean of (high − low)/truth, the size of a truth below 0
	WidthSE   float64
	Below     float64 // share of truths below their interval
	Above     float64
}

// Rehearse runs the design. progress is told how many seasons are done.
func Rehearse(ctx context.Context, d Design, convert run.Converter, progress func(done, of int)) (*Report, error) {
	if err := d.Fishery.Check(); err != nil {
		return nil, err
	}
	seasons := make([]season, d.Seasons)
	err := resample.Share(ctx, d.Workers, d.Seasons, progress, func(i int) {
		seasons[i] = d.keptSeason(ctx, i, convert)
	})
	if err != nil {
		return nil, err
	}
	report := &Report{Design: d}
	for f, key := range d.Forms {
		form := Form{Key: key}
		var all, strata gather
		var ages []gather
		beside := make([]gather, len(quantities))
		for i := range seasons {
			if seasons[i].err != nil {
				return nil, fmt.Errorf("season %d: %w", i, seasons[i].err)
			}
			tried := seasons[i].forms[f]
			if tried.years == nil {
				form.Failed++
				continue
			}
			for _, t := range tried.years {
				for len(ages) <= t.age {
					ages = append(ages, gather{})
				}
				ages[t.age].add(i, t)
				all.add(i, t)
			}
			for _, t := range tried.strata {
				strata.add(i, t)
			}
			for _, t := range tried.beside {
				beside[t.quantity].add(i, t.trial)
			}
		}
		form.All, form.Strata = all.score(), strata.score()
		for a := range ages {
			form.Ages = append(form.Ages, ages[a].score())
		}
		for q, name := range quantities {
			if beside[q].n > 0 {
				form.Beside = append(form.Beside, Named{name, beside[q].score()})
			}
		}
		report.Forms = append(report.Forms, form)
	}
	return report, nil
}

// season is one invented season under every form.
type season struct {
	forms []tried
	err   error
}

type tried struct {
	years, strata []trial
	beside        []besideTrial
}

// trial is one estimate of a known quantity.
type trial struct {
	age                     int
	truth, value, low, high float64
}

func (d Design) season(ctx context.Context, i int, convert run.Converter) season {
	invented := fishery.New(d.Fishery, d.Seed+uint64(i))
	truth, drawn := invented.Truth(), invented.Season(0)
	var result season
	for _, form := range d.Forms {
		outcome, err := run.Run(ctx, drawn, convert, run.Options{Only: append([]run.Part{run.Catch}, d.Beside...), Replicates: d.Replicates,
			Seed: d.Seed + uint64(i), Workers: 1, Key: form})
		if err != nil {
			return season{err: err}
		}
		result.forms = append(result.forms, d.compare(outcome, truth))
	}
	return result
}

func (d Design) compare(outcome *run.Outcome, truth *fishery.Truth) tried {
	var t tried
	found := outcome.Species[0].Catch
	if found == nil {
		return t
	}
	for _, place := range found.Years {
		ofYear := func(cell strata.Cell) bool { return cell.Year == place.Cell.Year }
		t.years = append(t.years, trials(place, truth.Total(ofYear))...)
	}
	for _, place := range found.Strata {
		if place.Trips < d.FewTrips {
			continue
		}
		for s, cell := range truth.Strata {
			if cell.Keep(outcome.Species[0].Counts.Columns) == place.Cell {
				t.strata = append(t.strata, trials(place, truth.CatchAtAge[s*truth.Ages:(s+1)*truth.Ages])...)
			}
		}
	}
	t.beside = append(originTrials(outcome.Species[0], truth), growthTrials(outcome.Species[0], truth)...)
	return t
}

// trials pairs the estimates of a place with the truth, age by age. An age that nobody
// caught is no trial; one that was caught and not seen at all is, and its interval from 0
// to 0 is wrong.
func trials(place run.Place, truth []float64) []trial {
	var all []trial
	for a, want := range truth {
		if want <= 0 {
			continue
		}
		t := trial{age: a, truth: want}
		if a < len(place.Number) {
			e := place.Number[a]
			t.value, t.low, t.high = e.Value.X, e.Low.X, e.High.X
		}
		all = append(all, t)
	}
	return all
}

// gather sums trials season by season.
type gather struct {
	n, error, square, width, below, above float64
	seasons                               map[int]*part
	order                                 []int
}

type part struct{ n, error, square, width, held float64 }

func (g *gather) add(season int, t trial) {
	size := math.Abs(t.truth)
	e := (t.value - t.truth) / size
	g.n++
	g.error += e
	g.square += e * e
	g.width += (t.high - t.low) / size
	held := 1.0
	switch {
	case t.truth < t.low:
		g.below++
		held = 0
	case t.truth > t.high:
		g.above++
		held = 0
	}
	if g.seasons == nil {
		g.seasons = map[int]*part{}
	}
	p := g.seasons[season]
	if p == nil {
		p = &part{}
		g.seasons[season] = p
		g.order = append(g.order, season)
	}
	p.n++
	p.error += e
	p.square += e * e
	p.width += (t.high - t.low) / size
	p.held += held
}

func (g *gather) score() Score {
	if g.n == 0 {
		return Score{}
	}
	s := Score{Estimates: int(g.n), Bias: g.error / g.n, RMSE: math.Sqrt(g.square / g.n), Width: g.width / g.n,
		Coverage: 1 - (g.below+g.above)/g.n, Below: g.below / g.n, Above: g.above / g.n}
	s.BiasSE = g.ratioSE(s.Bias, func(p *part) float64 { return p.error })
	s.CoverSE = g.ratioSE(s.Coverage, func(p *part) float64 { return p.held })
	s.WidthSE = g.ratioSE(s.Width, func(p *part) float64 { return p.width })
	if s.RMSE > 0 { // of a root, by its slope: d√x = dx/2√x
		s.RMSESE = g.ratioSE(s.RMSE*s.RMSE, func(p *part) float64 { return p.square }) / (2 * s.RMSE)
	}
	return s
}

// ratioSE is the standard error of a mean over trials, a ratio of sums over seasons, the
// seasons being independent; 0 with fewer than two.
func (g *gather) ratioSE(mean float64, of func(*part) float64) float64 {
	m, squares := float64(len(g.order)), 0.0
	if m < 2 {
		return 0
	}
	for _, season := range g.order {
		p := g.seasons[season]
		squares += square(of(p) - mean*p.n)
	}
	return math.Sqrt(squares*m/(m-1)) / g.n
}

func square(x float64) float64 { return x * x }

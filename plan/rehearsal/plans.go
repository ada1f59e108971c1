package rehearsal

import (
	"context"
	"fmt"
	"math"

	"earstone/estimate/resample"
	"earstone/estimate/run"
	"earstone/plan/allocation"
	"earstone/plan/fishery"
)

// PlanTrial is a test of plans: in each of some fisheries a first season is sampled as the
// settings have it and run, the next one is planned from it at the same cost, and that plan
// is sampled many times, beside the same money spent without one.
type PlanTrial struct {
	Fishery    fishery.Settings
	Fisheries  int
	Seasons    int // of each design in each fishery
	Replicates int // of the first season
	Seed       uint64
	Workers    int
	Options    allocation.Options
}

// DesignName is a way to spend the money.
type DesignName string

// The designs.
const (
	AsPlanned    DesignName = "as planned"
	Proportional DesignName = "trips by catch, stones alike in each bin"
	AsBefore     DesignName = "as the season before"
)

// PlanReport is how plans did: root mean squares over fisheries and target ages.
type PlanReport struct {
	Trial   PlanTrial
	Ages    []int
	Designs []DesignScore
}

// DesignScore is one design. A CV is the SD of the estimates over seasons by their truth.
type DesignScore struct {
	Name          DesignName
	Cost          float64 // mean, of what was asked
	Predicted     float64 // CV, from the first season
	Reached       float64
	ReachedSE     float64
	RMSE          float64   // relative to the truth, bias and all
	AgeReached    []float64 // by target age
	AgePredicted  []float64
	Trips, Stones float64 // mean, asked
}

// design is what is sampled in one fishery.
type design struct {
	name      DesignName
	asked     fishery.Asked
	cost      float64
	predicted []float64
}

// tried is what came of one design in one fishery, by target.
type outcome struct {
	design
	variance, square []float64
}

// RehearsePlans runs the trial. progress is told how many seasons are done.
func RehearsePlans(ctx context.Context, p PlanTrial, convert run.Converter, progress func(done, of int)) (*PlanReport, error) {
	var all [][]outcome
	var ages []int
	done, of := 0, p.Fisheries*3*p.Seasons
	for i := range p.Fisheries {
		f := fishery.New(p.Fishery, p.Seed+uint64(i))
		season, err := p.plan(ctx, f, p.Seed+uint64(i), convert)
		if err != nil {
			return nil, fmt.Errorf("planning in fishery %d: %w", i, err)
		}
		ages = season.Ages
		var outcomes []outcome
		for _, d := range designs(f, season, p.Fishery) {
			o, err := p.try(ctx, f, d, season, convert, func(now int) {
				if progress != nil {
					progress(done+now, of)
				}
			})
			if err != nil {
				return nil, err
			}
			done += p.Seasons
			outcomes = append(outcomes, o)
		}
		all = append(all, outcomes)
	}
	return p.report(all, ages), nil
}

// plan runs the first season of a fishery and plans the next.
func (p *PlanTrial) plan(ctx context.Context, f *fishery.Fishery, seed uint64, convert run.Converter) (*allocation.Season, error) {
	first := f.Season(0)
	o, err := run.Run(ctx, first, convert, run.Options{Only: []run.Part{run.Catch}, Replicates: p.Replicates, Seed: seed, Workers: p.Workers, Influence: true})
	if err != nil {
		return nil, err
	}
	return allocation.For(o.Species[0], o.Settings.Targets, p.Options)
}

// designs are the three ways to spend the same money.
func designs(f *fishery.Fishery, s *allocation.Season, settings fishery.Settings) []design {
	truth, c := f.Truth(), s.Species.Counts
	const bins = 100
	ask := func(n []int) fishery.Asked {
		a := fishery.Asked{Trips: make([]int, len(truth.Strata)), Stones: make([]int, 4*bins)}
		stones := 0
		for i, place := range s.Places {
			switch place.Item {
			case allocation.Trip:
				for h, cell := range truth.Strata {
					if cell.Keep(c.Columns) == c.Cells[place.Stratum] {
						a.Trips[h] = n[i]
					}
				}
			case allocation.Stone:
				bin := int(c.Bins.Lower(place.Bin)/float64(settings.BinCm) + 0.5)
				a.Stones[(int(c.KeyCells[place.Key].Quarter)-1)*bins+bin] += n[i]
				stones += n[i]
			case allocation.Reading:
				a.Readings += n[i]
			}
		}
		a.Readings += int(s.Readings*float64(stones) + 0.5)
		return a
	}
	before, level := s.Problem.Today(), Alike(s)
	return []design{
		{AsPlanned, ask(s.Plan.N), s.Next.Cost, s.Next.CV},
		{Proportional, ask(level), s.Problem.Cost(level), s.Forecast(level).CV},
		{AsBefore, ask(before), s.Today.Cost, s.Today.CV},
	}
}

// Alike spends today's money without a plan: as many trips as today, dealt by the catch of
// the strata (two at least), and as many stones, the same number in each bin of a quarter as
// far as there are fish.
func Alike(s *allocation.Season) []int {
	n := s.Problem.Today()
	var strata, cells []int
	trips, stones := 0, 0
	var weight []float64
	for i, place := range s.Places {
		switch place.Item {
		case allocation.Trip:
			strata, weight = append(strata, i), append(weight, s.Species.Catch.Strata[place.Stratum].Total.Value.X)
			trips += n[i]
		case allocation.Stone:
			cells = append(cells, i)
			stones += n[i]
		}
	}
	for _, i := range strata {
		n[i] = 2
	}
	for left := trips - 2*len(strata); left > 0; left-- { // to where the catch a trip is largest
		best := 0
		for j, i := range strata {
			if weight[j]/float64(n[i]) > weight[best]/float64(n[strata[best]]) {
				best = j
			}
		}
		n[strata[best]]++
	}
	for _, i := range cells {
		n[i] = 0
	}
	for left := stones; left > 0; {
		before := left
		for _, i := range cells {
			if left > 0 && n[i] < s.Cells[i].Most {
				n[i]++
				left--
			}
		}
		if left == before {
			break
		}
	}
	return n
}

// try samples a design over and over.
func (p *PlanTrial) try(ctx context.Context, f *fishery.Fishery, d design, s *allocation.Season, convert run.Converter, tell func(done int)) (outcome, error) {
	asked := f.Ask(d.asked)
	truth := f.Truth().Total(fishery.All)
	got, errs := make([][]float64, p.Seasons), make([]error, p.Seasons)
	err := resample.Share(ctx, p.Workers, p.Seasons, func(done, _ int) { tell(done) }, func(b int) {
		o, err := run.Run(ctx, asked.Season(b+1), convert, run.Options{Only: []run.Part{run.Catch}, Replicates: 2, Seed: 1, Workers: 1})
		if errs[b] = err; err != nil || o.Species[0].Catch == nil {
			return
		}
		for _, age := range s.Ages {
			got[b] = append(got[b], o.Species[0].Catch.Years[0].Number[age].Value.X/truth[age])
		}
	})
	if err != nil {
		return outcome{}, err
	}
	out := outcome{design: d, variance: make([]float64, len(s.Ages)), square: make([]float64, len(s.Ages))}
	for j := range s.Ages {
		n, mean, square, off := 0.0, 0.0, 0.0, 0.0
		for b, row := range got {
			if errs[b] != nil {
				return outcome{}, errs[b]
			}
			if row == nil {
				continue
			}
			n++
			mean += row[j]
			square += row[j] * row[j]
			off += (row[j] - 1) * (row[j] - 1)
		}
		mean /= n
		out.variance[j], out.square[j] = (square-n*mean*mean)/(n-1), off/n
	}
	return out, nil
}

// report gathers fisheries.
func (p *PlanTrial) report(all [][]outcome, ages []int) *PlanReport {
	r := &PlanReport{Trial: *p, Ages: ages}
	for d := range all[0] {
		n, k := float64(len(all)), len(ages)
		score := DesignScore{Name: all[0][d].name, AgeReached: make([]float64, k), AgePredicted: make([]float64, k)}
		var reached []float64
		predicted, rmse := 0.0, 0.0
		for _, fishery := range all {
			o := fishery[d]
			score.Cost += o.cost / n
			sum := 0.0
			for j := range ages {
				sum += o.variance[j] / float64(k)
				score.AgeReached[j] += o.variance[j] / n
				rmse += o.square[j] / n / float64(k)
				score.AgePredicted[j] += o.predicted[j] * o.predicted[j] / n
				predicted += o.predicted[j] * o.predicted[j] / n / float64(k)
			}
			reached = append(reached, sum)
			for _, trips := range o.asked.Trips {
				score.Trips += float64(trips) / n
			}
			for _, stones := range o.asked.Stones {
				score.Stones += float64(stones) / n
			}
		}
		mean, sd := meanSD(reached)
		score.Reached, score.Predicted, score.RMSE = math.Sqrt(mean), math.Sqrt(predicted), math.Sqrt(rmse)
		score.ReachedSE = sd / math.Sqrt(n) / (2 * score.Reached)
		for j := range ages {
			score.AgeReached[j], score.AgePredicted[j] = math.Sqrt(score.AgeReached[j]), math.Sqrt(score.AgePredicted[j])
		}
		r.Designs = append(r.Designs, score)
	}
	return r
}

func meanSD(x []float64) (mean, sd float64) {
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		sd += (v - mean) * (v - mean)
	}
	return mean, math.Sqrt(sd / math.Max(float64(len(x)-1), 1))
}

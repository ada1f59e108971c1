package run

import (
	"math"
	"slices"

	"earstone/programme/record"
	"earstone/programme/result"
	"earstone/statistics/dist"
	"earstone/statistics/interval"
)

// Methods by which an interval was come by.
const (
	ByShare      = "share"      // exact for the effective number of fish and the few trips beneath it
	ByProfile    = "profile"    // of the likelihood
	ByStudent    = "t"          // value ± t·SE, of few trips
	ByPercentile = "percentile" // of the replicates, widened for few trips
)

// spread is what is known of how far a quantity may lie from its estimate.
type spread struct {
	point float64
	draws []float64   // replicates; sorted by summarise
	moves [][]float64 // how far each trip moves it, by group of trips
	level float64
}

// summarise turns replicates of a quantity into an estimate with its percentile and BCa
// intervals, both widened for the number of trips that the spread rests on. Replicates
// that are no number stand for "not there" and are left out; without a majority of
// others there is no interval.
func (s spread) summarise() Estimate {
	if math.IsNaN(s.point) || math.IsInf(s.point, 0) {
		return Estimate{}
	}
	kept := s.draws[:0]
	for _, x := range s.draws {
		if !math.IsNaN(x) && !math.IsInf(x, 0) {
			kept = append(kept, x)
		}
	}
	e := Estimate{Estimate: result.Estimate{Value: record.Some(s.point)}}
	if 2*len(kept) <= len(s.draws) || len(kept) < fewest {
		return e
	}
	_, sd := interval.MeanSD(kept)
	if math.IsInf(sd*sd, 0) || math.IsNaN(sd) { // numbers near the end of what a float64 holds
		return e
	}
	e.Level = s.level
	e.SE = record.Some(sd)
	slices.Sort(kept)
	e.Freedom = interval.Freedom(s.moves, sd*sd)
	wide := interval.Widened(s.level, e.Freedom)
	e.Percentile = bounds(interval.Percentile(kept, wide))
	if bca, reason := interval.BCa(kept, s.point, interval.Acceleration(slices.Concat(s.moves...)), wide); reason == interval.Corrected {
		e.BCa = bounds(bca)
	}
	e.Low, e.High, e.Method = e.Percentile.Low, e.Percentile.High, ByPercentile
	e.MonteCarlo[0], e.MonteCarlo[1] = interval.MonteCarlo(kept, wide)
	if e.Freedom > 0 && e.Freedom < fewFreedom {
		e.byStudent()
	}
	return e
}

// fewFreedom is the degrees of freedom below which no replicate lies as far out as
// Student's t asks for: of two trips the draws take two values.
const fewFreedom = 5

// byStudent gives value ± t SE; on the logarithm where the value is above zero, so that a
// length stays one.
func (e *Estimate) byStudent() {
	half := dist.TQuantile((1+e.Level)/2, max(e.Freedom, 1)) * e.SE.X
	low, high := e.Value.X-half, e.Value.X+half
	if e.Value.X > 0 {
		factor := math.Exp(half / e.Value.X)
		low, high = e.Value.X/factor, e.Value.X*factor
	}
	if math.IsInf(high, 0) {
		return // the spread is no smaller than the value: the replicates say as much
	}
	e.Low, e.High, e.Method = record.Some(low), record.Some(high), ByStudent
}

// fewest replicates that an interval is read from.
const fewest = 20

func bounds(i interval.Interval) Bounds { return Bounds{record.Some(i.Low), record.Some(i.High)} }

// forget takes the interval back.
func (e *Estimate) forget() {
	value := e.Value
	*e = Estimate{}
	e.Value = value
}

// asShare gives an estimate that is a part of a total the interval of a share: of fish
// measured, at most effective of them independent.
func (e *Estimate) asShare(total, fish, effective float64) {
	if !e.Value.Known || !e.SE.Known || total <= 0 || fish <= 0 {
		return
	}
	p := min(e.Value.X/total, 1)
	i := interval.Share(interval.Sampled{Share: p, SE: e.SE.X / total, DF: e.Freedom, Units: fish, Effective: effective}, e.Level)
	e.Low, e.High, e.Method = record.Some(i.Low*total), record.Some(i.High*total), ByShare
}

// asProduct gives an estimate that is share × total, both of them uncertain, the interval
// whose distances on the logarithm are √(d_s² + 2 r d_s d_t + d_t²), d_s and d_t those of
// share and total and r their correlation. A share of which nothing was seen has the
// product of the upper ends above it.
//
// Zou & Donner (2008), Statistics in Medicine 27:1693-1702 (citation from memory).
func (e *Estimate) asProduct(share, total Estimate, r float64) {
	if !(total.Low.X > 0) || !share.High.Known {
		return
	}
	e.Method = ByShare
	if share.Value.X == 0 {
		e.Low, e.High = record.Some(0), record.Some(share.High.X*total.High.X)
		return
	}
	away := func(ds, dt float64) float64 { return math.Exp(math.Sqrt(max(ds*ds+2*r*ds*dt+dt*dt, 0))) }
	low := 0.0
	if share.Low.X > 0 {
		low = e.Value.X / away(math.Log(share.Value.X/share.Low.X), math.Log(total.Value.X/total.Low.X))
	}
	high := e.Value.X * away(math.Log(share.High.X/share.Value.X), math.Log(total.High.X/total.Value.X))
	e.Low, e.High = record.Some(low), record.Some(high)
}

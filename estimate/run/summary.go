package run

import (
	"math"
	"slices"

	"earstone/programme/record"
	"earstone/programme/result"
	"earstone/statistics/interval"
)

// summarise turns replicates of a quantity into an estimate; it sorts them. Replicates
// that are not a number stand for "not there": they are left out, and without a majority
// of the others there is no interval. influence, when there is any, makes the interval
// BCa.
func summarise(point float64, replicates []float64, influence []float64, level float64) Estimate {
	kept := replicates[:0]
	for _, x := range replicates {
		if !math.IsNaN(x) && !math.IsInf(x, 0) {
			kept = append(kept, x)
		}
	}
	if math.IsNaN(point) || math.IsInf(point, 0) {
		return Estimate{}
	}
	e := Estimate{Estimate: result.Estimate{Value: record.Some(point), Level: level}}
	if 2*len(kept) <= len(replicates) || len(kept) < 20 {
		e.Level = 0
		return e
	}
	_, sd := interval.MeanSD(kept)
	e.SE = record.Some(sd)
	slices.Sort(kept)
	ends := interval.Percentile(kept, level)
	e.Method = "percentile"
	if influence != nil {
		if bca, reason := interval.BCa(kept, point, interval.Acceleration(influence), level); reason == 0 {
			ends, e.Method = bca, "bca"
		}
	}
	e.Low, e.High = record.Some(ends.Low), record.Some(ends.High)
	e.MonteCarlo[0], e.MonteCarlo[1] = interval.MonteCarlo(kept, level)
	return e
}

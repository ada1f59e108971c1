package run

import (
	"math"
	"testing"

	"earstone/programme/record"
	"earstone/statistics/stream"
)

// Means of few trips: 95 % intervals must hold the truth about that often. Widened
// percentiles held it in 50 to 88 % of cases at two to four trips.
func TestMeansOfFewTrips(t *testing.T) {
	const trials, replicates, truth, sd = 400, 200, 150.0, 10.0
	var s stream.Stream
	for _, trips := range []int{2, 3, 4} {
		held := 0
		for trial := range trials {
			s.ResetAt(5, stream.Invention, trial, trips)
			length := make([]float64, trips)
			for i := range length {
				length[i] = truth + sd*s.Normal()
			}
			if e := summariseTrips(&s, length, replicates); e.Low.X <= truth && truth <= e.High.X {
				held++
			}
		}
		// 95 % of 400, less and plus 3 binomial standard errors.
		if share := float64(held) / trials; share < 0.917 || share > 0.983 {
			t.Errorf("intervals of the mean of %d trips hold the truth in %.3f of %d cases, want 0.95", trips, share, trials)
		}
	}
}

// summariseTrips draws the mean of trips as the chain does: m−1 of m, and each left out.
func summariseTrips(s *stream.Stream, length []float64, replicates int) Estimate {
	m := len(length)
	mean := func(weight func(i int) float64) float64 {
		sum, total := 0.0, 0.0
		for i, x := range length {
			sum += weight(i) * x
			total += weight(i)
		}
		return sum / total
	}
	point := mean(func(int) float64 { return 1 })
	draws, times := make([]float64, replicates), make([]int32, m)
	for b := range draws {
		s.Picks(times, m-1)
		draws[b] = mean(func(i int) float64 { return float64(times[i]) })
	}
	moves := make([]float64, m)
	for out := range moves {
		without := mean(func(i int) float64 { return one(i != out) })
		moves[out] = float64(m-1) / float64(m) * (point - without)
	}
	return spread{point: point, draws: draws, moves: [][]float64{moves}, level: 0.95}.summarise()
}

// one is 1 for yes.
func one(yes bool) float64 {
	if yes {
		return 1
	}
	return 0
}

// A catch with a CV of 0.1 that is all of one age: its number is as uncertain as the
// catch. Capped at the total it held the truth in 9 % of cases.
func TestNumberOfAnUncertainTotal(t *testing.T) {
	whole := func(x, low, high float64) Estimate {
		var e Estimate
		e.Value, e.Low, e.High, e.Level = record.Some(x), record.Some(low), record.Some(high), 0.95
		return e
	}
	number := whole(1000, 0, 0)
	number.asProduct(whole(1, 0.98, 1), whole(1000, 820, 1220), 0)
	// By hand: high 1000 · 1220/1000; low 1000 / exp √(ln² (1/0.98) + ln² (1000/820)) = 1000/1.2207.
	if math.Abs(number.High.X-1220) > 1e-9 || math.Abs(number.Low.X-819.2) > 0.1 {
		t.Errorf("a catch of one age lies between %.1f and %.1f, want 819.2 and 1220", number.Low.X, number.High.X)
	}
	none := whole(0, 0, 0)
	none.asProduct(whole(0, 0, 0.02), whole(1000, 820, 1220), 0)
	if none.Low.X != 0 || math.Abs(none.High.X-24.4) > 1e-9 {
		t.Errorf("an age that was not seen lies between %v and %v, want 0 and 24.4", none.Low.X, none.High.X)
	}
}

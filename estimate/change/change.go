// Package change tells what differs between two years, areas or gears, replicate by
// replicate, so that what both share cancels as it should.
package change

import (
	"math"
	"slices"

	"earstone/programme/record"
	"earstone/statistics/interval"
)

// Sides are the same quantity in two places: its estimate and its replicates, which must
// come of the same draws in the same order. Replicates that are no number are left out.
type Sides struct {
	A, B           float64
	DrawsA, DrawsB []float64
	// Moves are how far each trip moves the difference, by group of trips; nil: by many.
	// Between years a row of these leaves out a trip of each, which makes the degrees of
	// freedom low rather than high.
	Moves [][]float64
}

// Difference is B − A. What could not be had is unknown.
type Difference struct {
	Value, SE, Low, High record.Number
	// Against is the share of replicates on the other side of zero: near 0 where the
	// sign is sure, 0.5 where nothing is known of it.
	Against record.Number
}

// Of is the difference of two sides with its percentile interval, widened for few
// degrees of freedom. Fewer than 20 replicates, or a majority that is no number, give a
// value without an interval. Panics when the sides have different numbers of replicates.
//
// Methods, section 8, "Changes".
func Of(s Sides, level float64) Difference {
	if len(s.DrawsA) != len(s.DrawsB) {
		panic("change: both sides want the same replicates")
	}
	value := s.B - s.A
	if math.IsNaN(value) || math.IsInf(value, 0) {
		return Difference{}
	}
	d := Difference{Value: record.Some(value)}
	draws, other := make([]float64, 0, len(s.DrawsA)), 0.0
	for i := range s.DrawsA {
		x := s.DrawsB[i] - s.DrawsA[i]
		if math.IsNaN(x) || math.IsInf(x, 0) {
			continue
		}
		draws = append(draws, x)
		switch {
		case x == 0 || value == 0:
			other += 0.5
		case (x > 0) != (value > 0):
			other++
		}
	}
	if len(draws) < fewest || 2*len(draws) <= len(s.DrawsA) {
		return d
	}
	_, sd := interval.MeanSD(draws)
	slices.Sort(draws)
	ends := interval.Percentile(draws, interval.Widened(level, interval.Freedom(s.Moves, sd*sd)))
	d.SE, d.Low, d.High = record.Some(sd), record.Some(ends.Low), record.Some(ends.High)
	d.Against = record.Some(other / float64(len(draws)))
	return d
}

// fewest replicates that an interval is read from.
const fewest = 20

// Whole is a comparison of two compositions as a whole.
type Whole struct {
	Distance float64 // between the two, in log-ratio units; 0 when they are alike
	P        float64 // share of replicates, the estimate counted as one, whose own distance from it is as large
	Parts    int     // parts that either side has
}

// Compositions compares two compositions, a and b, each a row of parts; drawsA and drawsB
// are replicates × parts, row by row, of the same draws. A part that neither side has is
// left out; zeros are lifted by least (half a fish of the effective sample, say) before
// logarithms are taken, and each row is scaled to sum to 1.
//
//	distance = √ Σ_j (Δ_j)², Δ = clr(b) − clr(a), clr(x)_j = ln x_j − mean ln x
//	P        = (1 + n)/(1 + R), n of R replicates with √ Σ_j (Δ*_j − Δ_j)² ≥ distance
//
// The null is the spread of the replicates around the estimate, moved to zero. ok is false
// with fewer than two parts or without replicates.
//
// Aitchison (1986), The Statistical Analysis of Compositional Data (from memory);
// methods, section 8, "Changes".
func Compositions(a, b, drawsA, drawsB []float64, least float64) (w Whole, ok bool) {
	k := len(a)
	if len(b) != k || len(drawsA) != len(drawsB) || k == 0 || len(drawsA)%k != 0 {
		panic("change: compositions of different shapes")
	}
	var parts []int
	for j := range k {
		if a[j] > 0 || b[j] > 0 {
			parts = append(parts, j)
		}
	}
	w.Parts = len(parts)
	if len(parts) < 2 || len(drawsA) == 0 {
		return w, false
	}
	delta, own := make([]float64, len(parts)), make([]float64, len(parts))
	ratios(delta, a, b, parts, least)
	w.Distance = norm(delta)
	rows := len(drawsA) / k
	for i := range rows {
		ratios(own, drawsA[i*k:(i+1)*k], drawsB[i*k:(i+1)*k], parts, least)
		for j := range own {
			own[j] -= delta[j]
		}
		if norm(own) >= w.Distance {
			w.P++
		}
	}
	w.P = (1 + w.P) / (1 + float64(rows))
	return w, true
}

// ratios fills dst with clr(b) − clr(a) over the parts.
func ratios(dst, a, b []float64, parts []int, least float64) {
	sumA, sumB := 0.0, 0.0
	for _, j := range parts {
		sumA += a[j]
		sumB += b[j]
	}
	mean := 0.0
	for i, j := range parts {
		dst[i] = lifted(b[j], sumB, least) - lifted(a[j], sumA, least)
		mean += dst[i] / float64(len(parts))
	}
	for i := range dst {
		dst[i] -= mean
	}
}

func lifted(part, sum, least float64) float64 {
	share := 0.0
	if sum > 0 {
		share = part / sum
	}
	return math.Log(math.Max(share, least))
}

func norm(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return math.Sqrt(sum)
}

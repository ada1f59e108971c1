// Package interval turns sorted replicates into intervals that own up to their Monte Carlo error.
//
// Replicates are sorted once by the caller, ascending, and hold no NaN. A level
// is the share of the time that an interval is to hold the truth, 0.95 say.
package interval

import (
	"fmt"
	"math"
)

// Interval is a range from Low to High in the units of the estimate.
type Interval struct {
	Low, High float64
}

// Percentile is the interval between the quantiles (1 − level)/2 and (1 + level)/2
// of the replicates, each read at rank (R + 1)p (QuantileType6).
//
// At fewer than 2/(1 − level) − 1 replicates an end is the smallest or the
// largest replicate: too narrow, which MonteCarlo tells. No replicates or a
// level outside (0, 1) panic.
//
// Efron & Tibshirani (1993), chapter 13; methods, section 10.
func Percentile(sorted []float64, level float64) Interval {
	check(len(sorted), level)
	return Interval{QuantileType6(sorted, (1-level)/2), QuantileType6(sorted, (1+level)/2)}
}

func check(replicates int, level float64) {
	if replicates == 0 {
		panic("interval: no replicates")
	}
	if !(level > 0 && level < 1) {
		panic(fmt.Sprintf("interval: level %v is not between 0 and 1", level))
	}
}

// QuantileType6 is the quantile p of sorted values at rank (n + 1)p, linear
// between neighbours, the smallest and the largest value beyond the ends.
//
// Weibull's plotting position: the rule for replicates, whose extremes lie
// inside those of the distribution. Hyndman & Fan (1996), definition 6.
// An empty slice and a p outside [0, 1] panic.
func QuantileType6(sorted []float64, p float64) float64 {
	return at(sorted, p, float64(len(sorted)+1)*p)
}

// QuantileType7 is the quantile p of sorted values at rank 1 + (n − 1)p, linear
// between neighbours: the rule for knots and for describing data.
//
// Hyndman & Fan (1996), definition 7. An empty slice and a p outside [0, 1] panic.
func QuantileType7(sorted []float64, p float64) float64 {
	return at(sorted, p, 1+float64(float64(len(sorted)-1)*p))
}

// at reads the sorted values at a rank counted from 1.
func at(sorted []float64, p, rank float64) float64 {
	n := len(sorted)
	if n == 0 {
		panic("interval: a quantile of no values")
	}
	if !(p >= 0 && p <= 1) {
		panic(fmt.Sprintf("interval: quantile %v is not between 0 and 1", p))
	}
	// A rank that is whole but for its last bits is meant whole: 0.975 × 1000.
	if whole := math.Round(rank); math.Abs(rank-whole) < 4e-16*float64(n+1) {
		rank = whole
	}
	below := int(math.Floor(rank))
	switch {
	case below < 1:
		return sorted[0]
	case below >= n:
		return sorted[n-1]
	}
	part := rank - float64(below)
	low, high := sorted[below-1], sorted[below]
	if part == 0 || low == high {
		return low
	}
	return low + float64(part*(high-low))
}

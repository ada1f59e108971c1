package interval

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Reason says why an interval is not the BCa interval.
type Reason int

// The reasons; Corrected is none: the interval is the BCa interval.
const (
	Corrected   Reason = iota
	AllOneSide         // every replicate lies on one side of the estimate: no bias correction is defined
	NoSpread           // every replicate is the same number
	OverTheEdge        // the acceleration carries a level beyond the turning point of the correction
	NotANumber         // the estimate or the acceleration is not a number
)

// String is the reason in words, to stand under the interval.
func (r Reason) String() string {
	switch r {
	case Corrected:
		return "corrected for bias and skewness"
	case AllOneSide:
		return "percentile interval: all replicates lie on one side of the estimate, so its bias cannot be told"
	case NoSpread:
		return "percentile interval: all replicates are the same number"
	case OverTheEdge:
		return "percentile interval: the estimate is too skewed for the correction"
	case NotANumber:
		return "percentile interval: the estimate or its acceleration is not known"
	}
	return "unknown reason"
}

// BCa is the bias-corrected and accelerated interval
//
//	z0 = Φ⁻¹(#{t* < t}/R),  α' = Φ(z0 + (z0 + z_α)/(1 − a(z0 + z_α))),
//
// its ends the replicates' quantiles α' at rank (R + 1)α' (QuantileType6).
// The comparison is strict: ties with the estimate count as not below it.
//
// sorted are the replicates, estimate is t, acceleration is a (Acceleration).
// Where the correction is not defined the percentile interval comes back with
// the reason; Corrected means that the correction stands. No replicates or a
// level outside (0, 1) panic.
//
// Efron (1987); Efron & Tibshirani (1993), section 14.3; methods, section 10.
func BCa(sorted []float64, estimate, acceleration, level float64) (Interval, Reason) {
	check(len(sorted), level)
	low, high, reason := Adjusted(sorted, estimate, acceleration, level)
	if reason != Corrected {
		return Percentile(sorted, level), reason
	}
	return Interval{QuantileType6(sorted, low), QuantileType6(sorted, high)}, Corrected
}

// Adjusted is the pair of levels α' at which BCa reads the replicates, for
// MonteCarlo's sake and to show how far the correction went. Levels mean nothing
// when the reason is not Corrected.
func Adjusted(sorted []float64, estimate, acceleration, level float64) (low, high float64, reason Reason) {
	check(len(sorted), level)
	below := 0
	for below < len(sorted) && sorted[below] < estimate {
		below++
	}
	switch {
	case math.IsNaN(estimate) || math.IsNaN(acceleration):
		return 0, 0, NotANumber
	case sorted[0] == sorted[len(sorted)-1]:
		return 0, 0, NoSpread
	case below == 0 || below == len(sorted):
		return 0, 0, AllOneSide
	}
	z0 := distuv.UnitNormal.Quantile(float64(below) / float64(len(sorted)))
	z := distuv.UnitNormal.Quantile((1 + level) / 2)
	low, okLow := adjust(z0, -z, acceleration)
	high, okHigh := adjust(z0, z, acceleration)
	if !okLow || !okHigh {
		return 0, 0, OverTheEdge
	}
	return low, high, Corrected
}

// adjust is α' of one end; not ok where 1 − a(z0 + z) has lost its sign, beyond
// which a higher level would read a lower quantile.
func adjust(z0, z, a float64) (float64, bool) {
	turn := 1 - float64(a*(z0+z))
	if turn <= 0 {
		return 0, false
	}
	return distuv.UnitNormal.CDF(z0 + (z0+z)/turn), true
}

// Acceleration is a = Σ L³ / (6 (Σ L²)^1.5) of the influence L_i of each sampled
// unit on the estimate; jackknife values serve as L_i = mean − t_(i), whatever
// their common factor.
//
// Influences are taken as they come: they sum to zero where they were made
// rightly. No influence at all gives 0, the correction for bias alone.
//
// Efron (1987), equation 4.4; Efron & Tibshirani (1993), equation 14.15.
func Acceleration(influence []float64) float64 {
	largest := 0.0
	for _, l := range influence {
		largest = math.Max(largest, math.Abs(l))
	}
	if largest == 0 {
		return 0
	}
	squares, cubes := 0.0, 0.0
	for _, l := range influence {
		u := l / largest // so that no cube runs over
		squares += float64(u * u)
		cubes += float64(u * u * u)
	}
	return cubes / (6 * squares * math.Sqrt(squares))
}

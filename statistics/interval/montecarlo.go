package interval

import (
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// MonteCarlo is the standard error that each end of a percentile interval has
// from its finite number of replicates, in the units of the estimate: half the
// distance between the order statistics at the binomial quantiles Φ(−1) and
// Φ(1) (the latter one rank up) of B(R, p).
//
// With few replicates a rank runs off the end and the extreme stands in: the
// error is then understated. No replicates or a level outside (0, 1) panic.
//
// Order-statistic interval of a quantile: David & Nagaraja (2003), section 7.1;
// methods, section 10.
func MonteCarlo(sorted []float64, level float64) (low, high float64) {
	check(len(sorted), level)
	return QuantileSE(sorted, (1-level)/2), QuantileSE(sorted, (1+level)/2)
}

// QuantileSE is the Monte Carlo standard error of one quantile p of sorted
// replicates; see MonteCarlo. For BCa ends give the levels of Adjusted.
func QuantileSE(sorted []float64, p float64) float64 {
	n := len(sorted)
	first := max(binomialQuantile(distuv.UnitNormal.CDF(-1), n, p), 1)
	last := min(binomialQuantile(distuv.UnitNormal.CDF(1), n, p)+1, n)
	return (sorted[last-1] - sorted[first-1]) / 2
}

// binomialQuantile is the smallest k with P(B(n, p) ≤ k) ≥ u. It looks about the normal's
// answer first, and further away only where that is wrong.
func binomialQuantile(u float64, n int, p float64) int {
	if p <= 0 {
		return 0
	}
	reaches := func(k int) bool { // P(B ≤ n) = 1 is enough, P(B < 0) = 0 is not
		return k >= n || k >= 0 && mathext.RegIncBeta(float64(n-k), float64(k+1), 1-p) >= u
	}
	mean := float64(n) * p
	near := int(mean + distuv.UnitNormal.Quantile(u)*math.Sqrt(mean*(1-p)))
	low, high := near-1, near+1 // low is not enough, high is
	for step := 2; reaches(low); step *= 2 {
		low, high = low-step, low
	}
	for step := 2; !reaches(high); step *= 2 {
		low, high = high, high+step
	}
	for high-low > 1 {
		if k := (low + high) / 2; reaches(k) {
			high = k
		} else {
			low = k
		}
	}
	return min(high, n)
}

// MeanSE is the Monte Carlo standard error of the mean of R replicates, SD/√R.
// One replicate tells nothing: it is NaN.
func MeanSE(replicates []float64) float64 {
	_, sd := MeanSD(replicates)
	return sd / math.Sqrt(float64(len(replicates)))
}

// MeanSD is the mean and the standard deviation with divisor n − 1.
//
// The sums run over distances from the first value, then over distances from
// the mean, with the first-order correction of the second sum, so that ten
// million plus a tenth keeps its tenth. The SD of one value is NaN; both are NaN of none.
//
// Chan, Golub & LeVeque (1983), equation 1.7.
func MeanSD(x []float64) (mean, sd float64) {
	if len(x) == 0 {
		return math.NaN(), math.NaN()
	}
	n := float64(len(x))
	shift := 0.0
	for _, v := range x {
		shift += v - x[0]
	}
	shift /= n
	squares, rest := 0.0, 0.0
	for _, v := range x {
		d := (v - x[0]) - shift
		squares += float64(d * d)
		rest += d
	}
	if len(x) == 1 {
		return x[0], math.NaN()
	}
	return x[0] + shift, math.Sqrt((squares - float64(rest*rest)/n) / (n - 1))
}

// Package signal finds ridges in a profile: values at equal steps along a line.
//
// A profile is smoothed (Gauss, Convolve), freed of its trend (Trend) and searched for
// ridges at several widths (Search).
package signal

import (
	"fmt"
	"math"
)

// GaussReach is the number of weights that Gauss wants for a standard deviation:
// up to four of them, beyond which 6e-5 of the weight is left out.
func GaussReach(sd float64) int { return int(math.Ceil(4*sd)) + 1 }

// Gauss fills half with the weights of a Gaussian smoother, half[i] ∝ exp(−i²/2s²)
// for offsets 0, 1, …; the weights of both sides together sum to 1.
//
// s is sd, in steps. s = 0 leaves a profile as it is. Panics when half is empty, or
// sd is negative or not a number.
func Gauss(half []float64, sd float64) {
	if len(half) == 0 || !(sd >= 0) {
		panic(fmt.Sprintf("signal: %d weights of standard deviation %v", len(half), sd))
	}
	half[0] = 1
	sum := 1.0
	for i := 1; i < len(half); i++ {
		half[i] = 0
		if sd > 0 {
			z := float64(i) / sd
			half[i] = math.Exp(-0.5 * z * z)
		}
		sum += 2 * half[i]
	}
	for i := range half {
		half[i] /= sum
	}
}

// Convolve fills dst with x under symmetric weights, dst[i] = Σ_k half[|k|] x[i+k];
// beyond its ends the profile is its own mirror image, so that nothing leaks out:
// weights that sum to 1 keep a constant, and the sum of x.
//
// dst and x are of one length and must not overlap. Panics on unequal lengths, on
// no weights, or when the weights reach further than x is long.
func Convolve(dst, x, half []float64) {
	if len(dst) != len(x) || len(half) == 0 || (len(half) > len(x) && len(x) > 0) {
		panic(fmt.Sprintf("signal: %d values into %d under %d weights", len(x), len(dst), len(half)))
	}
	n, reach := len(x), len(half)-1
	for i := range dst {
		sum := half[0] * x[i]
		if i >= reach && i+reach < n {
			for k := 1; k <= reach; k++ {
				sum += float64(half[k] * (x[i-k] + x[i+k]))
			}
		} else {
			for k := 1; k <= reach; k++ {
				sum += float64(half[k] * (x[mirror(i-k, n)] + x[mirror(i+k, n)]))
			}
		}
		dst[i] = sum
	}
}

// mirror folds a place beyond an end back: … 1 0 | 0 1 2 … n−1 | n−1 n−2 …
func mirror(i, n int) int {
	if i < 0 {
		return -1 - i
	}
	if i >= n {
		return 2*n - 1 - i
	}
	return i
}

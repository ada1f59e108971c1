package dist

import (
	"fmt"
	"math"
)

// Wilson is the score interval of a share from k of n at a level, 0.95 say:
//
//	(k + z²/2 ± z √(k(n − k)/n + z²/4)) / (n + z²).
//
// Without continuity correction, kept within 0 and 1. Panics unless 0 ≤ k ≤ n,
// n > 0 and 0 < level < 1. k and n may be effective numbers and so need not be whole.
//
// Wilson (1927).
func Wilson(k, n, level float64) (low, high float64) {
	checkShare(k, n, level)
	z := NormalQuantile((1 + level) / 2)
	middle := k + z*z/2
	half := z * math.Sqrt(k*(n-k)/n+z*z/4)
	low, high = math.Max((middle-half)/(n+z*z), 0), math.Min((middle+half)/(n+z*z), 1)
	if k == 0 {
		low = 0 // rounding would leave 1e-17
	}
	if k == n {
		high = 1
	}
	return low, high
}

// ExactShare is the interval of a share from k of n that never covers less than
// the level: beta quantiles B(α/2; k, n − k + 1) and B(1 − α/2; k + 1, n − k),
// α = 1 − level; 0 at k = 0 and 1 at k = n. Panics as Wilson does.
//
// Clopper & Pearson (1934).
func ExactShare(k, n, level float64) (low, high float64) {
	checkShare(k, n, level)
	low, high = 0, 1
	if k > 0 {
		low = BetaQuantile((1-level)/2, k, n-k+1)
	}
	if k < n {
		high = BetaQuantile((1+level)/2, k+1, n-k)
	}
	return low, high
}

func checkShare(k, n, level float64) {
	if !(n > 0 && k >= 0 && k <= n && level > 0 && level < 1) {
		panic(fmt.Sprintf("dist: interval of level %v for %v of %v", level, k, n))
	}
}

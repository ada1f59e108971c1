package signal

import "fmt"

// convolve fills dst with x under symmetric weights, dst[i] = Σ_k half[|k|] x[i+k];
// beyond its ends the profile is its own mirror image, so that nothing leaks out:
// weights that sum to 1 keep a constant, and the sum of x.
//
// dst and x are of one length and must not overlap. Panics on unequal lengths, on
// no weights, or when the weights reach further than x is long.
func convolve(dst, x, half []float64) {
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

package dist

import (
	"fmt"
	"math"
)

// CutNormal fills dst[c] with the chance that a normal with a mean and an SD
// falls to the whole age c = 0 ... A, A = len(dst) − 1:
//
//	P(c) = Φ((c + ½ − mean)/sd) − Φ((c − ½ − mean)/sd),
//
// the lower tail going to 0 and the upper one to A. A row sums to 1. Above the
// mean the difference is that of upper tails, so that far ages keep their digits.
//
// An SD of 0 puts everything on the age whose interval [c − ½, c + ½) holds the
// mean. Panics when dst is empty, the mean is not finite, or the SD is negative,
// infinite or not a number. Allocates nothing.
//
// Richards, Schnute, Kronlund & Beamish (1992); methods, section 4.
func CutNormal(dst []float64, mean, sd float64) {
	if len(dst) == 0 || math.IsNaN(mean) || math.IsInf(mean, 0) || !(sd >= 0) || math.IsInf(sd, 1) {
		panic(fmt.Sprintf("dist: a normal with mean %v and SD %v cut into %d ages", mean, sd, len(dst)))
	}
	oldest := len(dst) - 1
	if sd == 0 {
		clear(dst)
		dst[int(math.Min(math.Max(math.Floor(mean+0.5), 0), float64(oldest)))] = 1
		return
	}
	scale := 1 / (sd * math.Sqrt2)
	// tail is that of the last cut, below the mean the lower one, above it the upper.
	lower, tail := true, 0.0
	for c := range dst {
		if c == oldest {
			dst[c] = rest(lower, tail)
			return
		}
		u := (float64(c) + 0.5 - mean) * scale
		if u <= 0 {
			now := 0.5 * math.Erfc(-u)
			dst[c], tail = now-tail, now
			continue
		}
		now := 0.5 * math.Erfc(u)
		if lower {
			dst[c] = (1 - tail) - now // the age that holds the mean: no digits to lose
			if c == 0 {
				dst[c] = 1 - now
			}
		} else {
			dst[c] = tail - now
		}
		lower, tail = false, now
	}
}

// rest is what lies above the last cut.
func rest(lower bool, tail float64) float64 {
	if lower {
		return 1 - tail
	}
	return tail
}

package mortality

import (
	"math"

	"earstone/statistics/dist"
)

// Line is a catch curve: log count = Intercept − Z · age.
type Line struct {
	Estimate
	Intercept float64
}

// CatchCurve is total mortality by weighted regression of log count on age, from
// the peak age on, the old ages kept: the line is fitted once without weights and
// once more with the log counts that it gave as weights, so that the few old fish
// count for less. A plus group is of no one age and is left out. Ages without fish have no logarithm and are left out; a fitted
// log count that is not above 0 gives the smallest weight that is.
//
// SE and t interval (ages − 2 degrees of freedom) are those of the weighted line.
// NoFish; TooFewAges where fewer than three ages have fish; NoDecline where the
// line does not fall, or no fitted log count is above 0. Panics as ChapmanRobson.
//
// Maceina & Bettoli (1998); Smith et al. (2012), N. Am. J. Fish. Manage. 32
// (citations from memory, the last read in abstract). Methods, section 7.
func CatchCurve(c Counts, level float64) (Line, error) {
	peak, ok := c.Peak()
	checkLevel(level)
	if !ok {
		return Line{}, &Trouble{Reason: NoFish}
	}
	return catchCurve(c.single().from(peak), level)
}

func catchCurve(c Counts, level float64) (Line, error) {
	l := Line{Estimate: Estimate{FirstAge: c.First}}
	var age, log, weight []float64
	for x, n := range c.Number {
		l.Fish += n
		if n > 0 {
			age, log, weight = append(age, float64(c.First+x)), append(log, math.Log(n)), append(weight, 1)
		}
	}
	l.Ages = len(age)
	if l.Ages < 3 {
		return l, &Trouble{TooFewAges, c.First, l.Ages, l.Fish}
	}
	plain := regress(age, log, weight)
	least := math.Inf(1)
	for i, a := range age {
		weight[i] = plain.intercept + plain.slope*a
		if weight[i] > 0 {
			least = math.Min(least, weight[i])
		}
	}
	if math.IsInf(least, 1) {
		return l, &Trouble{NoDecline, c.First, l.Ages, l.Fish}
	}
	for i := range weight {
		weight[i] = math.Max(weight[i], least)
	}
	r := regress(age, log, weight)
	l.Z, l.SE, l.Intercept = -r.slope, r.se, r.intercept
	if !(l.Z > 0) {
		return l, &Trouble{NoDecline, c.First, l.Ages, l.Fish}
	}
	half := dist.TQuantile((1+level)/2, float64(l.Ages-2)) * l.SE
	l.Low, l.High = l.Z-half, l.Z+half
	return l, nil
}

type regression struct{ intercept, slope, se float64 }

// regress is the weighted line of y on x with the SE of its slope.
func regress(x, y, w []float64) regression {
	var sw, sx, sy, sxx, sxy float64
	for i := range x {
		sw, sx, sy = sw+w[i], sx+w[i]*x[i], sy+w[i]*y[i]
	}
	mx, my := sx/sw, sy/sw
	for i := range x {
		sxx += w[i] * (x[i] - mx) * (x[i] - mx)
		sxy += w[i] * (x[i] - mx) * (y[i] - my)
	}
	r := regression{slope: sxy / sxx}
	r.intercept = my - r.slope*mx
	rss := 0.0
	for i := range x {
		e := y[i] - r.intercept - r.slope*x[i]
		rss += w[i] * e * e
	}
	r.se = math.Sqrt(rss / float64(len(x)-2) / sxx)
	return r
}

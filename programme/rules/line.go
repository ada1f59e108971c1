package rules

import (
	"cmp"
	"math"
	"slices"
	"strconv"
)

// line is y = level + slope x through the middle of many pairs, with the robust SD of
// what is left. A few wild records can't move it.
type line struct{ level, slope, sd float64 }

// leastSD keeps a group of nearly equal records from doubting a rounded one: 5 %.
const leastSD = 0.05

// throughMiddle lays Tukey's resistant line through the medians of the lower and the
// upper third by x; the level is the median of what is left, and the SD 1.4826 times
// the median distance from it. ok is false for fewer than 20 pairs.
func throughMiddle(pairs []pair) (l line, ok bool) {
	n := len(pairs)
	if n < least {
		return line{}, false
	}
	sorted := slices.Clone(pairs)
	slices.SortStableFunc(sorted, func(a, b pair) int { return cmp.Compare(a.x, b.x) })
	third := n / 3
	rise := medianOf(sorted[n-third:], func(p pair) float64 { return p.y }) - medianOf(sorted[:third], func(p pair) float64 { return p.y })
	run := medianOf(sorted[n-third:], func(p pair) float64 { return p.x }) - medianOf(sorted[:third], func(p pair) float64 { return p.x })
	if run > 0 {
		l.slope = rise / run
	}
	l.level = medianOf(pairs, func(p pair) float64 { return p.y - l.slope*p.x })
	spread := medianOf(pairs, func(p pair) float64 { return math.Abs(p.y - l.level - l.slope*p.x) })
	l.sd = max(1.4826*spread, leastSD)
	return l, true
}

func (l line) z(p pair) float64 { return (p.y - l.level - l.slope*p.x) / l.sd }

func medianOf(pairs []pair, of func(pair) float64) float64 {
	values := make([]float64, len(pairs))
	for i, p := range pairs {
		values[i] = of(p)
	}
	slices.Sort(values)
	n := len(values)
	return (values[(n-1)/2] + values[n/2]) / 2
}

// tenths is a figure to a tenth, as a tape reads.
func tenths(x float64) string {
	return strconv.FormatFloat(math.Round(10*x)/10, 'f', -1, 64)
}

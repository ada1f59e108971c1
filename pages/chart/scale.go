package chart

import (
	"math"
	"slices"
)

// scale maps low..high onto from..to, linearly.
type scale struct{ low, high, from, to float64 }

func (s scale) at(x float64) float64 {
	return s.from + (x-s.low)/(s.high-s.low)*(s.to-s.from)
}

// clip maps x after moving it to the nearer end of the scale.
func (s scale) clip(x float64) float64 { return s.at(min(max(x, s.low), s.high)) }

// step answers 1, 2 or 5 times a power of ten: the largest such step that cuts
// span into at least about parts, give or take rounding.
func step(span float64, about int) float64 {
	raw := span / float64(about)
	power := math.Pow(10, math.Floor(math.Log10(raw)))
	switch over := raw / power; {
	case over < 1.5:
		return power
	case over < 3.5:
		return 2 * power
	case over < 7.5:
		return 5 * power
	}
	return 10 * power
}

// span holds the extent of the numbers seen so far; the zero value has seen none.
type span struct {
	low, high float64
	seen      bool
}

func (s *span) see(values ...float64) {
	for _, x := range values {
		if !drawable(x) {
			continue
		}
		if !s.seen {
			s.low, s.high, s.seen = x, x, true
		}
		s.low, s.high = min(s.low, x), max(s.high, x)
	}
}

// drawables are the numbers that can be drawn, in rising order.
func drawables(values []float64) []float64 {
	var kept []float64
	for _, x := range values {
		if drawable(x) {
			kept = append(kept, x)
		}
	}
	slices.Sort(kept)
	return kept
}

func (s *span) seeInterval(i Interval) {
	if i.known() {
		s.see(i.Low, i.High)
	}
}

// round widens the extent to whole steps and answers the ticks; nothing seen is
// taken as 0 to 1, and a single number gets room on both sides.
func (s span) round(about int) (low, high float64, ticks []float64) {
	if !s.seen {
		s.low, s.high = 0, 1
	}
	// An extent that is tiny beside its numbers can't be told apart in decimals.
	if size := max(math.Abs(s.low), math.Abs(s.high)); s.high-s.low <= 1e-9*size || s.high-s.low < 1e-12 {
		switch {
		case s.low >= 0 && s.low < 1e-12:
			s.low, s.high = 0, 1
		case s.low > 0:
			s.high = s.low + max(size/10, 1e-9)
		default:
			s.low -= max(size/10, 1e-9)
		}
	}
	d := step(s.high-s.low, about)
	first, last := math.Floor(s.low/d+1e-9), math.Ceil(s.high/d-1e-9)
	for k := first; k <= last; k++ {
		ticks = append(ticks, k*d)
	}
	return first * d, last * d, ticks
}

// spread moves positions as little as needed to keep them gap apart within
// low..high, in their given order of size; it answers them in the input's order.
func spread(at []float64, gap, low, high float64) []float64 {
	order := make([]int, len(at))
	for i := range order {
		order[i] = i
	}
	for i := 1; i < len(order); i++ { // few labels: insertion keeps ties in order
		for j := i; j > 0 && at[order[j]] < at[order[j-1]]; j-- {
			order[j], order[j-1] = order[j-1], order[j]
		}
	}
	out := make([]float64, len(at))
	edge := low
	for _, i := range order {
		out[i] = max(at[i], edge)
		edge = out[i] + gap
	}
	edge = high
	for k := len(order) - 1; k >= 0; k-- {
		i := order[k]
		out[i] = min(out[i], edge)
		edge = out[i] - gap
	}
	return out
}

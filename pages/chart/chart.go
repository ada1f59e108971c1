// Package chart draws pictures of estimates as SVG, from numbers alone.
//
// Every picture is a struct with a Draw method: the same struct gives the same
// bytes. The page embeds Style once; colours come from the page's custom
// properties (--ink, --paper, --muted, --rule, --accent, --accent-2, --accent-3,
// --accent-4) and fall back to colours of our own in light, in dark and on
// paper. No meaning hangs on hue alone: shape, hatch, line pattern or a label
// beside the mark says the same.
//
// A number that is not finite, or is beyond ±1e15, counts as unknown and is not
// drawn; an unknown interval is an open mark, never a line of no length.
package chart

import "math"

// SVG is one finished picture: an <svg> element to be placed inside a page.
type SVG string

// Frame is what every picture has: Title names it, Alt says in a plain sentence
// what it shows. Both are read aloud; neither is drawn, the page prints them.
type Frame struct {
	Title, Alt string
	Level      float64 // of the intervals, such as 0.95; 0 leaves it unsaid
	Size       Size
}

// Size is the natural size of a picture in CSS pixels; a page narrower than
// that shrinks it. Zero means the picture's own default; a width is taken
// between 320 and 4000, a height between what the picture needs and 4000 more.
type Size struct{ Width, Height float64 }

// Amount is a number that may be unknown; the zero value is unknown.
type Amount struct {
	Value float64
	Known bool
}

// Of gives a known amount.
func Of(value float64) Amount { return Amount{Value: value, Known: true} }

// Interval is a confidence interval; the zero value is unknown.
type Interval struct {
	Low, High float64
	Known     bool
}

// Between gives the known interval from low to high.
func Between(low, high float64) Interval { return Interval{Low: low, High: high, Known: true} }

// beyond is the size from which a number is taken for a mistake: sums and
// differences of drawn numbers stay finite below it.
const beyond = 1e15

func drawable(x float64) bool { return math.Abs(x) <= beyond }

func (a Amount) known() bool { return a.Known && drawable(a.Value) }

func (i Interval) known() bool {
	return i.Known && drawable(i.Low) && drawable(i.High) && i.Low <= i.High
}

// possible says whether a whole age can be one; a picture with a row for each age
// leaves out what can't.
func possible(age int) bool { return age >= 0 && age <= 150 }

// atLeast answers x, or low when x is less or not drawable.
func atLeast(x, low float64) float64 {
	if !drawable(x) || x < low {
		return low
	}
	return x
}

// size answers the natural size: what was asked for, or the default height.
func (f Frame) size(height float64) (float64, float64) {
	w, h := f.Size.Width, f.Size.Height
	if w == 0 || !drawable(w) {
		w = 520
	}
	return min(atLeast(w, 320), 4000), min(atLeast(h, height), height+4000)
}

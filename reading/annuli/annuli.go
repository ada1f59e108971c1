// Package annuli suggests where a section's annuli are, with a confidence for each mark, another for the count.
//
// A suggestion is an offer to a reader, never a reading: who reads takes or refuses
// each mark. It weighs two things. A place speaks for itself by how it looks (Model's
// evidence), and a sequence of places by whether a fish grows like that (Model's
// growth): annuli draw closer with age. All sequences of all counts are weighed
// against each other, so that what is said of one mark knows of all others. Methods,
// section 2, "Suggested annuli".
package annuli

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"earstone/reading/transect"
)

// Section is what a suggestion is made from.
type Section struct {
	Band       *transect.Band // from the core, which is value 0, to past the edge or up to it
	Edge       float64        // pixels from the core along the axis
	UmPerPixel float64
	Bright     bool // annuli are brighter than what lies between: light that falls on; false: it shines through
}

// Mark is one suggested annulus.
type Mark struct {
	At         float64 // pixels from the core along the axis
	Confidence float64 // probability that an annulus lies within 60 µm, nearer than half way to the next mark
	Unseen     bool    // nothing is to be seen there, but growth asks for an annulus in between
}

// Suggestion is what a reader is offered. The zero Suggestion offers nothing.
type Suggestion struct {
	Marks      []Mark    // from core to edge
	Confidence float64   // probability that the count, len(Marks), is the number of annuli
	Counts     []float64 // probability of each count from 0 up; sums to 1
}

// Within is the probability that the number of annuli is at most so many away from
// the count.
func (s Suggestion) Within(away int) float64 {
	sum := 0.0
	for k, p := range s.Counts {
		if k-len(s.Marks) <= away && len(s.Marks)-k <= away {
			sum += p
		}
	}
	return min(sum, 1)
}

// The reasons why nothing is suggested.
var (
	ErrScale = errors.New("the picture has no scale: give its µm per pixel, for growth is told in µm")
	ErrShort = errors.New("the axis is too short to tell annuli from grain: the picture wants more pixels from core to edge")
	ErrBlank = errors.New("nothing is to be seen along the axis: the picture is of one brightness there")
)

// Suggest is the suggestion for a section: the count with the highest probability, and
// the sequence of that count with the highest probability.
//
// With candidates j (places that look like an annulus) of evidence e_j, and growth
// g(d | k, r) for the width d of the year that annulus k closes beyond a place r µm
// from the core, a sequence has the weight
//
//	Π_k g(d_k | k, r_{k−1}) · Π_j e_j · Π_unseen p(d) · h(gap)
//
// where p is the chance that an annulus shows nothing and h(x) = ∫_x^∞ g(d)/d dd, the
// chance that the fish was caught so far into its year; all of it summed over what the
// fish's own growth may be.
// Every count from 0 to 45 is as likely beforehand: what ages are common must not
// decide what is counted. Forward and backward sums over all sequences give the
// probabilities.
//
// Where there is no scale, too short an axis, or nothing to see, it is one of the Err
// values. Panics on a band or an edge without length. Not for several goroutines at a time.
//
// The sums are those of hidden semi-Markov models: Rabiner (1989), from memory.
func (w *Work) Suggest(s Section) (Suggestion, error) {
	if s.Band == nil || s.Band.Along < 1 || !(s.Edge > 0) {
		panic(fmt.Sprintf("annuli: a suggestion for an edge at %v", s.Edge))
	}
	if err := w.look(s); err != nil {
		return Suggestion{}, err
	}
	w.sum()
	return w.answer(s), nil
}

// answer picks the count and its best sequence.
func (w *Work) answer(s Section) Suggestion {
	counts := w.counts()
	count := 0
	for k, p := range counts {
		if p > counts[count] {
			count = k
		}
	}
	out := Suggestion{Counts: counts, Confidence: counts[count], Marks: w.best(count)}
	for i := range out.Marks {
		out.Marks[i].At /= s.UmPerPixel
	}
	return out
}

// counts is the probability of each count, up to the last that has any to speak of:
// the share of its sequences to the power of the model's temper.
func (w *Work) counts() []float64 {
	counts := make([]float64, mostAnnuli+1)
	last, sum := 0, 0.0
	for k := range counts {
		counts[k] = math.Pow(w.all.ended[k]/w.all.total, w.model.Temper)
		sum += counts[k]
	}
	for k := range counts {
		counts[k] /= sum
		if counts[k] > 1e-9 {
			last = k
		}
	}
	return slices.Clip(counts[:last+1])
}

// mostAnnuli is the largest count that is weighed.
const mostAnnuli = 45

func square(x float64) float64 { return x * x }

// normalAbove is the upper tail of a standard normal.
func normalAbove(z float64) float64 { return 0.5 * math.Erfc(z/math.Sqrt2) }

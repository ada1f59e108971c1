// Package signal finds ridges in a profile: values at equal steps along a line.
//
// A profile is freed of its trend (Trend) and searched for ridges at several widths
// (Search).
package signal

import (
	"fmt"
	"math"
)

// Ridge is a place where a profile stands above both its sides.
type Ridge struct {
	At       float64 // steps from the start, between steps by a parabola
	Width    float64 // standard deviation of the template that fits best, in steps
	Strength float64 // response there: of white noise of SD 1 it has SD 1 at every width
	Rise     float64 // how far it stands above the higher of the saddles to its neighbours
}

// Search looks for ridges in profiles of one length at a set of widths. It holds all
// room of one worker; its methods allocate nothing.
type Search struct {
	widths    []float64
	templates [][]float64
	response  [][]float64 // by width, then place
	best      []float64   // over widths
	which     []int
}

// NewSearch is a search of profiles of n values at widths, standard deviations of
// ridges in steps, ascending.
//
// Panics unless widths ascend from at least 0.5, and n is at least 9 times the last.
func NewSearch(n int, widths []float64) *Search {
	s := &Search{best: make([]float64, n), which: make([]int, n)}
	last := 0.0
	for _, w := range widths {
		if !(w >= 0.5) || w <= last || float64(n) < 9*w {
			panic(fmt.Sprintf("signal: a search of %d values at widths %v", n, widths))
		}
		last = w
		s.widths = append(s.widths, w)
		s.templates = append(s.templates, template(w))
		s.response = append(s.response, make([]float64, n))
	}
	if len(widths) == 0 {
		panic("signal: a search at no width")
	}
	return s
}

// template is half of a second derivative of a Gaussian turned upside down, (1 − t²/w²)
// exp(−t²/2w²), as far as four widths, shifted to sum to 0 and scaled so that its squares
// sum to 1.
func template(width float64) []float64 {
	half := make([]float64, int(math.Ceil(4*width))+1)
	sum := 0.0
	for i := range half {
		z := float64(i) / width
		half[i] = (1 - z*z) * math.Exp(-0.5*z*z)
		sum += half[i] * sides(i)
	}
	mean := sum / float64(2*len(half)-1)
	squares := 0.0
	for i := range half {
		half[i] -= mean
		squares += half[i] * half[i] * sides(i)
	}
	for i := range half {
		half[i] /= math.Sqrt(squares)
	}
	return half
}

func sides(i int) float64 {
	if i == 0 {
		return 1
	}
	return 2
}

// Ridges appends to dst the ridges of x from start to end: the places where the
// response, the largest over widths of R(i, w) = Σ_k ψ_w(k) x[i+k], has a local maximum
// above least. ψ_w is the second derivative of a Gaussian of SD w, turned upside
// down, of sum 0 and of squares 1.
//
// A flat top counts once, at its first place. The first and last value are never
// ridges. Of valleys ask the profile with its sign turned. Panics when x is of another
// length than the search; allocates only to grow dst.
func (s *Search) Ridges(dst []Ridge, x []float64, least float64) []Ridge {
	s.Respond(x)
	n := len(s.best)
	for i := 1; i+1 < n; i++ {
		if s.best[i] > least && s.best[i] > s.best[i-1] && s.best[i] >= s.best[i+1] && s.falls(i) {
			dst = append(dst, s.ridge(i))
		}
	}
	return dst
}

// Response is R at a place and one of the search's widths for the profile last
// searched; places beyond the ends count as the ends.
func (s *Search) Response(width int, place float64) float64 {
	i := int(math.Round(place))
	return s.response[width][min(max(i, 0), len(s.best)-1)]
}

// Respond fills the response of x at each width, which Response then tells. Panics when x
// is of another length than the search.
func (s *Search) Respond(x []float64) {
	for w, half := range s.templates {
		convolve(s.response[w], x, half)
	}
	for i := range s.best {
		s.best[i], s.which[i] = s.response[0][i], 0
		for w := 1; w < len(s.response); w++ {
			if r := s.response[w][i]; r > s.best[i] {
				s.best[i], s.which[i] = r, w
			}
		}
	}
}

// falls tells whether a flat top that begins at i goes down at its end, not up.
func (s *Search) falls(i int) bool {
	for j := i + 1; j < len(s.best); j++ {
		if s.best[j] != s.best[i] {
			return s.best[j] < s.best[i]
		}
	}
	return false
}

func (s *Search) ridge(i int) Ridge {
	low, mid, high := s.best[i-1], s.best[i], s.best[i+1]
	at := float64(i)
	if bend := low - 2*mid + high; bend < 0 {
		at += min(max(0.5*(low-high)/bend, -0.5), 0.5)
	}
	return Ridge{
		At: at, Width: s.widths[s.which[i]], Strength: mid,
		Rise: mid - max(s.saddle(i, -1), s.saddle(i, 1)),
	}
}

// saddle is the lowest response between i and the next place, in steps of way, that
// is as high, or the end.
func (s *Search) saddle(i, way int) float64 {
	lowest := s.best[i]
	for j := i + way; j >= 0 && j < len(s.best); j += way {
		if s.best[j] > s.best[i] {
			break
		}
		lowest = min(lowest, s.best[j])
	}
	return lowest
}

// Package mortality tells how fast fish die from their ages.
package mortality

import (
	"fmt"
	"math"

	"earstone/programme/record"
	"earstone/statistics/dist"
)

// Counts are fish at whole ages without gaps: Number[i] of age First + i. They
// need not be whole, but their size is taken for that of the sample: scale a
// catch at age down to its effective number of fish, or take the standard errors
// from a bootstrap.
type Counts struct {
	First  int
	Number []float64
	Plus   bool // the last class is a plus group: its fish are of its age or older
}

// single are the classes of one age each.
func (c Counts) single() Counts {
	if c.Plus {
		return Counts{First: c.First, Number: c.Number[:len(c.Number)-1]}
	}
	return c
}

// Peak is the age of the largest count, the youngest of equal ones, a plus group being
// none; ok is false where there is no fish. Panics on a negative count or one that is no number.
func (c Counts) Peak() (age int, ok bool) {
	at, most := 0, 0.0
	for i, n := range c.Number {
		if !(n >= 0) || math.IsInf(n, 1) {
			panic(fmt.Sprintf("mortality: %v fish of age %d", n, c.First+i))
		}
		if n > most && !(c.Plus && i == len(c.Number)-1) {
			at, most = i, n
		}
	}
	return c.First + at, most > 0
}

// from are the counts from an age to the oldest present.
func (c Counts) from(age int) Counts {
	at := min(max(age-c.First, 0), len(c.Number))
	end := len(c.Number)
	for end > at && c.Number[end-1] == 0 {
		end--
	}
	return Counts{c.First + at, c.Number[at:end], c.Plus && end == len(c.Number) && at < end}
}

// Reason is why there is no estimate.
type Reason int

// The reasons. The zero value is none of them.
const (
	NoFish     Reason = iota + 1 // no fish at all
	TooFewAges                   // too few ages from the first one used
	TooFewFish                   // too few fish from the first age used
	NoDecline                    // numbers do not fall with age
)

var reasons = [...]string{
	NoFish:     "there are no fish",
	TooFewAges: "too few ages are left from the first one used",
	TooFewFish: "too few fish are left from the first age used",
	NoDecline:  "numbers do not fall with age",
}

// String is the reason in a few words.
func (r Reason) String() string {
	if r < 1 || int(r) >= len(reasons) {
		return fmt.Sprintf("Reason(%d)", int(r))
	}
	return reasons[r]
}

// Trouble is an estimate that can't be had.
type Trouble struct {
	Reason   Reason
	FirstAge int     // used, where the estimate came so far
	Ages     int     // from there on
	Fish     float64 // from there on
}

// Error is the trouble in a sentence.
func (t *Trouble) Error() string {
	return fmt.Sprintf("no mortality from %v fish of %d ages: %v", t.Fish, t.Ages, t.Reason)
}

// Estimate is a total mortality rate Z a year with what it rests on.
type Estimate struct {
	Z, SE     float64
	Low, High float64 // interval at the level asked for
	FirstAge  int     // youngest age used
	Ages      int     // ages used
	Fish      float64 // of those ages
}

// Survival is the estimate of Chapman & Robson with its parts.
type Survival struct {
	Estimate
	S, SES         float64 // share that survives a year, and its SE, corrected
	Total          float64 // T, the sum of recoded ages
	ChiSquare      float64 // of the counts against the geometric fit
	Classes        int
	Overdispersion record.Number // c = χ²/(classes − 1); unknown with one class
}

// ChapmanRobson is total mortality from the ages above the peak. With ages x
// recoded to 0 at the peak age plus one, n fish and T = Σ x,
//
//	S = T/(n + T − 1),  var S = S (S − (T − 1)/(n + T − 2)),
//	Z = −log S − (n − 1)(n − 2)/(n (T + 1)(n + T − 1)),
//	SE Z = (1 − e^{−Z})/√(n e^{−Z}),
//
// and both SE times √max(1, c), c = χ²/(classes − 1) against the geometric counts
// n (1 − S) S^x, the last class taking its tail n S^x: uneven year classes, and
// ages that are alike within trips, make the plain SE far too small. c is not
// below 1. Classes run without gaps to the oldest age present; none are pooled but a plus
// group. Of its fish it is known only that they lived through x years: T counts x for each,
// and n, the fish whose deaths T is shared out over, is without them, which is the greatest
// likelihood of a geometric count cut off there. Fish is of all. To leave a plus group out
// would take its survivors for never born: from 8 ages at Z = 0.3 it makes 0.42. The interval is Z ± z SE, kept at 0 and above.
//
// It takes recruitment and mortality for constant, and all ages above the peak for
// equally likely to be caught. NoFish, TooFewAges where fewer than two ages are
// left or all fish are of the first, TooFewFish under three. Panics on a negative
// count and unless 0 < level < 1.
//
// Chapman & Robson (1960), Biometrics 16; Hoenig, Lawing & Hoenig (1983) for the
// bias term; Smith et al. (2012), N. Am. J. Fish. Manage. 32, for the first age
// and c (citations from memory, the last read in abstract). Methods, section 7.
func ChapmanRobson(c Counts, level float64) (Survival, error) {
	peak, ok := c.Peak()
	checkLevel(level)
	if !ok {
		return Survival{}, &Trouble{Reason: NoFish}
	}
	return chapmanRobson(c.from(peak+1), level)
}

func chapmanRobson(c Counts, level float64) (Survival, error) {
	s := Survival{Estimate: Estimate{FirstAge: c.First, Ages: len(c.Number)}, Classes: len(c.Number)}
	for x, n := range c.Number {
		s.Fish += n
		s.Total += float64(x) * n
	}
	n, t := s.Fish, s.Total
	if c.Plus {
		n -= c.Number[len(c.Number)-1]
	}
	if n < 3 {
		return s, &Trouble{TooFewFish, c.First, len(c.Number), s.Fish}
	}
	if len(c.Number) < 2 || t < 1 {
		return s, &Trouble{TooFewAges, c.First, len(c.Number), s.Fish}
	}
	s.S = t / (n + t - 1)
	s.SES = math.Sqrt(s.S * (s.S - (t-1)/(n+t-2)))
	s.Z = -math.Log(s.S) - (n-1)*(n-2)/(n*(t+1)*(n+t-1))
	s.SE = -math.Expm1(-s.Z) / math.Sqrt(n*math.Exp(-s.Z))
	s.ChiSquare = geometricFit(c.Number, s.Fish, s.S)
	over := s.ChiSquare / float64(s.Classes-1)
	s.Overdispersion = record.Some(over)
	factor := math.Sqrt(math.Max(1, over))
	s.SES, s.SE = s.SES*factor, s.SE*factor
	half := dist.NormalQuantile((1+level)/2) * s.SE
	s.Low, s.High = math.Max(s.Z-half, 0), s.Z+half
	return s, nil
}

// geometricFit is χ² of counts against n (1 − S) S^x with its tail in the last.
func geometricFit(number []float64, n, s float64) float64 {
	sum, left := 0.0, n
	for x, got := range number {
		want := left * (1 - s)
		if x == len(number)-1 {
			want = left
		}
		sum += (got - want) * (got - want) / want
		left *= s
	}
	return sum
}

func checkLevel(level float64) {
	if !(level > 0 && level < 1) {
		panic(fmt.Sprintf("mortality: an interval at level %v", level))
	}
}

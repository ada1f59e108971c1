package origin

import (
	"fmt"
	"strings"
)

// Reason is why there is no answer, or what to doubt in one.
type Reason uint8

// The reasons. The zero Reason is none.
const (
	OneNursery     Reason = iota + 1 // fewer than two nurseries
	EmptyNursery                     // a nursery without a fish that has every tracer
	TooFewFish                       // too few baseline fish for the spread of the tracers
	Constant                         // a tracer that never varies within nurseries
	Collinear                        // a tracer that follows from the others
	NotPositive                      // a logarithm of a value that isn't above 0
	NotFinite                        // a value or weight that is no number, or a weight under 0
	UnitMistake                      // values a thousand times off, as by another unit
	NoTracers                        // no tracer, or more than 64
	NothingMixed                     // no mixed fish with a weight, a tracer and a place in the baseline
	LacksTracer                      // baseline fish left out: a tracer was not measured
	MixedLacks                       // mixed fish held against marginal densities: a tracer was not measured
	NoYearClass                      // baseline fish left out: year class unknown
	UnseenYear                       // mixed fish of a cohort that a nursery's baseline lacks
	UnknownCohort                    // mixed fish of unknown cohort: held against any year class
	YearsUnknown                     // no nursery has two year classes: what a year changes can't be seen
	NoHeldOutScore                   // too few fish to hold one out
	NotSettled                       // an iteration or a chain did not come to its end
	NoAges                           // no mixed fish in the composition has an age in the range asked for
)

var reasons = [...]string{
	OneNursery:     "a composition needs a baseline of at least two nurseries",
	EmptyNursery:   "a nursery has no baseline fish with every tracer measured",
	TooFewFish:     "there are too few baseline fish to tell how far the tracers scatter within a nursery; assay more of them, or use fewer tracers",
	Constant:       "a tracer never varies within a nursery; leave it out, or look whether its values were filled in",
	Collinear:      "a tracer follows from the others, as parts of a whole do; leave it out",
	NotPositive:    "a tracer whose logarithm is to be taken has a value that isn't above 0",
	NotFinite:      "a value is not a number, or a weight is under 0",
	UnitMistake:    "values lie a thousand times off the others of their nursery, as if typed in another unit; mend the unit",
	NoTracers:      "there must be between 1 and 64 tracers",
	NothingMixed:   "no mixed fish with a weight has a tracer and a place in the baseline",
	LacksTracer:    "baseline fish were left out, for a tracer was not measured",
	MixedLacks:     "mixed fish were held against the tracers they have, for one was not measured",
	NoYearClass:    "baseline fish were left out, for their year class is unknown",
	UnseenYear:     "mixed fish are of a year class that the baseline of a nursery lacks; their answer is wider",
	UnknownCohort:  "mixed fish of unknown year class were held against any year class; their answer is wider",
	YearsUnknown:   "no nursery has baseline fish of two year classes, so nothing tells how far year classes differ",
	NoHeldOutScore: "there are too few baseline fish to hold one out, so nothing tells how well the nurseries part",
	NotSettled:     "the iteration did not settle",
	NoAges:         "no mixed fish in the composition has an age in the range asked for",
}

// String is the reason in words.
func (r Reason) String() string {
	if r < 1 || int(r) >= len(reasons) {
		return fmt.Sprintf("Reason(%d)", uint8(r))
	}
	return reasons[r]
}

// Trouble is why there is no answer.
type Trouble struct {
	Reason  Reason
	Nursery string // where the reason is about one
	Tracer  string // where the reason is about one
	Fish    []int  // indices into the baseline, where the reason is about fish
}

// Error is the reason in words, with nursery and tracer.
func (t *Trouble) Error() string {
	var about []string
	if t.Nursery != "" {
		about = append(about, "nursery "+t.Nursery)
	}
	if t.Tracer != "" {
		about = append(about, "tracer "+t.Tracer)
	}
	if len(t.Fish) > 0 {
		about = append(about, fmt.Sprintf("%d fish", len(t.Fish)))
	}
	if len(about) == 0 {
		return "no origin: " + t.Reason.String()
	}
	return fmt.Sprintf("no origin: %v (%s)", t.Reason, strings.Join(about, ", "))
}

// Doubt is what to know about an answer.
type Doubt struct {
	Reason  Reason
	Nursery int   // index; -1: not about one
	Tracer  int   // index; -1: not about one
	Year    int   // year class; 0: not about one
	Known   []int // baseline fish concerned, by index
	Mixed   []int // mixed fish concerned, by index
}

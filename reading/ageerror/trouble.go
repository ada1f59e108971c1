package ageerror

import "fmt"

// Reason is why ageing error can't be estimated.
type Reason uint8

// The reasons. The zero Reason is none.
const (
	NoSecondReading   Reason = iota + 1 // no fish was read twice, and none is of known age
	AllAgree                            // every second reading repeats the first
	OneAge                              // fewer than two true ages
	TooFewFish                          // no more fish than parameters
	ParametersAtBound                   // a reader's SD ran to nothing or past all bounds, pooled or not
	NotConverged                        // no start reached an optimum
	OutOfRange                          // a count, age or number of fish that can't be
)

// String is the reason in words.
func (r Reason) String() string {
	switch r {
	case NoSecondReading:
		return "no stone was read twice and no fish is of known age, so nothing tells how far the readers scatter; have some stones read again"
	case AllAgree:
		return "every second reading repeats the first, so the scatter is too small to be estimated from these stones; have more of the older ones read again"
	case OneAge:
		return "ageing error needs at least two true ages"
	case TooFewFish:
		return "there are no more fish than parameters to estimate; have more stones read twice"
	case ParametersAtBound:
		return "the scatter of the readers ran to the edge of what is possible; have more stones read by two or more readers"
	case NotConverged:
		return "the search did not settle from any start"
	case OutOfRange:
		return "the readings contain a value that can't be"
	}
	return "unknown reason"
}

// Trouble is the error of Estimate.
type Trouble struct {
	Reason Reason
	Detail string
}

// Error is the reason in words, with the detail where there is one.
func (t *Trouble) Error() string {
	if t.Detail == "" {
		return t.Reason.String()
	}
	return fmt.Sprintf("%v: %s", t.Reason, t.Detail)
}

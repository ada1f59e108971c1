package key

import "fmt"

// Reason is why there is no key, or why it is doubtful.
type Reason int

// The reasons. The zero value is none of them.
const (
	NoAges     Reason = iota + 1 // no fish with both a bin and an age
	NoReadings                   // a key of true ages was asked for, and no fish has a reading
	NoLengths                    // the year without ages has no measured fish
	NotShared                    // lengths were measured where the key year has no fish of any age
	OneAge                       // all aged fish are of one age: the key is 1 there, which says little
	NoSpread                     // all aged fish lie in one bin: age cannot follow length
	Separated                    // one age is split from all older ones by length; a ridge holds the slope
	OneStratum                   // a comparison of strata was asked for, and only one has aged fish
	FewTrips                     // fewer trips with aged fish than folds
	NotSettled                   // the iteration did not come to its end
)

var reasons = [...]string{
	NoAges:     "there are no aged fish",
	NoReadings: "no fish has a reading",
	NoLengths:  "there are no measured fish",
	NotShared:  "fish were measured at lengths at which the key year aged none",
	OneAge:     "all aged fish are of one age",
	NoSpread:   "all aged fish are of one length bin",
	Separated:  "length splits one age from all older ones",
	OneStratum: "only one stratum has aged fish",
	FewTrips:   "there are fewer trips with aged fish than folds",
	NotSettled: "the iteration did not settle",
}

func (r Reason) String() string {
	if r < 1 || int(r) >= len(reasons) {
		return fmt.Sprintf("Reason(%d)", int(r))
	}
	return reasons[r]
}

// Trouble is a key that cannot be had, or what to doubt in one that can.
type Trouble struct {
	Reason Reason
	Age    int     // age class, where the reason is about one
	Fish   float64 // fish there were
	Bins   int     // bins concerned, where the reason is about bins
	Trips  int     // trips there were, where the reason is about trips
}

func (t *Trouble) Error() string { return "no age–length key: " + t.Reason.String() }

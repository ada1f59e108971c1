package growth

import (
	"errors"
	"fmt"
	"slices"

	"earstone/statistics/optimise"
)

// Reason is why there is no growth curve.
type Reason int

// The reasons. The zero value is none of them.
const (
	TooFewFish       Reason = iota + 1 // not more fish than parameters
	TooFewAges                         // fewer different ages than parameters, in one of the groups
	NoOldFish                          // the fish are too young to fix the largest length
	NoYoungFish                        // the fish are too old to fix how they came to their length
	ParameterAtBound                   // a parameter ran to the end of its range
	TradeOff                           // parameters can move together and the fit stays
	NoScatter                          // the lengths lie on the curve: no error to estimate
	NotConverged                       // the search came to no end
	Designed                           // a likelihood was asked of fish with unequal design weights
	OneGroup                           // a comparison of groups was asked for, and there is one
)

var reasons = [...]string{
	TooFewFish:       "too few fish",
	TooFewAges:       "too few different ages",
	NoOldFish:        "no old fish",
	NoYoungFish:      "no young fish",
	ParameterAtBound: "a parameter ran to the end of its range",
	TradeOff:         "parameters trade off",
	NoScatter:        "the lengths do not scatter",
	NotConverged:     "not converged",
	Designed:         "unequal design weights",
	OneGroup:         "one group only",
}

// String is the reason in a few words.
func (r Reason) String() string {
	if r < 1 || int(r) >= len(reasons) {
		return fmt.Sprintf("Reason(%d)", int(r))
	}
	return reasons[r]
}

// Trouble is a growth curve that can't be had, with what a sentence for people
// needs.
type Trouble struct {
	Reason           Reason
	Model            Model
	Parameter        string  // the foremost parameter concerned, empty where none is
	Value            float64 // where it stood
	Fish             float64
	Youngest, Oldest float64 // ages of the fish
}

// Error is the trouble in a sentence.
func (t *Trouble) Error() string {
	fish := fmt.Sprintf("no growth curve (%v): ", t.Model)
	if t.Model == 0 { // of back-calculated lengths
		fish = "no lengths at annuli: "
	}
	switch t.Reason {
	case TooFewFish:
		return fish + fmt.Sprintf("%v fish are too few for the parameters", t.Fish)
	case TooFewAges:
		return fish + fmt.Sprintf("the %v fish have too few different ages for the parameters", t.Fish)
	case NoOldFish:
		return fish + fmt.Sprintf("the oldest of %v fish is %.3g, too young to fix the largest length", t.Fish, t.Oldest)
	case NoYoungFish:
		return fish + fmt.Sprintf("the youngest of %v fish is %.3g, too old to fix %s", t.Fish, t.Youngest, t.Parameter)
	case ParameterAtBound:
		return fish + fmt.Sprintf("%s ran to %.4g, the end of its range", t.Parameter, t.Value)
	case TradeOff:
		return fish + fmt.Sprintf("%s can move together with other parameters without changing the fit", t.Parameter)
	}
	return fish + t.Reason.String()
}

// trouble puts the end of a search into the field's words. What ran away says
// which fish are missing: a largest length without bound, or a rate without
// lower bound, means that growth has not yet slowed down; a rate without upper
// bound, or an age of no length far from the fish, that it is over already.
func (l *layout) trouble(err error, fit optimise.Fit, r reach, fish float64) error {
	t := &Trouble{Reason: NotConverged, Model: l.curve.Model, Fish: fish, Youngest: r.youngest, Oldest: r.oldest}
	var e *optimise.Error
	concerned, flat := fit.AtBound, false
	if errors.As(err, &e) && (e.Reason == optimise.Flat || e.Reason == optimise.NotPositiveDefinite) {
		t.Reason, flat = TradeOff, true
		concerned = append(slices.Clone(concerned), e.Parameters...)
	}
	if len(fit.AtBound) > 0 {
		t.Reason = ParameterAtBound
	}
	if err == nil && len(fit.AtBound) == 0 {
		return nil
	}
	for _, k := range slices.Backward(concerned) { // the first one concerned has the last word
		t.Parameter, t.Value = l.name(k), fit.X[k]
	}
	for _, k := range concerned {
		name := l.name(k)
		low, high, _ := r.limits(name)
		x := fit.X[k]
		switch {
		case name == "Linf" && (x >= high/2 || flat && x > 1.5*r.longest), (name == "K" || name == "k2") && x <= 2*low:
			t.Reason, t.Parameter, t.Value = NoOldFish, name, x
			return t
		case (name == "K" || name == "k1") && x >= high/2, (name == "t0" || name == "ti") && x <= low,
			flat && (name == "K" || name == "t0" || name == "ti") && t.Reason != ParameterAtBound:
			t.Reason, t.Parameter, t.Value = NoYoungFish, name, x
		}
	}
	return t
}

package optimise

import (
	"fmt"
	"strings"
)

// Reason is why an optimum can't be had.
type Reason int

// The reasons.
const (
	NotConverged        Reason = iota + 1 // came to rest on a slope, or ran out of iterations
	NotFinite                             // the function has no value at the start
	Flat                                  // parameters can move without the value changing
	NotPositiveDefinite                   // the Hessian is not that of a minimum
	BetterElsewhere                       // a profile came below the optimum that it started from
)

// String is the reason in a few words.
func (r Reason) String() string {
	switch r {
	case NotConverged:
		return "not converged"
	case NotFinite:
		return "no value at the start"
	case Flat:
		return "flat valley"
	case NotPositiveDefinite:
		return "not positive definite"
	case BetterElsewhere:
		return "better optimum elsewhere"
	}
	return "unknown reason"
}

// Error is trouble with an optimum. Parameters are numbered from 0.
type Error struct {
	Reason     Reason
	Parameters []int   // which run away or trade off, the foremost first
	Value      float64 // where the foremost stands; the function's value for NotFinite and BetterElsewhere
	Scaled     float64 // scaled gradient of NotConverged
	Iterations int
}

// Error is the trouble in a sentence. Callers who know what the parameters are
// called write their own from Reason and Parameters.
func (e *Error) Error() string {
	switch e.Reason {
	case NotConverged:
		return fmt.Sprintf("not converged: scaled gradient still %.2g after %d iterations", e.Scaled, e.Iterations)
	case NotFinite:
		return fmt.Sprintf("no value at the start: the function is %v there or has no slope", e.Value)
	case Flat:
		if len(e.Parameters) == 1 {
			return fmt.Sprintf("flat valley: parameter %d runs to %.4g and the fit no longer changes with it", e.Parameters[0], e.Value)
		}
		return fmt.Sprintf("flat valley: parameters %s can move together without changing the fit", list(e.Parameters))
	case NotPositiveDefinite:
		if len(e.Parameters) == 1 {
			return fmt.Sprintf("not positive definite: parameter %d runs to no optimum, the fit does not worsen when it moves", e.Parameters[0])
		}
		return fmt.Sprintf("not positive definite: parameters %s run together to no optimum", list(e.Parameters))
	case BetterElsewhere:
		return fmt.Sprintf("better optimum elsewhere: the profile reached the value %.6g, below the optimum it started from", e.Value)
	}
	return e.Reason.String()
}

func list(parameters []int) string {
	words := make([]string, len(parameters))
	for i, p := range parameters {
		words[i] = fmt.Sprint(p)
	}
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " and " + words[last]
}

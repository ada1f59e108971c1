// Package optimise finds the lowest point of a smooth function of a few bounded parameters.
package optimise

import (
	"fmt"
	"math"
	"slices"
)

// Objective is the function to be made small: a sum of squares, a negative
// log-likelihood. It returns the value at x and fills grad with its slopes; grad
// is nil where only the value is asked for. NaN or +Inf say that x is outside
// where the function lives: the step is then shortened. x must not be kept or
// changed.
type Objective func(x, grad []float64) float64

// Settings of a minimisation. The zero value is the documented default.
type Settings struct {
	// Low and High bound each parameter; nil is without bounds. A parameter with
	// equal bounds, or bounds within 1e-9 of its scale, is held.
	Low, High []float64
	// Scale is the size of a change that matters in each parameter, above 0;
	// nil takes |start|, and 1 where start is 0.
	Scale []float64
	// Tolerance is the scaled gradient at which a point counts as the optimum;
	// 0 means 1e-6. Newton steps then go on to a hundredth of it as far as
	// rounding lets them.
	Tolerance float64
	// Iterations is the most there may be; 0 means 500.
	Iterations int
}

// Fit is where a minimisation came to rest.
type Fit struct {
	X        []float64
	Value    float64
	Gradient []float64
	// Scaled is the largest |gradient_i| · max(|x_i|, scale_i) / max(|value|, 1)
	// over parameters that a bound does not hold.
	Scaled      float64
	Scale       []float64 // the settings' Scale or what stood for it
	AtBound     []int     // parameters that a bound holds, equal bounds included
	Iterations  int
	Evaluations int
	// Optima are the different optima that several starts led to, best first;
	// Minimise leaves it empty. More than one is to be told to the user.
	Optima []Optimum
}

// Optimum is one of the points that several starts led to.
type Optimum struct {
	X      []float64
	Value  float64
	Starts int // number of starts that came here
}

// Minimise finds a local minimum of f from a start: BFGS within the bounds (a
// parameter whose slope presses it against its bound is held there, the others
// move), then Newton steps on the free ones. A parameter that ran to where it no
// longer matters is put back to its start once.
//
// The start is moved into the bounds. Panics on slices of different lengths, on
// crossed bounds and on a scale that is not above 0. On trouble the Fit is the best point
// met and the error is an *Error: NotFinite at the start, NotConverged, or Flat
// where the optimum is a valley rather than a point.
//
// Bertsekas (1982), projected Newton; Nocedal & Wright (2006), sections 6.1 and
// 18.3 (damped update); Dennis & Schnabel (1983), section 7.2 (scaled gradient).
func Minimise(f Objective, start []float64, s Settings) (Fit, error) {
	fit, err := minimise(f, start, s)
	e, ok := err.(*Error)
	if !ok || e.Reason != Flat || len(e.Parameters) > 1 {
		return fit, err
	}
	// A parameter may have run off only because the others began far from where
	// they belong: it gets a second start now that they are there.
	again := slices.Clone(fit.X)
	again[e.Parameters[0]] = start[e.Parameters[0]]
	s.Scale = fit.Scale
	if second, err := minimise(f, again, s); err == nil && second.Value < fit.Value {
		second.Iterations += fit.Iterations
		second.Evaluations += fit.Evaluations
		return second, nil
	}
	return fit, err
}

func minimise(f Objective, start []float64, s Settings) (Fit, error) {
	p := newPath(f, start, s)
	if !finite(p.value) || !allFinite(p.grad) {
		return p.fit(), &Error{Reason: NotFinite, Value: p.value}
	}
	p.descend()
	hessian, noise := p.polish()
	fit := p.fit()
	if fit.Scaled > p.tolerance {
		return fit, &Error{Reason: NotConverged, Scaled: fit.Scaled, Iterations: fit.Iterations}
	}
	if flat := p.flat(hessian, noise); len(flat) > 0 {
		return fit, &Error{Reason: Flat, Parameters: flat, Value: fit.X[flat[0]]}
	}
	return fit, nil
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

func allFinite(x []float64) bool {
	for _, v := range x {
		if !finite(v) {
			return false
		}
	}
	return true
}

// checkShapes panics on settings that do not fit the start.
func checkShapes(n int, s Settings) {
	for _, part := range [][]float64{s.Low, s.High, s.Scale} {
		if part != nil && len(part) != n {
			panic(fmt.Sprintf("optimise: %d settings for %d parameters", len(part), n))
		}
	}
	for i := range n {
		if s.Low != nil && s.High != nil && !(s.Low[i] <= s.High[i]) {
			panic(fmt.Sprintf("optimise: parameter %d bounded by %v and %v", i, s.Low[i], s.High[i]))
		}
		if s.Scale != nil && !(s.Scale[i] > 0 && finite(s.Scale[i])) {
			panic(fmt.Sprintf("optimise: parameter %d has scale %v", i, s.Scale[i]))
		}
	}
}

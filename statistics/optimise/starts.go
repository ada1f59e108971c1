package optimise

import (
	"math"
	"slices"
)

// Starts minimises from several starts, in their order, and keeps the best
// converged point; Optima of the Fit lists the different ones, best first, with
// the number of starts that led to each. More than one means that the function
// has several dips: say so to the user.
//
// Optima are the same when their values agree within 1e-6 and their parameters
// within 1e-3, both relative to their size. Where no start
// converges the error is that of the start that came lowest. Panics on no start.
func Starts(f Objective, starts [][]float64, s Settings) (Fit, error) {
	if len(starts) == 0 {
		panic("optimise: no start")
	}
	var best Fit
	var trouble error
	var optima []Optimum
	have, converged := false, false
	for _, start := range starts {
		fit, err := Minimise(f, start, s)
		ok := err == nil
		if !have || ok && !converged || ok == converged && lower(fit.Value, best.Value) {
			best, trouble, have, converged = fit, err, true, ok || converged
		}
		if ok {
			optima = count(optima, fit)
		}
	}
	slices.SortStableFunc(optima, func(a, b Optimum) int {
		switch {
		case a.Value < b.Value:
			return -1
		case a.Value > b.Value:
			return 1
		}
		return 0
	})
	best.Optima = optima
	return best, trouble
}

// lower says whether a is below b, any number being below none.
func lower(a, b float64) bool { return a < b || math.IsNaN(b) && !math.IsNaN(a) }

// count adds a fit to the optimum that it is, or to the list.
func count(optima []Optimum, fit Fit) []Optimum {
	for k := range optima {
		if same(optima[k], fit) {
			optima[k].Starts++
			if fit.Value < optima[k].Value {
				optima[k].X, optima[k].Value = fit.X, fit.Value
			}
			return optima
		}
	}
	return append(optima, Optimum{X: fit.X, Value: fit.Value, Starts: 1})
}

func same(o Optimum, fit Fit) bool {
	if math.Abs(o.Value-fit.Value) > 1e-6*math.Max(math.Abs(fit.Value), 1) {
		return false
	}
	for i, x := range fit.X {
		if math.Abs(o.X[i]-x) > 1e-3*math.Max(math.Abs(x), 0.1*fit.Scale[i]) {
			return false
		}
	}
	return true
}

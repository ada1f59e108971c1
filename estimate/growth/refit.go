package growth

import (
	"fmt"
	"math"

	"earstone/statistics/optimise"
)

// Work refits a curve to the same rows counted otherwise, as a bootstrap of trips
// does a thousand times. It belongs to one worker and holds every buffer.
type Work struct {
	Estimates []float64 // groups × parameters, row by row, of the last refit
	Scale     float64   // of the last refit

	fit     *Fit
	k       likelihood
	climber *scoring
	weights []float64
	x       []float64
}

// NewWork is a worker that begins each refit at the fit, which may serve many
// workers. Panics on a fit in trouble, a conditional or a random one.
func (f *Fit) NewWork() *Work {
	if f.likelihood == nil || f.covariance == nil {
		panic("growth: no refits of a fit that did not come from FitCurve whole")
	}
	w := &Work{fit: f, k: *f.likelihood, Estimates: make([]float64, len(f.Estimates)), x: make([]float64, len(f.x))}
	spots := len(w.k.age)
	w.weights, w.k.weight = make([]float64, len(w.k.y)), make([]float64, len(w.k.y))
	w.k.sum, w.k.mean, w.k.ss, w.k.mu = make([]float64, spots), make([]float64, spots), make([]float64, spots), make([]float64, spots)
	w.k.p, w.k.slope = make([]float64, len(w.k.held)), make([]float64, len(w.k.slope))
	w.climber = newScoring(&w.k, f.reach)
	return w
}

// Refit is the curve of highest likelihood when row i holds counts[i] fish, each
// with its design weight; it fills Estimates and Scale.
//
// It comes within 1e-3 standard errors of what FitCurve finds from there. On
// trouble, a *Trouble, Estimates are where it stopped: leave the replicate out
// and count it, since fits fail most where the truth is extreme. Panics when
// counts has another length than the rows. Allocates nothing but the trouble.
func (w *Work) Refit(counts []float64) error {
	if len(counts) != len(w.weights) {
		panic(fmt.Sprintf("growth: %d counts for %d rows", len(counts), len(w.weights)))
	}
	fish := 0.0
	for i, n := range counts {
		fish += n
		w.weights[i] = n
		if w.fit.design != nil {
			w.weights[i] *= w.fit.design[i]
		}
	}
	copy(w.x, w.fit.x)
	w.k.weigh(w.weights)
	enough := fish > float64(w.fit.Parameters)
	climbed := enough && w.climber.climb(w.x, 1e-11, 200)
	np := len(w.k.held)
	for g := range w.fit.Groups {
		w.k.read(w.Estimates[g*np:(g+1)*np], w.x, g)
	}
	w.Scale = math.Exp(w.x[w.k.n])
	if climbed && !w.atBound() {
		return nil
	}
	return w.trouble(fish, enough)
}

func (w *Work) atBound() bool {
	for k := range w.k.n {
		if w.x[k] <= w.climber.low[k] || w.x[k] >= w.climber.high[k] {
			return true
		}
	}
	return false
}

func (w *Work) trouble(fish float64, enough bool) error {
	r := w.fit.reach
	if !enough {
		return &Trouble{Reason: TooFewFish, Model: w.fit.Curve.Model, Fish: fish, Youngest: r.youngest, Oldest: r.oldest}
	}
	end := optimise.Fit{X: w.x}
	for k := range w.k.n {
		if w.x[k] <= w.climber.low[k] || w.x[k] >= w.climber.high[k] {
			end.AtBound = append(end.AtBound, k)
		}
	}
	return w.k.trouble(&optimise.Error{Reason: optimise.NotConverged}, end, r, fish)
}

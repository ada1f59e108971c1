package growth

import (
	"fmt"
	"math"

	"earstone/programme/record"
	"earstone/statistics/optimise"
)

// FitRandom is the curve of highest likelihood when lengths of one fish go
// together because fish differ in their largest length,
//
//	l_ij = (L∞ + b_i) q(a_ij) + e_ij,  b_i ~ N(0, τ²),  e_ij ~ N(0, s²),
//
// q the curve with L∞ = 1. It is what back-calculated lengths need, many from one
// fish, whose number overstates what they tell. The lengths of a fish are jointly
// normal, so that the likelihood is exact; fish[row] is the number of the fish
// from 0. AsymptoteSD of the fit is τ, Scale is s, Fish counts fish, and AICc
// counts both SDs and takes the number of lengths for n.
//
// Scatter is ConstantSD. Settings.Apart lets groups differ, a fish being of one
// group. Trouble: as FitCurve; ParameterAtBound with "asymptote SD" where τ is 0,
// that is where the lengths of a fish do not go together. Panics as FitCurve does,
// on counts or weights, on Schnute, which has no largest length, and on a fish of
// two groups.
//
// Laird & Ware (1982), Biometrics 38 (citation from memory). Methods, section 7.
func FitRandom(d Data, fish []int, s Settings) (Fit, error) {
	d.check()
	if s.scatter() != ConstantSD || s.Model == Schnute || d.Count != nil || d.Weight != nil || len(fish) != len(d.Age) {
		panic(fmt.Sprintf("growth: random asymptote of %v with scatter %v, %d rows of %d", s.Model, s.scatter(), len(fish), len(d.Age)))
	}
	plain, err := FitCurve(d, s)
	f := plain
	f.AICc, f.covariance, f.likelihood = record.Number{}, nil, nil
	if err != nil {
		return f, err
	}
	k := newRandom(d, fish, f.layout)
	f.Fish = 0
	for _, rows := range k.rows {
		if len(rows) > 0 {
			f.Fish++
		}
	}
	f.Parameters++
	n := f.layout.n
	low, high, unit := f.layout.bounds(f.reach, n+2)
	for i := range n {
		unit[i] = math.Sqrt(plain.covariance[i*(n+1)+i])
	}
	high[n], high[n+1] = math.Log(10*f.reach.longest), math.Log(10*f.reach.longest)
	low[n], low[n+1] = math.Log(1e-7*f.reach.longest), math.Log(1e-7*f.reach.longest)
	var starts [][]float64
	for _, share := range [...]float64{0.3, 1, 3} { // τ against s
		x := append(append([]float64(nil), plain.x[:n]...), math.Log(plain.Scale/math.Sqrt(1+share*share/2)), math.Log(share*plain.Scale/math.Sqrt(1+share*share/2)))
		starts = append(starts, x)
	}
	f.sought = newSearch(k.at, starts[1], unit, low, high)
	fit, err := f.sought.run(starts)
	f.Optima = len(fit.Optima)
	return f.randomEnd(k, fit, err, len(d.Age))
}

// randomEnd fills in the fit from where the search ended.
func (f Fit) randomEnd(k *random, fit optimise.Fit, err error, rows int) (Fit, error) {
	n := f.layout.n
	f.x, f.LogLikelihood = fit.X, -fit.Value
	f.Scale, f.AsymptoteSD = math.Exp(f.x[n]), record.Some(math.Exp(f.x[n+1]))
	f.spread()
	if f.AsymptoteSD.X < 1e-4*f.Scale { // the likelihood is level there
		f.AsymptoteSD = record.Some(0)
		return f, &Trouble{Reason: ParameterAtBound, Model: f.Curve.Model, Parameter: "asymptote SD", Fish: f.Fish, Youngest: f.reach.youngest, Oldest: f.reach.oldest}
	}
	if t := f.layout.trouble(err, fit, f.reach, f.Fish); t != nil {
		return f, t
	}
	f.AICc = aicc(f.LogLikelihood, f.Parameters, float64(rows))
	if f.covariance, err = observed(k.at, f.x, f.layout, f.reach); err != nil {
		f.covariance = nil
		return f, f.layout.trouble(err, fit, f.reach, f.Fish)
	}
	return f, nil
}

// AsymptoteSE is the standard error of AsymptoteSD; unknown where that is.
func (f *Fit) AsymptoteSE() record.Number {
	at, size := f.layout.n+1, len(f.x)
	if !f.AsymptoteSD.Known || f.covariance == nil {
		return record.Number{}
	}
	return record.Some(f.AsymptoteSD.X * math.Sqrt(f.covariance[at*size+at]))
}

// random is the likelihood of a random asymptote.
type random struct {
	layout
	d           Data
	rows        [][]int // of each fish
	p, slope    []float64
	byS, byA, r []float64 // slopes of Σq², Σqr and Σr² of a fish by the parameters
}

func newRandom(d Data, fish []int, l layout) *random {
	k := &random{layout: l, d: d}
	for i, f := range fish {
		if f < 0 {
			panic(fmt.Sprintf("growth: row %d is of fish %d", i, f))
		}
		for len(k.rows) <= f {
			k.rows = append(k.rows, nil)
		}
		if len(k.rows[f]) > 0 && d.group(k.rows[f][0]) != d.group(i) {
			panic(fmt.Sprintf("growth: fish %d is of two groups", f))
		}
		k.rows[f] = append(k.rows[f], i)
	}
	np := len(l.held)
	k.p, k.slope, k.byS, k.byA, k.r = make([]float64, np), make([]float64, np), make([]float64, np), make([]float64, np), make([]float64, np)
	return k
}

// at is the negative log-likelihood at the curve's free numbers, log s and log τ.
// With q the curve of L∞ = 1, r the residuals and D = s² + τ² Σq², a fish of n
// lengths gives
//
//	½ [n log 2π + (n − 1) log s² + log D + Σr²/s² − τ² (Σqr)²/(s² D)].
func (k *random) at(x, grad []float64) float64 {
	clear(grad)
	s2, t2, np, value := math.Exp(2*x[k.n]), math.Exp(2*x[k.n+1]), len(k.p), 0.0
	for _, rows := range k.rows {
		if len(rows) == 0 {
			continue
		}
		group := k.d.group(rows[0])
		k.read(k.p, x, group)
		s, a, r2, ok := k.sums(rows)
		if !ok {
			return math.NaN()
		}
		n, d := float64(len(rows)), s2+t2*s
		value += n*halfLog2Pi + ((n-1)*math.Log(s2)+math.Log(d)+r2/s2-t2*a*a/(s2*d))/2
		if grad == nil {
			continue
		}
		for i := range np {
			to := k.index[group*np+i]
			if to < 0 {
				continue
			}
			byD := t2 * k.byS[i]
			grad[to] += (byD/d + k.r[i]/s2 - t2*(2*a*k.byA[i]/d-a*a*byD/(d*d))/s2) / 2
		}
		grad[k.n] += n - 1 + s2/d - r2/s2 + t2*a*a*(1/(s2*d)+1/(d*d))
		grad[k.n+1] += t2*s/d - t2*a*a/(s2*d) + t2*t2*a*a*s/(s2*d*d)
	}
	return value
}

// sums are Σq², Σqr and Σr² of the rows of a fish, with their slopes in byS, byA
// and r.
func (k *random) sums(rows []int) (s, a, r2 float64, ok bool) {
	clear(k.byS)
	clear(k.byA)
	clear(k.r)
	linf := k.p[0]
	for _, i := range rows {
		mu := k.curve.Slope(k.slope, k.d.Age[i], k.p)
		if math.IsNaN(mu) || math.IsInf(mu, 0) {
			return 0, 0, 0, false
		}
		q, e := mu/linf, k.d.Length[i]-mu
		s, a, r2 = s+q*q, a+q*e, r2+e*e
		for j, slope := range k.slope {
			dq := slope / linf
			if j == 0 {
				dq = 0 // q is the curve over L∞
			}
			k.byS[j] += 2 * q * dq
			k.byA[j] += dq*e - q*slope
			k.r[j] -= 2 * e * slope
		}
	}
	return s, a, r2, true
}

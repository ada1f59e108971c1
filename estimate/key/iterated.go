package key

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// KeyYear is counts of one year, by length bin: measured fish, and those of them that
// were aged, bins × ages row by row (empty: none were).
type KeyYear struct {
	Lengths []float64 // all measured fish, the aged ones included
	Aged    []float64
}

// IteratedFit is what another year's key says of a year without ages.
type IteratedFit struct {
	LengthGivenAge []float64 // P(l | a) of the key year, bins × ages; a column sums to 1
	Start          []float64 // shares at age in the key year
	Share          []float64 // p(a) in the year without ages
	SE             []float64 // given P(l | a); 0 for an age whose share is 0; nil where lengths do not tell ages apart
	LogLikelihood  float64   // Σ_l n_l log Σ_a p(a) P(l | a)
	Fitted         []float64 // share of each bin as fitted ...
	Observed       []float64 // ... and as measured
	Key            []float64 // q(a | l), bins × ages; a row of 0 where the key year aged no fish
	Unshared       float64   // fish measured at lengths at which the key year aged none: left out
	Iterations     int
}

// Iterated carries the key of one year to the lengths of another: it holds
// P(l | a) ∝ q(a | l) n_l of the key year and finds the shares p(a) that maximise
// Σ_l n_l log Σ_a p(a) P(l | a) by accelerated EM, p(a) ← Σ_l (n_l/n) p(a) P(l | a) / Σ_a' p(a') P(l | a').
//
// It assumes that growth was the same in both years; only the abundance of ages may
// differ. from is the key year, lengths are those of the year without ages, both
// by bin. The fitted lengths come close to the observed ones but need not equal them:
// shown side by side they tell how far the assumption carries. SE is from the observed
// information and takes P(l | a) for known.
//
// The error is a *Trouble: NoAges, NoLengths, or NotShared when no fish was measured
// at a length that the key year aged. Panics when shapes differ.
//
// Methods, section 5, "No ages this year" (i). Source: Kimura & Chikuni (1987)
// (citation from memory).
func Iterated(from KeyYear, lengths []float64, ages int) (IteratedFit, error) {
	bins := len(lengths)
	if ages < 1 || len(from.Lengths) != bins || len(from.Aged) != bins*ages {
		panic("key: Iterated wants bins of lengths in both years and bins × ages of aged fish")
	}
	if sum(from.Aged) <= 0 {
		return IteratedFit{}, &Trouble{Reason: NoAges}
	}
	if sum(lengths) <= 0 {
		return IteratedFit{}, &Trouble{Reason: NoLengths}
	}
	f := IteratedFit{Observed: make([]float64, bins)}
	f.hold(from, ages)
	shared := append([]float64(nil), lengths...)
	for l := range shared {
		if sum(f.LengthGivenAge[l*ages:(l+1)*ages]) <= 0 {
			f.Unshared, shared[l] = f.Unshared+shared[l], 0
		}
	}
	total := sum(shared)
	if total <= 0 {
		return f, &Trouble{Reason: NotShared, Fish: f.Unshared}
	}
	for l, n := range lengths {
		f.Observed[l] = n / sum(lengths)
	}
	f.iterate(shared, ages)
	f.spread(shared, ages)
	return f, nil
}

// hold works out P(l | a) and the shares at age of the key year.
func (f *IteratedFit) hold(from KeyYear, ages int) {
	f.LengthGivenAge, f.Start = make([]float64, len(from.Aged)), make([]float64, ages)
	Direct(f.LengthGivenAge, from.Aged, ages, 0, nil)
	for at := range f.LengthGivenAge {
		f.LengthGivenAge[at] *= from.Lengths[at/ages]
		f.Start[at%ages] += f.LengthGivenAge[at]
	}
	for at := range f.LengthGivenAge {
		f.LengthGivenAge[at] = over(f.LengthGivenAge[at], f.Start[at%ages])
	}
	total := sum(f.Start)
	for a := range f.Start {
		f.Start[a] = over(f.Start[a], total)
	}
}

// iterate finds the shares, and what follows from them.
func (f *IteratedFit) iterate(n []float64, ages int) {
	f.Share = make([]float64, ages)
	m := densities(f.LengthGivenAge, ages)
	for l, fish := range n {
		if fish > 0 {
			m.add(int32(l), fish)
		}
	}
	f.Iterations, _ = m.fit(f.Share, f.Start, 1e-9)
	f.LogLikelihood = m.likelihood(f.Share)
	f.Fitted, f.Key = make([]float64, len(n)), make([]float64, len(f.LengthGivenAge))
	for l := range n {
		row := f.Key[l*ages : (l+1)*ages]
		for a := range row {
			row[a] = f.Share[a] * f.LengthGivenAge[l*ages+a]
		}
		f.Fitted[l] = sum(row)
		for a := range row {
			row[a] = over(row[a], f.Fitted[l])
		}
	}
}

// densities is a mixture over known densities, a row for each possible observation.
func densities(t []float64, ages int) mixture {
	rows := len(t) / ages
	y := &likely{ages: ages, t: t, lo: make([]int32, rows), hi: make([]int32, rows)}
	for l := range y.hi {
		y.hi[l] = int32(ages - 1)
	}
	m := newMixture(y, rows)
	m.empty()
	return m
}

// spread is the SE of the shares above 0: the inverse of Σ_l n_l d_a d_b / f_l², with
// d_a = P(l | a) − P(l | the last of them), and the last as 1 less the others.
func (f *IteratedFit) spread(n []float64, ages int) {
	var free []int
	for a, p := range f.Share {
		if p > 1e-8 {
			free = append(free, a)
		}
	}
	size := len(free) - 1
	f.SE = make([]float64, ages)
	if size < 1 {
		return
	}
	info, d := mat.NewSymDense(size, nil), make([]float64, size)
	for l, fish := range n {
		if fish <= 0 {
			continue
		}
		row := f.LengthGivenAge[l*ages : (l+1)*ages]
		for i := range d {
			d[i] = (row[free[i]] - row[free[size]]) / f.Fitted[l]
		}
		info.SymRankOne(info, fish, mat.NewVecDense(size, d))
	}
	var factor mat.Cholesky
	var covariance mat.SymDense
	if !factor.Factorize(info) || factor.InverseTo(&covariance) != nil {
		f.SE = nil
		return
	}
	for i := range d {
		f.SE[free[i]] = math.Sqrt(covariance.At(i, i))
	}
	f.SE[free[size]] = math.Sqrt(mat.Sum(&covariance))
}

package ageerror

import (
	"math"
	"slices"
)

// apart gives each reader a parameter set.
func (k *choice) apart() {
	k.set, k.sets = make([]int, k.data.Readers), k.data.Readers
	for r := range k.set {
		k.set[r] = r
	}
	k.columns()
}

// columns sets the parameter set of each column of counts.
func (k *choice) columns() {
	k.core.set = make([]int, 0, len(k.core.set))
	for _, r := range k.data.of() {
		k.core.set = append(k.core.set, k.set[r])
	}
}

// assign gives each reader with enough second readings a parameter set. The others
// together make one more where they have enough between them, else they join the reader
// who has most.
func (k *choice) assign() {
	twice := k.twice()
	k.set, k.sets = make([]int, len(twice)), 0
	var thin []int
	for r, n := range twice {
		if n < k.LeastTwice {
			thin = append(thin, r)
			continue
		}
		k.set[r] = k.sets
		k.sets++
	}
	if len(thin) > 0 {
		pool := k.sets
		if k.sets == 0 || k.between(thin) >= k.LeastTwice {
			k.sets++
		} else {
			pool = k.set[slices.Index(twice, slices.Max(twice))]
		}
		for _, r := range thin {
			k.set[r] = pool
			k.notes = append(k.notes, Note{Pooled, r})
		}
	}
	k.columns()
	k.loosen()
}

// twice is, by reader, the fish read that are of known age or were read again.
func (k *choice) twice() []float64 {
	twice := make([]float64, k.data.Readers)
	for r := range twice {
		twice[r] = k.between([]int{r})
	}
	return twice
}

// between is the fish, read again or of known age, that one of these readers read.
func (k *choice) between(readers []int) float64 {
	of, fish := k.data.of(), 0.0
	for _, p := range k.core.patterns {
		if p.Known < 0 && p.readings() < 2 {
			continue
		}
		for j, c := range p.Counts {
			if c >= 0 && slices.Contains(readers, of[j]) {
				fish += p.N
				break
			}
		}
	}
	return fish
}

// loosen says which sets may be biased: all where enough fish are of known age, else all
// but that of the reader taken as unbiased.
func (k *choice) loosen() {
	k.loose = make([]bool, k.sets)
	if k.fish-k.core.unknown >= k.LeastKnown {
		for s := range k.loose {
			k.loose[s] = true
		}
		return
	}
	reference := k.reference()
	for s := range k.loose {
		k.loose[s] = s != k.set[reference]
	}
	k.notes = append(k.notes, Note{Unbiased, reference})
}

// reference is the reader taken as unbiased.
func (k *choice) reference() int {
	if k.Reference > 0 {
		return k.Reference - 1
	}
	of, read := k.data.of(), make([]float64, k.data.Readers)
	for _, p := range k.core.patterns {
		for j, c := range p.Counts {
			if c >= 0 {
				read[of[j]] += p.N
			}
		}
	}
	return slices.Index(read, slices.Max(read))
}

// first fits forms from what the readings themselves suggest, and from elsewhere where
// that does not end well.
func (k *choice) first(models []Model) *candidate {
	beta, cv := k.votes(), k.scatter()
	best := k.fit(models, beta, k.from(models, cv), fine, 5) // fine: a σ on its way to its least gains next to nothing
	if best.standing == Sound {
		return best
	}
	for _, other := range []float64{0.5 * cv, 2 * cv} {
		c := k.climb(models, k.even(), k.from(models, other), fine, 20)
		if c.standing < best.standing || (c.standing == best.standing && c.value > best.value+rough) {
			best = c
		}
	}
	k.done[len(k.done)-1] = best
	last := &k.tried[len(k.tried)-1]
	last.LogLikelihood, last.AICc, last.Standing = best.value, best.aicc, best.standing
	return best
}

// votes is the share of fish whose mean count is nearest to each age, mixed with a
// tenth of equal shares so that no age is ruled out.
func (k *choice) votes() []float64 {
	beta := k.even()
	for a := range beta {
		beta[a] *= 0.1
	}
	if k.core.unknown == 0 {
		return beta
	}
	for _, p := range k.core.patterns {
		if p.Known < 0 {
			a := math.Round(p.mean()) - float64(k.data.First)
			beta[clamp(a, k.core.ages)] += 0.9 * p.N / k.core.unknown
		}
	}
	return beta
}

func (k *choice) even() []float64 {
	beta := make([]float64, k.core.ages)
	for a := range beta {
		beta[a] = 1 / float64(len(beta))
	}
	return beta
}

func (p Pattern) mean() float64 {
	sum := 0.0
	for _, c := range p.Counts {
		if c >= 0 {
			sum += float64(c)
		}
	}
	return sum / float64(p.readings())
}

// scatter is a CV for all readers: the mean square about each fish's mean, or known age,
// over the mean square age.
func (k *choice) scatter() float64 {
	var square, size float64
	for _, p := range k.core.patterns {
		centre, lost := p.mean(), 1.0
		if p.Known >= 0 {
			centre, lost = float64(p.Known+k.data.First), 0
		}
		room := float64(p.readings()) - lost
		if room <= 0 {
			continue
		}
		for _, c := range p.Counts {
			if c >= 0 {
				square += p.N * (float64(c) - centre) * (float64(c) - centre)
			}
		}
		size += p.N * room * math.Max(centre*centre, 1)
	}
	return math.Min(math.Max(math.Sqrt(square/size), 0.02), 1)
}

// from are parameters of a constant CV in the words of any model, by set.
func (k *choice) from(models []Model, cv float64) [][]float64 {
	theta := make([][]float64, len(models))
	for s, m := range models {
		simple := m
		simple.SD, simple.Bias = ConstantCV, NoBias
		theta[s] = carry(simple, m, []float64{cv})
	}
	return theta
}

// carried are a candidate's parameters in the words of other forms.
func carried(c *candidate, models []Model) [][]float64 {
	theta := make([][]float64, len(models))
	for s, m := range models {
		theta[s] = carry(c.models[s], m, c.theta[s])
	}
	return theta
}

// carry says parameters of one form in those of another, as near as that can be.
func carry(old, m Model, theta []float64) []float64 {
	lo, hi := float64(m.Low), float64(m.High)
	var sd, bias []float64
	switch oldSD := theta[:old.sdParameters()]; {
	case old.SD == m.SD:
		sd = oldSD
	case m.SD == ConstantCV:
		sd = []float64{(old.SDAt(theta, lo) + old.SDAt(theta, hi)) / (math.Max(lo, 1) + hi)}
	default:
		sd = []float64{old.SDAt(theta, lo), old.SDAt(theta, hi), 0}[:m.sdParameters()]
	}
	switch oldBias := theta[old.sdParameters():]; {
	case old.Bias == m.Bias:
		bias = oldBias
	case m.Bias == NoBias:
	case m.Bias == Proportional:
		bias = []float64{old.BiasAt(theta, hi) / hi}
	default:
		bias = []float64{old.BiasAt(theta, lo), old.BiasAt(theta, hi), 0}
	}
	return slices.Concat(sd, bias)
}

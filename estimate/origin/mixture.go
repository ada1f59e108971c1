package origin

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Composition is the shares of nurseries in a set of mixed fish.
type Composition struct {
	Share         []float64 // sums to 1
	SE            []float64 // densities taken for known; nil where the fish don't tell nurseries apart
	LogLikelihood float64   // Σ w ln Σ_k π_k f_k, weights scaled to sum to Effective
	Effective     float64   // (Σw)²/Σw²: fish of equal weight that would tell as much
	Fish          int       // with a weight above 0
	Iterations    int
	Change        float64   // of the largest share in the last iteration
	Converged     bool      // whether it fell to 1e-12 within 10,000
	Trace         []float64 // log-likelihood before each of the first 100 iterations: it never falls

	rate float64 // at which changes fell: the share of the information that is missing
}

// mixture is known densities of fish, each fish's in units of its largest, so that none
// runs under, and what was taken off.
type mixture struct {
	K       int
	density []float64 // fish × K
	top     []float64
	weight  []float64
}

// mixtureOf gathers fish with the weights that of gives; 0 leaves a fish out.
func (f *Fit) mixtureOf(of func(i int) float64) mixture {
	m := mixture{K: f.data.nurseries}
	sum, squares := 0.0, 0.0
	for i := range f.Fish {
		w := of(i)
		if w <= 0 || f.data.seen(i) == 0 || f.outside(i) && !f.settings.KeepOutside {
			continue
		}
		logs := f.Fish[i].LogDensity
		top := logs[largest(logs)]
		for _, l := range logs {
			m.density = append(m.density, math.Exp(l-top))
		}
		m.top, m.weight = append(m.top, top), append(m.weight, w)
		sum, squares = sum+w, squares+float64(w*w)
	}
	for i := range m.weight {
		m.weight[i] *= sum / squares
	}
	return m
}

// compose finds both compositions, by weight and by stones, and who is left out.
func (f *Fit) compose() {
	weight := func(i int) float64 { return f.problem.Mixed[i].Weight }
	f.Composition = f.mixtureOf(weight).maximise()
	f.Unweighted = f.mixtureOf(func(i int) float64 {
		if weight(i) > 0 {
			return 1
		}
		return 0
	}).maximise()
	for k, se := range f.Composition.SE {
		if math.Abs(f.Composition.Share[k]-f.Unweighted.Share[k]) > se {
			f.WeightsMatter = true
		}
	}
	all, out := 0.0, 0.0
	for i := range f.Fish {
		if f.data.seen(i) == 0 {
			continue
		}
		all += weight(i)
		if f.outside(i) {
			f.Outsiders++
			out += weight(i)
		}
	}
	if all > 0 {
		f.OutsideShare = out / all
	}
	if f.Composition.Fish == 0 {
		f.Doubts = append(f.Doubts, Doubt{Reason: NothingMixed, Nursery: -1, Tracer: -1})
	}
}

// maximise finds the shares with the largest likelihood by EM from equal shares,
// π_k ← Σ_i w_i π_k f_ik/Σ_j π_j f_ij / Σ_i w_i. Equal shares and no fish where there
// are none.
//
// Source: Dempster, Laird & Rubin (1977) (from memory).
func (m mixture) maximise() Composition {
	c := Composition{Share: make([]float64, m.K), Fish: len(m.weight)}
	for k := range c.Share {
		c.Share[k] = 1 / float64(m.K)
	}
	for _, w := range m.weight {
		c.Effective += w
	}
	if c.Fish == 0 {
		return c
	}
	next := make([]float64, m.K)
	for c.Iterations < 10000 && !c.Converged {
		likelihood := m.step(next, c.Share)
		if len(c.Trace) < 100 {
			c.Trace = append(c.Trace, likelihood)
		}
		before := c.Change
		c.Change = 0
		for k, p := range next {
			c.Change = math.Max(c.Change, math.Abs(p-c.Share[k]))
		}
		copy(c.Share, next)
		if c.Iterations++; c.Change > 1e-9 && before > 0 {
			c.rate = c.Change / before
		}
		c.Converged = c.Change < 1e-12
	}
	c.LogLikelihood = m.step(next, c.Share)
	c.SE = m.spread(c.Share)
	return c
}

// step fills next with one step of EM from share, and returns the log-likelihood there.
func (m mixture) step(next, share []float64) (likelihood float64) {
	clear(next)
	total := 0.0
	for i, w := range m.weight {
		f := m.density[i*m.K : (i+1)*m.K]
		sum := 0.0
		for k, p := range share {
			sum += float64(p * f[k])
		}
		for k, p := range share {
			next[k] += w * float64(p*f[k]) / sum
		}
		total += w
		likelihood += float64(w * (math.Log(sum) + m.top[i]))
	}
	for k := range next {
		next[k] /= total
	}
	return likelihood
}

// spread is the SE from the observed information in the shares above 0, the last of them
// as 1 less the others: I_jl = Σ w (f_j − f_K)(f_l − f_K)/f².
func (m mixture) spread(share []float64) []float64 {
	se := make([]float64, m.K)
	var free []int
	for k, p := range share {
		if p > 1e-8 {
			free = append(free, k)
		}
	}
	size := len(free) - 1
	if size < 1 {
		return se
	}
	info, e := mat.NewSymDense(size, nil), make([]float64, size)
	for i, w := range m.weight {
		f := m.density[i*m.K : (i+1)*m.K]
		sum := 0.0
		for k, p := range share {
			sum += float64(p * f[k])
		}
		for j := range e {
			e[j] = (f[free[j]] - f[free[size]]) / sum
		}
		info.SymRankOne(info, w, mat.NewVecDense(size, e))
	}
	var factor mat.Cholesky
	var covariance mat.SymDense
	if !factor.Factorize(info) || factor.InverseTo(&covariance) != nil {
		return nil
	}
	for j := range e {
		se[free[j]] = math.Sqrt(covariance.At(j, j))
	}
	se[free[size]] = math.Sqrt(mat.Sum(&covariance))
	return se
}

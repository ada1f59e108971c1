package origin

import (
	"math"
	"slices"

	"earstone/statistics/chain"
	"earstone/statistics/interval"
	"earstone/statistics/stream"
)

// Simulation says how a Bayesian composition is drawn. The zero value is the usual way.
type Simulation struct {
	Chains int       // 0: 4
	Sweeps int       // of each chain; 0: 5000
	BurnIn int       // sweeps of each chain that are thrown away; 0: a fifth
	Prior  []float64 // Dirichlet concentration by nursery; nil: 1/nurseries each, one fish in all
	Inform bool      // mixed fish, as they are drawn to nurseries, also teach their densities
	Level  float64   // of intervals; 0: 0.95
	Seed   uint64

	// Parallel calls f(0) to f(n−1), in any order and at the same time where it likes; nil:
	// one after the other. The answer is the same to the last bit.
	Parallel func(n int, f func(i int))
}

// Simulated is a Bayesian composition.
type Simulated struct {
	Share, SD, Low, High []float64 // by nursery
	Level                float64
	Draws                [][]float64 // one a chain: kept sweeps × nurseries

	Convergence []chain.Diagnosis // by nursery, then that of the log-likelihood
	Judged      []bool            // whether a diagnosis could be had; a share that never moves has none
	Converged   bool              // R-hat up to 1.01, effective sizes at least 100 a chain, for all that could be judged

	Fish   [][]float64 // by mixed fish: posterior, all uncertainty in it; nil for fish outside or with weight 0
	Rounds int         // of memberships and shares in each sweep
}

func (s Simulation) filled(nurseries int) Simulation {
	if s.Chains == 0 {
		s.Chains = 4
	}
	if s.Sweeps == 0 {
		s.Sweeps = 5000
	}
	if s.BurnIn == 0 {
		s.BurnIn = s.Sweeps / 5
	}
	if s.Level == 0 {
		s.Level = 0.95
	}
	if s.Prior == nil {
		s.Prior = slices.Repeat([]float64{1 / float64(nurseries)}, nurseries)
	}
	if s.Parallel == nil {
		s.Parallel = func(n int, f func(i int)) {
			for i := range n {
				f(i)
			}
		}
	}
	return s
}

// Simulate draws the composition of the catch from its posterior by Gibbs sampling.
//
// Shares π ~ Dirichlet(Prior). Fish of nursery k and year class y are normal around μ_ky
// with covariance S_k; μ_ky ~ N(m_k, T), the same T for all nurseries; m_k ~ N(m̄, S_k/0.01)
// around the middle of the baseline; S_k inverse Wishart with d + 2 degrees of freedom and
// the pooled covariance as its mean; T likewise, with a tenth of it. Where years are
// pooled m_k and S_k have the normal–inverse-Wishart posterior and are drawn at once. A
// fish of unseen cohort has a μ_ky that only the spread of year classes holds; one of
// unknown cohort is normal around m_k with S_k + T. Densities are normal whatever Fit.Form
// is. Design weights count fish, scaled to sum to the effective sample: a pseudo-posterior,
// exact where weights are equal.
//
// Unless Inform, the mixed fish teach the densities nothing: each sweep draws these from
// the baseline alone, and then goes through memberships and shares as many Rounds as it
// takes them to follow (95 % of the way, by the rate at which EM closed in). With one
// round the shares would lag behind the densities and look surer than they are. With
// Inform a sweep is one round of everything, and fish that lack a tracer teach nothing.
//
// The error is a *Trouble: NothingMixed. Panics when Prior has another length than the
// nurseries, or BurnIn leaves no sweep.
//
// Methods, section 8. Sources: Diebolt & Robert (1994) for mixtures; Plummer (2015) for
// densities cut off from the mixture (citations from memory).
func (f *Fit) Simulate(s Simulation) (*Simulated, error) {
	K := f.data.nurseries
	s = s.filled(K)
	if len(s.Prior) != K || s.BurnIn >= s.Sweeps {
		panic("origin: a prior of another length, or no sweep after the burn-in")
	}
	if f.Composition.Fish == 0 {
		return nil, &Trouble{Reason: NothingMixed}
	}
	out := &Simulated{Level: s.Level, Draws: make([][]float64, s.Chains), Fish: make([][]float64, len(f.Fish)), Rounds: f.rounds(s)}
	chains := make([]*gibbs, s.Chains)
	likelihood := make([][]float64, s.Chains)
	s.Parallel(s.Chains, func(i int) {
		g := newGibbs(f, s, out.Rounds)
		g.stream.ResetAt(s.Seed, stream.Baseline, i, 1) // part 0 redraws baselines
		out.Draws[i], likelihood[i] = g.run(s)
		chains[i] = g
	})
	for n, i := range chains[0].mixed {
		p := make([]float64, K)
		for _, g := range chains {
			for k := range p {
				p[k] += g.belief[n*K+k] / float64(s.Chains*(s.Sweeps-s.BurnIn))
			}
		}
		out.Fish[i] = p
	}
	out.describe(K, likelihood)
	return out, nil
}

// rounds is how many rounds bring shares to within 5 % of where the densities want them:
// ρⁿ ≤ 0.05 with ρ the share of the information that is missing, at most 100.
func (f *Fit) rounds(s Simulation) int {
	rate := f.Composition.rate
	if s.Inform || rate <= 0 {
		return 1
	}
	if rate >= 1 {
		return 100
	}
	return min(max(int(math.Ceil(math.Log(0.05)/math.Log(rate))), 1), 100)
}

// describe sums up the draws and judges the chains.
func (o *Simulated) describe(K int, likelihood [][]float64) {
	o.Converged = true
	for k := range K {
		var all []float64
		each := make([][]float64, len(o.Draws))
		for c, draws := range o.Draws {
			for at := k; at < len(draws); at += K {
				each[c] = append(each[c], draws[at])
			}
			all = append(all, each[c]...)
		}
		mean, sd := interval.MeanSD(all)
		slices.Sort(all)
		i := interval.Percentile(all, o.Level)
		o.Share, o.SD = append(o.Share, mean), append(o.SD, sd)
		o.Low, o.High = append(o.Low, i.Low), append(o.High, i.High)
		o.judge(each)
	}
	o.judge(likelihood)
}

func (o *Simulated) judge(chains [][]float64) {
	d, known := chain.Examine(chains)
	o.Convergence, o.Judged = append(o.Convergence, d), append(o.Judged, known)
	if known && !d.Settled(len(chains)) {
		o.Converged = false
	}
}

package chain

import "math"

// size is the effective number of draws, S/τ. The correlation at lag t is
// ρ_t = 1 − (W − c_t)/var⁺ with c_t the autocovariance (divisor n) averaged over chains.
// Pairs ρ_2k + ρ_2k+1 are taken while they are positive, made to fall, and summed:
// τ = −1 + 2 Σ ρ_t, the even lag after the last pair once when it is positive, and τ at
// least 1/log₁₀ S. Lags are worked out only as far as they are needed.
func size(chains [][]float64) float64 {
	lags := newLags(chains)
	n := lags.n
	rho := make([]float64, n+2)
	rho[0], rho[1] = 1, lags.at(1)
	even, odd, t := 1.0, rho[1], 0
	for t < n-5 && even+odd > 0 {
		t += 2
		even, odd = lags.at(t), lags.at(t+1)
		if even+odd >= 0 {
			rho[t], rho[t+1] = even, odd
		}
	}
	last := t
	if even > 0 {
		rho[last] = even
	}
	falling(rho, last)
	tau := -1 + rho[last]
	for _, r := range rho[:last] {
		tau += 2 * r
	}
	draws := float64(n * len(chains))
	return draws / math.Max(tau, 1/math.Log10(draws))
}

// falling lets no pair of lags up to last exceed the pair before it.
func falling(rho []float64, last int) {
	for t := 2; t <= last-2; t += 2 {
		before := rho[t-2] + rho[t-1]
		if rho[t]+rho[t+1] > before {
			rho[t], rho[t+1] = before/2, before/2
		}
	}
}

// lags gives the correlations of chains lag by lag.
type lags struct {
	centred [][]float64
	n       int
	within  float64
	plus    float64
}

func newLags(chains [][]float64) lags {
	v := ratio(chains)
	l := lags{n: len(chains[0]), within: v.within, plus: v.plus}
	for _, draws := range chains {
		sum := 0.0
		for _, x := range draws {
			sum += x
		}
		mean := sum / float64(l.n)
		c := make([]float64, l.n)
		for i, x := range draws {
			c[i] = x - mean
		}
		l.centred = append(l.centred, c)
	}
	return l
}

// at is the correlation at lag t.
func (l lags) at(t int) float64 {
	sum := 0.0
	for _, c := range l.centred {
		for i, x := range c[t:] {
			sum += float64(x * c[i])
		}
	}
	covariance := sum / float64(l.n) / float64(len(l.centred))
	return 1 - (l.within-covariance)/l.plus
}

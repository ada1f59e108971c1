// Package chain judges whether simulated chains have come to agree, and how many draws they are worth.
//
// Chains are draws of one quantity in the order in which they were made, one slice a
// chain. Every chain is cut in halves first, so that a single chain that still wanders
// disagrees with itself.
//
// Sources: Vehtari, Gelman, Simpson, Carpenter & Bürkner (2021), Bayesian Analysis
// 16:667-718; Gelman et al. (2013), section 11.4; Geyer (1992) for the pairs of lags
// (citations from memory). Methods, section 8.
package chain

import (
	"math"
	"sort"

	"earstone/statistics/dist"
	"earstone/statistics/interval"
)

// Diagnosis is what the chains of one quantity tell of themselves.
type Diagnosis struct {
	Mean, SD float64 // over all draws

	SplitRHat  float64 // √(((n−1)/n W + B/n)/W) of the draws as they are
	BulkRHat   float64 // the same of the rank-normalised draws
	FoldedRHat float64 // the same of their distances from the median, rank-normalised
	RHat       float64 // the larger of bulk and folded: 1.01 is the usual bound

	ESS      float64 // S/τ: independent draws that would tell the mean as well
	BulkESS  float64 // of the rank-normalised draws: 400 over four chains is the usual least
	LowESS   float64 // of the share of draws up to the 5 % quantile
	HighESS  float64 // of the share up to the 95 % quantile
	TailESS  float64 // the smaller of low and high
	MeanMCSE float64 // SD/√ESS: the error of the mean that comes of drawing no more
}

// Settled says whether the chains agree within the usual bounds: RHat up to 1.01, and
// both effective sizes at least 100 a chain.
func (d Diagnosis) Settled(chains int) bool {
	least := 100 * float64(chains)
	return d.RHat <= 1.01 && d.BulkESS >= least && d.TailESS >= least
}

// Examine diagnoses chains of equal length. known is false, and the diagnosis without
// meaning, where there is nothing to judge: fewer than 8 draws a chain, a draw that is
// not finite, or halves without any spread. A tail in which all draws are tied takes the
// size of the other; where both are, that of the mean. Panics when lengths differ.
func Examine(chains [][]float64) (d Diagnosis, known bool) {
	if len(chains) == 0 {
		return Diagnosis{}, false
	}
	var all []float64
	for _, c := range chains {
		if len(c) != len(chains[0]) {
			panic("chain: chains of different lengths")
		}
		for _, x := range c {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				return Diagnosis{}, false
			}
		}
		all = append(all, c...)
	}
	if len(chains[0]) < 8 {
		return Diagnosis{}, false
	}
	halves := split(chains)
	plain := ratio(halves)
	if !(plain.within > 0) {
		return Diagnosis{}, false
	}
	d.Mean, d.SD = interval.MeanSD(all)
	d.SplitRHat, d.ESS = plain.rhat, size(halves)
	d.MeanMCSE = d.SD / math.Sqrt(d.ESS)
	sort.Float64s(all)
	normal := normalised(halves)
	d.BulkRHat, d.BulkESS = ratio(normal).rhat, size(normal)
	d.FoldedRHat = d.BulkRHat
	if folded := ratio(normalised(split(fold(chains, median(all))))); folded.within > 0 {
		d.FoldedRHat = folded.rhat
	}
	d.RHat = math.Max(d.BulkRHat, d.FoldedRHat)
	d.tails(chains, all)
	return d, true
}

// tails fills in the effective sizes of the two tails.
func (d *Diagnosis) tails(chains [][]float64, sorted []float64) {
	low, lowKnown := upTo(chains, interval.QuantileType7(sorted, 0.05))
	high, highKnown := upTo(chains, interval.QuantileType7(sorted, 0.95))
	switch {
	case lowKnown && !highKnown:
		high = low
	case highKnown && !lowKnown:
		low = high
	case !lowKnown && !highKnown:
		low, high = d.ESS, d.ESS
	}
	d.LowESS, d.HighESS, d.TailESS = low, high, math.Min(low, high)
}

// upTo is the effective size of the share of draws that are at most bound.
func upTo(chains [][]float64, bound float64) (ess float64, known bool) {
	marks := make([][]float64, len(chains))
	for c, draws := range chains {
		marks[c] = make([]float64, len(draws))
		for i, x := range draws {
			if x <= bound {
				marks[c][i] = 1
			}
		}
	}
	halves := split(marks)
	if !(ratio(halves).within > 0) {
		return 0, false
	}
	return size(halves), true
}

// split cuts each chain in halves; of an odd number of draws the middle one is left out.
func split(chains [][]float64) [][]float64 {
	var halves [][]float64
	for _, c := range chains {
		half := len(c) / 2
		halves = append(halves, c[:half])
	}
	for _, c := range chains {
		half := len(c) / 2
		halves = append(halves, c[len(c)-half:])
	}
	return halves
}

// median is the middle of sorted draws. Half the sum of the middle two and not a point
// between them: distances from it must tie where draws lie as far on either side.
func median(sorted []float64) float64 {
	n := len(sorted)
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}

// fold is the distance of each draw from the middle.
func fold(chains [][]float64, middle float64) [][]float64 {
	folded := make([][]float64, len(chains))
	for c, draws := range chains {
		folded[c] = make([]float64, len(draws))
		for i, x := range draws {
			folded[c][i] = math.Abs(x - middle)
		}
	}
	return folded
}

// normalised puts Φ⁻¹((r − 3/8)/(S + 1/4)) in the place of each draw, r its rank among
// all S draws, ties at their mean rank.
func normalised(chains [][]float64) [][]float64 {
	n := len(chains[0])
	order := make([]int, n*len(chains))
	for i := range order {
		order[i] = i
	}
	at := func(i int) float64 { return chains[i/n][i%n] }
	sort.Slice(order, func(i, j int) bool {
		x, y := at(order[i]), at(order[j])
		return x < y || x == y && order[i] < order[j]
	})
	scores := make([][]float64, len(chains))
	for c := range scores {
		scores[c] = make([]float64, n)
	}
	for first := 0; first < len(order); {
		last := first
		for last+1 < len(order) && at(order[last+1]) == at(order[first]) {
			last++
		}
		rank := float64(first+last)/2 + 1
		z := dist.NormalQuantile((rank - 0.375) / (float64(len(order)) + 0.25))
		for _, i := range order[first : last+1] {
			scores[i/n][i%n] = z
		}
		first = last + 1
	}
	return scores
}

// variances are those between and within chains.
type variances struct {
	within, between, plus float64
	rhat                  float64
}

// ratio is W, the mean variance of a chain; B = n var(chain means); the two together,
// var⁺ = (n−1)/n W + B/n; and √(var⁺/W).
func ratio(chains [][]float64) (v variances) {
	n := float64(len(chains[0]))
	means := make([]float64, len(chains))
	for c, draws := range chains {
		mean, sd := interval.MeanSD(draws)
		means[c] = mean
		v.within += sd * sd
	}
	v.within /= float64(len(chains))
	_, sd := interval.MeanSD(means)
	v.between = n * sd * sd
	v.plus = float64((n-1)/n*v.within) + v.between/n
	v.rhat = math.Sqrt(v.plus / v.within)
	return v
}

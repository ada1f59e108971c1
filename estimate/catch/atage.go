package catch

import "math"

// Draw is what one replicate changes: how often each trip was drawn, the factor of
// each stratum's total catch, and the wobble of strata with a single trip. A nil part
// changes nothing.
type Draw struct {
	Trips  []float64 // r_t, one a trip
	Catch  []float64 // one a stratum
	Wobble []float64 // strata × Out(): factor of the share at each age, mean 1
}

// Work holds the buffers of one worker.
type Work struct {
	design *Design
	p      []float64 // p_s(l) of the stratum at hand
	reach  []span    // key strata × bins: ages where the key is not 0
}

type span struct{ low, high int32 }

// NewWork makes the buffers for a design.
func NewWork(d *Design) *Work {
	return &Work{d, make([]float64, d.Bins), make([]span, d.KeyStrata*d.Bins)}
}

// AtAge fills row, of length Size(), with the catch at age of every stratum and margin:
//
//	p_s(l) = Σ_t r_t M_t p_t(l) / Σ_t r_t M_t
//	N_s    = the catch in number, or W_s / Σ_l p_s(l) E[weight | l]
//	C_sa   = N_s Σ_l p_s(l) q_s(a | l)
//
// q is key strata × bins × ages, row by row; a row of zeros says "no key", and its fish
// are counted as unaged. A stratum without any length sample is unaged as a whole; where
// only its weight is known its number is unknown, NaN. Allocates nothing; panics on a
// wrong shape.
//
// Methods, section 6. Source: the definition; the ratio form as in Cochran (1977),
// Sampling Techniques, section 9A.1 (citation from memory).
func (w *Work) AtAge(row, q []float64, draw Draw) {
	d := w.design
	if len(row) != d.Size() || len(q) != d.KeyStrata*d.Bins*d.Ages {
		panic("catch: row or key has the wrong length")
	}
	if !fits(draw.Trips, len(d.Trips)) || !fits(draw.Catch, len(d.Strata)) || !fits(draw.Wobble, len(d.Strata)*d.Out()) {
		panic("catch: a draw of another design")
	}
	w.findReach(q)
	clear(row)
	for s := range d.Strata {
		block := d.Block(row, s)
		w.stratum(block, s, q, draw)
		if draw.Wobble != nil && d.Strata[s].Relative != nil {
			wobble(block, draw.Wobble[s*d.Out():(s+1)*d.Out()])
		}
	}
	for i, margin := range d.Margins {
		sum := d.Block(row, len(d.Strata)+i)
		for _, s := range margin.Strata {
			for j, x := range d.Block(row, int(s)) {
				sum[j] += x
			}
		}
	}
}

// fits tells whether a part of a draw is left out or has its length.
func fits(part []float64, n int) bool { return part == nil || len(part) == n }

// LengthShares fills dst with p_s(l) of stratum s at the trip multiplicities r (nil: all
// 1) and reports whether any fish was measured.
func (d *Design) LengthShares(dst []float64, s int, r []float64) bool {
	clear(dst)
	total := 0.0
	for _, t := range d.Strata[s].Trips {
		trip := &d.Trips[t]
		weight := trip.Landed
		if r != nil {
			weight *= r[t]
		}
		if weight == 0 {
			continue
		}
		total += weight
		p := d.Lengths[int(t)*d.Bins : (int(t)+1)*d.Bins]
		for l := trip.Low; l < trip.High; l++ {
			dst[l] += float64(weight * p[l])
		}
	}
	if total == 0 {
		return false
	}
	for l := range dst {
		dst[l] /= total
	}
	return true
}

func (w *Work) stratum(block Block, s int, q []float64, draw Draw) {
	d := w.design
	stratum := &d.Strata[s]
	sampled := d.LengthShares(w.p, s, draw.Trips)
	number := d.number(stratum, w.p, sampled)
	if draw.Catch != nil {
		number *= draw.Catch[s]
	}
	block[len(block)-1] = number
	if !sampled {
		block[len(block)-2] = number
		return
	}
	counts, lengths, weights := block.Numbers(), block.Lengths(), block.Weights()
	last, unaged := d.Out()-1, 0.0
	for l, p := range w.p {
		if p == 0 {
			continue
		}
		reach := w.reach[stratum.Key*d.Bins+l]
		if reach.low == reach.high {
			unaged += p
			continue
		}
		fish, mid, kg := number*p, d.Mid[l], 0.0
		if d.Weight != nil {
			kg = d.Weight[l]
		}
		row := q[(stratum.Key*d.Bins+l)*d.Ages:][:d.Ages]
		for a := reach.low; a < reach.high; a++ {
			n, out := fish*row[a], min(int(a), last)
			counts[out] += n
			lengths[out] += float64(n * mid)
			weights[out] += float64(n * kg)
		}
	}
	block[len(block)-2] = number * unaged
}

// Number is N_s of stratum s, given its length shares p: the catch in number, or the
// weight over the mean weight of the length sample; NaN where neither is known.
func (d *Design) Number(s int, p []float64) float64 { return d.number(&d.Strata[s], p, true) }

func (d *Design) number(s *Stratum, p []float64, sampled bool) float64 {
	if !s.ByWeight {
		return s.Number
	}
	if mean := d.meanWeight(p); sampled && mean > 0 && !math.IsInf(mean, 0) {
		return s.WeightKg / mean
	}
	return math.NaN()
}

func (d *Design) meanWeight(p []float64) float64 {
	mean := 0.0
	for l, kg := range d.Weight {
		mean += float64(p[l] * kg)
	}
	return mean
}

// wobble scales the share at each age and brings the aged total back to what it was.
func wobble(block Block, factor []float64) {
	before, after := 0.0, 0.0
	numbers := block.Numbers()
	for a, n := range numbers {
		before += n
		after += float64(n * factor[a])
	}
	if after == 0 {
		return
	}
	for a := range numbers {
		scale := factor[a] * before / after
		numbers[a] *= scale
		block.Lengths()[a] *= scale
		block.Weights()[a] *= scale
	}
}

func (w *Work) findReach(q []float64) {
	ages := w.design.Ages
	for i := range w.reach {
		row := q[i*ages : (i+1)*ages]
		low, high := 0, ages
		for low < ages && row[low] == 0 {
			low++
		}
		for high > low && row[high-1] == 0 {
			high--
		}
		w.reach[i] = span{int32(low), int32(high)}
	}
}

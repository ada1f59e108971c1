package catch

import "math"

// KeyCell is the cell of the key that serves one bin of one key stratum. Cells with the
// same ID are one and the same pool of aged fish.
type KeyCell struct {
	ID   int     // −1: no key
	Fish float64 // n_l, aged fish in the cell
	// Variance is q's own variance at each age where n_l = 1 gives none (the smoothed
	// key's); nil elsewhere.
	Variance []float64
}

// Covariance is the analytic covariance of catch at age of a sum over strata: Out() ×
// Out(), row by row, in fish². The two parts are independent by assumption: the product
// of the two variances is neglected.
type Covariance struct {
	Trips, Key []float64
}

// Total adds the parts.
func (c Covariance) Total() []float64 {
	sum := make([]float64, len(c.Trips))
	for i := range sum {
		sum[i] = c.Trips[i] + c.Key[i]
	}
	return sum
}

// Covariance of the catch at age summed over a set of strata, key given as simple
// random sub-samples within bins.
//
//	trips:  Σ_h m_h/(m_h−1) Σ_t (z_t − z̄_h)(z_t − z̄_h)ᵀ, z_t the part that trip t
//	        takes in the sum, linearised over every stratum whose lengths or number use it
//	single: a stratum with one trip adds N_s² R_a p_a² to the diagonal, and N_s² R_u p_a p_b
//	        where N_s is a weight over that trip's mean weight u
//	key:    Σ_cells (Σ_s N_s p_sl)² (diag q − qqᵀ)/(n_l − 1), folded to the kept ages
//
// cells is key strata × bins. A cell with n_l = 1 takes its own Variance on the diagonal.
// Methods, section 6. Source: Cochran (1977), sections 9A.1 and 12 (from memory).
func (d *Design) Covariance(set []int32, q []float64, cells []KeyCell) Covariance {
	k := d.Out()
	c := Covariance{make([]float64, k*k), make([]float64, k*k)}
	z := d.influence(set, q)
	TripCovariance(c.Trips, z, d.Groups())
	for _, s := range set {
		d.addSingle(c.Trips, int(s), q)
	}
	d.addKey(c.Key, set, q, cells)
	return c
}

// Singles sets Relative, and what goes with it, of every stratum with one sampled trip of
// its own from its donors: R_a = Σ m V_a / Σ p_a² over the donor strata with two or more
// trips, Σ (m − 1) its degrees of freedom; R_u of the mean weight likewise. donors names
// them, stratum by stratum; a stratum without any keeps nil.
func (d *Design) Singles(q []float64, donors func(s int) []int) {
	for s := range d.Strata {
		stratum := &d.Strata[s]
		if stratum.Filled || len(stratum.Trips) != 1 {
			continue
		}
		top, bottom := make([]float64, d.Out()), make([]float64, d.Out())
		stratum.RelativeDF, stratum.RelativeNumber = 0, 0
		heavier, heavy := 0.0, 0.0
		for _, donor := range donors(s) {
			share, variance := d.shareVariance(donor, q)
			m := float64(len(d.Strata[donor].Trips))
			u, uVariance := d.weightVariance(donor)
			heavier, heavy = heavier+m*uVariance, heavy+u*u
			stratum.RelativeDF += m - 1
			for a := range top {
				top[a] += m * variance[a]
				bottom[a] += share[a] * share[a]
			}
		}
		var relative []float64
		for a := range top {
			if bottom[a] > 0 {
				if relative == nil {
					relative = make([]float64, d.Out())
				}
				relative[a] = top[a] / bottom[a]
			}
		}
		if stratum.ByWeight && heavy > 0 {
			stratum.RelativeNumber = heavier / heavy
		}
		stratum.Relative, stratum.Wobble = relative, d.wobbleOf(s, relative, q)
	}
}

// wobbleOf is Wobble of a stratum with one trip.
func (d *Design) wobbleOf(s int, relative, q []float64) []float64 {
	if relative == nil {
		return nil
	}
	p, share, aged := make([]float64, d.Bins), make([]float64, d.Out()), 0.0
	d.LengthShares(p, s, nil)
	d.shareAtAge(share, p, d.Strata[s].Key, q)
	for _, x := range share {
		aged += x
	}
	wobble := make([]float64, len(relative))
	for a := range wobble {
		if share[a] > 0 {
			wobble[a] = relative[a] / max(1-share[a]/aged, 0.5)
		}
	}
	return wobble
}

// TripCovariance adds Σ_h m_h/(m_h−1) Σ_{t∈h} (z_t − z̄_h)(z_t − z̄_h)ᵀ to dst, k × k;
// z is trips × k and groups lists the trips of each h. A group of one adds nothing: it
// has no variance of its own.
func TripCovariance(dst, z []float64, groups [][]int32) {
	k := int(math.Round(math.Sqrt(float64(len(dst)))))
	if k*k != len(dst) || k == 0 || len(z)%k != 0 {
		panic("catch: TripCovariance wants dst of k × k and z of trips × k")
	}
	mean := make([]float64, k)
	for _, trips := range groups {
		m := float64(len(trips))
		if m < 2 {
			continue
		}
		clear(mean)
		for _, t := range trips {
			for a := range mean {
				mean[a] += z[int(t)*k+a] / m
			}
		}
		for _, t := range trips {
			row := z[int(t)*k : (int(t)+1)*k]
			for a := range row {
				da := (row[a] - mean[a]) * m / (m - 1)
				for b := range row {
					dst[a*k+b] += float64(da * (row[b] - mean[b]))
				}
			}
		}
	}
}

// influence is z, trips × Out(): how the summed catch at age moves with a trip's weight,
// z_t = Σ_s N_s w_st [(y_ta − y_sa) − y_sa (u_t − u_s)/u_s where N_s follows from weight],
// y_ta = Σ_l p_t(l) q(a|l), u_t = Σ_l p_t(l) E[weight | l].
func (d *Design) influence(set []int32, q []float64) []float64 {
	k := d.Out()
	z := make([]float64, len(d.Trips)*k)
	p, yt := make([]float64, d.Bins), make([]float64, k)
	for _, si := range set {
		s := int(si)
		stratum := &d.Strata[s]
		if !d.LengthShares(p, s, nil) || len(stratum.Trips) == 1 && !stratum.Filled {
			continue
		}
		ys, us := make([]float64, k), d.meanWeight(p)
		d.shareAtAge(ys, p, stratum.Key, q)
		number, landed := d.number(stratum, p, true), 0.0
		for _, t := range stratum.Trips {
			landed += d.Trips[t].Landed
		}
		for _, t := range stratum.Trips {
			pt := d.Lengths[int(t)*d.Bins : (int(t)+1)*d.Bins]
			d.shareAtAge(yt, pt, stratum.Key, q)
			weight := number * d.Trips[t].Landed / landed
			for a := range yt {
				change := yt[a] - ys[a]
				if stratum.ByWeight && us > 0 { // without a mean weight there is no number to move
					change -= ys[a] * (d.meanWeight(pt) - us) / us
				}
				z[int(t)*k+a] += weight * change
			}
		}
	}
	return z
}

// shareAtAge is Σ_l p(l) q(a|l), folded to the kept ages.
func (d *Design) shareAtAge(dst, p []float64, key int, q []float64) {
	clear(dst)
	for l, share := range p {
		if share == 0 {
			continue
		}
		row := q[(key*d.Bins+l)*d.Ages:][:d.Ages]
		for a, qa := range row {
			dst[d.Fold(a)] += float64(share * qa)
		}
	}
}

// shareVariance is the share at age of a stratum and its between-trip variance.
func (d *Design) shareVariance(s int, q []float64) (share, variance []float64) {
	k := d.Out()
	one := *d
	one.Strata = []Stratum{{Number: 1, Trips: d.Strata[s].Trips, Key: d.Strata[s].Key}}
	p := make([]float64, d.Bins)
	share, variance = make([]float64, k), make([]float64, k)
	if !d.LengthShares(p, s, nil) {
		return share, variance
	}
	d.shareAtAge(share, p, d.Strata[s].Key, q)
	covariance := make([]float64, k*k)
	TripCovariance(covariance, one.influence([]int32{0}, q), [][]int32{d.Strata[s].Trips})
	for a := range variance {
		variance[a] = covariance[a*k+a]
	}
	return share, variance
}

// weightVariance is the mean weight of a fish of a stratum and its between-trip variance,
// both 0 without an equation of weight.
func (d *Design) weightVariance(s int) (mean, variance float64) {
	p := make([]float64, d.Bins)
	if d.Weight == nil || !d.LengthShares(p, s, nil) {
		return 0, 0
	}
	mean = d.meanWeight(p)
	landed, trips := 0.0, d.Strata[s].Trips
	for _, t := range trips {
		landed += d.Trips[t].Landed
	}
	if landed == 0 || len(trips) < 2 {
		return mean, 0
	}
	z, group := make([]float64, len(trips)), make([]int32, len(trips))
	for i, t := range trips {
		z[i] = d.Trips[t].Landed / landed * (d.meanWeight(d.Lengths[int(t)*d.Bins:(int(t)+1)*d.Bins]) - mean)
		group[i] = int32(i)
	}
	whole := []float64{0}
	TripCovariance(whole, z, [][]int32{group})
	return mean, whole[0]
}

func (d *Design) addSingle(dst []float64, s int, q []float64) {
	stratum, k := &d.Strata[s], d.Out()
	if stratum.Relative == nil {
		return
	}
	p, share := make([]float64, d.Bins), make([]float64, k)
	d.LengthShares(p, s, nil)
	d.shareAtAge(share, p, stratum.Key, q)
	number := d.number(stratum, p, true)
	for a := range share {
		dst[a*k+a] += number * number * stratum.Relative[a] * share[a] * share[a]
		for b := range share {
			dst[a*k+b] += float64(number * number * stratum.RelativeNumber * share[a] * share[b])
		}
	}
}

func (d *Design) addKey(dst []float64, set []int32, q []float64, cells []KeyCell) {
	if len(cells) != d.KeyStrata*d.Bins {
		panic("catch: one key cell for each key stratum and bin is wanted")
	}
	last := -1
	for _, cell := range cells {
		last = max(last, cell.ID)
	}
	fish, first := make([]float64, last+1), make([]int, last+1)
	p := make([]float64, d.Bins)
	for _, s := range set {
		if !d.LengthShares(p, int(s), nil) {
			continue
		}
		stratum := &d.Strata[s]
		number := d.number(stratum, p, true)
		for l, share := range p {
			at := stratum.Key*d.Bins + l
			if id := cells[at].ID; id >= 0 && share > 0 {
				fish[id] += float64(number * share)
				first[id] = at
			}
		}
	}
	k := d.Out()
	folded := make([]float64, k)
	for id, n := range fish {
		if n == 0 {
			continue
		}
		cell := cells[first[id]]
		clear(folded)
		for a, qa := range q[first[id]*d.Ages:][:d.Ages] {
			folded[d.Fold(a)] += qa
		}
		addCell(dst, folded, n, cell)
	}
}

func addCell(dst, q []float64, n float64, cell KeyCell) {
	k := len(q)
	for a := range q {
		if cell.Fish <= 1 {
			if cell.Variance != nil {
				dst[a*k+a] += n * n * cell.Variance[a]
			}
			continue
		}
		dst[a*k+a] += n * n * q[a] / (cell.Fish - 1)
		for b := range q {
			dst[a*k+b] -= float64(n * n * q[a] * q[b] / (cell.Fish - 1))
		}
	}
}

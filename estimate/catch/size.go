package catch

// ShareCovariance is the covariance of the shares C_a/ΣC by the delta method, k × k.
func ShareCovariance(numbers, covariance []float64) []float64 {
	k := len(numbers)
	total := 0.0
	for _, n := range numbers {
		total += n
	}
	out := make([]float64, k*k)
	if total == 0 {
		return out
	}
	rows := make([]float64, k) // Σ_j cov(j, b)
	all := 0.0
	for j := range k {
		for b := range k {
			rows[b] += covariance[j*k+b]
			all += covariance[j*k+b]
		}
	}
	for a := range k {
		pa := numbers[a] / total
		for b := range k {
			pb := numbers[b] / total
			out[a*k+b] = (covariance[a*k+b] - pa*rows[b] - pb*rows[a] + pa*pb*all) / (total * total)
		}
	}
	return out
}

// EffectiveSize is the size of the simple random sample of fish that would give shares
// p the variances v: Σ p(1−p) / Σ v. It is 0 when the variances are all 0.
// Source: the multinomial variance; McAllister & Ianelli (1997), equation from memory.
func EffectiveSize(p, v []float64) float64 {
	top, bottom := 0.0, 0.0
	for i := range p {
		top += p[i] * (1 - p[i])
		bottom += v[i]
	}
	if bottom <= 0 {
		return 0
	}
	return top / bottom
}

// WeightedSize is (Σw)²/Σw², the number of equally weighted fish that weigh as much.
// Source: Kish (1965), Survey Sampling, section 11.7 (from memory).
func WeightedSize(w []float64) float64 {
	sum, squares := 0.0, 0.0
	for _, x := range w {
		sum += x
		squares += x * x
	}
	if squares == 0 {
		return 0
	}
	return sum * sum / squares
}

// Alike says how much fish of one trip resemble each other in length.
type Alike struct {
	Correlation   float64 // intra-trip correlation of length, by analysis of variance
	DesignEffect  float64 // variance of the mean length over that of as many single fish
	EffectiveFish float64 // fish / DesignEffect
}

// AlikeIn measures the intra-trip correlation of stratum s. fish is the number measured
// in each trip of the design. ok is false with fewer than two trips, with one fish a trip,
// and where lengths spread only between trips or only within them: no number of fish is
// worth as much.
//
//	ρ = (MSB − MSW) / (MSB + (n0 − 1) MSW),  n0 = (N − Σn_t²/N)/(m − 1)
//
// Source: analysis of variance, Snedecor & Cochran (1967), section 10.17 (from memory).
func (d *Design) AlikeIn(s int, fish []float64) (alike Alike, ok bool) {
	stratum := &d.Strata[s]
	m := float64(len(stratum.Trips))
	var all, squares, sum, landed, weighted float64
	mean := make([]float64, len(stratum.Trips))
	within, spread := 0.0, 0.0
	for i, t := range stratum.Trips {
		mean[i] = d.meanLength(int(t))
		n := fish[t]
		all += n
		squares += n * n
		sum += n * mean[i]
		landed += d.Trips[t].Landed
		weighted += d.Trips[t].Landed * mean[i]
		for l, p := range d.Lengths[int(t)*d.Bins : (int(t)+1)*d.Bins] {
			within += n * p * (d.Mid[l] - mean[i]) * (d.Mid[l] - mean[i])
		}
	}
	if m < 2 || all <= m || landed == 0 || within == 0 {
		return Alike{}, false
	}
	grand, ratio, between, variance := sum/all, weighted/landed, 0.0, 0.0
	for i, t := range stratum.Trips {
		between += fish[t] * (mean[i] - grand) * (mean[i] - grand)
		w := d.Trips[t].Landed / landed
		variance += w * w * (mean[i] - ratio) * (mean[i] - ratio) * m / (m - 1)
		for l, p := range d.Lengths[int(t)*d.Bins : (int(t)+1)*d.Bins] {
			spread += w * p * (d.Mid[l] - ratio) * (d.Mid[l] - ratio)
		}
	}
	if variance == 0 {
		return Alike{}, false
	}
	msb, msw := between/(m-1), within/(all-m)
	n0 := (all - squares/all) / (m - 1)
	alike.Correlation = (msb - msw) / (msb + (n0-1)*msw)
	alike.DesignEffect = variance / (spread / (all - 1))
	alike.EffectiveFish = all / alike.DesignEffect
	return alike, true
}

func (d *Design) meanLength(t int) float64 {
	mean := 0.0
	for l, p := range d.Lengths[t*d.Bins : (t+1)*d.Bins] {
		mean += float64(p * d.Mid[l])
	}
	return mean
}

package growth

import "math"

// starts are parameters to begin a search from, made from the data: the curve is
// straight in age when lengths are taken relative to a largest length and turned
// round (a logarithm or two), so that a line through the mean lengths gives rate
// and age; several largest lengths give several starts.
func (k *likelihood) starts(d Data, r reach) [][]float64 {
	age, mean := meansAtAge(k, d)
	var out [][]float64
	add := func(p ...float64) { out = append(out, p) }
	for _, over := range [...]float64{1.05, 1.3, 2.5} {
		largest := over * topOf(mean)
		vb := line(age, mean, largest, r, VonBertalanffy)
		switch k.curve.Model {
		case VonBertalanffy, Gompertz, Logistic:
			at := line(age, mean, largest, r, k.curve.Model)
			add(largest, at[0], at[1])
		case Richards:
			add(largest, vb[0], vb[1], 0)
			for m, like := range [...]Model{1: Gompertz, 2: Logistic} {
				if m > 0 {
					at := line(age, mean, largest, r, like)
					add(largest, at[0], at[1], float64(m))
				}
			}
		case Schnute:
			l1, l2 := vonBertalanffy(nil, k.curve.Tau1, []float64{largest, vb[0], vb[1]}), vonBertalanffy(nil, k.curve.Tau2, []float64{largest, vb[0], vb[1]})
			l1, l2 = math.Max(l1, 0.01*r.longest), math.Max(l2, 0.02*r.longest)
			add(l1, l2, vb[0], 1)
			add(l1, l2, vb[0], 0)
			add(l1, l2, vb[0], -1)
		case TwoPhase:
			for _, turn := range [...]float64{0.15, 0.35} {
				add(largest, 0.7*vb[0], 1.3*vb[0], vb[1], turn*r.span, 20/r.span)
				add(largest, 1.3*vb[0], 0.8*vb[0], vb[1], turn*r.span, 20/r.span)
			}
		}
	}
	return out
}

// meansAtAge are the weighted mean lengths of all groups together, by age.
func meansAtAge(k *likelihood, d Data) (age, mean []float64) {
	at := map[float64]int{}
	var weight []float64
	for _, i := range k.row { // in a fixed order
		t, w := d.Age[i], k.weight[i]
		if w == 0 {
			continue
		}
		j, ok := at[t]
		if !ok {
			j = len(age)
			at[t] = j
			age, mean, weight = append(age, t), append(mean, 0), append(weight, 0)
		}
		weight[j] += w
		mean[j] += float64(w * d.Length[i])
	}
	for j := range mean {
		mean[j] /= weight[j]
	}
	return age, mean
}

func topOf(mean []float64) float64 {
	top := 0.0
	for _, m := range mean {
		top = math.Max(top, m)
	}
	return top
}

// line is the rate and the age of the straight line through the turned lengths,
// the age kept before the youngest fish where the curve begins at no length.
func line(age, mean []float64, largest float64, r reach, m Model) [2]float64 {
	var n, st, sy, stt, sty float64
	for i, t := range age {
		share := math.Min(math.Max(mean[i]/largest, 0.01), 0.99)
		y := -math.Log(1 - share)
		switch m {
		case Gompertz:
			y = -math.Log(-math.Log(share))
		case Logistic:
			y = math.Log(share / (1 - share))
		}
		t -= r.youngest
		n, st, sy, stt, sty = n+1, st+t, sy+y, stt+t*t, sty+t*y
	}
	rate := (n*sty - st*sy) / (n*stt - st*st)
	if !(rate > 0.05/r.span) {
		rate = 0.5 / r.span
	}
	begin := r.youngest + (st-sy/rate)/n
	if m == VonBertalanffy {
		begin = math.Min(begin, r.youngest-0.02*r.span)
	}
	return [2]float64{rate, begin}
}

// scaled are the parameters with their lengths multiplied by the factor of least
// squares, under which the curve is multiplied too.
func (k *likelihood) scaled(d Data, p []float64) []float64 {
	out := append([]float64(nil), p...)
	top, bottom := 0.0, 0.0
	for i, w := range k.weight {
		if mu := k.curve.Length(d.Age[i], p); !math.IsNaN(mu) && !math.IsInf(mu, 0) {
			top += w * mu * d.Length[i]
			bottom += w * mu * mu
		}
	}
	if factor := top / bottom; factor > 0 {
		for i, name := range k.curve.Model.Parameters() {
			if name == "Linf" || name == "L1" || name == "L2" {
				out[i] *= factor
			}
		}
	}
	return out
}

package key

// Direct fills q with the share of each age in each length bin,
// q[l*ages+a] = n[l*ages+a] / Σ_a n[l*ages+a] (no unit; a row sums to 1).
//
// n counts aged fish, bins × ages, row by row; q has the same shape. A bin with
// fewer than least fish stays 0 and is appended to thin: its fish borrow along
// the ladder or stay unaged. An empty bin is thin whatever least is. Panics when
// shapes differ; allocates only to grow thin.
//
// Methods, section 5, "Direct". Source: the definition; the variance is catch's.
func Direct(q, n []float64, ages int, least float64, thin []int) []int {
	if ages < 1 || len(q) != len(n) || len(n)%ages != 0 {
		panic("key: Direct wants q and n of the same bins × ages")
	}
	for l := 0; l*ages < len(n); l++ {
		row, out := n[l*ages:(l+1)*ages], q[l*ages:(l+1)*ages]
		total := sum(row)
		if total <= 0 || total < enough(least) {
			clear(out)
			thin = append(thin, l)
			continue
		}
		shares(out, row, total)
	}
	return thin
}

func shares(q, n []float64, total float64) {
	n = n[:len(q)]
	for a := range q {
		q[a] = n[a] / total
	}
}

func sum(x []float64) float64 {
	total := 0.0
	for _, v := range x {
		total += v
	}
	return total
}

// enough is the least number of fish, less what sums of weights m/(m − 1) lose in
// rounding: 3 × 4/3 must count as 4.
func enough(least float64) float64 { return least * (1 - 1e-9) }

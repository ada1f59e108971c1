package key

// IteratedWork is the direct key where the year has aged fish, and the iterated key where
// it has none: P(l | a) is held from a donor year, and the shares p(a) are fitted to the
// lengths of the catch at the maximum of Σ_l n_l log Σ_a p(a) P(l | a), see Iterated.
//
// A key stratum whose own year has aged fish, on any rung that holds the year, keeps its
// direct key with all its borrowing. Any other has for donor the key stratum that differs
// by the year alone, of the nearest year that has aged fish; of two equally near the
// earlier. P(l | a) ∝ q(a | l) n_l, with q the donor's direct key, borrowed rows
// included, and n_l the fish of its catch. Without a donor there is no key; nor is there
// one at lengths which the donor's catch or key lacks, and fish there don't count in the
// fit. Who has ages and who gives is settled by the sample; a replicate in which the
// donor has no fish leaves the stratum without a key. It assumes that growth was the same
// in both years.
//
// A refit allocates nothing, starts from the fit to the sample, and ends when no share
// can gain 1e-9 log units a fish: a part in some ten thousand of a share. A stratum costs
// about 0.2 ms with 54 bins and 21 ages, more where lengths hardly tell ages apart.
//
// Methods, section 5, "No ages this year" (i). Source: Kimura & Chikuni (1987)
// (citation from memory).
type IteratedWork struct {
	*carried
	donor   []int // by key stratum: -1 none, or none wanted
	mixture mixture
	shares  []float64 // key strata × ages: the last fit
	start   []float64 // the same of the sample, nil until fitted
	seen    []float64 // by age: fish of the donor's catch
	fitted  []float64 // key strata × bins
	enough  float64   // log units a fish
}

// NewIterated makes the worker and fits it to the sample; the error is a *Trouble with
// NoAges. Panics when years do not fit the grid.
func NewIterated(s Sample, b Borrowing, years Years) (*IteratedWork, error) {
	carried, err := newCarried(s, b, years)
	if err != nil {
		return nil, err
	}
	strata, bins, ages := len(s.Grid.Path), s.Grid.Bins, s.Grid.Ages
	w := &IteratedWork{carried: carried, mixture: densities(make([]float64, bins*ages), ages), enough: 1e-12}
	w.shares, w.fitted, w.seen = make([]float64, strata*ages), make([]float64, strata*bins), make([]float64, ages)
	for k := range strata {
		w.donor = append(w.donor, w.nearest(k))
	}
	w.Fit(make([]float64, strata*bins*ages), make([]Source, strata*bins), s.Weights(), nil)
	w.start, w.enough = append([]float64(nil), w.shares...), 1e-9
	return w, nil
}

// nearest is the donor of stratum k.
func (w *IteratedWork) nearest(k int) int {
	donor, least := -1, 0
	for d, year := range w.years.Year {
		if w.own[k] || !w.own[d] || year == 0 || w.years.Place[d] != w.years.Place[k] {
			continue
		}
		away := 2 * (year - w.years.Year[k])
		if away < 0 {
			away = -away - 1 // an earlier year wins a tie
		}
		if donor < 0 || away < least {
			donor, least = d, away
		}
	}
	return donor
}

// Fit fills q and from; see Worker. Where the fit of a stratum does not come to its end
// Told is not converged.
func (w *IteratedWork) Fit(q []float64, from []Source, weight []float64, _ [][]float64) Told {
	told := w.direct(q, from, weight)
	for k, own := range w.own {
		if !own {
			w.rebuild(q, from, k, &told)
		}
	}
	told.recount(from)
	return told
}

// rebuild makes the key of stratum k from its donor's.
func (w *IteratedWork) rebuild(q []float64, from []Source, k int, told *Told) {
	bins, ages := w.grid.Bins, w.grid.Ages
	clear(w.fitted[k*bins : (k+1)*bins])
	if !w.hold(q, k) {
		for l := range bins {
			w.none(q, from, k*bins+l)
		}
		return
	}
	share, start := w.shares[k*ages:(k+1)*ages], w.seen
	if w.start != nil {
		start = w.start[k*ages : (k+1)*ages]
	}
	cycles, settled := w.mixture.fit(share, start, w.enough)
	told.Iterations, told.Converged = told.Iterations+cycles, told.Converged && settled
	for l := range bins {
		at, given := k*bins+l, w.donor[k]*bins+l
		row := q[at*ages : (at+1)*ages]
		for a, p := range share {
			row[a] = p * w.mixture.likely.t[l*ages+a]
		}
		total := sum(row)
		if total <= 0 {
			w.none(q, from, at)
			continue
		}
		tidy(row, total)
		w.fitted[at], from[at] = total, from[given]|iteratedBit
		w.serves[at], w.used[at], w.pool[at] = w.serves[given], w.used[given], int32(at)
	}
	w.ends(q, from, k)
}

// hold fills the mixture with the donor's P(l | a) and the fish of stratum k, as parts of
// all that the donor speaks of; false when there are none.
func (w *IteratedWork) hold(q []float64, k int) bool {
	if w.donor[k] < 0 {
		return false
	}
	bins, ages, y := w.grid.Bins, w.grid.Ages, w.mixture.likely
	first := w.donor[k] * bins
	clear(w.seen)
	for l := range bins {
		row, fish := y.t[l*ages:(l+1)*ages], w.fish[first+l]
		for a, share := range q[(first+l)*ages : (first+l+1)*ages] {
			row[a] = share * fish
			w.seen[a] += row[a]
		}
	}
	total := 0.0
	for l := range bins {
		if w.reach(l) {
			total += w.fish[k*bins+l]
		}
	}
	w.mixture.empty()
	for l := range bins {
		if fish := w.fish[k*bins+l]; fish > 0 && y.possible(int32(l)) {
			w.mixture.add(int32(l), fish/total)
		}
	}
	all := sum(w.seen)
	for a := range w.seen {
		w.seen[a] = over(w.seen[a], all)
	}
	return total > 0
}

// reach divides row l by the sums over lengths, finds its ages, and tells whether it has any.
func (w *IteratedWork) reach(l int) bool {
	y, ages := w.mixture.likely, w.grid.Ages
	y.lo[l], y.hi[l] = 0, -1
	row := y.t[l*ages : (l+1)*ages]
	for a := range row {
		if row[a] <= 0 {
			continue
		}
		row[a] /= w.seen[a]
		if y.hi[l] < 0 {
			y.lo[l] = int32(a)
		}
		y.hi[l] = int32(a)
	}
	return y.possible(int32(l))
}

// Rebuilt shows the strata without ages of their own that got a key in the last Fit.
func (w *IteratedWork) Rebuilt() []Rebuilt {
	var all []Rebuilt
	for k, donor := range w.donor {
		fitted := w.fitted[k*w.grid.Bins : (k+1)*w.grid.Bins]
		if sum(fitted) > 0 {
			all = append(all, Rebuilt{k, donor, part(w.fish[k*w.grid.Bins : (k+1)*w.grid.Bins]), append([]float64(nil), fitted...)})
		}
	}
	return all
}

package key

// CombinedWork is the combined key of every place in all its years, see Combined: one
// P(l | a) for all key strata that differ by the year alone, and shares p_y(a) for each,
// from aged fish and lengths together.
//
// Aged fish are those of the stratum's own group on the first rung that holds the year,
// lengths those of the catch: fish of the catch scaled to as many as were measured. Where a
// bin then has fewer than were aged, the aged ones are all of its fish. Lengths at which
// no year aged a fish are left out and have no key, but the edge bin's beyond all others.
// The fish that a cell needs to serve alone don't count here. In a place without aged
// fish a stratum keeps its direct key if its own year has aged fish on some rung that
// holds the year, and has none else. It assumes that growth was the same in all years.
//
// A refit allocates nothing and starts from the fit to the sample. It ends when a cycle of
// four EM steps gains less than 0.001 log units, and is told as not settled after 200. It
// is the slow one: with 3 years, 60 bins and 18 ages a cycle costs 0.1 ms and a replicate
// some 3 ms a place, in proportion to the years.
//
// Methods, section 5, "No ages this year" (ii). Source: Hoenig & Heisey (1987)
// (citation from memory).
type CombinedWork struct {
	*carried
	rung   int // where a stratum's aged fish are counted
	places []*place
}

// place is the key strata that differ by the year alone.
type place struct {
	combination
	strata []int
	aged   []float64 // aged fish of all years by bin
	theta  []float64
	start  []float64 // of the sample, nil until fitted
	fitted []float64 // years × bins
}

// NewCombined makes the worker and fits it to the sample; the error is a *Trouble with
// NoAges. Panics when years do not fit the grid.
func NewCombined(s Sample, b Borrowing, years Years) (*CombinedWork, error) {
	carried, err := newCarried(s, b, years)
	if err != nil {
		return nil, err
	}
	w := &CombinedWork{carried: carried}
	for w.rung < len(years.Holds) && !years.Holds[w.rung] {
		w.rung++
	}
	if w.rung < len(years.Holds) {
		w.lay()
	}
	rows := len(s.Grid.Path) * s.Grid.Bins
	w.fit(make([]float64, rows*s.Grid.Ages), make([]Source, rows), s.Weights(), 1e-9, mostCombined)
	for _, p := range w.places {
		p.start = append([]float64(nil), p.theta...)
	}
	return w, nil
}

// lay gathers the strata into places.
func (w *CombinedWork) lay() {
	at, bins, ages := map[int32]*place{}, w.grid.Bins, w.grid.Ages
	for k, number := range w.years.Place {
		if w.years.Year[k] == 0 {
			continue
		}
		p := at[number]
		if p == nil {
			p = &place{combination: combination{bins: bins, ages: ages}, aged: make([]float64, bins)}
			at[number], w.places = p, append(w.places, p)
		}
		p.strata = append(p.strata, k)
		p.years = append(p.years, KeyYear{make([]float64, bins), make([]float64, bins*ages)})
	}
	for _, p := range w.places {
		p.theta, p.fitted = make([]float64, p.size()), make([]float64, len(p.strata)*bins)
	}
}

// Fit fills q and from; see Worker.
func (w *CombinedWork) Fit(q []float64, from []Source, weight []float64, _ [][]float64) Told {
	return w.fit(q, from, weight, 1e-3, 200)
}

func (w *CombinedWork) fit(q []float64, from []Source, weight []float64, tol float64, most int) Told {
	told := w.direct(q, from, weight)
	for number, p := range w.places {
		clear(p.fitted)
		if w.gatherYears(p) {
			if p.start == nil {
				p.begin(p.theta)
			} else {
				p.again()
			}
			steps, settled := p.climb(p.theta, tol, most)
			told.Iterations, told.Converged = told.Iterations+steps, told.Converged && settled
			w.lift(q, from, p, number)
			continue
		}
		for _, k := range p.strata {
			for l := 0; l < w.grid.Bins && !w.own[k]; l++ {
				w.none(q, from, k*w.grid.Bins+l)
			}
		}
	}
	told.recount(from)
	return told
}

// gatherYears fills the years of a place with the fish of the fit; false when none is aged.
func (w *CombinedWork) gatherYears(p *place) bool {
	clear(p.aged)
	bins, ages := w.grid.Bins, w.grid.Ages
	for i, k := range p.strata {
		clear(p.years[i].Aged)
		for l := range bins {
			cell := w.cell(w.rung, w.grid.Path[k][w.rung], l)
			if cell >= 0 && w.total[cell] > 0 {
				copy(p.years[i].Aged[l*ages:(l+1)*ages], w.n[cell*ages:(cell+1)*ages])
				p.aged[l] += w.total[cell]
			}
		}
	}
	for i, k := range p.strata {
		fish := w.fish[k*bins : (k+1)*bins]
		each := over(w.years.Measured[k], sum(fish))
		for l, aged := range p.aged {
			if p.years[i].Lengths[l] = 0; aged > 0 {
				p.years[i].Lengths[l] = fish[l] * each
			}
		}
	}
	return sum(p.aged) > 0
}

// again fills theta with the sample's and a little beside it, for the ages and lengths of
// the aged fish of this fit.
func (p *place) again() {
	clear(p.theta)
	for a := range p.ages {
		lo, hi := p.reach(a)
		for l := lo; l <= hi; l++ {
			p.theta[l*p.ages+a] = p.start[l*p.ages+a]
		}
		for at := p.bins*p.ages + a; lo <= hi && at < len(p.theta); at += p.ages {
			p.theta[at] = p.start[at]
		}
	}
	p.mix(p.theta, 1e-4)
	p.normalise(p.theta)
}

// lift lays the key of a place out. Rows of one bin rest on the same fish, but differ in
// their shares: each is a pool of its own.
func (w *CombinedWork) lift(q []float64, from []Source, p *place, number int) {
	bins, ages := w.grid.Bins, w.grid.Ages
	for i, k := range p.strata {
		share := p.theta[(bins+i)*ages : (bins+i+1)*ages]
		for l := range bins {
			at := k*bins + l
			row := q[at*ages : (at+1)*ages]
			for a, density := range p.theta[l*ages : (l+1)*ages] {
				row[a] = density * share[a]
			}
			total := sum(row)
			if total <= 0 || p.aged[l] <= 0 {
				w.none(q, from, at)
				continue
			}
			tidy(row, total)
			p.fitted[i*bins+l], from[at] = total, combinedBit
			w.serves[at], w.used[at], w.pool[at] = int32(number), p.aged[l], int32(at)
		}
		w.ends(q, from, k)
	}
}

// Rebuilt shows the strata without ages of their own that got a key in the last Fit.
func (w *CombinedWork) Rebuilt() []Rebuilt {
	var all []Rebuilt
	for _, p := range w.places {
		for i, k := range p.strata {
			fitted := p.fitted[i*w.grid.Bins : (i+1)*w.grid.Bins]
			if !w.own[k] && sum(fitted) > 0 {
				all = append(all, Rebuilt{k, -1, part(w.fish[k*w.grid.Bins : (k+1)*w.grid.Bins]), append([]float64(nil), fitted...)})
			}
		}
	}
	return all
}

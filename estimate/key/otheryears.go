package key

// Years tells apart by year the key strata of a grid, for keys that carry what is known
// of one year to another.
//
// Fish is the length distribution of the catch: N_s p_s(l) summed over the catch strata
// of each key stratum. Its scale does not matter to the iterated key; the combined one
// takes Measured for the number of fish that stand behind it.
type Years struct {
	Year     []int     // of each key stratum; 0: its years are pooled
	Place    []int32   // of each key stratum: equal where only the year differs
	Holds    []bool    // of each rung: its groups lie within one year
	Fish     []float64 // key strata × bins, in the season as it is
	Measured []float64 // fish measured beneath each key stratum
}

func (y Years) check(g Grid) {
	if len(y.Year) != len(g.Path) || len(y.Place) != len(g.Path) || len(y.Measured) != len(g.Path) ||
		len(y.Holds) != len(g.Rungs) || len(y.Fish) != len(g.Path)*g.Bins {
		panic("key: Years want year, place and fish of each key stratum, and a word on each rung")
	}
}

// Rebuilt is a key stratum whose year has no aged fish: the lengths of its catch beside
// those that its shares at age give under another year's P(l | a). Where the two differ
// the assumption that growth did not change carries badly.
type Rebuilt struct {
	Stratum  int
	Donor    int       // key stratum that P(l | a) is of, -1 all years together
	Observed []float64 // by bin; sums to 1
	Fitted   []float64 // by bin; sums to 1 over the lengths that the donor aged
}

// carried is a direct key whose gaps are filled from other years.
type carried struct {
	*DirectWork
	years Years
	own   []bool    // by key stratum: its own year has aged fish
	fish  []float64 // key strata × bins of the next fit
	pool  []int32   // pool beneath a row that is not the direct key's, -1 none
}

func newCarried(s Sample, b Borrowing, years Years) (*carried, error) {
	direct, err := NewDirect(s, b)
	if err != nil {
		return nil, err
	}
	years.check(s.Grid)
	w := &carried{DirectWork: direct, years: years, fish: make([]float64, len(years.Fish)), pool: make([]int32, len(years.Fish))}
	w.Measure(years.Fish)
	var told Told
	w.cells.sums(w.DirectWork.fish, s.Weights())
	w.count(&told)
	for k, path := range s.Grid.Path {
		own := years.Year[k] == 0
		for r, group := range path {
			own = own || years.Holds[r] && w.holds(r, group)
		}
		w.own = append(w.own, own)
	}
	return w, nil
}

// holds tells whether a group has aged fish in any bin.
func (w *carried) holds(rung int, group int32) bool {
	for l := range w.grid.Bins {
		if cell := w.cell(rung, group, l); cell >= 0 && w.total[cell] > 0 {
			return true
		}
	}
	return false
}

// Measure takes the fish of the catch for the next Fit; see Measurer.
func (w *carried) Measure(fish []float64) {
	if len(fish) != len(w.fish) {
		panic("key: Measure wants strata × bins numbers")
	}
	copy(w.fish, fish)
}

// Cells fills ids (strata × bins) with the pool beneath each row: the cell of the ladder
// that serves it, -1 none. A row that comes from other years has a pool of its own, since
// its shares are not those of the fish that it comes from.
func (w *carried) Cells(ids []int32) {
	w.DirectWork.Cells(ids)
	for at, pool := range w.pool {
		if pool >= 0 && ids[at] >= 0 {
			ids[at] = int32(w.size()) + pool
		}
	}
}

// direct fits the direct key, from which the other years are carried on.
func (w *carried) direct(q []float64, from []Source, weight []float64) Told {
	for at := range w.pool {
		w.pool[at] = -1
	}
	return w.DirectWork.Fit(q, from, weight, nil)
}

// none takes row at of the key away.
func (w *carried) none(q []float64, from []Source, at int) {
	clear(q[at*w.grid.Ages : (at+1)*w.grid.Ages])
	from[at], w.serves[at], w.used[at], w.pool[at] = NoKey, -1, 0, -1
}

// ends gives stratum k's bins beyond its first and last with a key that of these, with
// edge bins.
func (w *carried) ends(q []float64, from []Source, k int) {
	lo, hi := w.grid.Bins, -1
	for l := range w.grid.Bins {
		if from[k*w.grid.Bins+l] != NoKey {
			lo, hi = min(lo, l), l
		}
	}
	if !w.edges || hi < 0 {
		return
	}
	ages := w.grid.Ages
	for l := range w.grid.Bins {
		at, near := k*w.grid.Bins+l, k*w.grid.Bins+min(max(l, lo), hi)
		if at != near {
			copy(q[at*ages:(at+1)*ages], q[near*ages:(near+1)*ages])
			from[at], w.serves[at], w.used[at], w.pool[at] = from[near]|edgeBit, w.serves[near], w.used[near], w.pool[near]
		}
	}
}

// recount tells anew what the rows rest on.
func (t *Told) recount(from []Source) {
	t.Borrowed, t.Short, t.Edge, t.Empty = 0, 0, 0, 0
	for _, source := range from {
		t.count(source)
	}
}

// negligible is the share below which EM is on its way to 0.
const negligible = 1e-6

// tidy divides a row by its total and takes the negligible out.
func tidy(row []float64, total float64) {
	for a := range row {
		if row[a] < negligible*total {
			row[a] = 0
		}
	}
	shares(row, row, sum(row))
}

// part is each bin's part of the whole; nil of nothing.
func part(fish []float64) []float64 {
	total := sum(fish)
	if total <= 0 {
		return nil
	}
	parts := make([]float64, len(fish))
	shares(parts, fish, total)
	return parts
}

package key

// Borrowing is how a cell with too few fish is helped.
type Borrowing struct {
	Least    float64 // fish a cell needs before it borrows; 0 means 5, 1 lets any fish serve
	EdgeBins bool    // a bin beyond every aged length takes the nearest aged bin's key
}

const leastFish = 5

// ladder holds the fish of every cell of every rung and says which cell serves a row.
//
// Cells are numbered rung by rung, group by group, bin by bin.
type ladder struct {
	grid   Grid
	least  float64
	edges  bool
	first  []int     // first[r]: first cell of rung r; the last entry is their number
	total  []float64 // fish by cell; one more for groups unknown
	lo, hi int       // lowest and highest bin with fish
	used   []float64 // fish by row (k, l) of the last fit
	serves []int32   // cell by row (k, l) of the last fit, -1 none
}

func newLadder(g Grid, b Borrowing) *ladder {
	g.check()
	least := b.Least
	if least == 0 {
		least = leastFish
	}
	d := &ladder{grid: g, least: enough(least), edges: b.EdgeBins, first: make([]int, 1, len(g.Groups)+1)}
	for _, groups := range g.Groups {
		d.first = append(d.first, d.first[len(d.first)-1]+groups*g.Bins)
	}
	d.total = make([]float64, d.size()+1)
	d.used = make([]float64, len(g.Path)*g.Bins)
	d.serves = make([]int32, len(d.used))
	return d
}

func (d *ladder) size() int { return d.first[len(d.first)-1] }

// cell is the number of a cell, -1 for an unknown group.
func (d *ladder) cell(rung int, group int32, bin int) int {
	if group < 0 {
		return -1
	}
	return d.first[rung] + int(group)*d.grid.Bins + bin
}

// targets is the cell of the ladder that each gathered cell counts in, rung by rung;
// size where the group is unknown.
func (d *ladder) targets(from *gathered) []int32 {
	var to []int32
	for c, class := range from.class {
		for r, group := range from.rungs[class] {
			cell := d.cell(r, group, int(from.bin[c]))
			if cell < 0 {
				cell = d.size()
			}
			to = append(to, int32(cell))
		}
	}
	return to
}

// resolve finds the cell of every row from the totals, and counts what it did.
func (d *ladder) resolve(from []Source, told *Told) {
	for k := range d.grid.Path {
		for l := range d.grid.Bins {
			at := k*d.grid.Bins + l
			cell, source := d.serve(k, l)
			from[at], d.serves[at], d.used[at] = source, int32(cell), 0
			if cell >= 0 {
				d.used[at] = d.total[cell]
			}
			told.count(source)
		}
	}
}

// serve walks the ladder of stratum k for bin l: the first cell with enough fish;
// else the last rung's, if it holds any, as short; else none.
func (d *ladder) serve(k, l int) (int, Source) {
	var edge Source
	if l < d.lo || l > d.hi {
		if !d.edges || d.hi < d.lo {
			return -1, NoKey
		}
		l, edge = min(max(l, d.lo), d.hi), edgeBit
	}
	path, last := d.grid.Path[k], -1
	for r, group := range path {
		last = d.cell(r, group, l)
		if last >= 0 && d.total[last] >= d.least {
			return last, Source(r) | edge
		}
	}
	if last >= 0 && d.total[last] > 0 {
		return last, Source(len(path)-1) | edge | shortBit
	}
	return -1, NoKey
}

func (t *Told) count(s Source) {
	switch {
	case s == NoKey:
		t.Empty++
		return
	case !s.Own():
		t.Borrowed++
	}
	if s.Short() {
		t.Short++
	}
	if s.Edge() {
		t.Edge++
	}
}

// Used fills n (strata × bins) with the fish that the rows of the last Fit rest on.
func (d *ladder) Used(n []float64) {
	if len(n) != len(d.used) {
		panic("key: Used wants strata × bins numbers")
	}
	copy(n, d.used)
}

// Cells fills ids (strata × bins) with the cell of the ladder that served each row of
// the last Fit, -1 where there is no key. Rows of one number are served by the same fish.
func (d *ladder) Cells(ids []int32) {
	if len(ids) != len(d.serves) {
		panic("key: Cells wants strata × bins numbers")
	}
	copy(ids, d.serves)
}

// check panics unless the grid hangs together.
func (g Grid) check() {
	if g.Bins < 1 || g.Ages < 1 || len(g.Mid) != g.Bins {
		panic("key: a grid wants bins with a midpoint each, and ages")
	}
	if len(g.Rungs) < 1 || len(g.Rungs) > mostRungs || len(g.Groups) != len(g.Rungs) {
		panic("key: a ladder wants 1 to 32 rungs and the number of groups on each")
	}
	for _, path := range g.Path {
		if len(path) != len(g.Rungs) {
			panic("key: the path of a key stratum wants one group a rung")
		}
		for r, group := range path {
			g.checkGroup(r, group)
		}
	}
	for r, origins := range g.Rungs {
		if len(origins) != len(g.Rungs[0]) {
			panic("key: every rung wants a group for every origin")
		}
		for _, group := range origins {
			g.checkGroup(r, group)
		}
	}
}

func (g Grid) checkGroup(rung int, group int32) {
	if group < -1 || int(group) >= g.Groups[rung] {
		panic("key: a group beyond those of its rung")
	}
}

// checkFit panics unless the arguments of a Fit have the shapes of the grid.
func (g Grid) checkFit(q []float64, from []Source, weight []float64, entries int) {
	rows := len(g.Path) * g.Bins
	if len(q) != rows*g.Ages || len(from) != rows || len(weight) != entries {
		panic("key: Fit wants q of strata × bins × ages, from of strata × bins, and a weight an entry")
	}
}

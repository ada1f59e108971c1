package key

// DirectWork is the direct key, q(a | l) = n_la / n_l, with borrowing along the ladder.
//
// A row (k, l) comes from the first rung whose cell holds the least number of fish;
// if none does, from the last rung if that holds any fish (short); else there is no
// key. With edge bins, a bin below (above) every bin with aged fish takes the lowest
// (highest) of these, resolved along the same ladder. Age in it is the agreed age:
// the ageing error is in these already and is never added a second time.
//
// Methods, section 5, "Direct" and "Borrowing". Source: Fridriksson (1934), the
// definition (citation from memory).
type DirectWork struct {
	*ladder
	cells *gathered
	fish  []float64 // weight by gathered cell
	n     []float64 // fish by cell of the ladder and age
	to    []int32   // cells of the ladder by gathered cell × rung
	seen  []bool    // by age
}

// NewDirect makes the worker; the error is a *Trouble with NoAges.
func NewDirect(s Sample, b Borrowing) (*DirectWork, error) {
	d := &DirectWork{ladder: newLadder(s.Grid, b), cells: s.gather(func(e Entry) int32 { return e.Age })}
	if len(d.cells.order) == 0 {
		return nil, &Trouble{Reason: NoAges}
	}
	d.fish = make([]float64, len(d.cells.ends))
	d.n = make([]float64, (d.size()+1)*s.Grid.Ages)
	d.to = d.targets(d.cells)
	d.seen = make([]bool, s.Grid.Ages)
	return d, nil
}

// Fit fills q and from; see Worker. It does not iterate: Told is always converged.
func (d *DirectWork) Fit(q []float64, from []Source, weight []float64, _ [][]float64) Told {
	d.grid.checkFit(q, from, weight, len(d.cells.order)+len(d.cells.out))
	told := Told{Converged: true, LeftOut: d.cells.sums(d.fish, weight)}
	d.count(&told)
	d.resolve(from, &told)
	ages := d.grid.Ages
	for at, cell := range d.serves {
		row := q[at*ages : (at+1)*ages]
		if cell < 0 {
			clear(row)
			continue
		}
		shares(row, d.n[int(cell)*ages:], d.total[cell])
	}
	return told
}

// count spreads the gathered fish over the rungs.
func (d *DirectWork) count(told *Told) {
	clear(d.n)
	clear(d.total)
	clear(d.seen)
	d.lo, d.hi = d.grid.Bins, -1
	rungs, ages := len(d.grid.Rungs), d.grid.Ages
	for c, fish := range d.fish {
		if fish <= 0 {
			continue
		}
		bin, age := int(d.cells.bin[c]), int(d.cells.value[c])
		d.lo, d.hi, d.seen[age] = min(d.lo, bin), max(d.hi, bin), true
		told.Fish += fish
		for _, cell := range d.to[c*rungs : (c+1)*rungs] {
			d.n[int(cell)*ages+age] += fish
			d.total[cell] += fish
		}
	}
	for _, seen := range d.seen {
		if seen {
			told.Ages++
		}
	}
}

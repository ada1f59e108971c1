package key

import "slices"

// TrueWork is the direct key of true ages: for each cell of the ladder that serves a
// row, the shares q(a | l) that maximise Σ_p n_p log Σ_a q(a) T_pa, where n_p fish gave
// the pattern p of readings and T_pa = Π_r P_r(c_pr | a).
//
// It maximises by EM, q(a) ← q(a) Σ_p n_p T_pa / (n Σ_a' q(a') T_pa'), accelerated by
// squared extrapolation: a cycle keeps the extrapolated point only if the gradients tell
// that the likelihood did not fall, and ends when no share could gain: max_a Σ_p n_p T_pa / Σ_a' q T_pa' − n
// bounds what is left to gain, in log units. Cells borrow along the ladder as in the
// direct key. Fish without a reading that counts are left out; fish on whose age the
// readers did not settle enter, since their readings say what is known. A refit starts
// from the fit to the sample, with a little of every age within reach mixed in; a cell
// whose fish and error matrices are the sample's own takes that fit as it is.
//
// Methods, section 5, "With ageing error". Source: Dempster, Laird & Rubin (1977), EM;
// Varadhan & Roland (2008), scheme S3, for the acceleration (citations from memory).
type TrueWork struct {
	*ladder
	cells   *gathered
	likely  *likely
	fish    []float64 // weight by gathered cell
	to      []int32   // cells of the ladder by gathered cell × rung
	members []int32   // gathered cells, ladder cell after ladder cell
	ends    []int32   // by ladder cell
	shares  []float64 // by ladder cell and age: the last fit
	start   []float64 // the same of the sample
	solved  []bool    // by ladder cell
	mixture mixture

	asSampled []float64 // fish of the sample
	asRead    []float64 // T of the sample
	read      bool      // T of the last fit is that of the sample
}

// NewTrue makes the worker and fits it to the sample with the readers' matrices; the
// error is a *Trouble with NoReadings.
func NewTrue(s Sample, readers [][]float64, b Borrowing) (*TrueWork, error) {
	w := &TrueWork{ladder: newLadder(s.Grid, b), likely: newLikely(s)}
	w.cells = s.gather(func(e Entry) int32 { return e.Pattern })
	w.fish = make([]float64, len(w.cells.ends))
	w.shares, w.solved = make([]float64, w.size()*s.Grid.Ages), make([]bool, w.size())
	most := w.share()
	w.mixture = newMixture(w.likely, most)
	told := Told{}
	w.count(s.Weights(), readers, &told)
	if told.Fish <= 0 {
		return nil, &Trouble{Reason: NoReadings}
	}
	for cell := range w.solved {
		if w.total[cell] > 0 {
			w.solve(cell, nil, 1e-9, &told)
		}
	}
	w.start = append([]float64(nil), w.shares...)
	w.asSampled, w.asRead = append([]float64(nil), w.fish...), append([]float64(nil), w.likely.t...)
	return w, nil
}

// share hands the gathered cells to the cells of the ladder and gives the most that
// any of these got.
func (w *TrueWork) share() (most int) {
	w.to = w.targets(w.cells)
	number := make([]int32, w.size())
	visit := func(do func(cell int, c int32)) {
		for at, cell := range w.to {
			if int(cell) < w.size() {
				do(int(cell), int32(at/len(w.grid.Rungs)))
			}
		}
	}
	visit(func(cell int, _ int32) { number[cell]++ })
	w.ends = make([]int32, w.size())
	total := int32(0)
	for cell, n := range number {
		w.ends[cell], total, most = total, total+n, max(most, int(n))
	}
	w.members = make([]int32, total)
	visit(func(cell int, c int32) {
		w.members[w.ends[cell]] = c
		w.ends[cell]++
	})
	return most
}

// Fit fills q and from; see Worker.
func (w *TrueWork) Fit(q []float64, from []Source, weight []float64, readers [][]float64) Told {
	w.grid.checkFit(q, from, weight, len(w.cells.order)+len(w.cells.out))
	told := Told{Converged: true}
	w.count(weight, readers, &told)
	w.read = slices.Equal(w.likely.t, w.asRead)
	w.resolve(from, &told)
	ages := w.grid.Ages
	for at, cell := range w.serves {
		row := q[at*ages : (at+1)*ages]
		if cell < 0 {
			clear(row)
			continue
		}
		if !w.solved[cell] {
			w.solve(int(cell), w.start[int(cell)*ages:(int(cell)+1)*ages], 1e-3, &told)
		}
		copy(row, w.shares[int(cell)*ages:])
	}
	told.Ages = w.mixture.ages()
	return told
}

// count makes T, sums the weights, and adds the fish of every cell of the ladder.
func (w *TrueWork) count(weight []float64, readers [][]float64, told *Told) {
	w.likely.fill(readers)
	told.LeftOut = w.cells.sums(w.fish, weight)
	clear(w.total)
	clear(w.solved)
	w.mixture.forget()
	w.lo, w.hi = w.grid.Bins, -1
	for c, fish := range w.fish {
		if fish <= 0 {
			continue
		}
		if !w.likely.possible(w.cells.value[c]) {
			told.LeftOut, w.fish[c] = told.LeftOut+fish, 0
			continue
		}
		bin := int(w.cells.bin[c])
		w.lo, w.hi = min(w.lo, bin), max(w.hi, bin)
		told.Fish += fish
		for _, cell := range w.to[c*len(w.grid.Rungs) : (c+1)*len(w.grid.Rungs)] {
			w.total[cell] += fish
		}
	}
}

// solve fits the shares of one cell of the ladder.
func (w *TrueWork) solve(cell int, start []float64, tol float64, told *Told) {
	first := int32(0)
	if cell > 0 {
		first = w.ends[cell-1]
	}
	members, shares := w.members[first:w.ends[cell]], w.shares[cell*w.grid.Ages:(cell+1)*w.grid.Ages]
	w.solved[cell] = true
	if w.unchanged(members) {
		copy(shares, start)
		w.mixture.note(shares)
		return
	}
	w.mixture.empty()
	for _, c := range members {
		if fish := w.fish[c]; fish > 0 {
			w.mixture.add(w.cells.value[c], fish)
		}
	}
	cycles, settled := w.mixture.fit(shares, start, tol)
	told.Iterations += cycles
	told.Converged = told.Converged && settled
}

// unchanged tells that gathered cells are as the sample had them.
func (w *TrueWork) unchanged(members []int32) bool {
	if !w.read {
		return false
	}
	for _, c := range members {
		if w.fish[c] != w.asSampled[c] {
			return false
		}
	}
	return true
}

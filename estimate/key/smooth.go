package key

import (
	"math"
	"slices"
)

// SmoothWork is the smoothed key: logit P(A = a | A ≥ a, l) = b_a0 + Σ_j b_aj N_j(l) + u_as,
// one natural cubic spline of length and one effect a stratum for each age, so that
// q(a | l) = p_a Π_{j<a} (1 − p_j).
//
// It maximises, age by age, the log-likelihood less ½λ_s Σ u_s² (one effect a stratum,
// no reference level), less ½λ_c ∫₀¹ f″(z)² dz, z the length scaled to the boundary
// knots. Interior knots are type-7 quantiles of the bin midpoints of all aged fish,
// boundary knots their range. The strata are the groups of rung 0; a stratum without
// fish has the effect 0 and is told as borrowed from the last rung. An age of no fish
// has the share 0; where length splits an age from all older ones a small ridge holds
// the slope (Separated tells which). Beyond the aged lengths of the sample there is no
// key, or with edge bins that of the nearest aged bin. Each refit starts from the fit
// to the sample itself.
//
// Methods, section 5, "Smoothed". Source: Agresti (2002), continuation-ratio logits;
// Rindorf & Lewy (2001) for ages given length (citations from memory).
type SmoothWork struct {
	*smooth
	cells *gathered
	at    []int32   // place in n by gathered cell, -1 for an unknown stratum
	fish  []float64 // weight by gathered cell
}

// smooth is what both smoothed keys share: the curves, and the rows of the key.
type smooth struct {
	*stages
	grid   Grid
	edges  bool
	from   int       // lowest bin with aged fish of the sample
	to     int       // highest
	n      []float64 // fish by age × bin × stratum
	start  []float64 // coefficients of the fit to the sample, stage by stage
	b      []float64 // coefficients of the last fit
	own    []float64 // fish by group of rung 0 × bin in the last fit
	holds  []bool    // group of rung 0 has fish in the last fit
	merged bool      // the strata have no effects and are fitted as one
}

// Tolerances in log units of what a last Newton step would have gained. After that
// step the rest is of the order of their square.
const (
	exactly = 1e-16 // the fit to the sample
	closely = 1e-5  // a refit: before its last step a coefficient is within a hundredth of its SE
)

// newSmooth lays out the curves; aged is the number of fish of the sample by bin.
func newSmooth(g Grid, aged []float64, set Smoothing) *smooth {
	set = set.filled()
	m := newCurves(g, g.Groups[0], aged, set)
	s := &smooth{stages: newStages(m, g.Ages), grid: g, edges: set.EdgeBins, merged: math.IsInf(set.Strata, 1)}
	s.from, s.to = span(aged)
	s.n = make([]float64, g.Ages*m.bins*m.strata)
	s.start, s.b = make([]float64, g.Ages*m.width()), make([]float64, g.Ages*m.width())
	s.own, s.holds = make([]float64, g.Groups[0]*g.Bins), make([]bool, g.Groups[0])
	return s
}

// span is the first and the last bin with fish.
func span(fish []float64) (from, to int) {
	from, to = len(fish), -1
	for l, number := range fish {
		if number > 0 {
			from, to = min(from, l), l
		}
	}
	return from, to
}

// NewSmooth makes the worker and fits it to the sample; the error is a *Trouble with
// NoAges, or with NotSettled beside a worker when that fit did not end.
func NewSmooth(s Sample, set Smoothing) (*SmoothWork, error) {
	w, err := newSmoothOf(s, set)
	if err != nil {
		return nil, err
	}
	told := w.refit(s.Weights(), w.start, exactly)
	copy(w.start, w.b)
	if !told.Converged {
		return w, &Trouble{Reason: NotSettled, Fish: told.Fish}
	}
	return w, nil
}

// newSmoothOf makes the worker without a fit.
func newSmoothOf(s Sample, set Smoothing) (*SmoothWork, error) {
	s.Grid.check()
	w := &SmoothWork{cells: s.gather(func(e Entry) int32 { return e.Age })}
	w.fish, w.at = make([]float64, len(w.cells.ends)), make([]int32, len(w.cells.ends))
	aged := make([]float64, s.Grid.Bins)
	w.cells.sums(w.fish, s.Weights())
	for c, fish := range w.fish {
		aged[w.cells.bin[c]] += fish
	}
	if sum(aged) <= 0 {
		return nil, &Trouble{Reason: NoAges}
	}
	w.smooth = newSmooth(s.Grid, aged, set)
	for c := range w.at {
		w.at[c] = w.place(int(w.cells.value[c]), int(w.cells.bin[c]), w.cells.group(c))
	}
	return w, nil
}

// place is where fish of an age, bin and group of rung 0 are counted, -1 nowhere.
func (s *smooth) place(age, bin, group int) int32 {
	switch {
	case s.merged:
		group = 0
	case group < 0:
		return -1
	}
	return int32((age*s.bins+bin)*s.strata + group)
}

// Fit fills q and from; see Worker.
func (w *SmoothWork) Fit(q []float64, from []Source, weight []float64, _ [][]float64) Told {
	w.grid.checkFit(q, from, weight, len(w.cells.order)+len(w.cells.out))
	told := w.refit(weight, w.start, closely)
	w.show(q, from, &told)
	return told
}

// refit fits the curves to entry weights.
func (w *SmoothWork) refit(weight, start []float64, tol float64) Told {
	told := Told{LeftOut: w.cells.sums(w.fish, weight)}
	w.empty()
	clear(w.n)
	for c, fish := range w.fish {
		if fish <= 0 {
			continue
		}
		if w.at[c] < 0 {
			told.LeftOut += fish
			continue
		}
		w.n[w.at[c]] += fish
		told.Fish += fish
		w.note(w.cells.group(c), int(w.cells.bin[c]), fish)
	}
	copy(w.b, start)
	told.Iterations, told.Converged = w.fit(w.b, w.n, tol)
	for _, kind := range w.kind {
		if kind != never {
			told.Ages++
		}
	}
	return told
}

func (s *smooth) empty() {
	clear(s.own)
	clear(s.holds)
}

// note keeps where the fish of a fit were.
func (s *smooth) note(group, bin int, fish float64) {
	if group >= 0 {
		s.own[group*s.bins+bin] += fish
		s.holds[group] = true
	}
}

// show turns the coefficients into the key.
func (s *smooth) show(q []float64, from []Source, told *Told) {
	s.odds(s.b)
	last := Source(len(s.grid.Rungs) - 1)
	for k, path := range s.grid.Path {
		group, source := s.stratum(k), Source(0)
		if own := path[0]; own < 0 || !s.holds[own] {
			source = last
		}
		for l := range s.bins {
			at := k*s.bins + l
			row := q[at*s.ages : (at+1)*s.ages]
			near := s.clamp(l)
			switch {
			case told.Fish <= 0, near != l && !s.edges:
				from[at] = NoKey
				clear(row)
			case near != l:
				from[at] = source | edgeBit
				s.row(row, near, group)
			default:
				from[at] = source
				s.row(row, l, group)
			}
			told.count(from[at])
		}
	}
}

// clamp is the nearest bin within the aged lengths of the sample.
func (s *smooth) clamp(l int) int { return min(max(l, s.from), s.to) }

// stratum is whose effect key stratum k has, -1 none's.
func (s *smooth) stratum(k int) int {
	if s.merged {
		return 0
	}
	return int(s.grid.Path[k][0])
}

// Used fills n (strata × bins) with the fish of the row's own stratum and bin in the
// last Fit; of the edge bin where that serves. A row of 0 fish has a key all the same: the
// curves give it one.
func (s *smooth) Used(n []float64) {
	if len(n) != len(s.grid.Path)*s.bins {
		panic("key: Used wants strata × bins numbers")
	}
	for at := range n {
		n[at] = 0
		if cell := s.cell(at); cell >= 0 && cell < len(s.own) {
			n[at] = s.own[cell]
		}
	}
}

// Cells fills ids (strata × bins) with the cell of the row's own stratum and bin, -1 where
// the last Fit gave no key: what a smoothed row rests on beyond that is not counted. Strata
// without a group of their own share the cells beyond all others.
func (s *smooth) Cells(ids []int32) {
	if len(ids) != len(s.grid.Path)*s.bins {
		panic("key: Cells wants strata × bins numbers")
	}
	some := slices.Contains(s.holds, true)
	for at := range ids {
		ids[at] = -1
		if some {
			ids[at] = int32(s.cell(at))
		}
	}
}

// cell is the cell of rung 0 beneath row at, -1 without a key.
func (s *smooth) cell(at int) int {
	group, near := int(s.grid.Path[at/s.bins][0]), s.clamp(at%s.bins)
	switch {
	case near != at%s.bins && !s.edges:
		return -1
	case group < 0:
		return len(s.own) + near
	}
	return group*s.bins + near
}

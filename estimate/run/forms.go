package run

import (
	"math"
	"slices"

	"earstone/estimate/catch"
	"earstone/estimate/key"
	"earstone/estimate/tally"
	"earstone/programme/record"
	"earstone/programme/strata"
)

// score sets the forms of key side by side on fish that they have not seen, and takes the
// smoothing that foretold best.
func (c *chain) score(s *Species, found *KeyFound) {
	scored, err := key.Scores(s.Counts.Key, key.Scoring{Borrowing: c.borrowing()})
	if err != nil {
		found.NoScores = err
	} else {
		found.Scored = &scored
		found.Smoothing, _ = scored.Smoothest()
	}
	found.Smoothing.EdgeBins = c.book.Settings.Key.EdgeBins
	c.stage("held-out scores")
}

// areas asks of each stratum column that the key pools whether age given length differs
// along it, and what that would do to the catch at age.
func (c *chain) areas(s *Species) {
	counts := s.Counts
	finest := strata.Set(0)
	if len(counts.Ladder) > 0 {
		finest = counts.Ladder[0]
	}
	within, strataCells := along(counts, finest)
	var pooled *fullKey
	for _, column := range []strata.Set{strata.Quarter, strata.Area, strata.Gear} {
		if !counts.Columns.Has(column) || finest.Has(column) {
			continue
		}
		group, cells := along(counts, finest|column)
		test, err := key.Areas(counts.Key, group, within, 0)
		if err != nil {
			continue // one group only, or too few fish to compare: there is nothing to warn of
		}
		if pooled == nil {
			pooled = newFullKey(s, finest, within, strataCells)
		}
		s.Key.Areas = append(s.Key.Areas, AreaFound{column, test, values(cells, column), pooled.shift(newFullKey(s, finest|column, group, cells))})
	}
	c.stage("one key for all")
}

// values is how many values of a column there are among cells.
func values(cells []strata.Cell, column strata.Set) int {
	seen := map[strata.Cell]bool{}
	for _, cell := range cells {
		seen[cell.Keep(column)] = true
	}
	return len(seen)
}

// along numbers the origins of aged fish by their values in a set of columns; −1 where one
// of them is not known.
func along(counts *tally.Counts, set strata.Set) (group []int32, cells []strata.Cell) {
	group, number := make([]int32, len(counts.Origins)), map[strata.Cell]int32{}
	for o, cell := range counts.Origins {
		if !cell.Known().Has(set) {
			group[o] = -1
			continue
		}
		kept := cell.Keep(set)
		g, known := number[kept]
		if !known {
			g = int32(len(cells))
			number[kept], cells = g, append(cells, kept)
		}
		group[o] = g
	}
	return group, cells
}

// fullKey is a smoothed key of agreed ages, row by row for every stratum of the catch, with
// effects of the groups along a set of columns.
type fullKey struct {
	design catch.Design
	q      []float64
	has    []bool // by stratum: its group has aged fish
}

// newFullKey fits it; nil where it can't be had.
func newFullKey(s *Species, set strata.Set, group []int32, cells []strata.Cell) *fullKey {
	f := &fullKey{design: s.Counts.Design, has: make([]bool, len(s.Counts.Cells))}
	d := &f.design
	d.KeyStrata = len(d.Strata)
	d.Strata = append([]catch.Stratum(nil), d.Strata...)
	sample := s.Counts.Key
	sample.Grid.Rungs, sample.Grid.Groups = [][]int32{group}, []int{len(cells)}
	sample.Grid.Path = make([][]int32, len(s.Counts.Cells))
	for i, cell := range s.Counts.Cells {
		d.Strata[i].Key = i
		g := slices.Index(cells, cell.Keep(set))
		sample.Grid.Path[i], f.has[i] = []int32{int32(g)}, g >= 0
	}
	worker, err := key.NewSmooth(sample, key.Smoothing{EdgeBins: true})
	if err != nil {
		return nil
	}
	f.q = make([]float64, d.KeyStrata*d.Bins*d.Ages)
	worker.Fit(f.q, make([]key.Source, d.KeyStrata*d.Bins), sample.Weights(), nil)
	return f
}

// shift is the largest change of a share at age of the whole catch when the key's rows are
// those of own, where that has aged fish.
func (f *fullKey) shift(own *fullKey) record.Number {
	if f == nil || own == nil {
		return record.Number{}
	}
	rows := f.design.Bins * f.design.Ages
	for i, has := range own.has {
		if !has {
			copy(own.q[i*rows:(i+1)*rows], f.q[i*rows:])
		}
	}
	pooled, total := f.shares()
	apart, totalToo := own.shares()
	if total == 0 || totalToo == 0 {
		return record.Number{}
	}
	most := 0.0
	for a := range apart {
		most = math.Max(most, math.Abs(apart[a]-pooled[a]))
	}
	return record.Some(most)
}

// shares is the share of each kept age in the whole catch, of a total of aged fish.
func (f *fullKey) shares() (shares []float64, total float64) {
	d := &f.design
	row := make([]float64, d.Size())
	catch.NewWork(d).AtAge(row, f.q, catch.Draw{})
	shares = make([]float64, d.Out())
	for i := range d.Strata {
		for a, n := range d.Block(row, i).Numbers() {
			shares[a] += n
			total += n
		}
	}
	for a := range shares {
		shares[a] = over(shares[a], total)
	}
	return shares, total
}

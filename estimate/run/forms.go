package run

import (
	"math"

	"earstone/estimate/catch"
	"earstone/estimate/key"
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
	for _, column := range []strata.Set{strata.Quarter, strata.Area, strata.Gear} {
		if !counts.Columns.Has(column) || finest.Has(column) {
			continue
		}
		group, cells := c.along(s, column)
		test, err := key.Areas(counts.Key, group, 0)
		if err != nil {
			continue // one group only, or too few fish to compare: there is nothing to warn of
		}
		s.Key.Areas = append(s.Key.Areas, AreaFound{column, test, c.shift(s, column, group, cells)})
	}
	c.stage("one key for all")
}

// along numbers the origins of aged fish by the trips' and fish's own value of a column.
func (c *chain) along(s *Species, column strata.Set) (group []int32, cells []strata.Cell) {
	group = make([]int32, len(s.Counts.Origins))
	for o, cell := range s.Counts.Origins {
		group[o] = -1
		if !cell.Known().Has(column) {
			continue
		}
		kept := cell.Keep(column)
		for i, known := range cells {
			if known == kept {
				group[o] = int32(i)
			}
		}
		if group[o] < 0 {
			group[o] = int32(len(cells))
			cells = append(cells, kept)
		}
	}
	return group, cells
}

// shift is the largest change of a share at age of the whole catch when every value of
// the column gets effects of its own in a smoothed key of agreed ages.
func (c *chain) shift(s *Species, column strata.Set, group []int32, cells []strata.Cell) record.Number {
	apart := s.Counts.Key
	apart.Grid.Rungs, apart.Grid.Groups = [][]int32{group}, []int{len(cells)}
	apart.Grid.Path = make([][]int32, len(s.Counts.Cells))
	for i, cell := range s.Counts.Cells {
		apart.Grid.Path[i] = []int32{-1}
		for g, known := range cells {
			if cell.Keep(column) == known {
				apart.Grid.Path[i][0] = int32(g)
			}
		}
	}
	own, ok := c.sharesUnder(s, apart, key.Smoothing{EdgeBins: true})
	pooled, okToo := c.sharesUnder(s, apart, key.Smoothing{EdgeBins: true, Strata: math.Inf(1)})
	if !ok || !okToo {
		return record.Number{}
	}
	most := 0.0
	for a := range own {
		most = math.Max(most, math.Abs(own[a]-pooled[a]))
	}
	return record.Some(most)
}

// sharesUnder is the share of each kept age in the whole catch under a smoothed key whose
// key strata are the catch strata.
func (c *chain) sharesUnder(s *Species, sample key.Sample, smoothing key.Smoothing) ([]float64, bool) {
	d := s.Counts.Design
	d.KeyStrata = len(d.Strata)
	d.Strata = append([]catch.Stratum(nil), d.Strata...)
	for i := range d.Strata {
		d.Strata[i].Key = i
	}
	worker, err := key.NewSmooth(sample, smoothing)
	if err != nil {
		return nil, false
	}
	q, from := make([]float64, d.KeyStrata*d.Bins*d.Ages), make([]key.Source, d.KeyStrata*d.Bins)
	worker.Fit(q, from, sample.Weights(), nil)
	row := make([]float64, d.Size())
	catch.NewWork(&d).AtAge(row, q, catch.Draw{})
	shares, total := make([]float64, d.Out()), 0.0
	for i := range d.Strata {
		for a, n := range d.Block(row, i).Numbers() {
			shares[a] += n
			total += n
		}
	}
	for a := range shares {
		shares[a] /= total
	}
	return shares, total > 0
}

package run

import (
	"math"

	"earstone/estimate/change"
	"earstone/estimate/resample"
	"earstone/programme/record"
	"earstone/programme/strata"
	"earstone/statistics/dist"
)

// nurseries summarises the catch by nursery of a season drawn again:
// C_sak = C_sa · (1 − o) · π_gak for nursery k and C_sa · o outside, replicate by
// replicate, with o the share outside the baseline and g the place of stratum s.
//
// Methods, section 8, "Catch at age by nursery".
type nurseries struct {
	*view
	found   *OriginFound
	catch   *CatchFound
	at      int            // where the composition begins in a row
	place   []int32        // by stratum
	ages    int            // kept
	columns int            // nurseries and outside
	assayed float64        // fish in the composition
	shares  [][][]Estimate // by place, age and column
	whole   []wholeShares  // by margin
}

// wholeShares are the shares of all ages together, replicates × columns: in the season as
// it is, in every replicate, and with every trip left out.
type wholeShares struct{ point, drawn, left []float64 }

// absorb gives the composition and the catch by nursery their intervals.
func (o *OriginFound) absorb(v *view, s *Species, at int) {
	n := &nurseries{view: v, found: o, catch: s.Catch, at: at, ages: v.counts.Design.Out(), columns: len(o.Nurseries) + 1}
	p := &places{set: v.counts.Columns & (strata.Year | strata.Area), cells: o.Places}
	for _, cell := range v.counts.Cells {
		n.place = append(n.place, int32(p.at(cell)))
	}
	for _, f := range o.Fish {
		if f.Weight > 0 {
			n.assayed++
		}
	}
	flags := at + len(o.Nurseries) + 1 + len(o.Places)*n.ages*len(o.Nurseries)
	for b := range v.drawn.Replicates {
		row := v.drawn.Row(b)
		o.Unfit += int(row[flags])
		o.Unsettled += int(row[flags+1])
	}
	for k := range o.Whole {
		o.Whole[k] = n.overall(at + k)
	}
	o.Outside = n.overall(at + len(o.Nurseries))
	n.outside(&o.Outside)
	n.summarise()
	n.changes()
}

// overall is a column of the composition of all fish.
func (n *nurseries) overall(column int) Estimate {
	draws := make([]float64, n.drawn.Replicates)
	n.drawn.Column(draws, column)
	s := spread{point: n.point[column], draws: draws, level: n.options.Level}
	s.moves = n.allMoves(func(row int) float64 { return n.left.Drawn.Row(row)[column] })
	return s.summarise()
}

// outside gives the share outside, of which few or none were seen, an exact interval for
// the effective number of fish, widened to where the replicates reach.
func (n *nurseries) outside(e *Estimate) {
	fish := n.found.Fit.Composition.Effective
	if !e.SE.Known || !(fish > 0) {
		return
	}
	low, high := dist.ExactShare(e.Value.X*fish, fish, n.options.Level)
	e.Low, e.High, e.Method = record.Some(min(low, e.Percentile.Low.X)), record.Some(max(high, e.Percentile.High.X)), ByShare
}

// summarise fills the places of the catch by nursery. The shares of single ages in a
// stratum are those of its place, and are summarised once.
func (n *nurseries) summarise() {
	strataN, years := len(n.counts.Cells), len(n.counts.Years)
	workers := n.options.Workers
	n.shares = make([][][]Estimate, len(n.found.Places))
	resample.Each(workers, len(n.shares), func(g int) { n.shares[g] = n.sharesOf(g) })
	all := make([]NurseryPlace, strataN+len(n.counts.Sums))
	n.whole = make([]wholeShares, len(n.counts.Sums))
	resample.Each(workers, len(all), func(i int) { all[i] = n.placeAt(i) })
	n.found.Strata, n.found.Years, n.found.Sums = all[:strataN], all[strataN:strataN+years], all[strataN+years:]
}

// table is the catch of a set of strata by quantity: rows of ages and of all ages, in
// each the columns of nurseries and outside and then their sum; each a column over some
// rows of the resampling.
func (n *nurseries) table(rows int, row func(int) []float64, set []int32) [][]float64 {
	width := n.columns + 1
	all := make([]float64, (n.ages+1)*width*rows)
	columns := make([][]float64, (n.ages+1)*width)
	for j := range columns {
		columns[j] = all[j*rows : (j+1)*rows]
	}
	K := n.columns - 1
	for b := range rows {
		x := row(b)
		out := x[n.at+K]
		for _, s := range set {
			first := n.at + n.columns + int(n.place[s])*n.ages*K
			for a, caught := range n.counts.Design.Block(x, int(s)).Numbers() {
				if caught == 0 {
					continue
				}
				for k, share := range x[first+a*K : first+(a+1)*K] {
					columns[a*width+k][b] += caught * (1 - out) * share
				}
				columns[a*width+K][b] += caught * out
				columns[a*width+n.columns][b] += caught
			}
		}
		for a := range n.ages {
			for c := range width {
				columns[n.ages*width+c][b] += columns[a*width+c][b]
			}
		}
	}
	return columns
}

// tables is the catch by nursery of a set of strata as a block: in the season as it is,
// in every replicate, and with every trip left out.
func (n *nurseries) tables(set []int32, year int16) *block {
	b := n.emptyBlock(year)
	b.point = n.table(1, func(int) []float64 { return n.point }, set)
	b.drawn = n.table(n.drawn.Replicates, n.drawn.Row, set)
	b.left = n.table(n.left.Replicates, n.left.Drawn.Row, set)
	return b
}

// emptyBlock is a block without columns.
func (n *nurseries) emptyBlock(year int16) *block {
	b := &block{view: n.view, draws: make([]float64, n.drawn.Replicates), flat: make([]float64, len(n.counts.Trips))}
	for _, trips := range n.groups {
		if n.counts.Trips[trips[0]].Cell.Keep(n.counts.Columns).Year == year {
			b.groups = append(b.groups, trips)
		}
	}
	b.moves = make([][]float64, len(b.groups))
	return b
}

// sharesOf are the shares of nurseries and outside at each age of a place.
func (n *nurseries) sharesOf(g int) [][]Estimate {
	b, K := n.emptyBlock(n.found.Places[g].Year), n.columns-1
	shares := make([][]Estimate, n.ages)
	for a := range shares {
		shares[a] = make([]Estimate, n.columns)
		for c := range shares[a] {
			at := n.at + n.columns + (g*n.ages+a)*K + c
			of := func(x []float64) float64 {
				if c == K {
					return x[n.at+K]
				}
				return (1 - x[n.at+K]) * x[at]
			}
			for i := range b.draws {
				b.draws[i] = of(n.drawn.Row(i))
			}
			b.move(func(i int) float64 { return of(n.left.Drawn.Row(i)) })
			shares[a][c] = spread{point: of(n.view.point), draws: b.draws, moves: b.moves, level: n.options.Level}.summarise()
		}
		n.outside(&shares[a][K])
	}
	return shares
}

// placeAt is the catch by nursery of a stratum, or of a margin behind them.
func (n *nurseries) placeAt(i int) NurseryPlace {
	sum := i - len(n.counts.Cells)
	set, from, place := []int32{int32(i)}, (*Place)(nil), NurseryPlace{}
	switch years := len(n.counts.Years); {
	case sum < 0:
		from = &n.catch.Strata[i]
	case sum < years:
		set, from = n.counts.Design.Margins[sum].Strata, &n.catch.Years[sum]
	default:
		set, from = n.counts.Design.Margins[sum].Strata, &n.catch.Sums[sum-years]
	}
	place.Cell, place.Filled = from.Cell, from.Filled
	n.countFish(&place)
	b, width := n.tables(set, from.Cell.Year), n.columns+1
	for a := range n.ages + 1 {
		var shares []Estimate
		total := n.total(b, from, a)
		for c := range n.columns {
			j, all := a*width+c, a*width+n.columns
			share := n.share(b, sum, set, a, c, j, all)
			number := b.estimate(func(x [][]float64, row int) float64 { return x[j][row] })
			number.ofParts(share, total, b.linear(j, all))
			shares = append(shares, share)
			if c == 0 {
				place.Number = append(place.Number, nil)
			}
			place.Number[a] = append(place.Number[a], number)
		}
		if sum >= 0 {
			place.Share = append(place.Share, shares)
		}
	}
	if sum >= 0 {
		n.whole[sum] = wholeShares{b.shares(b.point, n), b.shares(b.drawn, n), b.shares(b.left, n)}
	}
	return place
}

// total is the catch of a row: at an age, or of all fish with an age.
func (n *nurseries) total(b *block, from *Place, a int) Estimate {
	if a < n.ages {
		return from.Number[a]
	}
	all := n.ages*(n.columns+1) + n.columns
	return b.estimate(func(x [][]float64, row int) float64 { return x[all][row] })
}

// share is a share of the row's catch.
func (n *nurseries) share(b *block, sum int, set []int32, a, c, j, all int) Estimate {
	if sum < 0 && a < n.ages {
		return n.shares[n.place[set[0]]][a][c]
	}
	share := b.estimate(func(x [][]float64, row int) float64 { return x[j][row] / x[all][row] })
	if c == n.columns-1 {
		n.outside(&share)
	}
	return share
}

// countFish counts the assayed fish of a place and the trips they came off.
func (n *nurseries) countFish(p *NurseryPlace) {
	p.Assayed = make([]int, n.ages+1)
	seen := map[int]bool{}
	for _, f := range n.found.Fish {
		cell := strata.At(f.Fish.CaughtOn, f.Fish.Area, f.Fish.Gear)
		trip := f.Trip
		if trip >= 0 {
			cell = n.counts.Trips[trip].Cell
		}
		if f.Weight <= 0 || cell.Keep(p.Cell.Known()) != p.Cell {
			continue
		}
		if f.Age >= 0 {
			p.Assayed[f.Age]++
		}
		p.Assayed[n.ages]++
		if trip >= 0 && !seen[trip] {
			seen[trip] = true
			p.Trips++
		}
	}
	p.Stones = p.Assayed[n.ages]
}

// ofParts gives an estimate that is share × total the interval of asProduct, and beyond
// it one where either was never seen: from 0 to the product of the upper ends.
func (e *Estimate) ofParts(share, total Estimate, r float64) {
	switch {
	case !e.SE.Known || !total.High.Known:
	case !share.Value.Known: // nothing was caught of what the share is of
		e.Low, e.High, e.Method = record.Some(0), total.High, ByShare
	case !share.High.Known:
	case total.Value.X == 0 || share.Value.X == 0:
		e.Low, e.High, e.Method = record.Some(0), record.Some(share.High.X*total.High.X), ByShare
	default:
		away := func(s, t float64) float64 { return math.Exp(math.Sqrt(max(s*s+2*r*s*t+t*t, 0))) }
		e.Low, e.Method = record.Some(0), ByShare
		if share.Low.X > 0 && total.Low.X > 0 {
			e.Low = record.Some(e.Value.X / away(math.Log(share.Value.X/share.Low.X), math.Log(total.Value.X/total.Low.X)))
		}
		e.High = record.Some(e.Value.X * away(math.Log(share.High.X/share.Value.X), math.Log(total.High.X/total.Value.X)))
	}
}

// linear is the correlation of the share of column j in column all with column all over
// the replicates; 0 where either does not move.
func (b *block) linear(j, all int) float64 {
	var n, sx, sy, sxx, syy, sxy float64
	for row, part := range b.drawn[j] {
		y := b.drawn[all][row]
		if !(y > 0) || b.point[all][0] == 0 {
			continue
		}
		x := part / y
		y /= b.point[all][0]
		n, sx, sy, sxx, syy, sxy = n+1, sx+x, sy+y, sxx+x*x, syy+y*y, sxy+x*y
	}
	vx, vy := sxx-sx*sx/n, syy-sy*sy/n
	if !(vx > 1e-12 && vy > 1e-12) {
		return 0
	}
	return (sxy - sx*sy/n) / math.Sqrt(vx*vy)
}

// shares are the shares of all ages together, row by row.
func (b *block) shares(columns [][]float64, n *nurseries) []float64 {
	first := n.ages * (n.columns + 1)
	total := columns[first+n.columns]
	out := make([]float64, len(total)*n.columns)
	for row, all := range total {
		for c := range n.columns {
			out[row*n.columns+c] = columns[first+c][row] / all
		}
	}
	return out
}

// changes compares the compositions of years, and of areas of a year: between quarters or
// gears they differ by the ages and areas caught alone.
func (n *nurseries) changes() {
	for _, pair := range n.pairs() {
		if n.counts.Sums[pair[0]].Known()&^(strata.Year|strata.Area) != 0 {
			continue
		}
		a, b := n.whole[pair[0]], n.whole[pair[1]]
		c := NurseryChange{A: n.counts.Sums[pair[0]], B: n.counts.Sums[pair[1]]}
		for k := range n.columns - 1 {
			s := change.Sides{A: a.point[k], B: b.point[k], DrawsA: make([]float64, n.drawn.Replicates), DrawsB: make([]float64, n.drawn.Replicates)}
			for row := range s.DrawsA {
				s.DrawsA[row], s.DrawsB[row] = a.drawn[row*n.columns+k], b.drawn[row*n.columns+k]
			}
			s.Moves = n.allMoves(func(row int) float64 { return b.left[row*n.columns+k] - a.left[row*n.columns+k] })
			c.Shares = append(c.Shares, change.Of(s, n.options.Level))
		}
		c.Whole, c.Compared = change.Compositions(n.inside(a.point), n.inside(b.point), n.inside(a.drawn), n.inside(b.drawn), 0.5/math.Max(n.assayed, 1))
		n.found.Changes = append(n.found.Changes, c)
	}
}

// inside are the shares without that outside, row by row.
func (n *nurseries) inside(shares []float64) []float64 {
	var kept []float64
	for i, share := range shares {
		if (i+1)%n.columns != 0 {
			kept = append(kept, share)
		}
	}
	return kept
}

package run

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"

	"earstone/estimate/catch"
	"earstone/estimate/key"
	"earstone/estimate/resample"
	"earstone/estimate/tally"
	"earstone/programme/record"
	"earstone/programme/strata"
)

// replicate estimates the catch at age and what stands beside it, and draws the season
// again.
func (c *chain) replicate(s *Species, beside []part) (*view, error) {
	counts := s.Counts
	ladder, _ := strata.ParseLadder(c.book.Settings.Ladders.Lengths)
	counts.Design.Singles(s.Key.Q, func(one int) []int { return counts.Donors(one, ladder) })
	v := &view{counts: counts, key: s.Key, options: c.options, problem: c.problem(s)}
	for _, b := range beside {
		v.problem.Beside = append(v.problem.Beside, b.Beside)
	}
	if err := affordable(v.problem); err != nil {
		return nil, err
	}
	v.point = make([]float64, v.problem.Size())
	v.q, v.from = make([]float64, len(s.Key.Q)), make([]key.Source, len(s.Key.From))
	resample.Point(v.problem, v.point, v.q, v.from)
	var err error
	if v.drawn, err = resample.Run(c.ctx, v.problem, c.progress("replicates")); err != nil {
		return nil, err
	}
	c.stage("replicates")
	if v.left, err = resample.Jackknife(c.ctx, v.problem, c.progress("trips left out")); err != nil {
		return nil, err
	}
	c.stage("trips left out")
	v.cells, v.groups = s.Key.cells, counts.Design.Groups()
	return v, nil
}

// mostNumbers is how many numbers the replicates may be: 2 GB of them.
const mostNumbers = 250_000_000

// ErrTooLarge is a run whose replicates would not fit into an ordinary computer.
var ErrTooLarge = errors.New("the replicates would not fit into memory")

// affordable reckons the replicates before any is drawn.
func affordable(p resample.Problem) error {
	size, most := p.Size(), max(mostNumbers/p.Size()-len(p.Counts.Trips), 0)
	if p.Replicates <= most {
		return nil
	}
	return fmt.Errorf("%w: %d strata and sums of %s with %d numbers each and %d trips leave room for %d replicates, not %d; ask for fewer, or take a column out of the strata",
		ErrTooLarge, len(p.Counts.Cells)+len(p.Counts.Sums), p.Counts.Species, size/(len(p.Counts.Cells)+len(p.Counts.Sums)), len(p.Counts.Trips), most, p.Replicates)
}

// places summarises every stratum, every year, and the sums within years.
func (v *view) places(s *Species) {
	counts := v.counts
	s.Catch = &CatchFound{Ages: ageNames(&counts.Design), Unknown: v.drawn.Told.Unsettled,
		Strata: make([]Place, len(counts.Cells)), Years: make([]Place, len(counts.Years)), Sums: make([]Place, len(counts.Sums)-len(counts.Years))}
	resample.Each(v.options.Workers, len(counts.Cells)+len(counts.Sums), func(i int) {
		switch sum := i - len(counts.Cells); {
		case sum < 0:
			s.Catch.Strata[i] = v.stratum(i)
		case sum < len(counts.Years):
			s.Catch.Years[sum] = v.sum(sum)
			s.Catch.Years[sum].Covariance = v.covariance(i)
		default:
			s.Catch.Sums[sum-len(counts.Years)] = v.sum(sum)
		}
	})
	s.Catch.Changes = v.changes()
}

func ageNames(d *catch.Design) []string {
	names := make([]string, d.Out())
	for a := range names {
		names[a] = strconv.Itoa(a)
	}
	if d.Plus > 0 && d.Ages > d.Plus {
		names[len(names)-1] += "+"
	}
	return names
}

// view is what the summaries of all places look at.
type view struct {
	counts  *tally.Counts
	key     *KeyFound
	options Options
	problem resample.Problem
	point   []float64
	q       []float64
	from    []key.Source
	drawn   *resample.Drawn
	left    *resample.Left
	cells   []catch.KeyCell
	groups  [][]int32 // trips that are drawn again among each other
}

func (v *view) stratum(i int) Place {
	d, stratum := &v.counts.Design, &v.counts.Design.Strata[i]
	p := Place{Cell: v.counts.Cells[i], Trips: len(stratum.Trips)}
	for _, t := range stratum.Trips {
		p.Stones += int(v.counts.Trips[t].Aged + 0.5)
	}
	if stratum.Filled {
		p.Filled, p.FilledBy, p.Trips, p.Stones = 1, v.counts.Filled[i], 0, 0
	}
	p.Single = len(stratum.Trips) == 1 && !stratum.Filled
	v.numbers(&p, i, []int32{int32(i)})
	fish := make([]float64, len(v.counts.Trips))
	for t, trip := range v.counts.Trips {
		fish[t] = trip.Measured
	}
	if alike, ok := d.AlikeIn(i, fish); ok && !stratum.Filled {
		p.Alike = record.Some(alike.EffectiveFish)
	}
	return p
}

// sum is the place of margin i.
func (v *view) sum(i int) Place {
	d, cell := &v.counts.Design, v.counts.Sums[i]
	set := d.Margins[i].Strata
	p := Place{Cell: cell}
	total, filled := 0.0, 0.0
	for _, s := range set {
		n := d.Block(v.point, int(s)).Total()
		total += n
		if d.Strata[s].Filled {
			filled += n
			continue
		}
		p.Trips += len(d.Strata[s].Trips)
	}
	if total > 0 {
		p.Filled = filled / total
	}
	for _, trip := range v.counts.Trips {
		if trip.Cell.Keep(cell.Known()) == cell {
			p.Stones += int(trip.Aged + 0.5)
		}
	}
	v.numbers(&p, len(d.Strata)+i, set)
	return p
}

// numbers fills the estimates of a place whose block is i, a sum over a set of strata.
func (v *view) numbers(p *Place, i int, set []int32) {
	d, k := &v.counts.Design, v.counts.Design.Out()
	b := v.block(i, p.Cell.Year, set)
	p.Unaged = b.estimate(func(x [][]float64, row int) float64 { return x[3*k][row] })
	p.Total = b.estimate(func(x [][]float64, row int) float64 { return x[3*k+1][row] })
	p.Number, p.Share = make([]Estimate, k), make([]Estimate, k)
	p.MeanLength, p.MeanWeight = make([]Estimate, k), make([]Estimate, k)
	for a := range k {
		p.Number[a] = b.estimate(func(x [][]float64, row int) float64 { return x[a][row] })
		p.Share[a] = b.estimate(func(x [][]float64, row int) float64 { return x[a][row] / x[3*k+2][row] })
		p.MeanLength[a] = b.mean(func(x [][]float64, row int) float64 { return x[k+a][row] / x[a][row] })
		if d.Weight != nil {
			p.MeanWeight[a] = b.mean(func(x [][]float64, row int) float64 { return x[2*k+a][row] / x[a][row] })
		}
	}
	if p.Single {
		p.lone(d.Strata[i].RelativeDF)
	}
	if i < len(d.Strata) && d.Strata[i].Filled && len(d.Strata[i].Trips) < 2 {
		p.lone(0)
	}
	v.beside(p, set)
	fish := v.measured(set)
	for a := range k {
		p.Number[a] = b.part(p.Number[a], a, p.Total, fish, p.Effective.X)
		p.Share[a].asShare(1, fish, p.Effective.X)
	}
	p.Unaged = b.part(p.Unaged, 3*k, p.Total, fish, p.Effective.X)
}

// lone gives the estimates of a stratum with one trip the degrees of freedom of the pool
// that its spread comes from. Without such a pool nothing tells how far other trips would
// lie from this one, and there is no interval; nor has the pool anything to say of the size
// at an age.
func (p *Place) lone(df float64) {
	lone := func(e *Estimate) {
		if e.Freedom = df; df == 0 {
			e.forget()
		}
	}
	for a := range p.Number {
		lone(&p.Number[a])
		lone(&p.Share[a])
		p.MeanLength[a].forget()
		p.MeanWeight[a].forget()
	}
	lone(&p.Unaged)
}

// beside puts the analytic standard errors and the effective sample sizes beside the
// resampled ones.
func (v *view) beside(p *Place, set []int32) {
	k := len(p.Number)
	numbers, share, resampled, formula := make([]float64, k), make([]float64, k), make([]float64, k), make([]float64, k)
	for a := range k {
		numbers[a], share[a] = p.Number[a].Value.X, p.Share[a].Value.X
		resampled[a] = p.Share[a].SE.X * p.Share[a].SE.X
	}
	analytic := v.counts.Design.Covariance(set, v.q, v.cells).Total()
	for _, s := range set {
		v.addCV(analytic, int(s))
	}
	shares := catch.ShareCovariance(numbers, analytic)
	for a := range k {
		p.Number[a].Analytic, p.Share[a].Analytic = root(analytic[a*k+a]), root(shares[a*k+a])
		formula[a] = shares[a*k+a]
	}
	p.Effective, p.EffectiveAnalytic = effective(share, resampled), effective(share, formula)
}

// addCV adds CV_s² C_s C_sᵀ, what the coefficient of variation of a stratum's catch does.
func (v *view) addCV(dst []float64, s int) {
	cv := v.counts.CV[s]
	if cv == 0 {
		return
	}
	numbers := v.counts.Design.Block(v.point, s).Numbers()
	for a, x := range numbers {
		for b, y := range numbers {
			dst[a*len(numbers)+b] += float64(cv * cv * x * y)
		}
	}
}

// measured is the number of fish measured in the trips that give lengths to a set of
// strata.
func (v *view) measured(set []int32) float64 {
	seen, fish := make([]bool, len(v.counts.Trips)), 0.0
	for _, s := range set {
		for _, t := range v.counts.Design.Strata[s].Trips {
			if !seen[t] {
				fish += v.counts.Trips[t].Measured
			}
			seen[t] = true
		}
	}
	return fish
}

func effective(share, variance []float64) record.Number {
	if n := catch.EffectiveSize(share, variance); n > 0 {
		return record.Some(n)
	}
	return record.Number{}
}

func root(variance float64) record.Number {
	if variance <= 0 {
		return record.Number{}
	}
	return record.Some(math.Sqrt(variance))
}

// block is one block of the evaluation by quantity: itself, in every replicate, and with
// every trip left out. The last quantity is the number of aged fish.
type block struct {
	view               *view
	point, drawn, left [][]float64
	groups             [][]int32   // of the trips that it rests on
	draws              []float64   // of the quantity at hand
	moves              [][]float64 // likewise
	flat               []float64   // beneath moves
}

// block is that of stratum or margin i, which sums a set of strata. It rests on the trips of
// its year, and on those of another year that fill a stratum of the set.
func (v *view) block(i int, year int16, set []int32) *block {
	rests := make([]bool, len(v.counts.Trips))
	for _, s := range set {
		for _, t := range v.counts.Design.Strata[s].Trips {
			rests[t] = true
		}
	}
	b := &block{view: v, point: v.columns(1, func(int) []float64 { return v.point }, i),
		drawn: v.columns(v.drawn.Replicates, v.drawn.Row, i), left: v.columns(v.left.Replicates, v.left.Drawn.Row, i)}
	for _, trips := range v.groups {
		if v.counts.Trips[trips[0]].Cell.Keep(v.counts.Columns).Year == year || slices.ContainsFunc(trips, func(t int32) bool { return rests[t] }) {
			b.groups = append(b.groups, trips)
		}
	}
	b.draws, b.moves = make([]float64, v.drawn.Replicates), make([][]float64, len(b.groups))
	b.flat = make([]float64, len(v.counts.Trips))
	return b
}

// estimate summarises a quantity made of the block's columns.
func (b *block) estimate(of func(columns [][]float64, row int) float64) Estimate {
	for row := range b.draws {
		b.draws[row] = of(b.drawn, row)
	}
	b.move(func(row int) float64 { return of(b.left, row) })
	return spread{point: of(b.point, 0), draws: b.draws, moves: b.moves, level: b.view.options.Level}.summarise()
}

// mean is estimate of a mean over fish. One that never moves, of an age seen in a single
// fish for one, has a spread that is not known, not one of 0.
func (b *block) mean(of func(columns [][]float64, row int) float64) Estimate {
	e := b.estimate(of)
	if e.SE.Known && e.SE.X == 0 {
		e.forget()
	}
	return e
}

// part gives column j, a part of the total, its interval: that of a share of a known
// total, or of share times total where the total is an estimate too.
func (b *block) part(e Estimate, j int, total Estimate, fish, effective float64) Estimate {
	if !(total.SE.X > 1e-9*total.Value.X) {
		e.asShare(total.Value.X, fish, effective)
		return e
	}
	all := len(b.point) - 2
	share := b.estimate(func(x [][]float64, row int) float64 { return x[j][row] / x[all][row] })
	if !e.SE.Known || !share.SE.Known {
		return e
	}
	share.Freedom = e.Freedom
	share.asShare(1, fish, effective)
	e.asProduct(share, total, b.together(j, all))
	return e
}

// together is the correlation of the logarithms of the share of column j in column all
// and of column all over the replicates; 0 where either does not move.
func (b *block) together(j, all int) float64 {
	var n, sx, sy, sxx, syy, sxy float64
	for row, part := range b.drawn[j] {
		total := b.drawn[all][row]
		if !(part > 0 && total > 0) {
			continue
		}
		x, y := math.Log(part/total)-math.Log(b.point[j][0]/b.point[all][0]), math.Log(total/b.point[all][0])
		n, sx, sy, sxx, syy, sxy = n+1, sx+x, sy+y, sxx+x*x, syy+y*y, sxy+x*y
	}
	vx, vy := sxx-sx*sx/n, syy-sy*sy/n
	if !(vx > 1e-18 && vy > 1e-18) {
		return 0
	}
	return (sxy - sx*sy/n) / math.Sqrt(vx*vy)
}

// move finds how far a quantity moves when a trip of the year is left out, by group of
// trips that are drawn again among each other: L = (m−1)/m (mean of the group − value
// without the trip).
func (b *block) move(without func(row int) float64) {
	flat := b.flat[:0]
	for g, trips := range b.groups {
		first, sum := len(flat), 0.0
		for _, t := range trips {
			if x := without(b.view.left.Row[t]); !math.IsNaN(x) {
				flat = append(flat, x)
				sum += x
			}
		}
		b.moves[g] = flat[first:]
		m := float64(len(b.moves[g]))
		for i, x := range b.moves[g] {
			b.moves[g][i] = (m - 1) / m * (sum/m - x)
		}
	}
}

// allMoves is how far a quantity that rests on all years moves when a trip is left out.
// A row leaves out one trip of each year, so that what years share moves by the sum of
// these: each trip is given the row's move, and with several years the degrees of freedom
// come out low rather than high.
func (v *view) allMoves(without func(row int) float64) [][]float64 {
	b := block{view: v, groups: v.groups, moves: make([][]float64, len(v.groups)), flat: make([]float64, len(v.counts.Trips))}
	b.move(without)
	return b.moves
}

// columns turns block i of some rows into one column a quantity.
func (v *view) columns(rows int, row func(int) []float64, i int) [][]float64 {
	size := v.counts.Design.BlockSize()
	all := make([]float64, (size+1)*rows)
	columns := make([][]float64, size+1)
	for j := range columns {
		columns[j] = all[j*rows : (j+1)*rows]
	}
	for b := range rows {
		block := v.counts.Design.Block(row(b), i)
		for j, x := range block {
			columns[j][b] = x
		}
		for _, n := range block.Numbers() {
			columns[size][b] += n
		}
	}
	return columns
}

// covariance of the numbers at age over the replicates, k × k.
func (v *view) covariance(i int) []float64 {
	d := &v.counts.Design
	k, n := d.Out(), float64(v.drawn.Replicates)
	mean, sums := make([]float64, k), make([]float64, k*k)
	for b := range v.drawn.Replicates {
		for a, x := range d.Block(v.drawn.Row(b), i).Numbers() {
			mean[a] += x / n
		}
	}
	for b := range v.drawn.Replicates {
		numbers := d.Block(v.drawn.Row(b), i).Numbers()
		for a := range k {
			for e := range k {
				sums[a*k+e] += (numbers[a] - mean[a]) * (numbers[e] - mean[e]) / (n - 1)
			}
		}
	}
	return sums
}

// keyCells names the pool of aged fish beneath each row of the key. A smoothed key brings
// a variance of its own for cells whose single fish has none.
func keyCells(worker key.Worker, d *catch.Design, used []float64) []catch.KeyCell {
	cells, ids := make([]catch.KeyCell, len(used)), make([]int32, len(used))
	worker.Cells(ids)
	var own []float64
	if smoothed, ok := worker.(interface{ Variance([]float64) }); ok && len(used) > 0 {
		own = make([]float64, len(used)*d.Out())
		smoothed.Variance(own)
	}
	for i, id := range ids {
		cells[i] = catch.KeyCell{ID: int(id), Fish: used[i]}
		if own != nil && used[i] <= 1 {
			cells[i].Variance = own[i*d.Out() : (i+1)*d.Out()]
		}
	}
	return cells
}

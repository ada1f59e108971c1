package run

import (
	"math"
	"strconv"

	"earstone/estimate/catch"
	"earstone/estimate/key"
	"earstone/estimate/resample"
	"earstone/estimate/tally"
	"earstone/programme/record"
	"earstone/programme/strata"
)

// catchAtAge estimates the catch at age, draws the season again, and puts the two side by
// side.
func (c *chain) catchAtAge(s *Species) error {
	counts := s.Counts
	if len(counts.Cells) == 0 || counts.Measured == 0 {
		return nil
	}
	ladder, _ := strata.ParseLadder(c.book.Settings.Ladders.Lengths)
	counts.Design.Singles(s.Key.Q, func(one int) []int { return counts.Donors(one, ladder) })
	problem := c.problem(s)
	v := &view{counts: counts, key: s.Key, options: c.options, point: make([]float64, counts.Design.Size())}
	v.q, v.from = make([]float64, len(s.Key.Q)), make([]key.Source, len(s.Key.From))
	resample.Point(problem, v.point, v.q, v.from)
	drawn, err := resample.Run(c.ctx, problem, c.progress("replicates"))
	if err != nil {
		return err
	}
	c.stage("replicates")
	left, err := resample.Jackknife(c.ctx, problem, c.progress("trips left out"))
	if err != nil {
		return err
	}
	c.stage("trips left out")
	v.drawn, v.left, v.cells = drawn, left, keyCells(counts, s.Key)
	s.Catch = &CatchFound{Ages: ageNames(&counts.Design), Unknown: drawn.Told.Unsettled,
		Strata: make([]Place, len(counts.Cells)), Years: make([]Place, len(counts.Years))}
	resample.Each(c.options.Workers, len(counts.Cells)+len(counts.Years), func(i int) {
		if i < len(counts.Cells) {
			s.Catch.Strata[i] = v.stratum(i)
		} else {
			s.Catch.Years[i-len(counts.Cells)] = v.year(i - len(counts.Cells))
		}
	})
	c.stage("intervals")
	return nil
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
	counts      *tally.Counts
	key         *KeyFound
	options     Options
	point       []float64
	q           []float64
	from        []key.Source
	drawn, left *resample.Drawn
	cells       []catch.KeyCell
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
	v.numbers(&p, i, []int32{int32(i)}, false)
	fish := make([]float64, len(v.counts.Trips))
	for t, trip := range v.counts.Trips {
		fish[t] = trip.Measured
	}
	if alike, ok := d.AlikeIn(i, fish); ok && !stratum.Filled {
		p.Alike = record.Some(alike.EffectiveFish)
	}
	return p
}

func (v *view) year(i int) Place {
	d := &v.counts.Design
	set := d.Margins[i].Strata
	p := Place{Cell: strata.Cell{Year: int16(v.counts.Years[i])}}
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
		if int(trip.Cell.Year) == v.counts.Years[i] {
			p.Stones += int(trip.Aged + 0.5)
		}
	}
	v.numbers(&p, len(d.Strata)+i, set, true)
	p.Covariance = v.covariance(len(d.Strata) + i)
	return p
}

// numbers fills the estimates of a place whose block is i. Headline figures get the BCa
// interval.
func (v *view) numbers(p *Place, i int, set []int32, headline bool) {
	d, k := &v.counts.Design, v.counts.Design.Out()
	point, drawn := d.Block(v.point, i), v.columns(v.drawn, i)
	var left [][]float64
	if headline {
		left = v.columns(v.left, i)
	}
	estimate := func(of func(columns [][]float64, b int) float64) Estimate {
		return v.estimate(of, point, drawn, left)
	}
	analytic := d.Covariance(set, v.q, v.cells).Total()
	shares := catch.ShareCovariance(point.Numbers(), analytic)
	p.Number, p.Share = make([]Estimate, k), make([]Estimate, k)
	p.MeanLength, p.MeanWeight = make([]Estimate, k), make([]Estimate, k)
	var share, resampled, formula []float64
	for a := range k {
		p.Number[a] = estimate(func(x [][]float64, b int) float64 { return x[a][b] })
		p.Share[a] = estimate(func(x [][]float64, b int) float64 { return x[a][b] / x[len(x)-1][b] })
		p.MeanLength[a] = estimate(func(x [][]float64, b int) float64 { return x[k+a][b] / x[a][b] })
		if d.Weight != nil {
			p.MeanWeight[a] = estimate(func(x [][]float64, b int) float64 { return x[2*k+a][b] / x[a][b] })
		}
		p.Number[a].Analytic = root(analytic[a*k+a])
		p.Share[a].Analytic = root(shares[a*k+a])
		share = append(share, p.Share[a].Value.X)
		resampled = append(resampled, p.Share[a].SE.X*p.Share[a].SE.X)
		formula = append(formula, shares[a*k+a])
	}
	p.Unaged = estimate(func(x [][]float64, b int) float64 { return x[3*k][b] })
	p.Total = estimate(func(x [][]float64, b int) float64 { return x[3*k+1][b] })
	p.Effective, p.EffectiveAnalytic = effective(share, resampled), effective(share, formula)
}

// columns turns block i of all rows into one column a quantity, and adds a last one: the
// number of aged fish.
func (v *view) columns(drawn *resample.Drawn, i int) [][]float64 {
	size, rows := v.counts.Design.BlockSize(), drawn.Replicates
	all := make([]float64, (size+1)*rows)
	columns := make([][]float64, size+1)
	for j := range columns {
		columns[j] = all[j*rows : (j+1)*rows]
	}
	for b := range rows {
		block := v.counts.Design.Block(drawn.Row(b), i)
		for j, x := range block {
			columns[j][b] = x
		}
		columns[size][b] = aged(block)
	}
	return columns
}

// estimate summarises a quantity of a block; left, when there is any, makes its interval
// BCa.
func (v *view) estimate(of func(columns [][]float64, b int) float64, point catch.Block, drawn, left [][]float64) Estimate {
	single := make([][]float64, len(point)+1)
	for j, x := range point {
		single[j] = []float64{x}
	}
	single[len(point)] = []float64{aged(point)}
	draws := make([]float64, v.drawn.Replicates)
	for b := range draws {
		draws[b] = of(drawn, b)
	}
	var influence []float64
	if left != nil {
		influence = v.influence(func(t int) float64 { return of(left, t) })
	}
	return summarise(of(single, 0), draws, influence, v.options.Level)
}

func aged(b catch.Block) float64 {
	total := 0.0
	for _, n := range b.Numbers() {
		total += n
	}
	return total
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

// influence is how a quantity moves when a trip is left out, one value a trip that has
// others beside it: L = (m−1)/m (mean over the group − value without the trip).
func (v *view) influence(without func(t int) float64) []float64 {
	trips := v.counts.Design.Trips
	sums, size := map[int]float64{}, map[int]float64{}
	values := make([]float64, len(trips))
	for t, trip := range trips {
		values[t] = without(t)
		sums[trip.Group] += values[t]
		size[trip.Group]++
	}
	var influence []float64
	for t, trip := range trips {
		if m := size[trip.Group]; m > 1 && !math.IsNaN(sums[trip.Group]) {
			influence = append(influence, (m-1)/m*(sums[trip.Group]/m-values[t]))
		}
	}
	return influence
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

// keyCells names the pool of aged fish beneath each row of the key.
func keyCells(c *tally.Counts, k *KeyFound) []catch.KeyCell {
	cells := make([]catch.KeyCell, len(k.From))
	first := make([]int, len(c.Key.Grid.Groups)) // ID of the first cell of each rung
	for r := 1; r < len(first); r++ {
		first[r] = first[r-1] + c.Key.Grid.Groups[r-1]*c.Design.Bins
	}
	for i, from := range k.From {
		cells[i] = catch.KeyCell{ID: -1}
		if r := from.Rung(); r >= 0 {
			group := int(c.Key.Grid.Path[i/c.Design.Bins][r])
			cells[i] = catch.KeyCell{ID: first[r] + group*c.Design.Bins + i%c.Design.Bins, Fish: k.Used[i]}
		}
	}
	return cells
}

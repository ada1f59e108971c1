package run

import (
	"context"

	"earstone/estimate/resample"
	"earstone/programme/record"
	"earstone/programme/strata"
	"earstone/statistics/interval"
	"earstone/statistics/stream"
)

// InfluenceFound is what each trip and each stone does to the catch at age of the last
// year, and what is left of its variance when one source alone is drawn: what the next
// season's sampling is planned from. A matrix has one column an age.
type InfluenceFound struct {
	Year   int
	Strata []int       // of the year, in the order of Counts.Cells
	Number []float64   // at age
	SE     []float64   // over the replicates
	Trips  []float64   // trips × ages: how far a trip moves the number, (m−1)/m (mean of its group − without it)
	Stones []float64   // entries of the key × ages: what one fish adds
	Alone  []SourceVar // of reader, catch and conversion, where they move anything
	// Catch is the fish of the catch in each key stratum and bin of the year, Q its key.
	Catch, Q []float64
	KeyCells []strata.Cell
}

// SourceVar is the variance of each number at age when a source alone is drawn.
type SourceVar struct {
	Source   stream.Source
	Variance []float64
}

// influence finds it from the replicates, the trips left out, and the stones left out.
func (c *chain) influence(s *Species, v *view) error {
	d := &v.counts.Design
	if len(v.counts.Years) == 0 {
		return nil
	}
	last, k := len(v.counts.Years)-1, d.Out()
	block := len(d.Strata) + last
	found := &InfluenceFound{Year: v.counts.Years[last], Number: make([]float64, k), SE: make([]float64, k),
		Trips: make([]float64, len(d.Trips)*k), KeyCells: v.counts.KeyCells, Q: v.q}
	for _, i := range d.Margins[last].Strata {
		found.Strata = append(found.Strata, int(i))
	}
	copy(found.Number, d.Block(v.point, block).Numbers())
	draws := make([]float64, v.drawn.Replicates)
	for a := range k {
		v.drawn.Column(draws, block*d.BlockSize()+a)
		_, found.SE[a] = interval.MeanSD(draws)
	}
	found.trips(v, block)
	found.Catch = v.catchCells(found.Strata)
	problem := v.problem
	problem.Beside = nil
	var err error
	found.Stones, err = resample.Pluck(c.ctx, problem, k, func(dst, row []float64) {
		for a, n := range d.Block(row, block).Numbers() {
			dst[a] = found.Number[a] - n
		}
	}, c.progress("stones left out"))
	if err != nil {
		return err
	}
	if found.Alone, err = v.alone(c.ctx, problem, block, c.options.Replicates/budgetPart); err != nil {
		return err
	}
	s.Influence = found
	c.stage("influence")
	return nil
}

// trips fills Trips.
func (f *InfluenceFound) trips(v *view, block int) {
	d := &v.counts.Design
	k := d.Out()
	for _, group := range v.groups {
		m := float64(len(group))
		for a := range k {
			mean := 0.0
			for _, t := range group {
				mean += d.Block(v.left.Drawn.Row(v.left.Row[t]), block).Numbers()[a] / m
			}
			for _, t := range group {
				f.Trips[int(t)*k+a] = (m - 1) / m * (mean - d.Block(v.left.Drawn.Row(v.left.Row[t]), block).Numbers()[a])
			}
		}
	}
}

// catchCells are the fish of the catch of some strata by key stratum and bin.
func (v *view) catchCells(of []int) []float64 {
	d := &v.counts.Design
	cells, p := make([]float64, d.KeyStrata*d.Bins), make([]float64, d.Bins)
	for _, s := range of {
		if !d.LengthShares(p, s, nil) {
			continue
		}
		number := d.Number(s, p)
		for l, share := range p {
			cells[d.Strata[s].Key*d.Bins+l] += float64(number * share)
		}
	}
	return cells
}

// alone are the variances of sources that more trips and stones do not lower.
func (v *view) alone(ctx context.Context, problem resample.Problem, block, n int) ([]SourceVar, error) {
	d := &v.counts.Design
	var all []SourceVar
	for _, source := range v.sources() {
		if source != stream.Reader && source != stream.Catch && source != stream.Convert {
			continue
		}
		rows := make([]resample.Row, max(n, fewest))
		for b := range rows {
			rows[b] = resample.Alone(source, b)
		}
		drawn, err := resample.Evaluate(ctx, problem, rows, nil)
		if err != nil {
			return nil, err
		}
		one, column := SourceVar{Source: source, Variance: make([]float64, d.Out())}, make([]float64, len(rows))
		for a := range one.Variance {
			drawn.Column(column, block*d.BlockSize()+a)
			_, sd := interval.MeanSD(column)
			one.Variance[a] = sd * sd
		}
		all = append(all, one)
	}
	return all, nil
}

// CV of the number at an age, unknown where there is none.
func (f *InfluenceFound) CV(age int) record.Number {
	if age >= len(f.Number) || f.Number[age] <= 0 {
		return record.Number{}
	}
	return record.Some(f.SE[age] / f.Number[age])
}

package run

import (
	"slices"

	"earstone/estimate/resample"
	"earstone/plan/budget"
	"earstone/programme/record"
	"earstone/statistics/stream"
)

// BudgetFound is whose variance that of the catch at age and of the nurseries is.
type BudgetFound struct {
	Design     budget.Design
	Quantities []Budgeted
}

// Budgeted is the budget of one quantity.
type Budgeted struct {
	Year     int    // 0: all years together
	Quantity string // number, share, mean_length, total, nursery_share
	Age      int    // −1: all ages
	Nursery  string
	budget.Budget
}

// quantity is what has a budget: a figure of a row.
type quantity struct {
	Budgeted
	of func(row []float64, nurseries int) float64 // nurseries begin there in the row
}

// budgetPart is how large a part of the replicates the pairs of a budget are: they cost a
// row a source each, beside the two rows that the replicates have already.
const budgetPart = 4

// budget shares out the variance of each year's catch at age, and of the composition by
// nursery, among the sources. Rows A and B of the design are replicates that are there
// already; growth, which no other quantity looks at, is not fitted again.
func (c *chain) budget(s *Species, v *view) error {
	pairs := c.options.Replicates / budgetPart
	d := budget.Design{Sources: v.sources(), N: pairs, Within: pairs}
	if pairs < fewest/2 {
		return nil
	}
	problem, at, nurseries := v.problem, 0, 0
	problem.Beside = nil
	for i, b := range v.problem.Beside {
		if _, ok := b.(*besideOrigin); ok {
			problem.Beside, at, nurseries = []resample.Beside{b}, v.problem.At(i), v.counts.Design.Size()
		}
	}
	rows, err := resample.Evaluate(c.ctx, problem, d.Rows()[2*pairs:], c.progress("budget"))
	if err != nil {
		return err
	}
	found, y := &BudgetFound{Design: d}, make([]float64, 2*pairs+rows.Replicates)
	for _, q := range v.budgeted(s, at > 0) {
		for i := range y {
			if i < 2*pairs {
				y[i] = q.of(v.drawn.Row(i), at)
			} else {
				y[i] = q.of(rows.Row(i-2*pairs), nurseries)
			}
		}
		if b, ok := d.Of(y); ok {
			q.Budget = b
			found.Quantities = append(found.Quantities, q.Budgeted)
		}
	}
	s.Budget = found
	c.stage("budget")
	return nil
}

// sources are those that move something in this season.
func (v *view) sources() []stream.Source {
	all := []stream.Source{stream.Trips}
	add := func(source stream.Source, moves bool) {
		if moves {
			all = append(all, source)
		}
	}
	cv := false
	for _, x := range v.counts.CV {
		cv = cv || x > 0
	}
	loose := false
	for _, stones := range v.counts.Loose {
		loose = loose || len(stones) > 0
	}
	origin := false
	for _, b := range v.problem.Beside {
		if of, ok := b.(*besideOrigin); ok {
			origin, loose = true, loose || slices.Contains(of.stands.trip, -1)
		}
	}
	add(stream.Stones, loose)
	add(stream.Reader, v.problem.Readers != nil)
	add(stream.Convert, len(v.counts.Spread) > 0)
	add(stream.Baseline, origin)
	add(stream.Catch, cv)
	add(stream.Fish, v.problem.Fish)
	return all
}

// budgeted are the quantities: of each year numbers, shares and mean lengths at age and the
// total, and the share of each nursery.
func (v *view) budgeted(s *Species, nurseries bool) []quantity {
	var all []quantity
	d := &v.counts.Design
	for y, year := range v.counts.Years {
		block := len(d.Strata) + y
		add := func(name string, age int, of func(numbers, lengths []float64) float64) {
			all = append(all, quantity{Budgeted{Year: year, Quantity: name, Age: age}, func(row []float64, _ int) float64 {
				b := d.Block(row, block)
				return of(b.Numbers(), b.Lengths())
			}})
		}
		for a := range d.Out() {
			add("number", a, func(n, _ []float64) float64 { return n[a] })
			add("share", a, func(n, _ []float64) float64 { return over(n[a], sum(n)) })
			add("mean_length", a, func(n, l []float64) float64 { return over(l[a], n[a]) })
		}
		add("mean_length", -1, func(n, l []float64) float64 { return over(sum(l), sum(n)) })
		all = append(all, quantity{Budgeted{Year: year, Quantity: "total", Age: -1}, func(row []float64, _ int) float64 { return d.Block(row, block).Total() }})
	}
	if !nurseries {
		return all
	}
	for k, name := range s.Origin.names() {
		all = append(all, quantity{Budgeted{Quantity: "nursery_share", Age: -1, Nursery: name}, func(row []float64, at int) float64 { return row[at+k] }})
	}
	return all
}

// over is a ratio; 0 of nothing, so that a replicate without an age does not end a budget.
func over(x, of float64) float64 {
	if of == 0 {
		return 0
	}
	return x / of
}

func sum(x []float64) float64 {
	total := 0.0
	for _, v := range x {
		total += v
	}
	return total
}

func known(n budget.Number) (value, se record.Number) { return record.Some(n.Value), record.Some(n.SE) }

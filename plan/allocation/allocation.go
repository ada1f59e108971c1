// Package allocation tells what to ask for next within a budget.
//
// What a sample is of (the trips of a stratum, the stones of a length bin, second readings)
// is a cell; of n items in a cell a target keeps the variance U/(n + o), U from the run's
// own variance terms. Cells add up, so that what one item more takes away is known for each
// of them, and items go one by one to where they take most away for their cost.
//
// Methods, section 11. Source: Neyman (1934), Journal of the Royal Statistical Society
// 97:558-625, in whole numbers and with costs (citation from memory).
package allocation

import (
	"fmt"
	"math"
)

// Target is a quantity that is to be known well.
type Target struct {
	Value float64 // estimate; 0: left out of account
	Want  float64 // CV that is wanted
}

// Cell is one kind of item at one place.
type Cell struct {
	Unit   []float64 // U, by target
	Offset float64   // o: what the cell has without any item of its own
	Today  int
	Least  int
	Most   int // obtainable
	Cost   float64
}

// variance of a target with n items.
func (c *Cell) variance(target, n int) float64 {
	if c.Unit[target] == 0 {
		return 0
	}
	return c.Unit[target] / (float64(n) + c.Offset)
}

// Problem is what can be asked for, and why.
type Problem struct {
	Targets []Target
	Fixed   []float64 // variance by target that no item lowers
	Cells   []Cell
	Budget  float64 // in the unit of the costs
}

// Plan is what to ask for.
type Plan struct {
	N        []int     // by cell
	Gain     []float64 // by cell: what one item more would take off the loss
	Cost     float64
	Variance []float64 // by target, predicted
}

// ShortOfMoney is a budget that does not reach for the least that each cell must have.
type ShortOfMoney struct{ Budget, Least float64 }

// Error is the trouble in a sentence.
func (e *ShortOfMoney) Error() string {
	return fmt.Sprintf("the budget of %.0f is less than the %.0f that the least sampling costs", e.Budget, e.Least)
}

// Allocate deals items one by one, each to the cell where the loss
//
//	Σ_j V_j/(want_j X_j)²,  V_j = Fixed_j + Σ_c U_cj/(n_c + o_c),
//
// falls most for its cost, until no cell can take one more within the budget. As each V_j
// is convex in each n_c and a sum over cells, no dealing of the same items in another order
// is better; what is left of the budget buys less than the dearest item. Ties go to the
// first cell. Panics on shapes that differ and on a cost that is not above 0.
func (p *Problem) Allocate() (*Plan, error) {
	p.check()
	plan := &Plan{N: make([]int, len(p.Cells)), Gain: make([]float64, len(p.Cells))}
	for i := range p.Cells {
		c := &p.Cells[i]
		plan.N[i] = min(c.Least, c.Most)
		plan.Cost += float64(plan.N[i]) * c.Cost
	}
	if plan.Cost > p.Budget {
		return nil, &ShortOfMoney{p.Budget, plan.Cost}
	}
	for i := range p.Cells {
		plan.Gain[i] = p.gain(i, plan.N[i])
	}
	for {
		best := -1
		for i := range p.Cells {
			c := &p.Cells[i]
			if plan.N[i] >= c.Most || plan.Cost+c.Cost > p.Budget || !(plan.Gain[i] > 0) {
				continue
			}
			if best < 0 || plan.Gain[i]/c.Cost > plan.Gain[best]/p.Cells[best].Cost {
				best = i
			}
		}
		if best < 0 {
			plan.Variance = p.Predict(plan.N)
			return plan, nil
		}
		plan.N[best]++
		plan.Cost += p.Cells[best].Cost
		plan.Gain[best] = p.gain(best, plan.N[best])
	}
}

// gain is what one item more than n takes off the loss. Of a cell that rests on nothing
// nobody knows what is lost: its first item counts as all the variance that it comes with.
func (p *Problem) gain(cell, n int) float64 {
	c, gain := &p.Cells[cell], 0.0
	for j, target := range p.Targets {
		if target.Value <= 0 {
			continue
		}
		less := c.variance(j, n) - c.variance(j, n+1)
		if float64(n)+c.Offset == 0 {
			less = c.Unit[j]
		}
		gain += less / (target.Value * target.Value * target.Want * target.Want)
	}
	return gain
}

// Predict is the variance of each target with n items in each cell. A cell with nothing at
// all adds nothing: it is not sampled, and its part rests on others.
func (p *Problem) Predict(n []int) []float64 {
	p.check()
	if len(n) != len(p.Cells) {
		panic(fmt.Sprintf("allocation: %d numbers for %d cells", len(n), len(p.Cells)))
	}
	variance := make([]float64, len(p.Targets))
	copy(variance, p.Fixed)
	for i := range p.Cells {
		if float64(n[i])+p.Cells[i].Offset == 0 {
			continue
		}
		for j := range variance {
			variance[j] += p.Cells[i].variance(j, n[i])
		}
	}
	return variance
}

// Today are the items that the cells have today.
func (p *Problem) Today() []int {
	n := make([]int, len(p.Cells))
	for i := range p.Cells {
		n[i] = p.Cells[i].Today
	}
	return n
}

// Cost of n items in each cell.
func (p *Problem) Cost(n []int) float64 {
	cost := 0.0
	for i, c := range p.Cells {
		cost += float64(n[i]) * c.Cost
	}
	return cost
}

func (p *Problem) check() {
	if len(p.Fixed) != len(p.Targets) {
		panic(fmt.Sprintf("allocation: %d targets and %d fixed variances", len(p.Targets), len(p.Fixed)))
	}
	for _, c := range p.Cells {
		if len(c.Unit) != len(p.Targets) || !(c.Cost > 0) || math.IsInf(c.Cost, 1) {
			panic(fmt.Sprintf("allocation: a cell of %d variances and the cost %v for %d targets", len(c.Unit), c.Cost, len(p.Targets)))
		}
	}
}

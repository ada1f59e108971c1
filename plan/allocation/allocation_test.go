package allocation

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// By hand (Neyman): of two strata whose unit variances are 9 and 1 at one cost, 12 items go
// 3 to 1: 9/9 + 1/3 = 1.333, and half to each would leave 9/6 + 1/6 = 1.667.
func ExampleProblem_Allocate() {
	p := Problem{Targets: []Target{{Value: 10, Want: 0.1}}, Fixed: []float64{0}, Budget: 12,
		Cells: []Cell{{Unit: []float64{9}, Least: 1, Most: 99, Cost: 1}, {Unit: []float64{1}, Least: 1, Most: 99, Cost: 1}}}
	plan, err := p.Allocate()
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%v leaves %.3f; half and half %.3f\n", plan.N, plan.Variance[0], p.Predict([]int{6, 6})[0])
	// Output: [9 3] leaves 1.333; half and half 1.667
}

// By hand: at costs 4 and 1 numbers go as √(U/cost), 1 to 2 for equal variances.
func TestCostsPullToTheCheap(t *testing.T) {
	p := Problem{Targets: []Target{{Value: 1, Want: 1}}, Fixed: []float64{0}, Budget: 60,
		Cells: []Cell{{Unit: []float64{1}, Least: 1, Most: 99, Cost: 4}, {Unit: []float64{1}, Least: 1, Most: 99, Cost: 1}}}
	plan, err := p.Allocate()
	if err != nil || !slices.Equal(plan.N, []int{10, 20}) || plan.Cost != 60 {
		t.Errorf("60 buys %v (%v), want 10 dear and 20 cheap ones", plan, err)
	}
}

func TestWhatIsObtainableAndTheLeast(t *testing.T) {
	p := Problem{Targets: []Target{{Value: 1, Want: 1}, {Value: 0, Want: 1}}, Fixed: []float64{0, 0}, Budget: 20,
		Cells: []Cell{{Unit: []float64{100, 0}, Least: 1, Most: 3, Cost: 1}, {Unit: []float64{0, 50}, Least: 2, Most: 9, Cost: 1},
			{Unit: []float64{1, 0}, Offset: 1, Most: 4, Cost: 1}}}
	plan, err := p.Allocate()
	if err != nil || !slices.Equal(plan.N, []int{3, 2, 4}) {
		t.Errorf("the plan is %v (%v), want all that is obtainable where it helps, and the least where it does not", plan, err)
	}
	p.Budget = 2
	var short *ShortOfMoney
	if _, err := p.Allocate(); !errors.As(err, &short) || short.Least != 3 {
		t.Errorf("2 for a least of 3 ends in %v, want to be told so", err)
	}
}

func TestACellWithNothing(t *testing.T) {
	p := Problem{Targets: []Target{{Value: 1, Want: 1}}, Fixed: []float64{2}, Budget: 1,
		Cells: []Cell{{Unit: []float64{4}, Most: 9, Cost: 1}}}
	if got := p.Predict([]int{0})[0]; got != 2 {
		t.Errorf("a cell that is not sampled leaves %v, want what is fixed, 2", got)
	}
	if plan, err := p.Allocate(); err != nil || plan.N[0] != 1 || math.IsInf(plan.Gain[0], 0) {
		t.Errorf("the plan is %v (%v), want one item and a finite gain", plan, err)
	}
}

func TestWrongShapesPanic(t *testing.T) {
	one := []Target{{1, 1}}
	for what, p := range map[string]Problem{
		"no fixed variance":         {Targets: one},
		"a cell without variances":  {Targets: one, Fixed: []float64{0}, Cells: []Cell{{Cost: 1}}},
		"a cell that costs nothing": {Targets: one, Fixed: []float64{0}, Cells: []Cell{{Unit: []float64{1}}}},
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s does not panic", what)
				}
			}()
			_, _ = p.Allocate()
		}()
	}
}

// At one cost the greedy plan is the best there is: moving an item never helps.
func TestNoMoveHelps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cells := rapid.IntRange(1, 5).Draw(t, "cells")
		p := Problem{Targets: []Target{{1, 1}, {2, 0.3}}, Fixed: []float64{0, 1}, Budget: float64(cells + rapid.IntRange(0, 12).Draw(t, "budget"))}
		for range cells {
			p.Cells = append(p.Cells, Cell{Unit: rapid.SliceOfN(rapid.Float64Range(0.1, 10), 2, 2).Draw(t, "U"),
				Offset: rapid.Float64Range(0, 2).Draw(t, "o"), Least: 1, Most: 99, Cost: 1})
		}
		plan, err := p.Allocate()
		if err != nil {
			t.Fatal(err)
		}
		loss := func(n []int) float64 {
			v := p.Predict(n)
			return v[0] + v[1]/(2*0.3*2*0.3)
		}
		best := loss(plan.N)
		for from := range cells {
			for to := range cells {
				if n := slices.Clone(plan.N); from != to && n[from] > 1 {
					n[from]--
					n[to]++
					if moved := loss(n); moved < best*(1-1e-12) {
						t.Fatalf("%v leaves the loss %v, %v leaves %v", plan.N, best, n, moved)
					}
				}
			}
		}
	})
}

package advice

import (
	"fmt"
	"math"
	"testing"
)

// Of 100 fish caught at age 1 and 50 at age 2, with M 0.2 and F 0.5 at age 2:
// N_2 = 50 · 0.7/(0.5 (1 − e^−0.7)) = 139.05, and by Pope's equation
// N_1 = 139.05 e^0.2 + 100 e^0.1 = 169.84 + 110.52 = 280.35.
func ExampleCohort() {
	n, f := make([]float64, 2), make([]float64, 2)
	Cohort(Baranov, n, f, []float64{100, 50}, []float64{0.2, 0.2}, 0.5)
	fmt.Printf("exact: %.2f and %.2f, F at age 1 %.3f\n", n[0], n[1], f[0])
	n[0], f[0] = Pope.before(100, 0.2, n[1])
	fmt.Printf("Pope:  %.2f and %.2f, F at age 1 %.3f\n", n[0], n[1], f[0])
	// Output:
	// exact: 279.27 and 139.05, F at age 1 0.497
	// Pope:  280.35 and 139.05, F at age 1 0.501
}

// One age that all die from, M 0.5 and F 0.5, weight 2 kg: yield 2 · ½ (1 − e^−1).
func ExampleSchedule_At() {
	one := []float64{1}
	s := Schedule{Natural: []float64{0.5}, Selectivity: one, Caught: []float64{2}, Spawning: []float64{2}, Mature: one}
	yield, _, spawning := s.At(0.5)
	fmt.Printf("%.4f kg caught, %.0f kg to spawn\n", yield, spawning)
	// Output: 0.6321 kg caught, 2 kg to spawn
}

// 100 recruits and 60 older fish, M 0.2, no fishing: 60 e^−0.2 + 100 e^−0.2 = 131 are left.
func ExampleAhead_Year() {
	p := Ahead{Natural: []float64{0.2, 0.2}, Fishing: []float64{0, 0}, Caught: []float64{1, 3},
		Spawning: []float64{1, 3}, Mature: []float64{0, 1}, Recruits: 100}
	n, catch := []float64{100, 60}, make([]float64, 2)
	yield, spawning := p.Year(n, catch, n, 1)
	fmt.Printf("%.0f kg caught, %.0f kg spawn, then %.0f\n", yield, spawning, n)
	// Output: 0 kg caught, 180 kg spawn, then [100 131]
}

func TestCohortsAtTheBorders(t *testing.T) {
	for _, e := range []Equation{Baranov, Pope} {
		n, f := make([]float64, 3), make([]float64, 3)
		Cohort(e, n, f, []float64{10, 0, 0}, []float64{0.2, 0.2, 0.2}, 0.3)
		if n[1] != 0 || n[2] != 0 || !(n[0] >= 10) || !math.IsInf(f[0], 1) || f[1] != 0 {
			t.Errorf("%v: a cohort that is gone after age 1 is %v with F %v", e, n, f)
		}
		Cohort(e, n, f, []float64{0, 0, 10}, []float64{0.2, 0.2, 0.2}, 0.3)
		if f[0] != 0 || math.Abs(n[0]-n[2]*math.Exp(0.4)) > 1e-9*n[0] {
			t.Errorf("%v: a cohort that nobody caught before age 3 is %v with F %v", e, n, f)
		}
	}
}

func TestWrongShapesPanic(t *testing.T) {
	two, three := make([]float64, 2), make([]float64, 3)
	for what, call := range map[string]func(){
		"a cohort of two and three ages": func() { Cohort(Pope, two, two, three, two, 0.5) },
		"a cohort without an age":        func() { Cohort(Pope, nil, nil, nil, nil, 0.5) },
		"a terminal F of 0":              func() { Cohort(Pope, two, two, two, two, 0) },
		"a terminal F without end":       func() { Cohort(Pope, two, two, two, two, math.Inf(1)) },
		"years that do not fit":          func() { Cohorts(Pope, two, two, two, Terminal{two, two, two}) },
		"an F of 0 in the last year":     func() { Cohorts(Pope, two, two, two, Terminal{Natural: two, LastYear: two}) },
		"an uneven schedule":             func() { (&Schedule{Natural: two}).At(0) },
		"an uneven projection":           func() { (&Ahead{Natural: two}).Year(two, two, two, 1) },
		"numbers that do not fit":        func() { (&Ahead{two, two, two, two, two, 0, 0}).Year(two, two, three, 1) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s does not panic", what)
				}
			}()
			call()
		}()
	}
}

func TestNoAllocations(t *testing.T) {
	g := read(t)
	c := flat(g.Input.Catch)
	n, f := make([]float64, len(c)), make([]float64, len(c))
	terminal := Terminal{g.Input.Natural, g.Input.LastYear, g.Input.Oldest}
	s := g.schedule(true)
	p := Ahead{g.Input.Natural, g.Input.LastYear, g.Input.Projection.Weight, g.Input.Projection.Weight, g.Input.Projection.Mature, 0, 1}
	for what, call := range map[string]func(){
		"Cohorts": func() { Cohorts(Baranov, n, f, c, terminal) },
		"Points":  func() { s.Points() },
		"Year":    func() { p.Year(n[:6], f[:6], n[:6], 1) },
	} {
		if n := testing.AllocsPerRun(20, call); n != 0 {
			t.Errorf("%s allocates %v times, want never", what, n)
		}
	}
}

package origin

import (
	"fmt"
	"math"
	"testing"
)

// meansOf puts the class means of a baseline in the place of the mixed fish.
func meansOf(p Problem, mean []float64) Problem {
	d := len(p.Tracers)
	for k := range p.Nurseries {
		p.Mixed = append(p.Mixed, Mixed{X: mean[k*d : (k+1)*d], Weight: 1, Age: -1, Trip: -1})
	}
	return p
}

func TestFishersIrises(t *testing.T) {
	p := irises(t)
	f := estimate(t, meansOf(p, estimate(t, p, Settings{Form: Pooled}).Mean), Settings{Form: Pooled})
	// Squared distances between species on the pooled covariance, divisor 147: from memory
	// of a vendor's manual (89.86419, 179.38471, 17.20107), recomputed to these digits.
	for _, c := range []struct {
		from, to int
		want     float64
	}{{0, 1, 89.86418558}, {0, 2, 179.3847125}, {1, 2, 17.20106643}} {
		const n, tol = 50., 0.5e-7 // D2 is in units of the spread around an estimated mean, 1 + 1/n
		if got := f.Fish[c.from].D2[c.to] * (1 + 1/n); math.Abs(got-c.want) > tol*c.want/10 {
			t.Errorf("D² of %s from %s = %.8f, want %.8f", p.Nurseries[c.from], p.Nurseries[c.to], got, c.want)
		}
	}
	// Means as in Fisher (1936), from memory; recomputed.
	means := []float64{5.006, 3.428, 1.462, 0.246, 5.936, 2.770, 4.260, 1.326, 6.588, 2.974, 5.552, 2.026}
	for i, want := range means {
		if math.Abs(f.Mean[i]-want) > 0.5e-3 {
			t.Errorf("mean %d = %.6f, want %.3f", i, f.Mean[i], want)
		}
	}
	// Pooled covariance, recomputed: upper triangle by rows.
	upper := []float64{0.265008163, 0.092721088, 0.167514286, 0.038401361, 0.115387755, 0.055243537, 0.032710204, 0.185187755, 0.042665306, 0.041881633}
	at := 0
	for i := range 4 {
		for j := i; j < 4; j++ {
			if got := f.Covariance[i*4+j]; math.Abs(got-upper[at]) > 0.5e-9 {
				t.Errorf("pooled covariance %d, %d = %.9f, want %.9f", i, j, got, upper[at])
			}
			at++
		}
	}
	// Held out: 50 0 0 / 0 48 2 / 0 1 49 pooled, 50 0 0 / 0 47 3 / 0 1 49 own; Σ log
	// posterior −8.05978261 and −8.52125362: recomputed.
	for form, want := range map[Form]struct {
		called string
		log    float64
	}{Pooled: {"[50 0 0 0 48 2 0 1 49]", -8.05978261}, Own: {"[50 0 0 0 47 3 0 1 49]", -8.52125362}} {
		s := estimate(t, p, Settings{Form: form}).Held
		if got := fmt.Sprint(s.Called); got != want.called {
			t.Errorf("%v, held out: %s, want %s", form, got, want.called)
		}
		if got := s.LogPosterior * 150; math.Abs(got-want.log) > 0.5e-8 {
			t.Errorf("%v: log score %.8f, want %.8f", form, got, want.log)
		}
	}
	if best := estimate(t, p, Settings{}); best.Form != Pooled || best.Scores[0].Form != Pooled || best.Scores[1].Form != Own || best.Scores[2].Form != Kernel {
		t.Errorf("the best form for the irises is %v of %+v, want pooled, then own, then kernel", best.Form, best.Scores)
	}
}

// With n = 20 fish and 2 tracers a point with D² = 10.6 has p 0.0050 by χ² and 0.0216 by
// F: recomputed from the identity of Hotelling's prediction.
func TestTailAllowsForFewFish(t *testing.T) {
	c := classes{nu: []float64{19}}
	const n, tol = 20., 0.5e-4
	if got := c.tailOf(0, 10.6*n/(n+1), 2); math.Abs(got-0.0216) > tol {
		t.Errorf("tail of D² 10.6 with 20 fish = %.5f, want 0.0216", got)
	}
}

// On the line, by hand: nursery A at 0, 1, 2 and B at 6, 7, 8 have means 1 and 7 and a
// pooled variance of 1. A fish at 3 is 2 from A and 4 from B: posteriors at even shares
// 1/(1 + e^{(4−16)/2}) = 0.9975. Fish at 1, 1, 7 are plainly two of A and one of B.
func ExampleEstimate() {
	p := Problem{Nurseries: []string{"A", "B"}, Tracers: []Tracer{{Name: "d18O"}}}
	for k, at := range []float64{0, 6} {
		for i := range 3 {
			p.Baseline = append(p.Baseline, Baseline{Nursery: k, X: []float64{at + float64(i)}})
		}
	}
	for _, x := range []float64{1, 1, 7, 3} {
		p.Mixed = append(p.Mixed, Mixed{X: []float64{x}, Weight: 1})
	}
	p.Mixed[3].Weight = 0 // judged, but not counted
	f, err := Estimate(p, Settings{Form: Pooled})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("shares %.3f\n", f.Composition.Share)
	fmt.Printf("a fish at 3: %.4f, called %s\n", f.Fish[3].Even[0], p.Nurseries[f.Fish[3].Call])
	// Output:
	// shares [0.667 0.333]
	// a fish at 3: 0.9975, called A
}

// Five fish of age 1 that can only be of A and five of age 3 that can only be of B: by
// symmetry age 2, of which there is none, is half and half. By hand: with ±x/2 the terms
// of the two nurseries at ages 1 and 3, the slope 10(1 − 1/(1 + e^−x)) of ten fish meets
// that of the penalty, x, at x = 1.63, where the share is 0.84.
func ExampleFit_Groups() {
	p := Problem{Nurseries: []string{"A", "B"}, Tracers: []Tracer{{Name: "d18O"}}}
	for k, at := range []float64{0, 60} {
		for i := range 3 {
			p.Baseline = append(p.Baseline, Baseline{Nursery: k, X: []float64{at + float64(i)}})
		}
		for range 5 {
			p.Mixed = append(p.Mixed, Mixed{X: []float64{at + 1}, Weight: 1, Age: 1 + 2*k})
		}
	}
	f, err := Estimate(p, Settings{Form: Pooled})
	if err != nil {
		fmt.Println(err)
		return
	}
	g, err := f.Groups(Pooling{Groups: 1, First: 1, Last: 3, WalkSD: 1})
	if err != nil {
		fmt.Println(err)
		return
	}
	for age := 1; age <= 3; age++ {
		fmt.Printf("age %d, %d fish: %.2f\n", age, g.Fish[age-1], g.Of(g.Share, 0, age))
	}
	// Output:
	// age 1, 5 fish: [0.84 0.16]
	// age 2, 0 fish: [0.50 0.50]
	// age 3, 5 fish: [0.16 0.84]
}

func ExampleFit_Simulate() {
	// As in the example of Estimate: two fish of A and one of B. A prior of one fish for
	// each and three that can't be mistaken: shares are Beta(3, 2), mean 3/5 by hand.
	p := Problem{Nurseries: []string{"A", "B"}, Tracers: []Tracer{{Name: "d18O"}}}
	for k, at := range []float64{0, 60} {
		for i := range 9 {
			p.Baseline = append(p.Baseline, Baseline{Nursery: k, X: []float64{at + float64(i%3)}})
		}
	}
	for _, x := range []float64{1, 1, 61} {
		p.Mixed = append(p.Mixed, Mixed{X: []float64{x}, Weight: 1})
	}
	f, err := Estimate(p, Settings{Form: Pooled})
	if err != nil {
		fmt.Println(err)
		return
	}
	s, err := f.Simulate(Simulation{Prior: []float64{1, 1}, Seed: 1})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("share of A %.1f, converged: %v\n", s.Share[0], s.Converged)
	// Output:
	// share of A 0.6, converged: true
}

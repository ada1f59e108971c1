package origin

import (
	"math"
	"testing"

	"earstone/statistics/stream"
)

// Slope and information of the pooled likelihood are those of small differences, over
// ages and over year classes.
func TestPoolSlopes(t *testing.T) {
	for _, shift := range [][]int{nil, {2, 1, 0}} {
		checkPoolSlopes(t, shift)
	}
}

func checkPoolSlopes(t *testing.T, shift []int) {
	t.Helper()
	p := season.draw(90)
	for i := range p.Mixed {
		p.Mixed[i].Group, p.Mixed[i].Weight = i%3, float64(1+i%4)
	}
	p.Mixed = p.Mixed[:120]
	g, err := estimate(t, p, Settings{}).Groups(Pooling{Groups: 3, Last: 11, Shift: shift})
	if err != nil {
		t.Fatal(err)
	}
	s := g.state
	var r stream.Stream
	r.Reset(2, stream.Invention, 0)
	s.draw(&r) // centres away from 0 too
	for i := range s.theta {
		s.theta[i] = r.Normal()
	}
	s.objective(s.theta)
	s.gather(true)
	slope, info := append([]float64(nil), s.slope...), append([]float64(nil), s.info...)
	const h = 1e-5
	at := func(i int, by float64) float64 {
		theta := append([]float64(nil), s.theta...)
		theta[i] += by
		return s.objective(theta)
	}
	n := s.size
	for i := range n {
		if got := (at(i, h) - at(i, -h)) / (2 * h); math.Abs(got-slope[i]) > 1e-6*math.Max(1, math.Abs(got)) {
			t.Errorf("with shifts %v slope %d = %.8f, by differences %.8f", shift, i, slope[i], got)
		}
		theta := append([]float64(nil), s.theta...)
		steps := func(by float64) []float64 {
			copy(s.theta, theta)
			s.theta[i] += by
			s.objective(s.theta)
			s.gather(true)
			return append([]float64(nil), s.slope...)
		}
		up, down := steps(h), steps(-h)
		copy(s.theta, theta)
		for j := i; j < n; j++ { // the lower half of info is what counts
			if got := (down[j] - up[j]) / (2 * h); math.Abs(got-info[j*n+i]) > 1e-5*math.Max(1, math.Abs(got)) {
				t.Errorf("with shifts %v information %d, %d = %.8f, by differences %.8f", shift, j, i, info[j*n+i], got)
			}
		}
	}
}

// Three groups that differ, one of them with five fish: the small one leans on the others,
// and says so by a wider answer.
func TestASmallGroupLeans(t *testing.T) {
	var small, large, alone float64
	for sample := range 20 {
		e := season
		e.mean, e.share, e.years, e.known, e.ages, e.yearSD = e.mean[:2], e.share[:2], 2, 40, 0, 0
		parts := []struct {
			share []float64
			fish  int
		}{{[]float64{0.8, 0.2}, 150}, {[]float64{0.7, 0.3}, 150}, {[]float64{0.75, 0.25}, 5}}
		p := e.draw(9000 + sample)
		p.Mixed = nil
		for g, part := range parts {
			// Tracers plain enough that nurseries are told apart.
			var s stream.Stream
			s.ResetAt(12, stream.Invention, sample, g)
			for range part.fish {
				k := s.Choose(part.share)
				p.Mixed = append(p.Mixed, Mixed{X: []float64{e.mean[k][0] + 0.2*s.Normal(), e.mean[k][1] + 0.2*s.Normal()}, Weight: 1, Group: g, Age: 5, Trip: -1})
			}
		}
		f := estimate(t, p, Settings{PoolYears: true})
		g, err := f.Groups(Pooling{Groups: 3, First: 5, Last: 5, GroupSD: 0.3})
		if err != nil {
			t.Fatal(err)
		}
		own := f.mixtureOf(func(i int) float64 {
			if p.Mixed[i].Group == 2 {
				return 1
			}
			return 0
		}).maximise()
		small += math.Abs(g.Of(g.Share, 2, 5)[0] - 0.75)
		alone += math.Abs(own.Share[0] - 0.75)
		large += math.Abs(g.Of(g.Share, 0, 5)[0] - 0.8)
		if g.SE[2*2] <= g.SE[0] {
			t.Errorf("five fish have an SE of %.3f, 150 of %.3f", g.SE[4], g.SE[0])
		}
	}
	if small > 0.5*alone {
		t.Errorf("five fish that lean are off by %.3f, alone by %.3f: want less than half", small/20, alone/20)
	}
	if large/20 > 0.08 {
		t.Errorf("150 fish are off by %.3f on the mean, want under 0.08", large/20)
	}
}

// Ages that do differ bring a larger step than ages that don't.
func TestStepsAreLearnt(t *testing.T) {
	step := func(share func(age int) float64) float64 {
		p := season.draw(95)
		p.Nurseries, p.Baseline, p.Mixed = p.Nurseries[:2], p.Baseline[:260], nil
		var s stream.Stream
		s.Reset(13, stream.Invention, 0)
		for i := range 600 {
			age := i % 12
			k := 0
			if s.Float64() > share(age) {
				k = 1
			}
			p.Mixed = append(p.Mixed, Mixed{X: []float64{season.mean[k][0] + 0.2*s.Normal(), season.mean[k][1] + 0.2*s.Normal()}, Weight: 1, Age: age, Trip: -1})
		}
		g, err := estimate(t, p, Settings{PoolYears: true}).Groups(Pooling{Groups: 1, Last: 11})
		if err != nil {
			t.Fatal(err)
		}
		if !g.Converged {
			t.Error("the steps did not settle")
		}
		return g.WalkSD
	}
	flat := step(func(int) float64 { return 0.5 })
	rough := step(func(a int) float64 { return 0.2 + 0.6*float64(a%2) })
	if flat > 0.4 || rough < 1 {
		t.Errorf("steps between equal ages %.2f, between ages in turn of one and the other %.2f: want under 0.4 and over 1", flat, rough)
	}
}

// The walk of few groups has no step to learn from.
func TestTwoAgesKeepTheirStep(t *testing.T) {
	p := twoTracers()
	p.Nurseries, p.Baseline = p.Nurseries[:2], p.Baseline[:24]
	g, err := estimate(t, p, Settings{}).Groups(Pooling{Groups: 1, First: 0, Last: 1})
	if err != nil {
		t.Fatal(err)
	}
	left := 0
	for _, m := range p.Mixed {
		if m.Age > 1 {
			left++
		}
	}
	if g.WalkSD != 0.5 || g.Left == 0 || g.Left > left {
		t.Errorf("step %.2f with two ages, %d fish left out of %d; want 0.5 and some", g.WalkSD, g.Left, left)
	}
}

// TestShiftFollowsYearClasses: two groups are two years in which the same year classes are
// caught, each a year older in the second. With a Shift the second year tells what the
// first has no fish of; without one it would tell it of the wrong year class.
func TestShiftFollowsYearClasses(t *testing.T) {
	p := Problem{Nurseries: []string{"Upper", "Lower"}, Tracers: []Tracer{{Name: "d18O"}}}
	var s stream.Stream
	s.Reset(5, stream.Invention, 0)
	for i := range 200 {
		k := i % 2
		p.Baseline = append(p.Baseline, Baseline{Nursery: k, X: []float64{4*float64(k) + s.Normal()}})
	}
	// Year class 0 is all of Upper, 1 and 2 all of Lower. Group 1 is the last year: year
	// class c is of age 3 − c there and of age 2 − c in group 0, which has no fish of class 0.
	add := func(group, class, k int) {
		for range 40 {
			p.Mixed = append(p.Mixed, Mixed{X: []float64{4*float64(k) + s.Normal()}, Weight: 1, Group: group, Age: 2 + group - class, Trip: -1})
		}
	}
	add(0, 1, 1)
	add(0, 2, 1)
	add(1, 0, 0)
	add(1, 1, 1)
	add(1, 2, 1)
	f := estimate(t, p, Settings{})
	for _, c := range []struct {
		shift []int
		least float64
		most  float64
	}{{[]int{1, 0}, 0.8, 1}, {nil, 0, 0.5}} {
		g, err := f.Groups(Pooling{Groups: 2, First: 0, Last: 3, Shift: c.shift})
		if err != nil {
			t.Fatal(err)
		}
		if share := g.Of(g.Share, 0, 2)[0]; share < c.least || share > c.most {
			t.Errorf("with the shift %v Upper has %.2f of the year class that only the other year has fish of, want %v to %v", c.shift, share, c.least, c.most)
		}
	}
}

package origin

import (
	"math"
	"slices"
	"testing"

	"earstone/statistics/stream"

	"pgregory.net/rapid"
)

// anyProblem draws a problem of two or three nurseries and two tracers.
func anyProblem(t *rapid.T) Problem {
	e := season
	e.years = rapid.IntRange(1, 4).Draw(t, "years")
	e.known = rapid.IntRange(4, 9).Draw(t, "known")
	e.mixed = rapid.IntRange(5, 60).Draw(t, "mixed")
	e.ages = rapid.IntRange(1, 5).Draw(t, "ages")
	e.yearSD = rapid.SampledFrom([]float64{0, 0.5, 2}).Draw(t, "spread of years")
	if rapid.Bool().Draw(t, "two") {
		e.mean, e.share = e.mean[:2], e.share[:2]
	}
	p := e.draw(rapid.IntRange(0, 1<<30).Draw(t, "replicate"))
	for i := range p.Mixed {
		p.Mixed[i].Group = i % 2
		p.Mixed[i].Weight = float64(1 + i%5)
	}
	return p
}

func must(t *rapid.T, p Problem, s Settings) *Fit {
	f, err := Estimate(p, s)
	if err != nil {
		t.Fatalf("estimating: %v", err)
	}
	return f
}

func pooled(t *rapid.T, f *Fit) *Groups {
	g, err := f.Groups(Pooling{Groups: 2, Last: 4})
	if err != nil {
		t.Fatalf("pooling: %v", err)
	}
	return g
}

func same(t *rapid.T, what string, got, want []float64, tol float64) {
	for i := range want {
		if !(math.Abs(got[i]-want[i]) <= tol*math.Max(1, math.Abs(want[i]))) {
			t.Errorf("%s[%d] = %v, want %v", what, i, got[i], want[i])
		}
	}
}

func TestSharesSumToOneAndLikelihoodNeverFalls(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyProblem(t)
		f := must(t, p, Settings{Form: rapid.SampledFrom(Forms()).Draw(t, "form")})
		for i, l := range f.Composition.Trace {
			if i > 0 && l < f.Composition.Trace[i-1]-1e-9*math.Abs(l) {
				t.Errorf("the likelihood falls at iteration %d from %v to %v", i, f.Composition.Trace[i-1], l)
			}
		}
		one := func(what string, x []float64) {
			sum := 0.0
			for _, v := range x {
				sum += v
				if !(v >= 0) {
					t.Errorf("%s: a share of %v", what, v)
				}
			}
			if math.Abs(sum-1) > 1e-9 {
				t.Errorf("%s sum to %v", what, sum)
			}
		}
		one("shares", f.Composition.Share)
		g := pooled(t, f)
		c := g.NewComposer()
		row := make([]float64, c.Size())
		var s stream.Stream
		s.Reset(1, stream.Baseline, rapid.IntRange(0, 99).Draw(t, "b"))
		c.Redraw(&s)
		c.Compose(row, nil, &s)
		one("shares of a replicate", c.Whole(row))
		for group := range 2 {
			for age := range 5 {
				one("shares of a cell", g.Of(g.Share, group, age))
				one("shares of a cell in a replicate", c.Cell(row, group, age))
			}
		}
	})
}

func TestOrderOfNurseriesDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyProblem(t)
		form := rapid.SampledFrom(Forms()).Draw(t, "form")
		K := len(p.Nurseries)
		q := p
		q.Nurseries, q.Baseline = slices.Clone(p.Nurseries), slices.Clone(p.Baseline)
		slices.Reverse(q.Nurseries)
		for i := range q.Baseline {
			q.Baseline[i].Nursery = K - 1 - q.Baseline[i].Nursery
		}
		a, b := must(t, p, Settings{Form: form}), must(t, q, Settings{Form: form})
		back := func(x []float64) []float64 {
			x = slices.Clone(x)
			slices.Reverse(x)
			return x
		}
		same(t, "shares", back(b.Composition.Share), a.Composition.Share, 1e-8)
		for i := range a.Fish {
			same(t, "posteriors", back(b.Fish[i].Posterior), a.Fish[i].Posterior, 1e-7)
		}
		g, h := pooled(t, a), pooled(t, b)
		for age := range 5 {
			same(t, "shares by age", back(h.Of(h.Share, 1, age)), g.Of(g.Share, 1, age), 1e-4)
		}
	})
}

// Other units and mixtures of tracers leave every answer as it is: x → M x + c.
func TestAffineTracersLeaveAnswers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyProblem(t)
		form := rapid.SampledFrom(Forms()).Draw(t, "form")
		m := [4]float64{rapid.Float64Range(0.2, 5).Draw(t, "m11"), rapid.Float64Range(-1, 1).Draw(t, "m12"), 0, rapid.Float64Range(-5, -0.2).Draw(t, "m22")}
		c := rapid.Float64Range(-20, 20).Draw(t, "c")
		move := func(x []float64) []float64 { return []float64{m[0]*x[0] + m[1]*x[1] + c, m[3]*x[1] - c} }
		q := p
		q.Baseline, q.Mixed = slices.Clone(p.Baseline), slices.Clone(p.Mixed)
		for i := range q.Baseline {
			q.Baseline[i].X = move(q.Baseline[i].X)
		}
		for i := range q.Mixed {
			q.Mixed[i].X = move(q.Mixed[i].X)
		}
		a, b := must(t, p, Settings{Form: form}), must(t, q, Settings{Form: form})
		for i := range a.Fish {
			same(t, "posteriors", b.Fish[i].Posterior, a.Fish[i].Posterior, 1e-6)
			same(t, "tails", b.Fish[i].Tail, a.Fish[i].Tail, 1e-6)
		}
		if a.Held != nil && b.Held != nil {
			same(t, "held-out score", []float64{b.Held.LogPosterior}, []float64{a.Held.LogPosterior}, 1e-6)
		}
	})
}

func TestDoubledWeightsChangeNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyProblem(t)
		q := p
		q.Mixed = slices.Clone(p.Mixed)
		for i := range q.Mixed {
			q.Mixed[i].Weight *= 2
		}
		a, b := must(t, p, Settings{}), must(t, q, Settings{})
		same(t, "shares", b.Composition.Share, a.Composition.Share, 1e-9)
		same(t, "SE", b.Composition.SE, a.Composition.SE, 1e-9)
		same(t, "effective sample", []float64{b.Composition.Effective}, []float64{a.Composition.Effective}, 1e-12)
		same(t, "shares by age", pooled(t, b).Share, pooled(t, a).Share, 1e-6)
	})
}

// A fish of weight 2 counts as much as two of it would.
func TestAWeightIsAsManyFish(t *testing.T) {
	p := twoTracers()
	q := twoTracers()
	for i := range p.Mixed[:9] {
		p.Mixed[i].Weight = 2
		q.Mixed = append(q.Mixed, q.Mixed[i])
	}
	a, b := estimate(t, p, Settings{}), estimate(t, q, Settings{})
	nearAll(t, "shares", a.Composition.Share, b.Composition.Share, 1e-7)
	// By hand: 9 of weight 2 and 31 of 1, (18 + 31)²/(36 + 31) = 35.8358.
	if a.Outsiders == 0 {
		near(t, "effective sample", a.Composition.Effective, 49.*49/67, 1e-12)
	}
}

func TestWeightsThatMatterAreTold(t *testing.T) {
	p := season.draw(80)
	f := estimate(t, p, Settings{})
	if f.WeightsMatter {
		t.Error("equal weights are said to matter")
	}
	for i, fish := range f.Fish {
		if largest(fish.Posterior) == 1 {
			p.Mixed[i].Weight = 10
		}
	}
	if f = estimate(t, p, Settings{}); !f.WeightsMatter {
		t.Errorf("weights move the shares from %.3f to %.3f, and nothing says so", f.Unweighted.Share, f.Composition.Share)
	}
}

func TestScalesOfOxygen(t *testing.T) {
	// 0 on VPDB is 30.92 on VSMOW, and 0 on VSMOW −29.99 on VPDB (printed with the equations).
	if got := ToVSMOW(0); got != 30.92 {
		t.Errorf("0 ‰ VPDB is %v ‰ VSMOW, want 30.92", got)
	}
	if got := ToVPDB(0); got != -29.99 {
		t.Errorf("0 ‰ VSMOW is %v ‰ VPDB, want -29.99", got)
	}
	// NBS 19, the limestone that defines VPDB: −2.20 there, +28.65 on VSMOW (printed, the
	// commission's list gives NBS 19 as +28.65).
	if got := ToVSMOW(-2.2); math.Abs(got-28.65) > 0.005 {
		t.Errorf("-2.2 ‰ VPDB is %v ‰ VSMOW, want 28.65", got)
	}
	for d := -60.0; d <= 60; d += 0.5 {
		if back := ToVPDB(ToVSMOW(d)); math.Abs(back-d) > 0.01 {
			t.Errorf("%v ‰ there and back is %v", d, back)
		}
	}
}

package origin

import (
	"fmt"
	"math"
	"sync"
	"testing"

	"earstone/reference"
	"earstone/statistics/stream"
)

// apart runs everything at once, as the resampling does.
func apart(n int, f func(int)) {
	var all sync.WaitGroup
	for i := range n {
		all.Go(func() { f(i) })
	}
	all.Wait()
}

func simulate(t testing.TB, f *Fit, s Simulation) *Simulated {
	t.Helper()
	o, err := f.Simulate(s)
	if err != nil {
		t.Fatalf("simulating: %v", err)
	}
	return o
}

func BenchmarkSimulate(b *testing.B) {
	f := estimate(b, season.draw(1), Settings{})
	for b.Loop() {
		o := simulate(b, f, Simulation{Parallel: apart, Seed: 3})
		b.ReportMetric(o.Convergence[0].RHat, "rhat")
		b.ReportMetric(o.Convergence[0].BulkESS, "ess")
		b.ReportMetric(float64(o.Rounds), "rounds")
	}
}

func TestNormalInverseWishart(t *testing.T) {
	var g golden
	reference.Golden(t, "11-origin", &g)
	want := g.Output.Wishart
	prior, after := newWishart(2), newWishart(2)
	copy(prior.mean, want.Prior.M0)
	copy(prior.psi, flat(want.Prior.Psi0))
	prior.kappa, prior.nu = want.Prior.Kappa0, want.Prior.Nu0
	p := invented(t)
	m := newMoments(1, 2)
	for _, b := range p.Baseline {
		if b.Nursery == 0 {
			m.add(0, b.X)
		}
	}
	after.learn(&prior, m.n[0], m.sum, m.squares)
	nearAll(t, "mean", after.mean, want.Mean, 1e-8)
	near(t, "κ", after.kappa, want.Kappa, 0)
	near(t, "ν", after.nu, want.Nu, 0)
	nearAll(t, "Ψ", after.psi, flat(want.Psi), 1e-8)

	// The density of a fish, averaged over draws, is the predictive of the golden file.
	draw := newDrawing(2)
	var s stream.Stream
	s.Reset(4, stream.Invention, 0)
	const draws = 40000
	sum := make([]float64, len(want.Log))
	squares := make([]float64, len(want.Log))
	cov, l, e := make([]float64, 4), make([]float64, 4), make([]float64, 2)
	for range draws {
		draw.inverseWishart(cov, after.nu, after.psi, &s)
		cholesky(l, cov, 2)
		a, b := s.Normal()/math.Sqrt(after.kappa), s.Normal()/math.Sqrt(after.kappa)
		mean := []float64{after.mean[0] + l[0]*a, after.mean[1] + l[2]*a + l[3]*b}
		for i := range sum {
			e[0], e[1] = p.Mixed[i].X[0]-mean[0], p.Mixed[i].X[1]-mean[1]
			forward(l, e)
			f := math.Exp(-0.5*(e[0]*e[0]+e[1]*e[1])-logTwoPi) / (l[0] * l[3])
			sum[i] += f
			squares[i] += f * f
		}
	}
	for i, want := range want.Log {
		mean := sum[i] / draws
		se := math.Sqrt((squares[i]/draws - mean*mean) / draws)
		if math.Abs(mean-math.Exp(want)) > 4.5*se {
			t.Errorf("predictive density of fish %d = %.6g ± %.2g, want %.6g", i, mean, se, math.Exp(want))
		}
	}
}

func TestSameDrawsByAnyHands(t *testing.T) {
	f := estimate(t, season.draw(5), Settings{})
	one := simulate(t, f, Simulation{Sweeps: 60, Seed: 9})
	two := simulate(t, f, Simulation{Sweeps: 60, Seed: 9, Parallel: apart})
	if fmt.Sprint(one.Draws) != fmt.Sprint(two.Draws) || fmt.Sprint(one.Fish) != fmt.Sprint(two.Fish) {
		t.Error("chains drawn at once differ from chains drawn one after the other")
	}
	other := simulate(t, f, Simulation{Sweeps: 60, Seed: 10})
	if fmt.Sprint(one.Draws) == fmt.Sprint(other.Draws) {
		t.Error("another seed gives the same draws")
	}
}

package origin

import (
	"math"
	"testing"

	"earstone/statistics/stream"
)

// sea is an invented truth: nurseries and year classes in tracers.
type sea struct {
	mean   [][]float64 // of each nursery
	sd     []float64   // of fish within a nursery and year class
	yearSD float64     // of year classes, in units of sd
	share  []float64
	years  int // year classes in the baseline, from 2021
	known  int // baseline fish a nursery and year class
	mixed  int
	unseen bool // mixed fish are of year classes that the baseline lacks
	ages   int  // 0: all of age 5
}

// draw makes one sample of it.
func (e sea) draw(replicate int) Problem {
	var s stream.Stream
	s.Reset(77, stream.Invention, replicate)
	p := Problem{}
	for k := range e.mean {
		p.Nurseries = append(p.Nurseries, []string{"Upper", "Lower", "Outer"}[k])
	}
	for j := range e.sd {
		p.Tracers = append(p.Tracers, Tracer{Name: []string{"d13C", "d18O", "Sr_Ca", "Mg_Ca"}[j]})
	}
	all := e.years
	if e.unseen {
		all *= 2
	}
	centre := make([][][]float64, len(e.mean))
	for k := range e.mean {
		for range all {
			var c []float64
			for j, sd := range e.sd {
				c = append(c, e.mean[k][j]+s.Normal()*sd*e.yearSD)
			}
			centre[k] = append(centre[k], c)
		}
	}
	fish := func(k, y int) (x []float64) {
		for j, sd := range e.sd {
			x = append(x, centre[k][y][j]+s.Normal()*sd)
		}
		return x
	}
	for k := range e.mean {
		for y := range e.years {
			for range e.known {
				p.Baseline = append(p.Baseline, Baseline{Nursery: k, YearClass: 2021 + y, X: fish(k, y)})
			}
		}
	}
	for range e.mixed {
		k, y := s.Choose(e.share), s.IntN(e.years)
		if e.unseen {
			y += e.years
		}
		m := Mixed{X: fish(k, y), Weight: 1, Age: 5, Cohort: 2021 + y, Trip: -1}
		if e.ages > 0 {
			m.Age = s.IntN(e.ages)
		}
		p.Mixed = append(p.Mixed, m)
	}
	return p
}

var season = sea{
	mean: [][]float64{{-8.6, -0.7}, {-9.2, -1.1}, {-8.9, -0.1}}, sd: []float64{0.25, 0.22},
	yearSD: 0.4, share: []float64{0.5, 0.3, 0.2}, years: 10, known: 13, mixed: 600, ages: 12,
}

func composer(t testing.TB, p Problem, s Settings, over Pooling) (*Groups, *Composer) {
	t.Helper()
	g, err := estimate(t, p, s).Groups(over)
	if err != nil {
		t.Fatalf("pooling: %v", err)
	}
	return g, g.NewComposer()
}

func BenchmarkReplicate(b *testing.B) {
	for _, form := range Forms() {
		b.Run(form.String(), func(b *testing.B) {
			_, c := composer(b, season.draw(1), Settings{Form: form}, Pooling{Groups: 1, Last: 11})
			row, times := make([]float64, c.Size()), make([]float64, 600)
			var s, trips stream.Stream
			b.ReportAllocs()
			replicate := 0
			unsettled := 0
			for b.Loop() {
				replicate++
				s.Reset(1, stream.Baseline, replicate)
				trips.Reset(1, stream.Trips, replicate)
				for i := range times {
					times[i] = float64(trips.Poisson(1))
				}
				c.Redraw(&s)
				if c.Compose(row, times, &s).Unsettled {
					unsettled++
				}
			}
			b.ReportMetric(float64(unsettled)/float64(b.N), "unsettled")
		})
	}
}

func TestNoAllocations(t *testing.T) {
	p := season.draw(2)
	p.Mixed[3].Lacks = p.Mixed[3].Lacks.With(1)
	for _, form := range Forms() {
		_, c := composer(t, p, Settings{Form: form}, Pooling{Groups: 1, Last: 11})
		row, times := make([]float64, c.Size()), make([]float64, len(p.Mixed))
		var s stream.Stream
		if n := testing.AllocsPerRun(5, func() {
			s.Reset(1, stream.Baseline, 4)
			for i := range times {
				times[i] = float64(s.Poisson(1))
			}
			c.Redraw(&s)
			c.Compose(row, times, &s)
			c.Redraw(nil)
		}); n != 0 {
			t.Errorf("a replicate with densities %v allocates %v times, want never", form, n)
		}
	}
}

func TestComposerBeginsAtTheEstimate(t *testing.T) {
	for _, form := range Forms() {
		g, c := composer(t, season.draw(3), Settings{Form: form}, Pooling{Groups: 1, Last: 11})
		row := make([]float64, c.Size())
		if told := c.Compose(row, nil, nil); told != (Told{}) {
			t.Errorf("%v: the sample as it is tells %+v, want nothing", form, told)
		}
		for k, want := range g.fit.Composition.Share {
			if got := c.Whole(row)[k]; math.Abs(got-want) > 1e-6 {
				t.Errorf("%v: share %d of the worker = %.8f, want %.8f as estimated", form, k, got, want)
			}
		}
		for a := range 12 {
			for k, want := range g.Of(g.Share, 0, a) {
				if got := c.Cell(row, 0, a)[k]; math.Abs(got-want) > 1e-5 {
					t.Errorf("%v: share %d at age %d of the worker = %.8f, want %.8f", form, k, a, got, want)
				}
			}
		}
	}
}

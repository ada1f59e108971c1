package growth

import (
	"errors"
	"math"
	"slices"
	"testing"

	"earstone/statistics/stream"
)

// landing is invented fish of trips, drawn together into cells.
func landing(fish int, weighted bool) (Cells, []int32) {
	var draw stream.Stream
	draw.Reset(3, stream.Invention, 0)
	var d Data
	trip := make([]int32, fish)
	for i := range fish {
		age := 0.3 + 11*draw.Float64()
		trip[i] = int32(i / 25)
		d.Age = append(d.Age, age)
		d.Length = append(d.Length, vonBertalanffy(nil, age, quarrow.truth)*math.Exp(0.09*draw.Normal()))
		if weighted {
			d.Weight = append(d.Weight, 1+math.Floor(4*draw.Float64()))
		}
	}
	return Aggregate(d, 0.01, 1), trip
}

// drawn fills times with a redraw of trips.
func redraw(draw *stream.Stream, times []float64, replicate int) {
	draw.Reset(11, stream.Trips, replicate)
	picks := make([]int32, len(times))
	draw.Picks(picks, len(times)-1)
	for i, n := range picks {
		times[i] = float64(n) * float64(len(times)) / float64(len(times)-1)
	}
}

func TestRefitIsAFit(t *testing.T) {
	for _, weighted := range []bool{false, true} {
		cells, trip := landing(500, weighted)
		times, counts := make([]float64, 20), make([]float64, len(cells.Age))
		var draw stream.Stream
		for _, s := range Scatters() {
			for _, m := range []Model{VonBertalanffy, Gompertz, Richards} {
				f, err := FitCurve(cells.Data, Settings{Model: m, Scatter: s})
				if err != nil {
					t.Fatal(err)
				}
				w := f.NewWork()
				if err := w.Refit(cells.Count); err != nil {
					t.Fatal(err)
				}
				for i, want := range f.Estimates {
					if math.Abs(w.Estimates[i]-want) > 1e-4*f.SE(0, i).X {
						t.Errorf("%v %v refitted to its own counts: %v, want %v", m, s, w.Estimates[i], want)
					}
				}
				redraw(&draw, times, 1)
				cells.Counts(counts, times, trip)
				if err := w.Refit(counts); err != nil {
					t.Fatalf("%v %v: %v", m, s, err)
				}
				again := cells.Data
				again.Count = counts
				g, err := FitCurve(again, Settings{Model: m, Scatter: s})
				if err != nil {
					t.Fatal(err)
				}
				for i, want := range g.Estimates {
					if math.Abs(w.Estimates[i]-want) > 2e-4*g.SE(0, i).X {
						t.Errorf("%v %v (weights %v): refit %v, fit %v with SE %v", m, s, weighted, w.Estimates[i], want, g.SE(0, i).X)
					}
				}
				if math.Abs(w.Scale/g.Scale-1) > 1e-5 {
					t.Errorf("%v %v: scale of the refit %v, of the fit %v", m, s, w.Scale, g.Scale)
				}
			}
		}
	}
}

func TestCountsOfARedraw(t *testing.T) {
	c := Aggregate(Data{Age: []float64{2, 1, 2}, Length: []float64{90, 60, 90}, Count: []float64{3, 2, 5}}, 0, 0)
	dst := make([]float64, 2)
	c.Counts(dst, []float64{2, 0, 1}, []int32{0, 1, 2})
	if !slices.Equal(dst, []float64{0, 11}) || !slices.Equal(c.Count, []float64{2, 8}) || !slices.Equal(c.Age, []float64{1, 2}) {
		t.Errorf("counts %v of cells of ages %v and counts %v, want 0 and 3·2 + 5 of ages 1 and 2 with 2 and 8", dst, c.Age, c.Count)
	}
}

func TestNoAllocations(t *testing.T) {
	cells, trip := landing(1000, true)
	times, counts := make([]float64, 40), make([]float64, len(cells.Age))
	var draw stream.Stream
	redraw(&draw, times, 2)
	for _, s := range Scatters() {
		f, err := FitCurve(cells.Data, Settings{Scatter: s})
		if err != nil {
			t.Fatal(err)
		}
		w := f.NewWork()
		n := testing.AllocsPerRun(20, func() {
			cells.Counts(counts, times, trip)
			err = w.Refit(counts)
		})
		if n != 0 || err != nil {
			t.Errorf("a refit with scatter %v allocates %v times (%v)", s, n, err)
		}
	}
}

func TestRefitTellsTrouble(t *testing.T) {
	cells, _ := landing(500, false)
	f, err := FitCurve(cells.Data, Settings{})
	if err != nil {
		t.Fatal(err)
	}
	w, counts := f.NewWork(), make([]float64, len(cells.Age))
	var trouble *Trouble
	if err := w.Refit(counts); !errors.As(err, &trouble) || trouble.Reason != TooFewFish {
		t.Errorf("a refit to no fish: %v, want too few fish", err)
	}
	for i, age := range cells.Age { // fish of hardly more than one age hold no curve
		if age > 5 && age < 5.05 {
			counts[i] = 10 * cells.Count[i]
		}
	}
	if err := w.Refit(counts); !errors.As(err, &trouble) || trouble.Fish < 10 {
		t.Errorf("a refit to fish of one age: %v at %v, want trouble", err, w.Estimates)
	}
	if err := w.Refit(cells.Count); err != nil || math.Abs(w.Estimates[0]-f.Estimates[0]) > 1e-4*f.SE(0, 0).X {
		t.Errorf("a refit after trouble: L∞ %v (%v), want %v", w.Estimates[0], err, f.Estimates[0])
	}
}

func TestBootstrapBandIsNearTheDeltaBand(t *testing.T) {
	cells, trip := landing(500, false)
	f, err := FitCurve(cells.Data, Settings{Scatter: ConstantCV})
	if err != nil {
		t.Fatal(err)
	}
	const replicates = 800
	w, times, counts := f.NewWork(), make([]float64, 20), make([]float64, len(cells.Age))
	var draw stream.Stream
	var all []float64
	for b := range replicates {
		redraw(&draw, times, b)
		cells.Counts(counts, times, trip)
		if err := w.Refit(counts); err != nil {
			t.Fatalf("replicate %d: %v", b, err)
		}
		all = append(all, w.Estimates...)
	}
	ages := []float64{1, 4, 10}
	delta, boot := f.Band(0, ages, 0.9), f.BootstrapBand(0, ages, all, 0.9)
	for i := range ages {
		// Fish of a trip are independent here, and 20 trips give the SE to about 16 %.
		if r := boot[i].SE / delta[i].SE; r < 0.6 || r > 1.5 {
			t.Errorf("bootstrap SE at age %v = %v, delta %v", ages[i], boot[i].SE, delta[i].SE)
		}
		if boot[i].Length != delta[i].Length || !(boot[i].Low < boot[i].Length && boot[i].Length < boot[i].High) {
			t.Errorf("bootstrap band at age %v: %+v, delta %+v", ages[i], boot[i], delta[i])
		}
	}
}

func BenchmarkRefit(b *testing.B) {
	cells, trip := landing(5000, true)
	times, counts := make([]float64, 200), make([]float64, len(cells.Age))
	for _, s := range Scatters() {
		f, err := FitCurve(cells.Data, Settings{Scatter: s})
		if err != nil {
			b.Fatal(err)
		}
		w := f.NewWork()
		b.Run(s.String(), func(b *testing.B) {
			var draw stream.Stream
			redraw(&draw, times, 3)
			for b.Loop() {
				cells.Counts(counts, times, trip)
				if err := w.Refit(counts); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

package run_test

import (
	"math/rand/v2"
	"testing"

	"earstone/estimate/key"
	"earstone/estimate/run"
	"earstone/plan/fishery"
)

// invented is a whole season as the chain hands it to a key: 5,000 aged fish in 4 key
// strata, some 420 patterns of 3 readers, 54 bins and 21 ages.
func invented(b *testing.B) (key.Sample, [][]float64) {
	b.Helper()
	settings, err := fishery.Sized("season")
	if err != nil {
		b.Fatal(err)
	}
	o := estimatedOf(b, fishery.Invent(settings, 1), run.Options{Only: []run.Part{run.Agreement}})
	var readers [][]float64
	s := o.Species[0]
	for r := range s.Errors.Models {
		readers = append(readers, s.Errors.MatrixOf(r, s.Counts.Design.Ages))
	}
	return s.Counts.Key, readers
}

// refits times replicates: every trip counts as often as a Poisson of about 1 falls.
func refits(b *testing.B, s key.Sample, work key.Worker, readers [][]float64) {
	b.Helper()
	r, weights := rand.New(rand.NewPCG(1, 10)), make([][]float64, 32)
	for i := range weights {
		times := map[int32]float64{}
		weights[i] = s.Weights()
		for j, e := range s.Entries {
			if _, drawn := times[e.Trip]; !drawn {
				times[e.Trip] = float64(r.IntN(2) + r.IntN(2))
			}
			weights[i][j] *= times[e.Trip]
		}
	}
	q, from := make([]float64, len(s.Grid.Path)*s.Grid.Bins*s.Grid.Ages), make([]key.Source, len(s.Grid.Path)*s.Grid.Bins)
	b.ReportAllocs()
	b.ResetTimer()
	for i := range b.N {
		work.Fit(q, from, weights[i%len(weights)], readers)
	}
}

func BenchmarkSeasonTrue(b *testing.B) {
	s, readers := invented(b)
	work, err := key.NewTrue(s, readers, key.Borrowing{})
	if err != nil {
		b.Fatal(err)
	}
	refits(b, s, work, readers)
}

func BenchmarkSeasonTrueSmooth(b *testing.B) {
	s, readers := invented(b)
	work, err := key.NewTrueSmooth(s, readers, key.Smoothing{})
	if err != nil {
		b.Fatal(err)
	}
	refits(b, s, work, readers)
}

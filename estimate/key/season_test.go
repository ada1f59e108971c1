package key_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"earstone/estimate/key"
)

// season is an invented sample of season size: 5,000 aged fish of 400 trips in 8 key
// strata (2 years × 4 quarters), 60 bins, 18 ages, read by up to 3 readers; and the
// readers' error matrices.
func season(seed uint64) (key.Sample, [][]float64) {
	const trips, fish, bins, ages, readers = 400, 5000, 60, 18, 3
	r := rand.New(rand.NewPCG(seed, 5))
	s := key.Sample{Grid: yearQuarterAll(2, 4, bins, ages), Readers: readers}
	for l := range s.Grid.Mid {
		s.Grid.Mid[l] = 52.5 + 5*float64(l)
	}
	matrices := [][]float64{misread(ages, 0.06, 1), misread(ages, 0.09, 1), misread(ages, 0.07, 1.03)}
	patterns := map[[readers]int16]int32{}
	for i := range fish {
		trip := i * trips / fish
		origin := trip % 8
		age := min(int(r.ExpFloat64()*4)+1, ages-1)
		length := 320*(1-math.Exp(-0.13*(float64(age)+1.2+0.1*float64(origin%4))))*(1+0.07*r.NormFloat64()) + 4*float64(trip%5)
		var pattern [readers]int16
		agreed := int32(-1)
		for k := range pattern {
			if pattern[k] = -1; k == 0 || r.Float64() < 0.5 {
				pattern[k] = drawn(r, matrices[k][age*ages:(age+1)*ages])
				agreed = int32(pattern[k])
			}
		}
		index, known := patterns[pattern]
		if !known {
			index = int32(len(s.Patterns))
			patterns[pattern] = index
			s.Patterns = append(s.Patterns, append([]int16(nil), pattern[:]...))
		}
		s.Entries = append(s.Entries, key.Entry{
			Trip: int32(trip), Origin: int32(origin), Age: agreed, Pattern: index, Fish: 1,
			Bin: int32(min(max((length-50)/5, 0), bins-1)),
		})
	}
	return s, matrices
}

// misread is the error matrix of a reader with a constant CV and a proportional bias.
func misread(ages int, cv, bias float64) []float64 {
	m := make([]float64, ages*ages)
	below := func(x, mean, sd float64) float64 { return 0.5 * math.Erfc(-(x-mean)/sd/math.Sqrt2) }
	for a := range ages {
		mean, sd := bias*float64(a), cv*math.Max(1, float64(a))
		for c := range ages {
			lower, upper := 0.0, 1.0
			if c > 0 {
				lower = below(float64(c)-0.5, mean, sd)
			}
			if c < ages-1 {
				upper = below(float64(c)+0.5, mean, sd)
			}
			m[a*ages+c] = upper - lower
		}
	}
	return m
}

func drawn(r *rand.Rand, share []float64) int16 {
	u := r.Float64()
	for c, p := range share {
		if u -= p; u < 0 {
			return int16(c)
		}
	}
	return int16(len(share) - 1)
}

// replicates are entry weights as resampling makes them: in each origin m − 1 of its
// m trips are drawn, weights × m/(m − 1).
func replicates(s key.Sample, number int, seed uint64) [][]float64 {
	r := rand.New(rand.NewPCG(seed, 10))
	byOrigin := map[int32][]int32{}
	last := map[int32]int32{}
	for _, e := range s.Entries {
		if t, seen := last[e.Origin]; !seen || t != e.Trip {
			byOrigin[e.Origin], last[e.Origin] = append(byOrigin[e.Origin], e.Trip), e.Trip
		}
	}
	out := make([][]float64, number)
	for b := range out {
		times := map[int32]float64{}
		for o := range int32(len(s.Grid.Rungs[0])) {
			trips := byOrigin[o]
			for range len(trips) - 1 {
				times[trips[r.IntN(len(trips))]] += float64(len(trips)) / float64(len(trips)-1)
			}
		}
		out[b] = make([]float64, len(s.Entries))
		for i, e := range s.Entries {
			out[b][i] = e.Fish * times[e.Trip]
		}
	}
	return out
}

// benchmarkFit times replicate refits.
func benchmarkFit(b *testing.B, s key.Sample, work key.Worker, readers [][]float64) {
	b.Helper()
	weights := replicates(s, 16, 1)
	q, from, _ := blank(s.Grid)
	iterations := 0
	b.ReportAllocs()
	b.ResetTimer()
	for i := 0; i < b.N; i++ {
		iterations += work.Fit(q, from, weights[i%len(weights)], readers).Iterations
	}
	b.ReportMetric(float64(iterations)/float64(b.N), "iterations/op")
}

// noAllocations fails when a refit allocates.
func noAllocations(t *testing.T, name string, s key.Sample, work key.Worker, readers [][]float64) {
	t.Helper()
	weights := replicates(s, 4, 2)
	q, from, used := blank(s.Grid)
	i := 0
	n := testing.AllocsPerRun(8, func() {
		work.Fit(q, from, weights[i%len(weights)], readers)
		work.Used(used)
		i++
	})
	if n != 0 {
		t.Errorf("a refit of the %s key allocates %v times, want never", name, n)
	}
}

func BenchmarkDirect(b *testing.B) {
	s, _ := season(1)
	work, err := key.NewDirect(s, key.Borrowing{})
	if err != nil {
		b.Fatal(err)
	}
	benchmarkFit(b, s, work, nil)
}

func TestNoAllocations(t *testing.T) {
	s, readers := season(1)
	direct, err := key.NewDirect(s, key.Borrowing{})
	if err != nil {
		t.Fatal(err)
	}
	noAllocations(t, "direct", s, direct, nil)
	noAllocations(t, "smoothed", s, smoothed(t, s, key.Smoothing{}), nil)
	noAllocations(t, "direct true-age", s, trueKey(t, s, readers), readers)
	noAllocations(t, "smoothed true-age", s, trueSmooth(t, s, readers), readers)
}

func trueKey(t testing.TB, s key.Sample, readers [][]float64) *key.TrueWork {
	t.Helper()
	work, err := key.NewTrue(s, readers, key.Borrowing{})
	if err != nil {
		t.Fatal(err)
	}
	return work
}

func BenchmarkTrue(b *testing.B) {
	s, readers := season(1)
	benchmarkFit(b, s, trueKey(b, s, readers), readers)
}

func BenchmarkNewTrue(b *testing.B) {
	s, readers := season(1)
	for b.Loop() {
		trueKey(b, s, readers)
	}
}

func trueSmooth(t testing.TB, s key.Sample, readers [][]float64) *key.TrueSmoothWork {
	t.Helper()
	work, err := key.NewTrueSmooth(s, readers, key.Smoothing{})
	if err != nil {
		t.Fatal(err)
	}
	return work
}

func BenchmarkTrueSmooth(b *testing.B) {
	s, readers := season(1)
	benchmarkFit(b, s, trueSmooth(b, s, readers), readers)
}

func BenchmarkNewTrueSmooth(b *testing.B) {
	s, readers := season(1)
	for b.Loop() {
		trueSmooth(b, s, readers)
	}
}

func BenchmarkNewSmooth(b *testing.B) {
	s, _ := season(1)
	for b.Loop() {
		smoothed(b, s, key.Smoothing{})
	}
}

func BenchmarkAreas(b *testing.B) {
	s, _ := season(1)
	for b.Loop() {
		if _, err := key.Areas(s, s.Grid.Rungs[0], nil, 0); err != nil {
			b.Fatal(err)
		}
	}
}

// seasonYears is three years at season size, the last without ages.
func seasonYears(s key.Sample) []key.KeyYear {
	years := make([]key.KeyYear, 3)
	for y := range years {
		years[y].Lengths = make([]float64, s.Grid.Bins)
		if y < 2 {
			years[y].Aged = make([]float64, s.Grid.Bins*s.Grid.Ages)
		}
	}
	for i, e := range s.Entries {
		y := i % 3
		years[y].Lengths[e.Bin] += 4
		if y < 2 {
			years[y].Aged[int(e.Bin)*s.Grid.Ages+int(e.Age)]++
		}
	}
	return years
}

func BenchmarkIterated(b *testing.B) {
	s, _ := season(1)
	years := seasonYears(s)
	for b.Loop() {
		if _, err := key.Iterated(years[0], years[2].Lengths, s.Grid.Ages); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCombined(b *testing.B) {
	s, _ := season(1)
	years := seasonYears(s)
	for b.Loop() {
		if _, err := key.Combined(years, s.Grid.Bins, s.Grid.Ages); err != nil {
			b.Fatal(err)
		}
	}
}

package stream

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// multinomial holds the means, variances and covariances of n dealt over chances.
func multinomial(t *testing.T, what string, n int, chances []float64, draw func(dst []int32)) {
	t.Helper()
	const rounds = 60000
	m := len(chances)
	dst := make([]int32, m)
	sum, products := make([]float64, m), make([]float64, m*m)
	for range rounds {
		draw(dst)
		for i, a := range dst {
			x := float64(a) - float64(n)*chances[i]
			sum[i] += x
			for j, b := range dst {
				products[i*m+j] += x * (float64(b) - float64(n)*chances[j])
			}
		}
	}
	for i, p := range chances {
		variance := float64(n) * p * (1 - p)
		if mean := sum[i] / rounds; math.Abs(mean) > 4.5*math.Sqrt(variance/rounds) {
			t.Errorf("%s: mean of cell %d is off by %v", what, i, mean)
		}
		for j, q := range chances {
			want := -float64(n) * p * q
			if i == j {
				want = variance
			}
			size := math.Sqrt(float64(n)*p*(1-p)) * math.Sqrt(float64(n)*q*(1-q))
			// A product of two nearly normal counts has SD √(1 + ρ²) ≤ √2 of its size, more when counts are small.
			se := size * math.Sqrt((2+1/(float64(n)*math.Max(math.Min(p, q), 1e-9)))/rounds)
			if got := products[i*m+j] / rounds; math.Abs(got-want) > 4.5*se {
				t.Errorf("%s: covariance of cells %d and %d = %.4f, want %.4f ± %.4f", what, i, j, got, want, se)
			}
		}
	}
}

func TestPicksAreMultinomial(t *testing.T) {
	for i, c := range []struct{ boxes, draws int }{{2, 1}, {3, 2}, {7, 6}, {5, 1000}} { // the last by binomials
		s := replicate(200 + i)
		chances := make([]float64, c.boxes)
		for k := range chances {
			chances[k] = 1 / float64(c.boxes)
		}
		multinomial(t, fmt.Sprintf("%d picks of %d", c.draws, c.boxes), c.draws, chances,
			func(dst []int32) { s.Picks(dst, c.draws) })
	}
}

// Two picks of three boxes have six outcomes: by hand, 1/9 for both in one box,
// 2/9 for one in each of two.
func TestTwoPicksOfThree(t *testing.T) {
	s := replicate(210)
	counts := make([]int, 6)
	times := make([]int32, 3)
	for range 90000 {
		s.Picks(times, 2)
		for box, n := range times {
			switch n {
			case 2:
				counts[box]++
			case 0:
				if times[(box+1)%3] == 1 {
					counts[3+box]++
				}
			}
		}
	}
	fits(t, "two picks of three", counts, []float64{1. / 9, 1. / 9, 1. / 9, 2. / 9, 2. / 9, 2. / 9})
}

func TestRedrawIsMultinomial(t *testing.T) {
	counts := []int32{3, 0, 5, 1, 8, 3}
	chances := []float64{0.15, 0, 0.25, 0.05, 0.40, 0.15}
	table := NewTable(counts)
	for i, n := range []int{1, 20, 269, 271, 4000} { // 270 is where binomials take over
		s := replicate(220 + i)
		multinomial(t, fmt.Sprintf("redraw of %d", n), n, chances, func(dst []int32) { s.Redraw(dst, &table, n) })
	}
}

func TestMultinomial(t *testing.T) {
	s := replicate(230)
	multinomial(t, "multinomial", 50, []float64{0.2, 0, 0.7, 0.1, 0},
		func(dst []int32) { s.Multinomial(dst, []float64{2, 0, 7, 1, 0}, 50) })
}

func TestRedrawProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		counts := rapid.SliceOfN(rapid.Int32Range(0, 40), 1, 30).Draw(t, "counts")
		n := rapid.SampledFrom([]int{0, 1, 7, 300, 5000}).Draw(t, "n")
		table := NewTable(counts)
		if table.Total() == 0 {
			n = 0
		}
		if table.Bins() != len(counts) {
			t.Fatalf("%d bins of %d", table.Bins(), len(counts))
		}
		s := replicate(rapid.IntRange(0, 1<<30).Draw(t, "replicate"))
		same := *s
		dst, numbers := make([]int32, len(counts)), make([]float64, len(counts))
		for i := range dst {
			dst[i], numbers[i] = 9, 9 // what stood there goes
		}
		s.Redraw(dst, &table, n)
		same.RedrawFloats(numbers, &table, n)
		if *s != same {
			t.Error("counts and numbers leave different states")
		}
		sum := 0
		for i, c := range dst {
			sum += int(c)
			if counts[i] == 0 && c != 0 {
				t.Errorf("%d fish in the empty bin %d", c, i)
			}
			if float64(c) != numbers[i] {
				t.Errorf("bin %d holds %d as count, %v as number", i, c, numbers[i])
			}
		}
		if sum != n {
			t.Errorf("%d fish redrawn, want %d", sum, n)
		}
		weights := make([]float64, len(counts))
		for i, c := range counts {
			weights[i] = float64(c) / 7
		}
		s.Multinomial(dst, weights, n)
		sum = 0
		for i, c := range dst {
			sum += int(c)
			if c < 0 || counts[i] == 0 && c != 0 {
				t.Errorf("%d dealt to cell %d of weight %v", c, i, weights[i])
			}
		}
		if sum != n {
			t.Errorf("%d dealt, want %d", sum, n)
		}
		s.Picks(dst, n)
		sum = 0
		for _, c := range dst {
			sum += int(c)
		}
		if sum != n {
			t.Errorf("%d picks, want %d", sum, n)
		}
	})
}

func TestNothingToDraw(t *testing.T) {
	s := replicate(240)
	before := *s
	none := NewTable(nil)
	s.Redraw(nil, &none, 0)
	s.Picks(nil, 0)
	times := []int32{4, 4}
	s.Picks(times, 0)
	if times[0] != 0 || times[1] != 0 || *s != before {
		t.Errorf("no pick gave %v or moved the stream", times)
	}
}

func BenchmarkRedraw(b *testing.B) {
	counts := make([]int32, 40)
	for i := range counts {
		counts[i] = int32(3 + i%20)
	}
	table := NewTable(counts)
	dst, numbers := make([]int32, 40), make([]float64, 40)
	var s Stream
	s.Reset(1, Fish, 0)
	for _, n := range []int{30, 500, 1000, 1400, 2000, 5000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			for b.Loop() {
				s.Redraw(dst, &table, n)
			}
		})
	}
	b.Run("floats of 500", func(b *testing.B) {
		for b.Loop() {
			s.RedrawFloats(numbers, &table, 500)
		}
	})
}

func BenchmarkPicks(b *testing.B) {
	var s Stream
	s.Reset(1, Trips, 0)
	for _, m := range []int{5, 12, 100} {
		times := make([]int32, m)
		b.Run(fmt.Sprint(m), func(b *testing.B) {
			for b.Loop() {
				s.Picks(times, m-1)
			}
		})
	}
}

func BenchmarkDraws(b *testing.B) {
	var s Stream
	s.Reset(1, Trips, 0)
	weights := []float64{1, 2, 3, 4}
	for _, c := range []struct {
		what string
		draw func()
	}{
		{"Reset", func() { s.Reset(1, Trips, 417) }},
		{"Uint64", func() { s.Uint64() }},
		{"Float64", func() { s.Float64() }},
		{"IntN", func() { s.IntN(417) }},
		{"Normal", func() { s.Normal() }},
		{"Exponential", func() { s.Exponential() }},
		{"Gamma 3.7", func() { s.Gamma(3.7) }},
		{"Gamma 0.3", func() { s.Gamma(0.3) }},
		{"Beta 2 5", func() { s.Beta(2, 5) }},
		{"Poisson 3", func() { s.Poisson(3) }},
		{"Poisson 12.5", func() { s.Poisson(12.5) }},
		{"Binomial 20 0.3", func() { s.Binomial(20, 0.3) }},
		{"Binomial 500 0.025", func() { s.Binomial(500, 0.025) }},
		{"Binomial 500 0.3", func() { s.Binomial(500, 0.3) }},
		{"Choose", func() { s.Choose(weights) }},
	} {
		b.Run(c.what, func(b *testing.B) {
			for b.Loop() {
				c.draw()
			}
		})
	}
}

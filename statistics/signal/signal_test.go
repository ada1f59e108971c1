package signal

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Smoothing by mirror images neither makes nor loses light.
func TestConvolveKeepsTheSum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfN(rapid.Float64Range(-10, 10), 12, 60).Draw(t, "x")
		half := rapid.SliceOfN(rapid.Float64Range(0.1, 1), 1, 12).Draw(t, "half")
		sum := 0.0
		for i, w := range half {
			sum += w * sides(i)
		}
		for i := range half {
			half[i] /= sum
		}
		smooth := make([]float64, len(x))
		convolve(smooth, x, half)
		was, is := 0.0, 0.0
		for i := range x {
			was, is = was+x[i], is+smooth[i]
		}
		if math.Abs(was-is) > 1e-9 {
			t.Fatalf("A profile of sum %v was smoothed to one of sum %v.", was, is)
		}
	})
}

func TestConvolveByHand(t *testing.T) {
	got := make([]float64, 4)
	convolve(got, []float64{4, 0, 8, 0}, []float64{0.5, 0.25})
	// By hand, ends mirrored: ½·4 + ¼(4 + 0), ¼(4 + 8), ½·8, ½·0 + ¼(8 + 0).
	for i, want := range []float64{3, 3, 4, 2} {
		if got[i] != want {
			t.Errorf("Smoothed value %d = %v, want %v.", i, got[i], want)
		}
	}
}

// A trend solves (I + λ D'D) z = x: the residual is λ times the bending of the trend.
func TestTrendSolvesItsEquation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfN(rapid.Float64Range(-10, 10), 3, 80).Draw(t, "x")
		swing := rapid.Float64Range(2, 60).Draw(t, "swing")
		n := len(x)
		z := make([]float64, n)
		NewTrend(n, swing).Fill(z, x)
		lambda := math.Pow(2*math.Sin(math.Pi/swing), -4)
		bent := make([]float64, n)
		for i := 1; i+1 < n; i++ {
			d := z[i-1] - 2*z[i] + z[i+1]
			bent[i-1] += d
			bent[i] -= 2 * d
			bent[i+1] += d
		}
		for i := range x {
			if miss := z[i] + lambda*bent[i] - x[i]; math.Abs(miss) > 1e-6 {
				t.Fatalf("With a swing of %v row %d of the trend's equation misses by %v.", swing, i, miss)
			}
		}
	})
}

func TestTrendKeepsALine(t *testing.T) {
	x := make([]float64, 50)
	for i := range x {
		x[i] = 3 - 0.25*float64(i)
	}
	z := make([]float64, 50)
	NewTrend(50, 30).Fill(z, x)
	for i := range x {
		if math.Abs(z[i]-x[i]) > 1e-9 {
			t.Fatalf("The trend of a straight line is %v at step %d, want %v.", z[i], i, x[i])
		}
	}
}

// A wave as long as the swing is halved, by definition of the swing.
func TestTrendHalvesItsSwing(t *testing.T) {
	const n, swing = 800, 40
	x, z := make([]float64, n), make([]float64, n)
	for i := range x {
		x[i] = math.Cos(2 * math.Pi * float64(i) / swing)
	}
	NewTrend(n, swing).Fill(z, x)
	if got := z[400] / x[400]; math.Abs(got-0.5) > 1e-6 {
		t.Errorf("The trend keeps %v of a wave as long as its swing, want one half.", got)
	}
}

// bumps is a profile of Gaussian ridges of SD width at given places.
func bumps(n int, width float64, at ...float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		for _, a := range at {
			z := (float64(i) - a) / width
			x[i] += math.Exp(-0.5 * z * z)
		}
	}
	return x
}

func TestRidgesStandWhereTheyWerePut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		first := rapid.Float64Range(30, 60).Draw(t, "first")
		second := rapid.Float64Range(90, 160).Draw(t, "second")
		x := bumps(200, 3, first, second)
		found := NewSearch(200, []float64{2, 3, 4, 6}).Ridges(nil, x, 0.5)
		if len(found) != 2 {
			t.Fatalf("%d ridges found of the two at %v and %v.", len(found), first, second)
		}
		for i, want := range []float64{first, second} {
			if math.Abs(found[i].At-want) > 0.1 {
				t.Fatalf("The ridge at %v was found at %v.", want, found[i].At)
			}
		}
	})
}

// Of white noise each width's response has the variance of the noise; so a strength
// of 5 means the same at all of them.
func TestTemplatesHaveOneMeasure(t *testing.T) {
	for _, w := range []float64{0.5, 1, 2.5, 7} {
		half := template(w)
		sum, squares := 0.0, 0.0
		for i, v := range half {
			sum += v * sides(i)
			squares += v * v * sides(i)
		}
		if math.Abs(sum) > 1e-12 || math.Abs(squares-1) > 1e-12 {
			t.Errorf("The template of width %v has sum %v and squares %v, want 0 and 1.", w, sum, squares)
		}
	}
}

func TestRidgeKnowsItsWidth(t *testing.T) {
	// The template that fits a Gaussian ridge of SD s best is wider by a fixed factor:
	// the response goes as w^{5/2}/(s² + w²)^{3/2}, largest at w = √5 s.
	widths := []float64{3, 4, 5, 6, 6.708, 7.5, 9, 12}
	found := NewSearch(400, widths).Ridges(nil, bumps(400, 3, 200), 0.5)
	if len(found) != 1 || found[0].Width != 6.708 {
		t.Errorf("A ridge of SD 3 is found as %+v, want one of width √5 · 3 = 6.708.", found)
	}
}

func TestRiseIsAboveTheSaddle(t *testing.T) {
	x := bumps(200, 3, 80, 92)
	for i := range x {
		x[i] += 0.7 * bumps(200, 3, 92)[i]
	}
	s := NewSearch(200, []float64{4})
	found := s.Ridges(nil, x, 0)
	var small Ridge
	for _, r := range found {
		if math.Abs(r.At-80) < 2 {
			small = r
		}
	}
	before, between := math.Inf(1), math.Inf(1)
	for i := range 80 {
		before = min(before, s.Response(0, float64(i)))
	}
	for i := 80; i < 92; i++ {
		between = min(between, s.Response(0, float64(i)))
	}
	if want := small.Strength - max(before, between); small.At == 0 || math.Abs(small.Rise-want) > 1e-12 {
		t.Errorf("The smaller of two ridges rises %v above its higher saddle, want %v.", small.Rise, want)
	}
}

func TestFlatTopCountsOnce(t *testing.T) {
	s := NewSearch(60, []float64{0.5})
	copy(s.best, make([]float64, 60))
	for i := 20; i < 25; i++ {
		s.best[i] = 1
	}
	count := 0
	for i := 1; i < 59; i++ {
		if s.best[i] > 0.5 && s.best[i] > s.best[i-1] && s.best[i] >= s.best[i+1] && s.falls(i) {
			count++
		}
	}
	if count != 1 {
		t.Errorf("A flat top counts %d times, want once.", count)
	}
}

func TestNoAllocations(t *testing.T) {
	const n = 500
	x, dst := bumps(n, 4, 100, 150, 300), make([]float64, n)
	trend, search := NewTrend(n, 80), NewSearch(n, []float64{2, 4, 8})
	half := []float64{0.5, 0.25}
	found := make([]Ridge, 0, n)
	calls := testing.AllocsPerRun(20, func() {
		convolve(dst, x, half)
		trend.Fill(dst, dst)
		found = search.Ridges(found[:0], x, 0.5)
	})
	if calls != 0 {
		t.Errorf("Smoothing, detrending and searching allocate %v times, want never.", calls)
	}
}

func TestShapesThatPanic(t *testing.T) {
	cases := map[string]func(){
		"no weights":                func() { convolve(make([]float64, 3), make([]float64, 3), nil) },
		"unequal lengths":           func() { convolve(make([]float64, 3), make([]float64, 4), []float64{1}) },
		"weights beyond the ends":   func() { convolve(make([]float64, 3), make([]float64, 3), make([]float64, 4)) },
		"trend of two":              func() { NewTrend(2, 10) },
		"swing of one":              func() { NewTrend(10, 1) },
		"trend of another length":   func() { NewTrend(10, 5).Fill(make([]float64, 9), make([]float64, 9)) },
		"no width":                  func() { NewSearch(50, nil) },
		"widths that do not ascend": func() { NewSearch(50, []float64{2, 2}) },
		"width too large":           func() { NewSearch(20, []float64{5}) },
	}
	for name, call := range cases {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("No panic for %s.", name)
				}
			}()
			call()
		}()
	}
}

func BenchmarkRidges(b *testing.B) {
	const n = 1000
	x := bumps(n, 4, 100, 150, 300, 420, 500, 600, 700)
	search := NewSearch(n, []float64{2, 4, 8})
	found := make([]Ridge, 0, n)
	b.ReportAllocs()
	for b.Loop() {
		found = search.Ridges(found[:0], x, 0.5)
	}
}

func BenchmarkTrend(b *testing.B) {
	const n = 1000
	x, dst := bumps(n, 4, 100, 500), make([]float64, n)
	trend := NewTrend(n, 200)
	b.ReportAllocs()
	for b.Loop() {
		trend.Fill(dst, x)
	}
}

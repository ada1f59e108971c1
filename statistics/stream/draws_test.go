package stream

import (
	"fmt"
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

// The seeds of these tests are fixed, so that none of them fails by chance. Bounds
// are at 4.5 standard errors, or a chi-square chance of 1e-5.

// fits holds counts against their chances by Pearson's chi-square; cells that
// expect less than 5 are joined to the next.
func fits(t *testing.T, what string, counts []int, chances []float64) {
	t.Helper()
	n := 0
	for _, c := range counts {
		n += c
	}
	x2, cells, joined, expected := 0.0, 0, 0.0, 0.0
	for i, c := range counts {
		joined += float64(c)
		expected += float64(n) * chances[i]
		if expected >= 5 {
			x2 += (joined - expected) * (joined - expected) / expected
			cells++
			joined, expected = 0, 0
		}
	}
	if expected > 0 {
		x2 += (joined - expected) * (joined - expected) / math.Max(expected, 1)
	} else if joined > 0 {
		t.Errorf("%s: %v draws where none can be", what, joined)
	}
	if p := (distuv.ChiSquared{K: float64(max(cells-1, 1))}).Survival(x2); p < 1e-5 {
		t.Errorf("%s: chi-square %.1f over %d cells, chance %.2g", what, x2, cells, p)
	}
}

// moments holds the first four moments of a draw against those of its distribution.
func moments(t *testing.T, what string, n int, draw func() float64, mean, variance, skewness, kurtosis float64) {
	t.Helper()
	sd := math.Sqrt(variance)
	var sums, squares [4]float64
	for range n {
		z := (draw() - mean) / sd
		p := 1.0
		for k := range sums {
			p *= z
			sums[k] += p
			squares[k] += p * p
		}
	}
	for k, want := range []float64{0, 1, skewness, kurtosis} {
		got := sums[k] / float64(n)
		se := math.Sqrt((squares[k]/float64(n) - got*got) / float64(n))
		if math.Abs(got-want) > 4.5*se {
			t.Errorf("%s: standardised moment %d = %.5f ± %.5f, want %.5f", what, k+1, got, se, want)
		}
	}
}

// follows holds a continuous draw against its distribution function in 200 cells
// of equal chance.
func follows(t *testing.T, what string, n int, draw func() float64, by func(float64) float64) {
	t.Helper()
	const cells = 200
	counts, chances := make([]int, cells), make([]float64, cells)
	for i := range chances {
		chances[i] = 1.0 / cells
	}
	for range n {
		counts[min(int(by(draw())*cells), cells-1)]++
	}
	fits(t, what, counts, chances)
}

func TestUniform(t *testing.T) {
	s := replicate(10)
	moments(t, "uniform", 400000, s.Float64, 0.5, 1.0/12, 0, 1.8)
	follows(t, "uniform", 400000, s.Float64, func(u float64) float64 { return u })
}

func TestNormal(t *testing.T) {
	s := replicate(11)
	moments(t, "normal", 1000000, s.Normal, 0, 1, 0, 3)
	follows(t, "normal", 1000000, s.Normal, distuv.UnitNormal.CDF)
	// The tail beyond the last layer of the ziggurat, about one draw in 3,900.
	const n = 3000000
	chances := []float64{0.5, 0.3, 0.15, 0.05}
	counts := make([]int, len(chances))
	far, signs := 0, 0
	for range n {
		x := s.Normal()
		if x > 0 {
			signs++
		}
		if x = math.Abs(x); x > normalEnd {
			far++
			share := math.Erfc(x/math.Sqrt2) / math.Erfc(normalEnd/math.Sqrt2) // chance of lying farther
			for i, edge := range []float64{0.5, 0.2, 0.05, 0} {
				if share >= edge {
					counts[i]++
					break
				}
			}
		}
	}
	fits(t, "far normal draws", counts, chances)
	fits(t, "draws beyond the last layer", []int{far, n - far}, []float64{math.Erfc(normalEnd / math.Sqrt2), 1 - math.Erfc(normalEnd/math.Sqrt2)})
	fits(t, "signs", []int{signs, n - signs}, []float64{0.5, 0.5})
}

func TestExponential(t *testing.T) {
	s := replicate(12)
	moments(t, "exponential", 1000000, s.Exponential, 1, 1, 2, 9)
	follows(t, "exponential", 1000000, s.Exponential, func(x float64) float64 { return -math.Expm1(-x) })
	const n = 3000000
	far := 0
	for range n {
		if s.Exponential() > exponentialEnd {
			far++
		}
	}
	fits(t, "exponential draws beyond the last layer", []int{far, n - far}, []float64{math.Exp(-exponentialEnd), -math.Expm1(-exponentialEnd)})
}

// The layers must close at the top: the last one's height is what is left to 1.
func TestZigguratsClose(t *testing.T) {
	for _, z := range []struct {
		what      string
		density   [257]float64
		step      [256]float64
		end, area float64
		whole     float64
	}{
		{"normal", normalDensity, normalStep, normalEnd, normalArea, math.Sqrt(math.Pi / 2)},
		{"exponential", exponentialDensity, exponentialStep, exponentialEnd, exponentialArea, 1},
	} {
		if top := z.density[255] + z.area/(z.step[255]*0x1p53); math.Abs(top-1) > 1e-12 {
			t.Errorf("the layers of the %s close at %.15f, want 1", z.what, top)
		}
		// Layer 0 is the strip under the last density and the tail.
		tail := math.Exp(-z.end)
		if z.what == "normal" {
			tail = math.Sqrt(math.Pi/2) * math.Erfc(z.end/math.Sqrt2)
		}
		if got := z.end*z.density[1] + tail; math.Abs(got-z.area) > 1e-14 {
			t.Errorf("layer 0 of the %s has area %.17g, want %.17g", z.what, got, z.area)
		}
	}
}

func TestGamma(t *testing.T) {
	for i, shape := range []float64{0.05, 0.3, 1, 1.5, 3.7, 40, 1e6} {
		s := replicate(20 + i)
		what := fmt.Sprintf("gamma of shape %v", shape)
		draw := func() float64 { return s.Gamma(shape) }
		moments(t, what, 200000, draw, shape, shape, 2/math.Sqrt(shape), 3+6/shape)
		follows(t, what, 200000, draw, distuv.Gamma{Alpha: shape, Beta: 1}.CDF)
	}
}

func TestLogGammaStaysANumber(t *testing.T) {
	s := replicate(30)
	for range 1000 {
		if x := s.logGamma(1e-9); math.IsInf(x, 0) || math.IsNaN(x) {
			t.Fatalf("log of a gamma draw of shape 1e-9 = %v", x)
		}
	}
	// ln G of shape 2: mean ψ(2) = 1 − γ, variance ψ'(2) = π²/6 − 1 (by hand).
	sum, squares := 0.0, 0.0
	const n = 200000
	for range n {
		x := s.logGamma(2)
		sum += x
		squares += x * x
	}
	mean, variance := sum/n, squares/n-sum/n*sum/n
	if want := 1 - 0.5772156649015329; math.Abs(mean-want) > 4.5*math.Sqrt(variance/n) {
		t.Errorf("mean of log gamma draws = %v, want %v", mean, want)
	}
}

func TestBeta(t *testing.T) {
	for i, c := range [][2]float64{{0.5, 0.5}, {0.2, 3}, {1, 1}, {2, 5}, {300, 40}} {
		s := replicate(40 + i)
		a, b := c[0], c[1]
		what := fmt.Sprintf("beta of shapes %v, %v", a, b)
		d := distuv.Beta{Alpha: a, Beta: b}
		draw := func() float64 { return s.Beta(a, b) }
		mean, variance, skewness, kurtosis := betaMoments(a, b)
		moments(t, what, 200000, draw, mean, variance, skewness, kurtosis)
		follows(t, what, 200000, draw, d.CDF)
	}
	s := replicate(46)
	for range 1000 {
		if x := s.Beta(1e-5, 1e-5); !(x >= 0 && x <= 1) {
			t.Fatalf("beta of tiny shapes = %v", x)
		}
	}
}

// betaMoments are mean, variance, skewness and kurtosis of a beta.
func betaMoments(a, b float64) (mean, variance, skewness, kurtosis float64) {
	sum := a + b
	skewness = 2 * (b - a) * math.Sqrt(sum+1) / ((sum + 2) * math.Sqrt(a*b))
	kurtosis = 3 + 6*((a-b)*(a-b)*(sum+1)-a*b*(sum+2))/(a*b*(sum+2)*(sum+3))
	return a / sum, a * b / (sum * sum * (sum + 1)), skewness, kurtosis
}

func TestDirichlet(t *testing.T) {
	alpha := []float64{0.5, 0, 2, 7.5}
	s := replicate(50)
	shares := make([]float64, len(alpha))
	for i, a := range alpha {
		if a == 0 {
			continue
		}
		mean, variance, skewness, kurtosis := betaMoments(a, 10-a) // each share alone is a beta
		moments(t, fmt.Sprintf("Dirichlet share %d", i), 200000, func() float64 {
			s.Dirichlet(shares, alpha)
			total := 0.0
			for _, x := range shares {
				total += x
			}
			if math.Abs(total-1) > 1e-14 || shares[1] != 0 {
				t.Fatalf("shares %v sum to %v", shares, total)
			}
			return shares[i]
		}, mean, variance, skewness, kurtosis)
	}
	tiny := []float64{1e-6, 1e-6}
	s.Dirichlet(shares[:2], tiny)
	if math.Abs(shares[0]+shares[1]-1) > 1e-15 {
		t.Errorf("shares of tiny concentrations = %v", shares[:2])
	}
}

// counted holds a draw of counts against its chances from 0 to len − 1.
func counted(t *testing.T, what string, n int, draw func() int, chance func(float64) float64, top int) {
	t.Helper()
	counts, chances := make([]int, top+2), make([]float64, top+2)
	left := 1.0
	for k := 0; k <= top; k++ {
		chances[k] = chance(float64(k))
		left -= chances[k]
	}
	chances[top+1] = math.Max(left, 0)
	for range n {
		counts[min(draw(), top+1)]++
	}
	fits(t, what, counts, chances)
}

func TestPoisson(t *testing.T) {
	for i, mean := range []float64{0.01, 1, 9.99, 10, 12.5, 57, 1000} {
		s := replicate(60 + i)
		d := distuv.Poisson{Lambda: mean}
		top := int(mean + 6*math.Sqrt(mean) + 5)
		what := fmt.Sprintf("Poisson of mean %v", mean)
		draw := func() int { return s.Poisson(mean) }
		counted(t, what, 300000, draw, d.Prob, top)
		moments(t, what, 300000, func() float64 { return float64(draw()) }, mean, mean, 1/math.Sqrt(mean), 3+1/mean)
	}
	s := replicate(70)
	if got := s.Poisson(0); got != 0 {
		t.Errorf("Poisson of mean 0 = %d", got)
	}
	moments(t, "Poisson of mean 1e12", 100000, func() float64 { return float64(s.Poisson(1e12)) }, 1e12, 1e12, 1e-6, 3)
}

func TestBinomial(t *testing.T) {
	for i, c := range []struct {
		n int
		p float64
	}{{1, 0.3}, {5, 0.5}, {20, 0.3}, {20, 0.99}, {33, 0.3}, {34, 0.3}, {500, 0.025}, {500, 0.3}, {500, 0.98}, {40, 0.5}, {100000, 0.3}, {1000000, 1e-6}} {
		s := replicate(80 + i)
		d := distuv.Binomial{N: float64(c.n), P: c.p}
		what := fmt.Sprintf("binomial of %d trials, chance %v", c.n, c.p)
		draw := func() int { return s.Binomial(c.n, c.p) }
		counted(t, what, 300000, draw, d.Prob, min(c.n, int(d.Mean()+6*d.StdDev()+5)))
		q := 1 - c.p
		moments(t, what, 300000, func() float64 { return float64(draw()) }, d.Mean(), d.Variance(),
			(q-c.p)/d.StdDev(), 3+(1-6*c.p*q)/d.Variance())
	}
	s := replicate(95)
	for _, c := range []struct {
		n    int
		p    float64
		want int
	}{{0, 0.4, 0}, {9, 0, 0}, {9, 1, 9}} {
		if got := s.Binomial(c.n, c.p); got != c.want {
			t.Errorf("binomial of %d trials, chance %v = %d, want %d", c.n, c.p, got, c.want)
		}
	}
	const large = 1 << 52
	if got := s.Binomial(large, 1-1e-15); got > large || got < large-60 {
		t.Errorf("binomial of 2⁵² nearly certain trials lacks %d", large-got)
	}
}

func TestChoose(t *testing.T) {
	s := replicate(100)
	weights := []float64{1, 0, 2.5, 0.5, 0}
	counts := make([]int, len(weights))
	for range 100000 {
		counts[s.Choose(weights)]++
	}
	fits(t, "choice by weight", counts, []float64{0.25, 0, 0.625, 0.125, 0})
	if counts[1] > 0 || counts[4] > 0 {
		t.Errorf("weights of 0 were chosen: %v", counts)
	}
}

// A sum of weights that rounding makes larger than its parts never ends in a
// weight of 0.
func TestChooseNeverTakesAZero(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		weights := rapid.SliceOfN(rapid.SampledFrom([]float64{0, 1e-17, 0.1, 1, 1e16}), 1, 12).Draw(t, "weights")
		s := replicate(rapid.IntRange(0, 1<<30).Draw(t, "replicate"))
		sum := 0.0
		for _, w := range weights {
			sum += w
		}
		if sum == 0 {
			return
		}
		for range 50 {
			if i := s.Choose(weights); weights[i] == 0 {
				t.Errorf("chose %d of %v", i, weights)
			}
		}
	})
}

func TestNonsensePanics(t *testing.T) {
	s := replicate(110)
	table, none := NewTable([]int32{1, 2}), NewTable([]int32{0, 0})
	two := make([]int32, 2)
	nan := math.NaN()
	for what, call := range map[string]func(){
		"gamma of shape 0":           func() { s.Gamma(0) },
		"gamma of shape NaN":         func() { s.Gamma(nan) },
		"gamma of shape Inf":         func() { s.Gamma(math.Inf(1)) },
		"beta of shape −1":           func() { s.Beta(-1, 0.5) },
		"beta of a second shape 0":   func() { s.Beta(2, 0) },
		"Poisson of mean −1":         func() { s.Poisson(-1) },
		"Poisson of mean NaN":        func() { s.Poisson(nan) },
		"Poisson of mean 1e300":      func() { s.Poisson(1e300) },
		"binomial of −1 trials":      func() { s.Binomial(-1, 0.5) },
		"binomial of chance 1.1":     func() { s.Binomial(1, 1.1) },
		"binomial of chance NaN":     func() { s.Binomial(1, nan) },
		"choice of nothing":          func() { s.Choose(nil) },
		"choice of zeros":            func() { s.Choose([]float64{0, 0}) },
		"choice of −1":               func() { s.Choose([]float64{2, -1}) },
		"choice of Inf":              func() { s.Choose([]float64{2, math.Inf(1)}) },
		"picks of no box":            func() { s.Picks(nil, 1) },
		"−1 picks":                   func() { s.Picks(two, -1) },
		"redraw into one bin of two": func() { s.Redraw(two[:1], &table, 1) },
		"redraw of −1":               func() { s.Redraw(two, &table, -1) },
		"redraw of no fish":          func() { s.RedrawFloats(make([]float64, 2), &none, 1) },
		"count −1":                   func() { NewTable([]int32{-1}) },
		"65,537 bins":                func() { NewTable(make([]int32, 1<<16+1)) },
		"cells and weights":          func() { s.Multinomial(two, []float64{1}, 1) },
		"multinomial weight −1":      func() { s.Multinomial(two, []float64{1, -1}, 1) },
		"multinomial of no weight":   func() { s.Multinomial(two, []float64{0, 0}, 1) },
		"Dirichlet of lengths":       func() { s.Dirichlet(make([]float64, 1), []float64{1, 1}) },
		"Dirichlet of zeros":         func() { s.Dirichlet(make([]float64, 1), []float64{0}) },
		"Dirichlet of −1":            func() { s.Dirichlet(make([]float64, 1), []float64{-1}) },
	} {
		mustPanic(t, what, call)
	}
}

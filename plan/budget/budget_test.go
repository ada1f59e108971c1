package budget

import (
	"fmt"
	"math"
	"testing"

	"earstone/estimate/resample"
	"earstone/reference"
	"earstone/statistics/stream"
)

// golden is topic 17: closed forms.
type golden struct {
	Input struct {
		Sine    struct{ A, B float64 } `json:"sine_function"`
		Product struct {
			CV2 []float64 `json:"cv_squared"`
		}
		Sum struct{ Variances []float64 }
	}
	Output struct {
		Sine    shares `json:"sine_function"`
		Product shares
		Sum     shares
	}
}

type shares struct {
	Variance float64
	First    []float64 `json:"first_order"`
	Total    []float64
}

// example is a function of inputs of which each takes equally likely values.
type example struct {
	name   string
	of     func(x []float64) float64
	values [][]float64 // by input
	drawn  func(s *stream.Stream, input int) float64
	want   shares
}

// examples are those of the golden file. Each input is replaced by one of few equally
// likely values with the moments that the variance asks for: the mean and variance of a
// factor or a term; of x in the sine function those of x⁴, and eight angles, over which
// powers of a sine up to the seventh have the means of the whole circle.
func examples(t testing.TB) []example {
	var g golden
	reference.Golden(t, "17-variance-shares", &g)
	two := func(mean, variance float64) []float64 {
		return []float64{mean - math.Sqrt(variance), mean + math.Sqrt(variance)}
	}
	var circle []float64
	for i := range 8 {
		circle = append(circle, 2*math.Pi*(float64(i)+0.5)/8)
	}
	fourth := math.Pow(math.Pi, 4)
	angle := func(s *stream.Stream) float64 { return math.Pi * (2*s.Float64() - 1) }
	sine := example{"sine function", func(x []float64) float64 {
		return math.Sin(x[0]) + g.Input.Sine.A*math.Pow(math.Sin(x[1]), 2) + g.Input.Sine.B*x[2]*math.Sin(x[0])
	}, [][]float64{circle, circle, two(fourth/5, fourth*fourth*(1./9-1./25))}, func(s *stream.Stream, input int) float64 {
		if input == 2 {
			return math.Pow(angle(s), 4)
		}
		return angle(s)
	}, g.Output.Sine}
	product := example{"product", func(x []float64) float64 { return x[0] * x[1] * x[2] }, nil, nil, g.Output.Product}
	sum := example{"sum", func(x []float64) float64 { return x[0] + x[1] + x[2] + x[3] }, nil, nil, g.Output.Sum}
	for _, v := range g.Input.Product.CV2 {
		product.values = append(product.values, two(1, v))
	}
	for _, v := range g.Input.Sum.Variances {
		sum.values = append(sum.values, two(0, v))
	}
	product.drawn = func(s *stream.Stream, i int) float64 { return 1 + math.Sqrt(g.Input.Product.CV2[i])*s.Normal() }
	sum.drawn = func(s *stream.Stream, i int) float64 { return math.Sqrt(g.Input.Sum.Variances[i]) * s.Normal() }
	return []example{sine, product, sum}
}

func (e *example) design(n int) Design {
	return Design{Sources: stream.Sources()[:len(e.values)], N: n}
}

// evaluate fills y in the order of the design's rows; input gives input i of row b of A, or
// of B from N on.
func (e *example) evaluate(n int, input func(b, i int) float64) []float64 {
	k := len(e.values)
	x, y := make([]float64, k), make([]float64, 0, (k+2)*n)
	for part := range k + 2 {
		for b := range n {
			for i := range x {
				if part == 1 || part == 2+i {
					x[i] = input(n+b, i)
				} else {
					x[i] = input(b, i)
				}
			}
			y = append(y, e.of(x))
		}
	}
	return y
}

// Over all pairs of all values the estimators are the shares themselves.
func TestSharesOverAllPairsAreTheGoldenOnes(t *testing.T) {
	const tolerance = 1e-12 // of golden topic 17, closed forms
	for _, e := range examples(t) {
		n := 1 // pairs of grids
		for _, values := range e.values {
			n *= len(values) * len(values)
		}
		y := e.evaluate(n, func(b, i int) float64 {
			at := b % n
			for j := range i {
				at /= len(e.values[j]) * len(e.values[j])
			}
			size := len(e.values[i])
			if b < n {
				return e.values[i][at%size]
			}
			return e.values[i][at/size%size]
		})
		d := e.design(n)
		b, ok := d.Of(y)
		if !ok || math.Abs(b.Variance.Value-e.want.Variance) > tolerance*e.want.Variance {
			t.Errorf("%s: variance %v, want %v", e.name, b.Variance.Value, e.want.Variance)
		}
		for i, s := range b.Shares {
			if math.Abs(s.First.Value-e.want.First[i]) > tolerance || math.Abs(s.Total.Value-e.want.Total[i]) > tolerance {
				t.Errorf("%s, input %d: shares %v and %v, want %v and %v", e.name, i+1, s.First.Value, s.Total.Value, e.want.First[i], e.want.Total[i])
			}
		}
	}
}

// From draws they are the same within their own standard errors, and these say how far:
// over seeds, the shares scatter as the errors promise.
func TestSharesFromDraws(t *testing.T) {
	const n, seeds = 500, 60
	for _, e := range examples(t) {
		d := e.design(n)
		for i := range e.values {
			for _, total := range []bool{false, true} {
				var sum, square, promised float64
				for seed := range uint64(seeds) {
					var s stream.Stream
					b, _ := d.Of(e.evaluate(n, func(b, i int) float64 {
						s.Reset(seed, d.Sources[i], b)
						return e.drawn(&s, i)
					}))
					got, want := b.Shares[i].First, e.want.First[i]
					if total {
						got, want = b.Shares[i].Total, e.want.Total[i]
					}
					sum += got.Value - want
					square += (got.Value - want) * (got.Value - want)
					promised += got.SE * got.SE
				}
				mean, rms, se := sum/seeds, math.Sqrt(square/seeds), math.Sqrt(promised/seeds)
				if math.Abs(mean) > 4*rms/math.Sqrt(seeds)+1e-9 {
					t.Errorf("%s, input %d, total %v: the share is off by %v on average, its error %v", e.name, i+1, total, mean, rms)
				}
				// 60 seeds tell an error to ±9 %; four of those, and what choosing the lesser costs.
				if rms > 1.45*se+1e-9 || rms < 0.6*se-1e-9 {
					t.Errorf("%s, input %d, total %v: shares scatter by %v over seeds, the standard error says %v", e.name, i+1, total, rms, se)
				}
			}
			if testing.Short() {
				break
			}
		}
	}
}

// Rows A and B are replicates, so that those of a run serve; row A of a source differs from
// A by that source alone, whatever else is drawn.
func TestRowsAreReplicates(t *testing.T) {
	d := Design{Sources: []stream.Source{stream.Trips}, N: 3}
	for i, got := range d.Rows() {
		want := resample.All(i % 6)
		if i >= 6 {
			want = resample.All(i-6).With(stream.Trips, i-6+3)
		}
		if got != want {
			t.Errorf("row %d is drawn from %v, want %v", i, got, want)
		}
	}
}

// Trips bring their stones and lengths along. Of a draw with variance 4, stones have 1 and
// lengths ½ inside trips; with readers of variance 4 the shares are 2.5, 1, 0.5 and 4 of 8.
func TestTripsAreSplit(t *testing.T) {
	d := Design{Sources: []stream.Source{stream.Trips, stream.Reader}, N: 4000, Within: 4000}
	rows := d.Rows()
	y := make([]float64, len(rows))
	var s stream.Stream
	normal := func(source stream.Source, b int, sd float64) float64 {
		s.Reset(1, source, b)
		return sd * s.Normal()
	}
	base := func(i int) float64 {
		trips, reader := i%d.N, i%d.N
		switch i / d.N {
		case 1:
			trips, reader = trips+d.N, reader+d.N
		case 2:
			trips += d.N
		case 3:
			reader += d.N
		}
		return normal(stream.Trips, trips, 2) + normal(stream.Reader, reader, 2)
	}
	for i := range y {
		switch j := i - 4*d.N; {
		case j < 0:
			y[i] = base(i)
		case j < d.Within:
			y[i] = normal(stream.Stones, j, 1)
		default:
			y[i] = normal(stream.Fish, j-d.Within, math.Sqrt(0.5))
		}
	}
	b, _ := d.Of(y)
	want := map[stream.Source]float64{stream.Trips: 2.5 / 8, stream.Stones: 1. / 8, stream.Fish: 0.5 / 8, stream.Reader: 0.5}
	if len(b.Shares) != len(want) {
		t.Fatalf("the budget has the shares %v, want four", b.Shares)
	}
	for _, share := range b.Shares {
		for _, got := range []Number{share.First, share.Total} {
			if !(math.Abs(got.Value-want[share.Source]) < 4*got.SE) || got.SE > 0.05 {
				t.Errorf("%v has the share %v ± %v, want %v", share.Source, got.Value, got.SE, want[share.Source])
			}
		}
	}
}

// Stones of variance 3 and lengths of 1 inside trips whose draw has 2 share it 3 to 1.
func TestTripsThatDifferNoMoreThanTheirFish(t *testing.T) {
	d := Design{Sources: []stream.Source{stream.Trips}, N: 4, Within: 4}
	root := func(sign, variance float64) float64 { return sign * math.Sqrt(variance*3/4) } // of 4 values, n − 1 = 3
	y := []float64{1, 1, -1, -1, 1, -1, 1, -1, 1, -1, 1, -1}                               // A, B, A with the trips of B
	for _, variance := range []float64{3, 1} {
		y = append(y, root(1, variance), root(-1, variance), root(1, variance), root(-1, variance))
	}
	b, _ := d.Of(y)
	for i, want := range []float64{0, 0.75, 0.25} {
		if got := b.Shares[i].First.Value; math.Abs(got-want) > 1e-12 {
			t.Errorf("%v has the share %v, want %v", b.Shares[i].Source, got, want)
		}
	}
}

func TestDeclaredLengthsAreASourceAlready(t *testing.T) {
	d := Design{Sources: []stream.Source{stream.Trips, stream.Fish}, N: 3, Within: 2}
	if got := len(d.Rows()); got != 4*3+2 {
		t.Errorf("a budget with lengths of its own takes %d rows, want 14: no lengths inside trips beside them", got)
	}
	if got := len((Design{Sources: []stream.Source{stream.Reader}, N: 3, Within: 2}).Rows()); got != 9 {
		t.Errorf("a budget without trips takes %d rows, want 9: there is nothing to split", got)
	}
}

func TestWhatDoesNotMoveHasNoBudget(t *testing.T) {
	d := Design{Sources: []stream.Source{stream.Trips}, N: 2}
	if b, ok := d.Of([]float64{7, 7, 7, 7, 7, 7}); ok || b.Mean.Value != 7 {
		t.Errorf("a quantity that stays 7 has the budget %+v, want none and the mean 7", b)
	}
	b, ok := d.Of([]float64{1, 2, 7, 7, 7, 7}) // the pairs of the source stay
	if !ok || math.IsNaN(b.Shares[0].First.Value+b.Shares[0].First.SE+b.Shares[0].Total.SE) {
		t.Errorf("pairs that stay give the budget %+v, want numbers", b)
	}
}

func TestWrongShapesPanic(t *testing.T) {
	d := Design{Sources: []stream.Source{stream.Trips}, N: 2}
	for what, call := range map[string]func(){
		"one pair":                 func() { Design{N: 1}.Rows() },
		"one draw inside trips":    func() { Design{N: 2, Within: 1}.Rows() },
		"a value too few":          func() { d.Of(make([]float64, 5)) },
		"values of another design": func() { Design{Sources: d.Sources, N: 2, Within: 2}.Of(make([]float64, 6)) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s does not panic", what)
				}
			}()
			call()
		}()
	}
}

// Trips move a quantity by ±3 and readers by ±1, in all four ways alike: the variance is
// 9 + 1, and nothing comes of both together.
func ExampleDesign_Of() {
	d := Design{Sources: []stream.Source{stream.Trips, stream.Reader}, N: 16}
	y := make([]float64, 0, 64)
	sign := func(b, bit int) float64 { return float64(2*(b>>bit&1) - 1) }
	for part := range 4 { // A, B, A with trips of B, A with readers of B; bits 0, 1 of A and 2, 3 of B
		for b := range d.N {
			trips, reader := sign(b, 0), sign(b, 1)
			if part == 1 || part == 2 {
				trips = sign(b, 2)
			}
			if part == 1 || part == 3 {
				reader = sign(b, 3)
			}
			y = append(y, 100+3*trips+reader)
		}
	}
	b, _ := d.Of(y)
	for _, s := range b.Shares {
		fmt.Printf("%v: %.1f alone, %.1f in all\n", s.Source, s.First.Value, s.Total.Value)
	}
	// Output:
	// trips: 0.9 alone, 0.9 in all
	// reader: 0.1 alone, 0.1 in all
}

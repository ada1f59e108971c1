package ageerror

import (
	"errors"
	"math"
	"slices"
	"testing"

	"earstone/programme/record"
	"earstone/statistics/stream"
	"pgregory.net/rapid"
)

// pair is two readers of constant CV 0.1 and 0.15 on ages 0 to 10, every stone read by both.
func pair() invention {
	m := Model{ConstantCV, NoBias, 0, 10}
	return invention{models: []Model{m, m}, theta: [][]float64{{0.1}, {0.15}}, beta: stock(11), oldest: 13, share: []float64{1, 1}}
}

func drawn(v invention, replicate, fish int) Data {
	var s stream.Stream
	s.Reset(20, stream.Invention, replicate)
	return v.draw(&s, fish)
}

func mustEstimate(t testing.TB, d Data, s Settings) Fit {
	t.Helper()
	fit, err := Estimate(d, s)
	if err != nil {
		t.Fatalf("fitting: %v", err)
	}
	return fit
}

// sameFit says where two fits of the same fish part.
func sameFit(t testing.TB, what string, a, b Fit, readers []int) {
	t.Helper()
	if !near(a.LogLikelihood, b.LogLikelihood, 1e-10) {
		t.Errorf("%s: log-likelihood %.12g, was %.12g", what, b.LogLikelihood, a.LogLikelihood)
	}
	for r, other := range readers {
		if a.Models[r] != b.Models[other] {
			t.Fatalf("%s: reader %d has %v, was %v", what, r, b.Models[other], a.Models[r])
		}
		for i := range a.Theta[r] {
			if math.Abs(a.Theta[r][i]-b.Theta[other][i]) > 1e-6 {
				t.Errorf("%s: parameter %d of reader %d is %.9g, was %.9g", what, i, r, b.Theta[other][i], a.Theta[r][i])
			}
		}
	}
}

func TestOrderOfFishAndReadersDoesNotMatter(t *testing.T) {
	d := drawn(pair(), 0, 600)
	fit := mustEstimate(t, d, Settings{})

	backwards := d
	backwards.Patterns = slices.Clone(d.Patterns)
	slices.Reverse(backwards.Patterns)
	again := mustEstimate(t, backwards, Settings{})
	sameFit(t, "fish in reverse", fit, again, []int{0, 1})
	if again.LogLikelihood != fit.LogLikelihood {
		t.Errorf("fish in reverse: log-likelihood %v differs in its last bits from %v", again.LogLikelihood, fit.LogLikelihood)
	}

	joined := d
	joined.Patterns = d.distinct()
	sameFit(t, "equal patterns joined", fit, mustEstimate(t, joined, Settings{}), []int{0, 1})

	swapped := d
	swapped.Patterns = nil
	for _, p := range d.Patterns {
		swapped.Patterns = append(swapped.Patterns, Pattern{[]int16{p.Counts[1], p.Counts[0]}, p.N, p.Known})
	}
	sameFit(t, "readers exchanged", fit, mustEstimate(t, swapped, Settings{Reference: 2}), []int{1, 0})

	named := swapped
	named.Of = []int{1, 0}
	sameFit(t, "columns exchanged and named", fit, mustEstimate(t, named, Settings{}), []int{0, 1})
}

func TestSplitPatternsGiveTheSameFit(t *testing.T) {
	d := drawn(pair(), 1, 300)
	fit := mustEstimate(t, d, Settings{})
	rapid.Check(t, func(t *rapid.T) {
		part := rapid.Float64Range(0.1, 0.9).Draw(t, "part")
		split := d
		split.Patterns = nil
		for _, p := range d.Patterns {
			split.Patterns = append(split.Patterns, Pattern{p.Counts, part * p.N, p.Known}, Pattern{p.Counts, (1 - part) * p.N, p.Known})
		}
		other, err := Estimate(split, Settings{})
		if err != nil {
			t.Fatalf("fitting: %v", err)
		}
		if !near(other.LogLikelihood, fit.LogLikelihood, 1e-10) || math.Abs(other.Theta[0][0]-fit.Theta[0][0]) > 1e-6 {
			t.Fatalf("patterns split at %v: log-likelihood %.12g, %v, was %.12g, %v", part, other.LogLikelihood, other.Theta, fit.LogLikelihood, fit.Theta)
		}
	})
}

// TestChoiceFindsTheForms: the choice reaches an AICc no worse than the true forms have,
// with the true forms of σ. A bias that is not there is let in by AICc in some 16 % of
// data sets, so of bias only the strong one is asked for.
func TestChoiceFindsTheForms(t *testing.T) {
	v := season()
	for replicate := range 5 {
		d := drawn(v, replicate, 5000)
		fit := mustEstimate(t, d, Settings{})
		truth := mustEstimate(t, d, Settings{Models: v.models})
		if fit.AICc > truth.AICc+1e-2 {
			t.Errorf("season %d: chose %v with AICc %.2f, the true forms have %.2f", replicate, fit.Models, fit.AICc, truth.AICc)
		}
		for r, m := range fit.Models {
			if m.SD != v.models[r].SD {
				t.Errorf("season %d: σ of reader %d is %v, invented as %v", replicate, r, m.SD, v.models[r].SD)
			}
		}
		if fit.Models[0].Bias != NoBias || fit.Models[2].Bias == NoBias {
			t.Errorf("season %d: chose %v, want no bias of reader 0 and one of reader 2", replicate, fit.Models)
		}
		if fit.Differ || len(fit.Starts) != 4 {
			t.Errorf("season %d: starts reached %v, want one optimum from four", replicate, fit.Starts)
		}
	}
}

// TestIntervalsCoverTheTruth: in 200 invented data sets of 800 fish the 95 % interval of
// σ(5) of each reader covers 95 % within what 200 trials tell: 3 SE of the share, 4.6 %.
func TestIntervalsCoverTheTruth(t *testing.T) {
	const trials, age = 200, 5
	v := pair()
	covered, sum := make([]float64, 2), make([]float64, 2)
	for replicate := range trials {
		fit := mustEstimate(t, drawn(v, replicate, 800), Settings{Models: v.models})
		for _, row := range fit.Rows(11, 0.95) {
			if row.Quantity != SD || row.Age != age {
				continue
			}
			truth := v.models[row.Reader].SDAt(v.theta[row.Reader], age)
			sum[row.Reader] += row.Value / truth
			if row.Low.X <= truth && truth <= row.High.X {
				covered[row.Reader]++
			}
		}
	}
	for r := range covered {
		if share := covered[r] / trials; math.Abs(share-0.95) > 0.046 {
			t.Errorf("interval of σ(%d) of reader %d covers in %.1f %% of trials, want 95", age, r, 100*share)
		}
		if mean := sum[r] / trials; math.Abs(mean-1) > 0.02 {
			t.Errorf("σ(%d) of reader %d is on average %.3f of the truth", age, r, mean)
		}
	}
}

func TestKnownAgesSetEveryReaderFree(t *testing.T) {
	v := pair()
	v.models = []Model{{ConstantCV, Proportional, 0, 10}, {ConstantCV, Proportional, 0, 10}}
	v.theta = [][]float64{{0.1, 0.12}, {0.12, -0.08}}
	v.known = 0.3
	d := drawn(v, 0, 1500)
	fit := mustEstimate(t, d, Settings{})
	for r, want := range []float64{0.12, -0.08} {
		if fit.Models[r].Bias == NoBias {
			t.Errorf("reader %d, off by %v of an age, was found unbiased", r, want)
			continue
		}
		if got := fit.Models[r].BiasAt(fit.Theta[r], 8) / 8; math.Abs(got-want) > 0.03 {
			t.Errorf("bias of reader %d at age 8 = %.3f of an age, want about %v", r, got, want)
		}
	}
	for i := range d.Patterns { // all ages known: no composition is left to estimate
		if d.Patterns[i].Known < 0 {
			d.Patterns[i].N = 0
		}
	}
	known := mustEstimate(t, d, Settings{Models: v.models})
	if known.Beta != nil || known.Parameters != 4 {
		t.Errorf("all ages known: %d parameters and β %v, want 4 and none", known.Parameters, known.Beta)
	}
}

func TestOneReaderTwice(t *testing.T) {
	v := pair()
	v.theta = [][]float64{{0.12}, {0.12}}
	d := drawn(v, 0, 1500)
	d.Readers, d.Of = 1, []int{0, 0}
	fit := mustEstimate(t, d, Settings{})
	if got := fit.Models[0].SDAt(fit.Theta[0], 6); math.Abs(got-0.72) > 0.1 {
		t.Errorf("σ(6) of a reader who read everything twice = %.3f, want about 0.72", got)
	}
}

func TestReadersWithFewSecondReadingsArePooled(t *testing.T) {
	v := season()
	v.share[2] = 0.005
	d := drawn(v, 0, 1500)
	fit := mustEstimate(t, d, Settings{})
	if fit.Set[2] != fit.Set[0] || fit.Set[1] == fit.Set[0] || !slices.Contains(fit.Notes, Note{Pooled, 2}) {
		t.Errorf("reader 2 has %v second readings: sets %v, notes %v; want it with reader 0, and said", fit.Twice[2], fit.Set, fit.Notes)
	}
	if !slices.Equal(fit.Theta[2], fit.Theta[0]) {
		t.Errorf("readers of one set have %v and %v", fit.Theta[0], fit.Theta[2])
	}
	dst := fit.NewDraw()
	var s stream.Stream
	s.Reset(1, stream.Reader, 0)
	fit.Draw(&s, dst)
	if !slices.Equal(dst[2], dst[0]) || slices.Equal(dst[0], fit.Theta[0]) {
		t.Errorf("readers of one set drew %v and %v from %v", dst[0], dst[2], fit.Theta[0])
	}
}

func TestReasons(t *testing.T) {
	read := func(n float64, counts ...int16) Pattern { return Pattern{counts, n, -1} }
	two := func(patterns ...Pattern) Data { return Data{Ages: 6, Oldest: 7, Readers: 2, Patterns: patterns} }
	for _, c := range []struct {
		name     string
		data     Data
		settings Settings
		want     Reason
	}{
		{"no fish", two(), Settings{}, NoSecondReading},
		{"single readings", two(read(40, 3, -1), read(30, -1, 4)), Settings{}, NoSecondReading},
		{"all agree", two(read(40, 3, 3), read(30, 4, 4), read(2, 5, -1)), Settings{}, AllAgree},
		{"one age", Data{Ages: 1, Oldest: 3, Readers: 2, Patterns: []Pattern{read(9, 1, 1)}}, Settings{}, OneAge},
		{"six fish", two(read(3, 3, 4), read(3, 2, 2)), Settings{}, TooFewFish},
		{"one blunder in a thousand million", Data{Ages: 6, Oldest: 7, Readers: 1, Patterns: []Pattern{{[]int16{2}, 4e8, 2}, {[]int16{5}, 6e8, 5}, {[]int16{4}, 1, 5}}},
			Settings{}, ParametersAtBound},
		{"a reader without readings", two(read(40, 3, -1), Pattern{[]int16{4, -1}, 30, 3}, Pattern{[]int16{4, -1}, 30, 4}),
			Settings{Models: []Model{{SD: ConstantCV, Bias: NoBias}, {SD: ConstantCV, Bias: NoBias}}}, NotConverged},
		{"count too large", two(read(3, 3, 8)), Settings{}, OutOfRange},
		{"fewer counts than columns", two(read(3, 3)), Settings{}, OutOfRange},
		{"fish less than none", two(read(-1, 3, 3)), Settings{}, OutOfRange},
		{"fish without end", two(read(math.Inf(1), 3, 3)), Settings{}, OutOfRange},
		{"known age too old", two(Pattern{[]int16{3, 3}, 1, 6}), Settings{}, OutOfRange},
		{"column of nobody", Data{Ages: 6, Oldest: 7, Readers: 1, Of: []int{0, 1}}, Settings{}, OutOfRange},
		{"unbiased reader of nowhere", two(read(3, 3, 4)), Settings{Reference: 3}, OutOfRange},
		{"forms for one reader", two(read(3, 3, 4)), Settings{Models: make([]Model, 1)}, OutOfRange},
	} {
		_, err := Estimate(c.data, c.settings)
		var trouble *Trouble
		if !errors.As(err, &trouble) || trouble.Reason != c.want {
			t.Errorf("%s: error %v, want reason %q", c.name, err, c.want)
		}
	}
	for r := NoSecondReading; r <= OutOfRange; r++ {
		if r.String() == Reason(0).String() {
			t.Errorf("reason %d has no words", r)
		}
	}
}

// TestDrawsFollowTheFit: mean and SD of 20,000 draws of each parameter on the working
// scale against the fit, within 5 Monte Carlo SE; and their correlation.
func TestDrawsFollowTheFit(t *testing.T) {
	const draws = 20000
	v := season()
	fit := mustEstimate(t, drawn(v, 0, 5000), Settings{Models: v.models})
	dst, wide := fit.NewDraw(), len(fit.place)
	sum, square := make([]float64, wide), make([]float64, wide*wide)
	x := make([]float64, wide)
	var s stream.Stream
	for b := range draws {
		s.Reset(7, stream.Reader, b)
		fit.Draw(&s, dst)
		for i, p := range fit.place {
			x[i] = dst[p.reader][p.at]
			if p.at < fit.Models[p.reader].logScale() {
				x[i] = math.Log(x[i])
			}
			x[i] -= fit.working[i]
		}
		for i := range wide {
			sum[i] += x[i]
			for j := range wide {
				square[i*wide+j] += x[i] * x[j]
			}
		}
	}
	for i := range wide {
		vi := fit.covariance[i*wide+i]
		if mean := sum[i] / draws; math.Abs(mean) > 5*math.Sqrt(vi/draws) {
			t.Errorf("parameter %d is drawn %v off, SE %v", i, mean, math.Sqrt(vi))
		}
		for j := range wide {
			vj := fit.covariance[j*wide+j]
			got, want := square[i*wide+j]/draws, fit.covariance[i*wide+j]
			if math.Abs(got-want) > 5*math.Sqrt(2*vi*vj/draws) {
				t.Errorf("covariance of draws %d and %d = %v, want %v", i, j, got, want)
			}
		}
	}
}

// TestDrawnMatricesSpreadAsTheRowsSay: a bend of the bias that the readings hardly tell
// must not throw the ages whose bias they tell well. The numbers are those of a fit to
// 600 invented fish: the bias is −0.02 ± 0.04 up to age 11 and bends up beyond.
//
// Source: by hand, the delta method; 3,000 draws, 10 %.
func TestDrawnMatricesSpreadAsTheRowsSay(t *testing.T) {
	const draws, ages = 3000, 19
	lo, hi, bend := 0.036, 31.0, 0.95 // SE
	fit := Fit{
		Models: []Model{{SD: ConstantCV, Bias: CurveBias, Low: 1, High: 18}}, Theta: [][]float64{{0.07, -0.017, 10.9, -1.03}},
		Set: []int{0}, from: []int{0}, Oldest: 60, SE: [][]record.Number{make([]record.Number, 4)},
		place: []place{{0, 0}, {0, 1}, {0, 2}, {0, 3}}, working: []float64{math.Log(0.07), -0.017, 10.9, -1.03},
		covariance: []float64{0.005, 0, 0, 0, 0, lo * lo, 0, 0, 0, 0, hi * hi, -0.98 * hi * bend, 0, 0, -0.98 * hi * bend, bend * bend},
		low:        []float64{-9, -1e3, -1e3, -1e3}, high: []float64{9, 1e3, 1e3, 1e3},
	}
	fit.factor = slices.Clone(fit.covariance)
	if !cholesky(fit.factor, 4) {
		t.Fatal("the covariance is none")
	}
	rows := fit.Rows(ages, 0.95)
	dst, matrix := fit.NewDraw(), [][]float64{make([]float64, ages*61)}
	var s stream.Stream
	var sum, squares [ages]float64
	for b := range draws {
		s.Reset(3, stream.Reader, b)
		fit.Draw(&s, dst)
		fit.Matrices(matrix, dst)
		for a := range ages {
			mean := 0.0
			for c, p := range matrix[0][a*61 : (a+1)*61] {
				mean += float64(c) * p
			}
			sum[a] += mean
			squares[a] += mean * mean
		}
	}
	for a := 6; a <= 12; a++ { // where the cut into whole ages moves the mean little
		sd := math.Sqrt((squares[a] - sum[a]*sum[a]/draws) / (draws - 1))
		if want := rows[a].SE.X; math.Abs(sd-want) > 0.1*want+0.01 {
			t.Errorf("the mean count of age %d spreads by %.3f over draws, want %.3f", a, sd, want)
		}
	}
}

func TestRowsOfUnbiasedAndHeldReaders(t *testing.T) {
	d := drawn(pair(), 0, 600)
	fit := mustEstimate(t, d, Settings{Models: []Model{{SD: ConstantCV, Bias: NoBias}, {SD: ConstantCV, Bias: Proportional}}})
	rows := fit.Rows(11, 0.95)
	if len(rows) != 2*2*11 {
		t.Fatalf("%d rows for two readers, two quantities and 11 ages", len(rows))
	}
	for _, row := range rows {
		assumed := row.Reader == 0 && row.Quantity == Bias
		if row.SE.Known == assumed {
			t.Errorf("reader %d, age %d, %v: SE known is %v", row.Reader, row.Age, row.Quantity, row.SE.Known)
		}
		if row.SE.Known && !(row.Low.X <= row.Value && row.Value <= row.High.X) {
			t.Errorf("reader %d, age %d, %v: %v lies outside its interval %v to %v", row.Reader, row.Age, row.Quantity, row.Value, row.Low.X, row.High.X)
		}
		if row.Quantity == SD && row.Age == 10 { // σ = CV·a: the same relative SE
			if want := 10 * fit.SE[row.Reader][0].X; !near(row.SE.X, want, 1e-12) {
				t.Errorf("SE of σ(10) of reader %d = %v, want 10 times that of the CV, %v", row.Reader, row.SE.X, want)
			}
		}
	}
}

func TestFaultlessReaderIsHeld(t *testing.T) {
	v := pair()
	m := v.models[0]
	v.models, v.share = []Model{m, m, m}, []float64{1, 1, 1}
	v.theta = [][]float64{{0.001}, {0.15}, {0.15}}
	fit := mustEstimate(t, drawn(v, 0, 1000), Settings{Models: v.models})
	if !slices.Contains(fit.Notes, Note{Held, 0}) || fit.SE[0][0].Known {
		t.Errorf("a reader without error: notes %v, SE %v; want it held at the least σ, without SE", fit.Notes, fit.SE[0][0])
	}
	dst := fit.NewDraw()
	var s stream.Stream
	s.Reset(1, stream.Reader, 0)
	fit.Draw(&s, dst)
	if !near(dst[0][0], fit.Theta[0][0], 1e-12) {
		t.Errorf("a held CV of %v is drawn as %v", fit.Theta[0][0], dst[0][0])
	}
	if sd := fit.Models[0].SDAt(fit.Theta[0], 10); !near(sd, leastSD, 1e-12) {
		t.Errorf("σ(10) of a reader without error = %v, want the least, %v", sd, leastSD)
	}
}

// TestFaultlessByChanceIsShared: of two readers on 60 fish, CVs 0.1 and 0.15, the first
// seems faultless in this draw, at an AICc only 1.2 better than that of one CV for both.
func TestFaultlessByChanceIsShared(t *testing.T) {
	fit := mustEstimate(t, drawn(pair(), 0, 60), Settings{})
	if fit.Set[0] != fit.Set[1] || !slices.Contains(fit.Notes, Note{Shared, 0}) || slices.Contains(fit.Notes, Note{Held, 0}) {
		t.Errorf("sets %v, notes %v; want one set for both readers, and said", fit.Set, fit.Notes)
	}
	if first := fit.Tried[0]; first.Standing != AtBound {
		t.Errorf("apart the readers stand as %v, want at_bound", first.Standing)
	}
	if cv := fit.Theta[0][0]; cv < 0.1 || cv > 0.15 || !fit.SE[0][0].Known {
		t.Errorf("shared CV = %.3f, SE %v, want one between the two invented ones", cv, fit.SE[0][0])
	}
}

func TestNoAllocations(t *testing.T) {
	v := season()
	fit := mustEstimate(t, drawn(v, 0, 2000), Settings{Models: v.models})
	dst := fit.NewDraw()
	matrices := make([][]float64, len(v.models))
	for r := range matrices {
		matrices[r] = make([]float64, 21*23)
	}
	var s stream.Stream
	b := 0
	if n := testing.AllocsPerRun(100, func() {
		s.Reset(1, stream.Reader, b)
		b++
		fit.Draw(&s, dst)
		fit.Matrices(matrices, dst)
	}); n != 0 {
		t.Errorf("drawing readers anew allocates %v times, want 0", n)
	}
	for i, p := range Matrix(make([]float64, 21*23), v.models[0], dst[0], 21, 23) {
		if math.Abs(matrices[0][i]-p) > 1e-9 { // σ and bias of reader 0 are straight in their parameters
			t.Fatalf("place %d of the matrix of reader 0 is %v, want that of its draw, %v", i, matrices[0][i], p)
		}
	}
	fit.Matrices(matrices, fit.Theta)
	if !slices.Equal(matrices[1], fit.MatrixOf(1, 21)) {
		t.Errorf("the matrix of reader 1 under the fitted parameters is not MatrixOf")
	}
}

func TestWrongShapesPanic(t *testing.T) {
	m := Model{ConstantCV, NoBias, 0, 10}
	fit := mustEstimate(t, drawn(pair(), 0, 300), Settings{Models: pair().models})
	for name, call := range map[string]func(){
		"a matrix of too few cells":     func() { Matrix(make([]float64, 5), m, []float64{0.1}, 2, 3) },
		"a matrix of two CVs":           func() { Matrix(make([]float64, 6), m, []float64{0.1, 0.1}, 2, 3) },
		"a model without forms":         func() { Matrix(make([]float64, 6), Model{}, nil, 2, 3) },
		"matrices of one reader of two": func() { fit.Matrices(make([][]float64, 1), fit.Theta) },
		"a draw of one reader of two":   func() { fit.Draw(&stream.Stream{}, fit.NewDraw()[:1]) },
		"a draw of too few parameters":  func() { fit.Draw(&stream.Stream{}, make([][]float64, 2)) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s went through, want a panic", name)
				}
			}()
			call()
		}()
	}
}

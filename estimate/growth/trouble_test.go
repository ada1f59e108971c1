package growth

import (
	"errors"
	"math"
	"strings"
	"testing"

	"earstone/programme/record"
)

// along are fish along a curve, two at each age, an SD of 4 above and below.
func along(ages []float64, length func(t float64) float64) (d Data) {
	for i, t := range ages {
		side := 4.
		if i%3 == 0 {
			side = 5
		}
		d.Age = append(d.Age, t, t)
		d.Length = append(d.Length, length(t)+side, length(t)-side)
	}
	return d
}

func every(from, to, by float64) (ages []float64) {
	for t := from; t <= to+1e-9; t += by {
		ages = append(ages, t)
	}
	return ages
}

func vb(t float64) float64 { return 240 * -math.Expm1(-0.18*(t+0.7)) }

func TestTroubleIsToldInWords(t *testing.T) {
	all := along(every(1, 12, 1), vb)
	grouped := all
	for i := range all.Age {
		grouped.Group = append(grouped.Group, 0)
		if all.Age[i] == 12 {
			grouped.Group[i] = 1
		}
	}
	straight := along(every(1, 6, 0.5), func(t float64) float64 { return 60 + 20*t })
	over := along(every(8, 20, 0.5), func(float64) float64 { return 220 })
	for _, c := range []struct {
		name   string
		d      Data
		s      Settings
		reason Reason
		words  string
	}{
		{"three fish", Data{Age: []float64{1, 2, 3}, Length: []float64{60, 80, 100}}, Settings{}, TooFewFish, "3 fish are too few"},
		{"no fish", Data{}, Settings{}, TooFewFish, "0 fish are too few"},
		{"two ages", along([]float64{1, 2}, vb), Settings{}, TooFewFish, "4 fish"},
		{"two ages, more fish", along([]float64{1, 2, 1, 2}, vb), Settings{}, TooFewAges, "too few different ages"},
		{"one age in a group", grouped, Settings{Apart: []bool{true, true, true}}, TooFewAges, "too few different ages"},
		{"growth in a straight line", straight, Settings{}, NoOldFish, "the oldest of 22 fish is 6, too young to fix the largest length"},
		{"growth over", over, Settings{}, NoYoungFish, "the youngest of 50 fish is 8, too old to fix"},
		{"on the curve", Data{Age: every(1, 12, 1), Length: lengths(every(1, 12, 1))}, Settings{}, NoScatter, "do not scatter"},
	} {
		for _, scatter := range []Scatter{ConstantSD, ConstantCV, Lognormal} {
			c.s.Scatter = scatter
			_, err := FitCurve(c.d, c.s)
			var trouble *Trouble
			if !errors.As(err, &trouble) || trouble.Reason != c.reason || !strings.Contains(err.Error(), c.words) {
				t.Errorf("%s, scatter %v: %v; want %v, saying %q", c.name, scatter, err, c.reason, c.words)
			}
		}
	}
}

func lengths(ages []float64) (out []float64) {
	for _, t := range ages {
		out = append(out, vb(t))
	}
	return out
}

// Where a flexible model has nothing to hold on to it says what ran away.
func TestFlexibleModelsSayWhatRanAway(t *testing.T) {
	_, err := FitCurve(along(every(1, 12, 0.5), vb), Settings{Model: TwoPhase})
	var trouble *Trouble
	if !errors.As(err, &trouble) || trouble.Parameter == "" || trouble.Reason.String() == "" {
		t.Errorf("two phases of a curve that has one: %v, want the parameter that ran away", err)
	}
}

func TestTwoPhasesAreFound(t *testing.T) {
	// Growth that turns from one rate to another; the curve is compared, since the
	// sharpness of the turn is hardly fixed by any data.
	truth := []float64{250, 0.1, 0.28, -0.6, 4.5, 3}
	two := Curve{Model: TwoPhase}
	d := along(every(0.5, 20, 0.25), func(t float64) float64 { return two.Length(t, truth) })
	f, err := FitCurve(d, Settings{Model: TwoPhase})
	if err != nil {
		t.Fatal(err)
	}
	one, err := FitCurve(d, Settings{})
	if err != nil {
		t.Fatal(err)
	}
	for _, age := range []float64{1, 4, 6, 12} {
		if got, want := two.Length(age, f.Estimates), two.Length(age, truth); math.Abs(got/want-1) > 0.01 {
			t.Errorf("length at age %v = %v, want %v", age, got, want)
		}
	}
	if f.LogLikelihood < one.LogLikelihood+5 {
		t.Errorf("two phases fit by %v, one by %v: want the turn to be seen", f.LogLikelihood, one.LogLikelihood)
	}
}

func TestComparisonsThatCannotBe(t *testing.T) {
	d := along(every(1, 12, 1), vb)
	var trouble *Trouble
	if c, err := Compare(d, Settings{}); !errors.As(err, &trouble) || trouble.Reason != OneGroup || c.Best != -1 {
		t.Errorf("comparing one group: %v, best %d", err, c.Best)
	}
	for i := range d.Age {
		d.Group, d.Weight = append(d.Group, i%2), append(d.Weight, 1+float64(i%3))
	}
	if _, err := Compare(d, Settings{}); !errors.As(err, &trouble) || trouble.Reason != Designed {
		t.Errorf("comparing weighted fish by likelihood: %v, want to be told of the weights", err)
	}
	f, err := FitCurve(d, Settings{Apart: []bool{true, true, false}})
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := f.Profile(0, 0, 0.95); !errors.As(err, &trouble) || trouble.Reason != Designed {
		t.Errorf("the profile of weighted fish: %v, want to be told of the weights", err)
	}
	if _, ok := f.Equal([]bool{false, false, true}); ok {
		t.Error("a parameter that is common was tested for being equal")
	}
	if test, ok := f.Equal([]bool{true, true, true}); !ok || test.DF != 2 || !(test.P > 0 && test.P < 1) {
		t.Errorf("Wald's test of two parameters: %+v (%v), want one on 2 df", test, ok)
	}
}

// On one difference Wald's χ² is (difference/SE)²; it nears the likelihood ratio.
func TestWaldNearsTheLikelihoodRatio(t *testing.T) {
	d, _ := invented(t)
	c, err := Compare(d, Settings{})
	if err != nil {
		t.Fatal(err)
	}
	// By lengths at two ages, since L∞ and K bend too much for Wald's straight lines.
	d.Weight = nil
	through, err := FitCurve(d, Settings{Model: Schnute, Tau1: 1, Tau2: 12, Hold: []record.Number{{}, {}, {}, record.Some(1)}, Apart: []bool{true, true, true, false}})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "log-likelihood by lengths at two ages", through.LogLikelihood, c.Cases[7].Fit.LogLikelihood, 1e-9)
	wald, ok := through.Equal([]bool{true, true, true, true})
	ratio, _ := c.Test(0, 7)
	if !ok || wald.DF != 3 || math.Abs(wald.ChiSquare/ratio.ChiSquare-1) > 0.1 {
		t.Errorf("Wald %+v (%v), likelihood ratio %+v: want them near", wald, ok, ratio)
	}
	f := c.Cases[1].Fit
	one, _ := f.Equal([]bool{true, false, false})
	i, j, size := f.layout.index[0], f.layout.index[3], len(f.x)
	v := f.covariance[i*size+i] + f.covariance[j*size+j] - 2*f.covariance[i*size+j]
	near(t, "Wald of one difference", one.ChiSquare, math.Pow(f.Estimates[0]-f.Estimates[3], 2)/v, 1e-12)
}

func TestHeldParametersStay(t *testing.T) {
	d := along(every(1, 12, 1), vb)
	hold := []record.Number{{}, record.Some(0.18), record.Some(-0.7)}
	f, err := FitCurve(d, Settings{Hold: hold})
	if err != nil {
		t.Fatal(err)
	}
	// With the rest held L∞ is a ratio estimate: Σ l q / Σ q².
	top, bottom := 0.0, 0.0
	for i, age := range d.Age {
		q := vb(age) / 240
		top, bottom = top+q*d.Length[i], bottom+q*q
	}
	near(t, "Linf", f.Estimates[0], top/bottom, 1e-9)
	near(t, "SE of Linf", f.SE(0, 0).X, f.Scale/math.Sqrt(bottom), 1e-6)
	if f.Estimates[1] != 0.18 || f.Estimates[2] != -0.7 || f.SE(0, 1).Known || f.Parameters != 2 {
		t.Errorf("held parameters are %v with SE %v, %d parameters in all", f.Estimates[1:], f.SE(0, 1), f.Parameters)
	}
	if low, high, err := f.Profile(0, 1, 0.95); low.Known || high.Known || err != nil {
		t.Errorf("profile of a held parameter: %v to %v (%v), want unknown", low, high, err)
	}
	// Everything held: only the scale is left.
	hold[0] = record.Some(240)
	f, err = FitCurve(d, Settings{Hold: hold})
	if err != nil || f.Parameters != 1 {
		t.Fatalf("all held: %d parameters (%v), want the scale alone", f.Parameters, err)
	}
	near(t, "scale", f.Scale, math.Sqrt((4*25.+8*16)/12), 1e-9)
	if band := f.Band(0, []float64{5}, 0.95); band[0].SE != 0 || band[0].Length != vb(5) {
		t.Errorf("band of a curve held whole: %+v, want %v without error", band[0], vb(5))
	}
}

func TestUnboundedProfileIsOpen(t *testing.T) {
	// Fish that have hardly slowed down: the largest length has no upper end.
	d := along(every(0.5, 4, 0.5), func(t float64) float64 { return 300 * -math.Expm1(-0.14*(t+0.6)) })
	f, err := FitCurve(d, Settings{})
	if err != nil {
		t.Fatal(err)
	}
	low, high, err := f.Profile(0, 0, 0.999)
	if err != nil || !low.Known || high.Known || !(low.X < f.Estimates[0]) {
		t.Errorf("profile of L∞ %v from young fish: %v to %v (%v), want a low end only", f.Estimates[0], low, high, err)
	}
}

func TestRandomAsymptoteThatIsNone(t *testing.T) {
	d := along(every(1, 12, 1), vb) // both signs in every fish
	fish := make([]int, len(d.Age))
	for i := range fish {
		fish[i] = i / 4
	}
	_, err := FitRandom(d, fish, Settings{})
	var trouble *Trouble
	if !errors.As(err, &trouble) || trouble.Reason != ParameterAtBound || trouble.Parameter != "asymptote SD" {
		t.Errorf("fish that do not differ in largest length: %v, want to be told so", err)
	}
}

func TestMistakesOfOursPanic(t *testing.T) {
	d := along(every(1, 12, 1), vb)
	f, err := FitCurve(d, Settings{})
	if err != nil {
		t.Fatal(err)
	}
	bad := func(change func(d *Data)) func() {
		e := Data{Age: append([]float64(nil), d.Age...), Length: append([]float64(nil), d.Length...)}
		change(&e)
		return func() { FitCurve(e, Settings{}) }
	}
	for name, f := range map[string]func(){
		"a length of 0":                  bad(func(d *Data) { d.Length[3] = 0 }),
		"an age that is none":            bad(func(d *Data) { d.Age[3] = math.NaN() }),
		"a short column":                 bad(func(d *Data) { d.Age = d.Age[1:] }),
		"a negative weight":              bad(func(d *Data) { d.Weight = make([]float64, len(d.Age)); d.Weight[0] = -1 }),
		"held of another model":          func() { FitCurve(d, Settings{Hold: make([]record.Number, 4)}) },
		"starts too few":                 func() { FitCurve(d, Settings{Start: []float64{240}}) },
		"parameters too few":             func() { f.Curve.Length(3, []float64{240}) },
		"the unknown model":              func() { Curve{}.Length(3, nil) },
		"counts too few":                 func() { f.NewWork().Refit(nil) },
		"level 95":                       func() { f.Band(0, nil, 95) },
		"cases not nested":               func() { (Comparison{Cases: make([]Case, 8)}).Test(1, 2) },
		"an age that is not of the ages": func() { FitConditional(d, Ages{[]float64{1}, []float64{1}}, Settings{}) },
		"random lengths of Schnute":      func() { FitRandom(d, make([]int, len(d.Age)), Settings{Model: Schnute}) },
		"no such rule":                   func() { BackCalculate([]float64{0}, 0, 100, 1, []float64{0.5}, Relation{}) },
	} {
		func() {
			defer func() {
				if text, ok := recover().(string); !ok || !strings.HasPrefix(text, "growth: ") {
					t.Errorf("%s: want a panic that names the package", name)
				}
			}()
			f()
		}()
	}
}

// Nineteen fish, one of them with its length in millimetres, bend the likelihood so that by
// rounding its inverse information has a variance below 0, whose root was once taken for a unit.
func TestASlipOfTenIsNoPanic(t *testing.T) {
	month := []float64{71, 75, 76, 76, 78, 94, 95, 97, 99, 100, 102, 118, 123, 124, 145, 148, 151, 166, 175} // half ones
	slip := Data{Length: []float64{108, 112, 112, 124, 116, 1280, 128, 132, 132, 128, 132, 148, 152, 148, 172, 168, 152, 168, 172}}
	for _, m := range month {
		slip.Age = append(slip.Age, m/24)
	}
	for _, model := range Models() {
		for _, scatter := range Scatters() {
			fit, err := FitCurve(slip, Settings{Model: model, Scatter: scatter})
			var trouble *Trouble
			if err != nil && !errors.As(err, &trouble) {
				t.Errorf("%v, %v: %v, want a trouble in words", model, scatter, err)
			}
			if err == nil && !(fit.LogLikelihood > math.Inf(-1)) {
				t.Errorf("%v, %v: the likelihood is %v", model, scatter, fit.LogLikelihood)
			}
		}
	}
}

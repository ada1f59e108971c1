package mortality

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"earstone/reference"
	"pgregory.net/rapid"
)

func near(t testing.TB, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol*math.Max(1e-12, math.Abs(want))) {
		t.Errorf("%s = %.12g, want %.12g", what, got, want)
	}
}

type goldenRobson struct {
	First_age, Classes                                         int
	N, Total_recoded_age, Survival, Chi_square, Overdispersion float64
	Z, SE_survival_corrected, SE_z_corrected                   float64
}

type goldenLine struct {
	First_age        int
	Ages_used        []float64
	Z, SE, Low, High float64
	Intercept        float64
}

// The same from one age earlier and later than is advised.
func TestOtherFirstAgesAreGolden(t *testing.T) {
	var golden struct {
		Input struct {
			Sets map[string]struct {
				Age []int
				N   []float64
			}
		}
		Output map[string]struct {
			Peak_age                       int
			Chapman_robson_from_peak       goldenRobson
			Catch_curve_from_peak_plus_one goldenLine
		}
	}
	reference.Golden(t, "10-mortality", &golden)
	// Source: recomputed, R 4.2.2, golden topic 10.
	const tol = 1e-10
	sets := []string{"smooth", "rough", "short"}
	if len(golden.Output) != len(sets) {
		t.Fatalf("%d golden sets, want %d", len(golden.Output), len(sets))
	}
	for _, name := range sets {
		in, want := golden.Input.Sets[name], golden.Output[name]
		c := Counts{First: in.Age[0], Number: in.N}
		for i, age := range in.Age {
			if age != c.First+i {
				t.Fatalf("%s has a gap before age %d", name, age)
			}
		}
		peak, ok := c.Peak()
		if !ok || peak != want.Peak_age {
			t.Errorf("peak of %s at %d (%v), want %d", name, peak, ok, want.Peak_age)
		}
		s, err := chapmanRobson(c.from(peak), 0.95)
		holdRobson(t, name+" from the peak", s, err, want.Chapman_robson_from_peak, tol)
		l, err := catchCurve(c.from(peak+1), 0.95)
		holdLine(t, name+" from above the peak", l, err, want.Catch_curve_from_peak_plus_one, tol)
	}
}

func holdRobson(t *testing.T, name string, s Survival, err error, want goldenRobson, tol float64) {
	t.Helper()
	if err != nil {
		t.Errorf("%s: %v", name, err)
		return
	}
	near(t, name+" fish", s.Fish, want.N, tol)
	near(t, name+" total", s.Total, want.Total_recoded_age, tol)
	near(t, name+" survival", s.S, want.Survival, tol)
	near(t, name+" SE of survival", s.SES, want.SE_survival_corrected, tol)
	near(t, name+" Z", s.Z, want.Z, tol)
	near(t, name+" SE of Z", s.SE, want.SE_z_corrected, tol)
	near(t, name+" χ²", s.ChiSquare, want.Chi_square, tol)
	near(t, name+" c", s.Overdispersion.X, want.Overdispersion, tol)
	near(t, name+" high end", s.High, s.Z+1.959963984540054*s.SE, 1e-12)
	if s.FirstAge != want.First_age || s.Classes != want.Classes || s.Ages != want.Classes {
		t.Errorf("%s from age %d in %d classes, want %d in %d", name, s.FirstAge, s.Classes, want.First_age, want.Classes)
	}
}

func holdLine(t *testing.T, name string, l Line, err error, want goldenLine, tol float64) {
	t.Helper()
	if err != nil {
		t.Errorf("%s: %v", name, err)
		return
	}
	near(t, name+" line", l.Z, want.Z, tol)
	near(t, name+" line's SE", l.SE, want.SE, tol)
	near(t, name+" line's low end", l.Low, want.Low, 1e-9)
	near(t, name+" line's high end", l.High, want.High, 1e-9)
	near(t, name+" intercept", l.Intercept, want.Intercept, tol)
	if l.FirstAge != want.First_age || l.Ages != len(want.Ages_used) {
		t.Errorf("%s line from age %d over %d ages, want %d over %d", name, l.FirstAge, l.Ages, want.First_age, len(want.Ages_used))
	}
}

// Each formula says where it comes from, and an interval is given where its width
// is known.
func TestFormulasTellTheirSource(t *testing.T) {
	for _, f := range Formulas() {
		if f.Source == "" || f.Equation == "" || f.Remark == "" || f.Known != Read && f.Known != Recalled {
			t.Errorf("%s does not say where it comes from: %+v", f.Name, f)
		}
	}
	// M at 10 years ± 1.96 · 0.32 runs below 0 and stops there.
	m := Formulas()[0].FromLongevity(10, 0.95)
	near(t, "high end", m.High.X, 0.594439197843+1.959963984540054*0.32, 1e-9)
	if m.Low.X != 0 || !m.Low.Known {
		t.Errorf("low end = %v, want a known 0", m.Low)
	}
}

func ExampleCatchCurve() {
	// Numbers that halve each year from the peak lie on a line of slope log 2.
	l, err := CatchCurve(Counts{First: 2, Number: []float64{40, 160, 80, 40, 20, 10}}, 0.95)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("from age %d: Z %.4f, SE %.4f\n", l.FirstAge, l.Z, math.Abs(l.SE))
	// Output:
	// from age 3: Z 0.6931, SE 0.0000
}

func ExampleFormula_FromLongevity() {
	for _, f := range Formulas() {
		if !f.Growth {
			fmt.Printf("%s: %.3f (%v)\n", f.Equation, f.FromLongevity(27, 0.95).M, f.Known)
		}
	}
	// Output:
	// M = 4.899 tmax^−0.916: 0.239 (read)
	// M = 5.109/tmax: 0.189 (from memory)
	// ln Z = 1.44 − 0.982 ln tmax: 0.166 (from memory)
	// ln Z = 1.46 − 1.01 ln tmax: 0.154 (from memory)
	// M = 5.4/tmax: 0.200 (from memory)
}

// A geometric catch has one Z, whatever its first age, its ages without fish
// before and after, or its size (but for the bias term).
func TestGeometricCatchGivesItsZ(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		z := rapid.Float64Range(0.2, 1.2).Draw(t, "Z")
		first := rapid.IntRange(0, 6).Draw(t, "first age")
		number := []float64{0, 0, 1e8 * math.Exp(z)}
		for x := range 120 {
			number = append(number, 1e8*math.Exp(-z*float64(x)))
		}
		c := Counts{First: first, Number: append(number, 0, 0)}
		s, err := ChapmanRobson(c, 0.95)
		if err != nil || math.Abs(s.Z/z-1) > 1e-6 || s.FirstAge != first+3 {
			t.Errorf("Chapman–Robson = %v from age %d (%v), want %v from %d", s.Z, s.FirstAge, err, z, first+3)
		}
		l, err := CatchCurve(c, 0.95)
		if err != nil || math.Abs(l.Z/z-1) > 1e-9 || l.FirstAge != first+2 {
			t.Errorf("catch curve = %v from age %d (%v), want %v from %d", l.Z, l.FirstAge, err, z, first+2)
		}
	})
}

func TestOverdispersionNeverNarrows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		number := rapid.SliceOfN(rapid.Float64Range(0, 50), 3, 15).Draw(t, "counts")
		s, err := ChapmanRobson(Counts{First: 1, Number: append([]float64{60}, number...)}, 0.9)
		if err != nil {
			return
		}
		plain := -math.Expm1(-s.Z) / math.Sqrt(s.Fish*math.Exp(-s.Z))
		if s.SE < plain*(1-1e-12) || s.Low < 0 || !(s.Low <= s.Z) {
			t.Errorf("SE %v is below the plain one %v, or the interval %v to %v is none", s.SE, plain, s.Low, s.High)
		}
	})
}

func TestTroubleOfMortality(t *testing.T) {
	robson := func(n ...float64) error { _, err := ChapmanRobson(Counts{First: 1, Number: n}, 0.95); return err }
	line := func(n ...float64) error { _, err := CatchCurve(Counts{First: 1, Number: n}, 0.95); return err }
	for _, c := range []struct {
		name   string
		err    error
		reason Reason
		words  string
	}{
		{"no fish", robson(0, 0, 0), NoFish, "there are no fish"},
		{"no fish on a line", line(), NoFish, "there are no fish"},
		{"nothing above the peak", robson(3, 9), TooFewFish, "from 0 fish of 0 ages"},
		{"two fish above the peak", robson(3, 9, 1, 1), TooFewFish, "from 2 fish of 2 ages"},
		{"one age above the peak", robson(3, 9, 5), TooFewAges, "from 5 fish of 1 ages"},
		{"two ages on a line", line(3, 9, 5), TooFewAges, "too few ages"},
		{"a level line", line(9, 9, 9, 9), NoDecline, "do not fall with age"},
		{"one fish of each age", line(1, 1, 1), NoDecline, "do not fall with age"},
	} {
		var trouble *Trouble
		if !errors.As(c.err, &trouble) || trouble.Reason != c.reason || !strings.Contains(c.err.Error(), c.words) {
			t.Errorf("%s: %v; want %v, saying %q", c.name, c.err, c.reason, c.words)
		}
	}
	for name, f := range map[string]func(){
		"a negative count":                 func() { robson(3, -1) },
		"no number":                        func() { line(3, math.NaN()) },
		"level 95":                         func() { ChapmanRobson(Counts{First: 1, Number: []float64{5, 3}}, 95) },
		"a life of 0":                      func() { Formulas()[0].FromLongevity(0, 0.95) },
		"growth of a formula by longevity": func() { Formulas()[0].FromGrowth(0.2, 200, 0.95) },
	} {
		func() {
			defer func() {
				if text, ok := recover().(string); !ok || !strings.HasPrefix(text, "mortality: ") {
					t.Errorf("%s: want a panic that names the package", name)
				}
			}()
			f()
		}()
	}
}

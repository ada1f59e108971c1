package growth

import (
	"math"
	"testing"

	"earstone/reference"
	"pgregory.net/rapid"
)

// parameters in the model's order.
func ordered(t *testing.T, m Model, byName map[string]float64) []float64 {
	t.Helper()
	p := make([]float64, len(m.Parameters()))
	for i, name := range m.Parameters() {
		value, ok := byName[name]
		if !ok {
			t.Fatalf("%v has no value for %s", m, name)
		}
		p[i] = value
	}
	return p
}

func TestCurvesAreGolden(t *testing.T) {
	var golden struct {
		Input  struct{ Schnute_tau []float64 }
		Output struct {
			Curves map[string]struct {
				Parameters  map[string]float64
				Age, Length []float64
			}
		}
	}
	reference.Golden(t, "08-growth", &golden)
	if len(golden.Output.Curves) != len(Models()) {
		t.Fatalf("the golden file has %d curves, want one for each of %d models", len(golden.Output.Curves), len(Models()))
	}
	for _, m := range Models() {
		g := golden.Output.Curves[m.String()]
		c := Curve{m, golden.Input.Schnute_tau[0], golden.Input.Schnute_tau[1]}
		p := ordered(t, m, g.Parameters)
		for i, age := range g.Age {
			// Source: recomputed, R 4.2.2, golden topic 08.
			if l := c.Length(age, p); math.Abs(l/g.Length[i]-1) > 1e-12 {
				t.Errorf("%v at age %v = %.15g, want %.15g", m, age, l, g.Length[i])
			}
		}
	}
}

// drawn draws parameters of a model that give growth from age 1 to 20.
func drawn(t *rapid.T, m Model) (Curve, []float64) {
	f := func(low, high float64, name string) float64 { return rapid.Float64Range(low, high).Draw(t, name) }
	c := Curve{m, 1, 15}
	switch m {
	case Richards:
		return c, []float64{f(100, 300, "Linf"), f(0.05, 0.6, "K"), f(-1, 0.5, "ti"), f(0, 3, "m")}
	case Schnute:
		return c, []float64{f(40, 90, "L1"), f(150, 250, "L2"), f(-0.1, 0.5, "a"), f(-2, 1.2, "b")}
	case TwoPhase:
		return c, []float64{f(150, 300, "Linf"), f(0.05, 0.3, "k1"), f(0.05, 0.3, "k2"), f(-1, 0.5, "t0"), f(1, 6, "alpha"), f(0.5, 5, "beta")}
	}
	return c, []float64{f(100, 300, "Linf"), f(0.05, 0.6, "K"), f(-1, 0.5, "t0")}
}

func TestSlopesOfCurvesAreThoseOfDifferences(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := rapid.SampledFrom(Models()).Draw(t, "model")
		c, p := drawn(t, m)
		// Also where a curve runs into its limit.
		switch {
		case m == Richards && rapid.Bool().Draw(t, "near Gompertz"):
			p[3] = 1 + rapid.Float64Range(-1e-3, 1e-3).Draw(t, "m − 1")
		case m == Schnute && rapid.Bool().Draw(t, "near the limits"):
			p[2], p[3] = rapid.Float64Range(-5e-3, 5e-3).Draw(t, "a"), rapid.Float64Range(-2e-3, 2e-3).Draw(t, "b")
		}
		age := rapid.Float64Range(1.2, 20).Draw(t, "age")
		slope := make([]float64, len(p))
		if l := c.Slope(slope, age, p); math.IsNaN(l) {
			t.Skip("no length there")
		}
		for i := range p {
			h := 1e-4 * math.Max(math.Abs(p[i]), 0.1)
			at := func(step float64) float64 {
				q := append([]float64(nil), p...)
				q[i] += step * h
				return c.Length(age, q)
			}
			want := (at(-2) - 8*at(-1) + 8*at(1) - at(2)) / (12 * h)
			if math.IsNaN(want) {
				continue
			}
			if tol := 1e-6 * (math.Abs(want) + c.Length(age, p)/math.Max(math.Abs(p[i]), 0.1)); math.Abs(slope[i]-want) > tol {
				t.Errorf("%v at age %v, %v: slope by %s = %.12g, by differences %.12g", m, age, p, m.Parameters()[i], slope[i], want)
			}
		}
	})
}

func TestRichardsNestsTheOthers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		_, p := drawn(t, VonBertalanffy)
		age := rapid.Float64Range(1, 30).Draw(t, "age")
		for m, nested := range map[float64]Model{0: VonBertalanffy, 1: Gompertz, 2: Logistic} {
			rich := Curve{Model: Richards}.Length(age, append(append([]float64(nil), p...), m))
			own := Curve{Model: nested}.Length(age, p)
			if math.Abs(rich/own-1) > 1e-12 {
				t.Errorf("Richards with m = %v at age %v of %v = %v, %v gives %v", m, age, p, rich, nested, own)
			}
		}
		// Schnute with b = 1 is von Bertalanffy through its two lengths; equal rates make two phases one.
		vb := Curve{Model: VonBertalanffy}
		s := Curve{Schnute, 1, 15}
		through := []float64{vb.Length(1, p), vb.Length(15, p), p[1], 1}
		if got, want := s.Length(age, through), vb.Length(age, p); math.Abs(got/want-1) > 1e-11 {
			t.Errorf("Schnute with b = 1 at age %v = %v, von Bertalanffy gives %v", age, got, want)
		}
		two := Curve{Model: TwoPhase}.Length(age, []float64{p[0], p[1], p[1], p[2], 4, 2})
		if want := vb.Length(age, p); math.Abs(two/want-1) > 1e-12 {
			t.Errorf("two phases of one rate at age %v = %v, von Bertalanffy gives %v", age, two, want)
		}
	})
}

func TestNoLengthWhereTheCurveHasNone(t *testing.T) {
	for _, c := range []struct {
		m Model
		t float64
		p []float64
	}{
		{VonBertalanffy, 1, []float64{0, 0.2, 0}}, {Gompertz, 1, []float64{-1, 0.2, 0}}, {Logistic, 1, []float64{0, 0.2, 0}},
		{Richards, -5, []float64{200, 0.2, 0, 0.5}}, {Richards, 1, []float64{0, 0.2, 0, 0.5}},
		{Schnute, -9, []float64{60, 220, 0.15, 1.3}}, {Schnute, 2, []float64{0, 220, 0.15, 1.3}},
		{TwoPhase, 1, []float64{200, 0.1, 0.2, 0, 4, 0}},
	} {
		if l := (Curve{c.m, 1, 15}).Length(c.t, c.p); !math.IsNaN(l) {
			t.Errorf("%v of %v at age %v = %v, want no length", c.m, c.p, c.t, l)
		}
	}
	// Far before its bend a Gompertz fish has no length to speak of, and no slope.
	slope := make([]float64, 3)
	if l := (Curve{Model: Gompertz}).Slope(slope, -1e4, []float64{200, 0.5, 0}); l != 0 || slope[1] != 0 || slope[2] != 0 {
		t.Errorf("Gompertz at −10⁴: %v with slopes %v, want 0 throughout", l, slope)
	}
}

func TestWordsComeBack(t *testing.T) {
	for _, m := range Models() {
		if back, err := ParseModel(m.String()); err != nil || back != m {
			t.Errorf("%v reads back as %v (%v)", m, back, err)
		}
	}
	for _, s := range Scatters() {
		if back, err := ParseScatter(s.String()); err != nil || back != s {
			t.Errorf("%v reads back as %v (%v)", s, back, err)
		}
	}
	if _, err := ParseModel("linear"); err == nil {
		t.Error("a model that is none was read")
	}
	if _, err := ParseScatter(""); err == nil {
		t.Error("a form of scatter that is none was read")
	}
	if Model(0).String() != "Model(0)" || Scatter(9).String() != "Scatter(9)" {
		t.Errorf("unknown words are %v and %v", Model(0), Scatter(9))
	}
}

package measure

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"earstone/programme/record"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.12g, want %.12g within %g", what, got, want, tol)
	}
}

func inUnit(t *testing.T, value float64, from, to string) float64 {
	t.Helper()
	x, ok := InUnit(value, from, to)
	if !ok {
		t.Fatalf("%v %s has no answer in %s", value, from, to)
	}
	return x
}

func TestInchAndPoundAreExact(t *testing.T) {
	// Source: international agreement of 1959, 1 in = 25.4 mm and 1 lb = 0.45359237 kg exactly (from memory).
	for _, c := range []struct {
		value    float64
		from, to string
		want     float64
	}{{1, "in", "mm", 25.4}, {100, "in", "cm", 254}, {1, "lb", "kg", 0.45359237}, {254, "cm", "in", 100}, {2.5, "kg", "g", 2500}} {
		if got := inUnit(t, c.value, c.from, c.to); got != c.want {
			t.Errorf("%v %s = %v %s, want exactly %v", c.value, c.from, got, c.to, c.want)
		}
	}
	if _, ok := InUnit(1, "cm", "kg"); ok {
		t.Error("a length was turned into a weight by its unit")
	}
}

func TestBluefinWeightsOfCort(t *testing.T) {
	// Equations: Cort et al. (2015), abstract, printed; weights recomputed from them.
	const tol = 0.5e-9
	for _, c := range []struct {
		a, b float64
		want [3]float64 // at 200, 250 and 300 cm
	}{
		{1.9607e-5, 3.0092, [3]float64{164.691282594, 322.323687529, 557.910363230}},
		{3.15551e-5, 2.898454, [3]float64{147.400567598, 281.441651599, 477.410064189}},
		{1.88e-5, 3.01247, [3]float64{160.672547768, 314.688003561, 545.018589524}},
	} {
		e := Equation{Form: Power, A: c.a, B: c.b}
		for i, length := range []float64{200, 250, 300} {
			near(t, fmt.Sprintf("weight at %v cm by %v L^%v", length, c.a, c.b), e.At(length), c.want[i], tol)
			near(t, "length there and back", e.Inverse(e.At(length)), length, 1e-10)
		}
	}
}

func TestBlackfinLengthsOfFreire(t *testing.T) {
	// Source: Freire et al. (2005), abstract, printed: TL = 1.35369 + 1.0462 FL; value by hand, 60 × 1.0462 + 1.35369.
	const want, tol = 64.12569, 0.5e-5
	e := Equation{Form: Linear, A: 1.35369, B: 1.0462}
	near(t, "total length of a fish of 60 cm to the fork", e.At(60), want, tol)
	near(t, "fork length of a fish of 64.12569 cm in all", e.Inverse(want), 60, 1e-9)
}

func TestFirstDorsalLengthsOfIOTC(t *testing.T) {
	// Source: IOTC equations sheet, a public copy, printed; values recomputed to four decimals.
	const tol = 0.5e-4
	yellowfin := Equation{Form: Power, A: 2.0759, B: 1.1513}
	bigeye := Equation{Form: ShiftedSquare, A: 21.45108, B: 5.28756}
	near(t, "yellowfin fork length at 30 cm to the first dorsal", yellowfin.At(30), 104.1876, tol)
	near(t, "bigeye fork length at 30 cm to the first dorsal", bigeye.At(30), 94.6844, tol)
	near(t, "bigeye there and back", bigeye.Inverse(bigeye.At(30)), 30, 1e-10)
}

func TestEveryFormTurnsRound(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		e := Equation{Form: Form(rapid.IntRange(1, 4).Draw(r, "form")), A: rapid.Float64Range(0.01, 30).Draw(r, "a"), B: rapid.Float64Range(0.3, 5).Draw(r, "b")}
		x := rapid.Float64Range(1, 400).Draw(r, "x")
		if !e.increases() {
			r.Fatalf("%v does not rise", e)
		}
		if back := e.Inverse(e.At(x)); !(math.Abs(back-x) <= 1e-8*x) {
			r.Fatalf("%v there and back gives %v from %v", e, back, x)
		}
		const h = 1e-5
		if rise := (e.At(x+h) - e.At(x-h)) / (2 * h); !(math.Abs(rise-e.slope(x)) <= 1e-3*math.Abs(rise)) {
			r.Fatalf("%v rises by %v at %v, its slope says %v", e, rise, x, e.slope(x))
		}
	})
}

func row(quantity, from, to, form string, a, b float64, unit string) record.Conversion {
	return record.Conversion{Species: "BLF", Quantity: quantity, From: from, To: to, Form: form, A: a, B: b, Unit: unit}
}

func curved(cm float64) record.Length {
	return record.Length{Value: record.Some(cm), Unit: "cm", Kind: record.CurvedFork}
}

func TestChainsOfTwoAndNoLonger(t *testing.T) {
	c := NewConverter([]record.Conversion{
		row("length", "curved_fork", "straight_fork", "linear", 0, 0.955, "cm"),
		row("length", "straight_fork", "total", "linear", 1.35369, 1.0462, "cm"),
		row("length", "standard", "total", "linear", 6.37742, 1.0544, "cm"),
	}, nil)
	got, err := c.Length("BLF", curved(60), record.Total, "mm")
	if err != nil {
		t.Fatal(err)
	}
	near(t, "total length", got.Value, 10*(1.35369+1.0462*(0.955*60)), 1e-9) // by hand: one equation in the other
	if len(got.Steps) != 2 || got.SD.Known {
		t.Errorf("%d steps and SD %v, want 2 steps and an unknown SD, since none is published", len(got.Steps), got.SD)
	}
	var trouble Trouble
	if _, err := c.Length("BLF", curved(60), record.Standard, "cm"); !errors.As(err, &trouble) || trouble.Reason != NoEquation {
		t.Errorf("a chain of three: %v, want NoEquation", err)
	}
	if _, err := c.Length("BLF", record.Length{}, record.Total, "cm"); !errors.As(err, &trouble) || trouble.Reason != NotMeasured {
		t.Errorf("an unknown length: %v, want NotMeasured", err)
	}
	back, err := c.Length("BLF", record.Length{Value: record.Some(got.Value), Unit: "mm", Kind: record.Total}, record.CurvedFork, "cm")
	if err != nil {
		t.Fatal(err)
	}
	near(t, "there and back", back.Value, 60, 1e-9)
}

func TestResidualIsCarried(t *testing.T) {
	length := row("length", "curved_fork", "straight_fork", "linear", 0, 0.955, "cm")
	length.SD = record.Some(2)
	weight := row("weight", "straight_fork", "round", "power", 2e-5, 3, "cm to kg")
	weight.SD, weight.Low, weight.High = record.Some(0.1), record.Some(100), record.Some(180)
	c := NewConverter([]record.Conversion{length, weight}, nil)
	got, err := c.WeightAt("BLF", curved(200), record.Round)
	if err != nil {
		t.Fatal(err)
	}
	// By hand: 191 cm ± 2 cm is ln L ± 2/191, so ln W ± 3 × 2/191, joined with 0.1 in squares.
	want := math.Hypot(0.1, 3*2.0/191)
	near(t, "SD of log weight", got.SD.X, want, 1e-12)
	near(t, "weight", got.Value, 2e-5*191*191*191, 1e-9)
	near(t, "mean weight over median weight", got.Mean()/got.Value, math.Exp(want*want/2), 1e-12)
	if !got.Extrapolated || got.Outside.To != "round" {
		t.Errorf("191 cm with a range of 100 to 180 cm is not told as extrapolated: %+v", got)
	}
	inches, err := c.WeightAt("BLF", record.Length{Value: record.Some(200 / 2.54), Unit: "in", Kind: record.CurvedFork}, record.Round)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "weight from inches", inches.Value, got.Value, 1e-9)
	near(t, "SD from inches", inches.SD.X, want, 1e-12)

	back, err := c.LengthOf("BLF", record.Some(got.Value), "kg", record.Round, record.StraightFork, "mm")
	if err != nil {
		t.Fatal(err)
	}
	near(t, "length back from weight", back.Value, 1910, 1e-8)
	near(t, "SD of its logarithm", back.SD.X, 0.1/3, 1e-12) // by hand: ln L = (ln W − ln a)/b
	if !back.Extrapolated || back.Outside.High.X != 180 {
		t.Errorf("191 cm out of a weight, with a range of 100 to 180 cm, is not told as extrapolated: %+v", back)
	}
	twice, err := c.LengthOf("BLF", record.Some(got.Value), "kg", record.Round, record.CurvedFork, "cm")
	if err != nil {
		t.Fatal(err)
	}
	near(t, "curved length back from weight", twice.Value, 200, 1e-8)
	// By hand: 191 cm ± 191 × 0.1/3, joined with the 2 cm of the line, over its slope.
	near(t, "its SD", twice.SD.X, math.Hypot(191*0.1/3, 2)/0.955, 1e-8)
	if len(twice.Steps) != 2 {
		t.Errorf("curved length out of a weight takes %d steps, want 2", len(twice.Steps))
	}
}

func TestTwoPublicationsAreNeverAveraged(t *testing.T) {
	older := row("weight", "straight_fork", "round", "power", 1.9607e-05, 3.0092, "cm to kg")
	newer := row("weight", "straight_fork", "round", "power", 3.15551e-05, 2.898454, "cm to kg")
	l := record.Length{Value: record.Some(200), Unit: "cm", Kind: record.StraightFork}
	var trouble Trouble
	c := NewConverter(nil, []record.Conversion{older, newer})
	if _, err := c.WeightAt("BLF", l, record.Round); !errors.As(err, &trouble) || trouble.Reason != TwoEquations {
		t.Errorf("two publications: %v, want TwoEquations", err)
	}
	if got := c.Ambiguous("BLF", "straight_fork", "round"); len(got) != 2 {
		t.Errorf("%d publications are named, want both", len(got))
	}
	got, err := NewConverter([]record.Conversion{newer}, []record.Conversion{older, newer}).WeightAt("BLF", l, record.Round)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "weight by the chosen equation", got.Value, 147.400567598, 0.5e-9) // Cort et al. (2015), recomputed
}

func TestEquationsThatCannotBe(t *testing.T) {
	for _, c := range []record.Conversion{
		row("length", "curved_fork", "straight_fork", "linear", 1, -0.9, "cm"),
		row("length", "curved_fork", "straight_fork", "cubic", 1, 0.9, "cm"),
		row("weight", "straight_fork", "round", "power", 1e-5, 3, "cm"),
		row("weight", "straight_fork", "round", "power", 0, 3, "cm to kg"),
	} {
		if _, err := NewEquation(c); err == nil {
			t.Errorf("the equation %+v was taken", c)
		}
	}
}

func ExampleConverter_WeightAt() {
	c := NewConverter([]record.Conversion{{Species: "BFT", Quantity: "weight", From: "straight_fork", To: "round",
		Form: "power", A: 1.88e-05, B: 3.01247, Unit: "cm to kg", Source: "Cort et al. 2015"}}, nil)
	w, err := c.WeightAt("BFT", record.Length{Value: record.Some(2000), Unit: "mm", Kind: record.StraightFork}, record.Round)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f kg, residual SD published: %v\n", w.Value, w.SD.Known)
	// Output: 160.7 kg, residual SD published: false
}

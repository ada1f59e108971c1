package growth

import (
	"math"
	"testing"

	"earstone/statistics/optimise"
	"pgregory.net/rapid"
)

// sample draws fish about a von Bertalanffy curve in two groups.
func sample(t *rapid.T) Data {
	seed := rapid.Uint64Range(1, 1<<40).Draw(t, "seed")
	next := func() float64 { // a plain congruential sequence is enough here
		seed = seed*6364136223846793005 + 1442695040888963407
		return float64(seed>>11) / (1 << 53)
	}
	var d Data
	for i := range rapid.IntRange(40, 90).Draw(t, "fish") {
		age := 0.5 + 12*next()
		length := 230 * -math.Expm1(-0.2*(age+0.8)) * (1 + 0.1*(next()+next()-1))
		d.Age, d.Length = append(d.Age, age), append(d.Length, length)
		d.Weight, d.Group = append(d.Weight, 1+4*next()), append(d.Group, i%2)
	}
	return d
}

func scatterOf(t *rapid.T) Scatter { return rapid.SampledFrom(Scatters()).Draw(t, "scatter") }

func must(t *rapid.T, d Data, s Settings) Fit {
	t.Helper()
	f, err := FitCurve(d, s)
	if err != nil {
		t.Fatalf("%v", err)
	}
	return f
}

func sameCurve(t *rapid.T, why string, a, b Fit, linf, age float64) {
	t.Helper()
	for i, unit := range [...]float64{linf, 1 / age, age} {
		sa, sb := a.SE(0, i).X, b.SE(0, i).X
		if math.Abs(a.Estimates[i]*unit-b.Estimates[i]) > 2e-4*sb || math.Abs(sa*unit-sb) > 1e-3*sb {
			t.Errorf("%s: %s = %v (SE %v), want %v (%v)", why, a.Curve.Model.Parameters()[i], b.Estimates[i], sb, a.Estimates[i]*unit, sa*unit)
		}
	}
}

func TestUnitsOfLengthAndAge(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, s := sample(t), Settings{Scatter: scatterOf(t)}
		d.Group = nil
		cm := must(t, d, s)
		mm, months := d, d
		mm.Length, months.Age = make([]float64, len(d.Age)), make([]float64, len(d.Age))
		for i := range d.Age {
			mm.Length[i], months.Age[i] = 10*d.Length[i], 12*d.Age[i]
		}
		sameCurve(t, "centimetres to millimetres", cm, must(t, mm, s), 10, 1)
		sameCurve(t, "years to months", cm, must(t, months, s), 1, 12)
	})
}

func TestOrderAndScaleOfWeightsDoNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, s := sample(t), Settings{Scatter: scatterOf(t)}
		d.Group = nil
		f := must(t, d, s)
		back, twice := Data{}, d
		twice.Weight = make([]float64, len(d.Age))
		for i := range d.Age {
			j := len(d.Age) - 1 - i
			back.Age, back.Length, back.Weight = append(back.Age, d.Age[j]), append(back.Length, d.Length[j]), append(back.Weight, d.Weight[j])
			twice.Weight[i] = 2 * d.Weight[i]
		}
		sameCurve(t, "rows backwards", f, must(t, back, s), 1, 1)
		sameCurve(t, "weights doubled", f, must(t, twice, s), 1, 1)
		// Weights all alike are no design.
		for i := range twice.Weight {
			twice.Weight[i] = 7
		}
		alike := must(t, twice, s)
		twice.Weight = nil
		sameCurve(t, "weights alike", must(t, twice, s), alike, 1, 1)
		if alike.Designed || !alike.AICc.Known {
			t.Error("weights all alike were taken for a design")
		}
	})
}

func TestCellsStandForTheirFish(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, s := sample(t), Settings{Scatter: scatterOf(t)}
		for i := range d.Weight { // two strata of weights, rounded fish: cells of several
			d.Weight[i] = 1 + float64(i%2)
		}
		var double Data
		for range 2 {
			double.Age, double.Length = append(double.Age, d.Age...), append(double.Length, d.Length...)
			double.Weight, double.Group = append(double.Weight, d.Weight...), append(double.Group, d.Group...)
		}
		cells := Aggregate(double, 0.25, 2)
		if len(cells.Age) > len(d.Age) {
			t.Fatalf("%d cells of %d fish that come twice", len(cells.Age), len(double.Age))
		}
		rows := Data{Weight: double.Weight, Group: double.Group}
		for i := range double.Age {
			rows.Age, rows.Length = append(rows.Age, cells.Age[cells.Of[i]]), append(rows.Length, cells.Length[cells.Of[i]])
			if math.Abs(rows.Age[i]-double.Age[i]) > 0.126 || math.Abs(rows.Length[i]-double.Length[i]) > 1.001 {
				t.Errorf("a fish of age %v and %v cm stands in the cell of %v and %v", double.Age[i], double.Length[i], rows.Age[i], rows.Length[i])
			}
		}
		sameCurve(t, "cells", must(t, rows, s), must(t, cells.Data, s), 1, 1)
	})
}

// Nothing wider fits worse: models, and cases of groups.
func TestNestedFitsAreInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := sample(t)
		d.Weight = nil
		s := Settings{Scatter: scatterOf(t)}
		c, err := Compare(d, s)
		if err != nil {
			t.Fatal(err)
		}
		for narrow := range c.Cases {
			for wide := range c.Cases {
				a, b := c.Cases[narrow], c.Cases[wide]
				if narrow == wide || narrow&wide != narrow || a.Err != nil || b.Err != nil {
					continue
				}
				if b.Fit.LogLikelihood < a.Fit.LogLikelihood-1e-6 {
					t.Errorf("case %v fits worse (%v) than %v within it (%v)", b.Apart, b.Fit.LogLikelihood, a.Apart, a.Fit.LogLikelihood)
				}
			}
		}
		d.Group = nil
		s.Model = Richards
		rich, err := FitCurve(d, s)
		if err != nil {
			t.Skip("Richards has no fit")
		}
		for _, m := range []Model{VonBertalanffy, Gompertz, Logistic} {
			s.Model = m
			if f, err := FitCurve(d, s); err == nil && f.LogLikelihood > rich.LogLikelihood+1e-6 {
				t.Errorf("%v fits better (%v) than Richards, which holds it (%v)", m, f.LogLikelihood, rich.LogLikelihood)
			}
		}
	})
}

// slopes holds the written slopes of an objective against its differences.
func slopes(t *rapid.T, name string, f optimise.Objective, x []float64) {
	t.Helper()
	grad := make([]float64, len(x))
	value := f(x, grad)
	if math.IsNaN(value) {
		t.Skip("no value there")
	}
	for i := range x {
		h := 1e-4 * math.Max(math.Abs(x[i]), 0.1)
		at := func(step float64) float64 {
			y := append([]float64(nil), x...)
			y[i] += step * h
			return f(y, nil)
		}
		want := (at(-2) - 8*at(-1) + 8*at(1) - at(2)) / (12 * h)
		if tol := 1e-6 * (math.Abs(want) + math.Abs(value)/math.Max(math.Abs(x[i]), 0.1)); math.Abs(grad[i]-want) > tol {
			t.Errorf("%s: slope %d = %v, by differences %v", name, i, grad[i], want)
		}
	}
}

func TestSlopesOfLikelihoods(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, s := sample(t), scatterOf(t)
		c := Curve{Model: VonBertalanffy}
		l := newLayout(c, 2, nil, []bool{true, false, true})
		f := func(low, high float64, name string) float64 { return rapid.Float64Range(low, high).Draw(t, name) }
		scale := f(8, 30, "scale")
		if s == ConstantCV || s == Lognormal {
			scale /= 150
		}
		x := []float64{f(200, 260, "Linf 1"), f(200, 260, "Linf 2"), f(0.1, 0.3, "K"), f(-2, 0, "t0 1"), f(-2, 0, "t0 2"), math.Log(scale)}
		k := newLikelihood(d, l, s)
		k.weigh(d.Weight)
		slopes(t, s.String(), k.at, x)
		if s != Student {
			slopes(t, s.String()+" at the best scale", k.concentrated, x[:5])
		}
		var ages Ages
		for a := range 13 {
			ages.Age, ages.Share = append(ages.Age, float64(a)+0.5), append(ages.Share, math.Exp(-0.2*float64(a)))
		}
		whole := d
		whole.Age = make([]float64, len(d.Age))
		for i, age := range d.Age {
			whole.Age[i] = math.Min(math.Floor(age)+0.5, 12.5)
		}
		g := newConditional(whole, ages)
		g.layout, g.scatter, g.p, g.slope = l, s, make([]float64, 3), make([]float64, 3*13)
		slopes(t, s.String()+" of ages given lengths", g.at, x)
		fish := make([]int, len(d.Age))
		for i := range fish {
			fish[i] = i % 8 // of one group each: i%8 and i%2 agree
		}
		r := newRandom(Data{Age: d.Age, Length: d.Length, Group: d.Group}, fish, l)
		slopes(t, "random asymptote", r.at, append(append([]float64(nil), x[:5]...), math.Log(f(5, 20, "SD")), math.Log(f(5, 30, "SD of Linf"))))
	})
}

package run_test

import (
	"math"
	"slices"
	"testing"

	"earstone/estimate/advice"
	"earstone/estimate/run"
	"earstone/plan/fishery"
	"earstone/programme/record"
)

// weighed takes lengths as they stand and knows what a fish weighs.
type weighed struct{ straight }

func (weighed) Weight(_ record.Species, cm float64, _ record.LengthBin) (float64, bool) {
	return 2.1e-5 * math.Pow(cm, 2.98), true
}

// seasons invents years of a small fishery, their catch in number times a factor.
func seasons(t *testing.T, years int, times float64) record.Source {
	t.Helper()
	settings, err := fishery.Sized("small")
	if err != nil {
		t.Fatal(err)
	}
	settings.Years = years
	settings.Trips, settings.Lengths, settings.Aged, settings.Readings = 60*years, 6000*years, 600*years, 1400*years
	settings.MixedKinds = 0
	season := fishery.Invent(settings, 3)
	book, err := season.Book()
	if err != nil {
		t.Fatal(err)
	}
	for i := range book.Catches {
		book.Catches[i].Number.X *= times
	}
	return season
}

func figures(t *testing.T, source record.Source, given run.Given) (*run.AdviceFound, *run.Outcome) {
	t.Helper()
	o := advised(t, source, run.Options{Only: []run.Part{run.Advice}, Replicates: 80, Seed: 1, Key: run.AgreedDirect, Given: given})
	if o.Species[0].Advice == nil {
		t.Fatalf("there are no consequences: %v", o.Species[0].NoAdvice)
	}
	return o.Species[0].Advice, o
}

func figure(t *testing.T, found *run.AdviceFound, quantity string, age, ahead int) run.Figure {
	t.Helper()
	at := slices.IndexFunc(found.Figures, func(f run.Figure) bool { return f.Quantity == quantity && f.Age == age && f.Ahead == ahead })
	if at < 0 {
		t.Fatalf("there is no %s of age %d, %d years ahead", quantity, age, ahead)
	}
	return found.Figures[at]
}

func TestConsequencesAreThoseOfTheCatch(t *testing.T) {
	given := run.Given{Natural: 0.2, Terminal: 0.3, Mature: 5, When: 0.4}
	found, o := figures(t, seasons(t, 1, 1), given)
	if !found.Steady || found.ByDefault != [2]bool{} {
		t.Errorf("one year with all given is %+v, want a steady state with nothing assumed", found)
	}
	year := o.Species[0].Catch.Years[0]
	ages := found.Last - found.First + 1
	c, m, n, f := make([]float64, ages), make([]float64, ages), make([]float64, ages), make([]float64, ages)
	for a := range c {
		c[a], m[a] = year.Number[found.First+a].Value.X, 0.2
	}
	advice.Cohort(advice.Baranov, n, f, c, m, 0.3)
	for a := range c {
		if got := figure(t, found, "number", found.First+a, 0).Today.Value.X; math.Abs(got-n[a]) > 1e-9*n[a] {
			t.Errorf("%v fish of age %d in the sea, by cohort analysis of the catch %v", got, found.First+a, n[a])
		}
	}
	if got := figure(t, found, "f_now", -1, 0).Today.Value.X; math.Abs(got-slices.Max(f)) > 1e-9 {
		t.Errorf("F now = %v, want that of the most fished age, %v", got, slices.Max(f))
	}
	figure(t, found, "spawners_at_f01", -1, 3)
}

func TestMoreStonesLessSpread(t *testing.T) {
	found, _ := figures(t, seasons(t, 1, 1), run.Given{Natural: 0.2, Terminal: 0.3})
	for _, f := range found.Figures {
		if f.Quantity == "spawning_now" || f.Quantity == "spawners_at_f_now" {
			t.Errorf("%s is told, and nobody said when the fish spawn", f.Quantity)
		}
		if !f.Today.SE.Known || f.Today.SE.X == 0 {
			continue
		}
		half, twice := f.Half.SE.X/f.Today.SE.X, f.Twice.SE.X/f.Today.SE.X
		// V + V_s and V − V_s/2 of the same V and V_s.
		if !(half >= 1 && twice <= 1) || math.Abs((half*half-1)-2*(1-twice*twice)) > 1e-9 {
			t.Errorf("%s: half the stones make %v of the error, twice as many %v", f.Quantity, half, twice)
		}
		if f.Half.Low.X > f.Today.Low.X || f.Twice.High.X > f.Today.High.X {
			t.Errorf("%s: the interval with half the stones is %v to %v, today's %v to %v", f.Quantity, f.Half.Low.X, f.Half.High.X, f.Today.Low.X, f.Today.High.X)
		}
	}
}

func TestTwiceTheCatchIsTwiceTheSea(t *testing.T) {
	given := run.Given{Natural: 0.2, Terminal: 0.3}
	for _, years := range []int{1, 3} {
		one, _ := figures(t, seasons(t, years, 1), given)
		two, _ := figures(t, seasons(t, years, 2), given)
		if one.Steady != (years == 1) {
			t.Errorf("%d years are a steady state: %v", years, one.Steady)
		}
		for i, f := range one.Figures {
			times := 1.0
			switch f.Quantity {
			case "recruits", "number", "yield_at_f_now", "yield_at_f01":
				times = 2
			}
			if got := two.Figures[i].Today.Value.X; math.Abs(got-times*f.Today.Value.X) > 1e-6*math.Abs(got) {
				t.Errorf("%d years: twice the catch makes %s of age %d %v, and it was %v", years, f.Quantity, f.Age, got, f.Today.Value.X)
			}
		}
	}
}

func TestWhatIsAssumedIsTold(t *testing.T) {
	found, o := figures(t, seasons(t, 1, 1), run.Given{})
	if found.ByDefault != [2]bool{true, true} || !(found.Given.Natural > 0.1 && found.Given.Natural < 1) || found.Given.Terminal != found.Given.Natural {
		t.Errorf("without anything given %+v is assumed", found.Given)
	}
	for _, table := range o.Tables() {
		if table.Name != "advice" {
			continue
		}
		if len(table.Estimate) < 20 {
			t.Errorf("advice.csv has %d rows", len(table.Estimate))
		}
		for _, row := range table.Estimate {
			if standing := row.Further[1]; len(standing) < len(run.NoAssessment) || standing[len(standing)-len(run.NoAssessment):] != run.NoAssessment {
				t.Errorf("the row of %s does not say that it is no assessment: %q", row.ID[1], standing)
			}
		}
	}
	light := advisedWith(t, seasons(t, 1, 1), straight{})
	if light.Species[0].Advice != nil || light.Species[0].NoAdvice != run.ErrNoWeights {
		t.Errorf("without an equation of weight the consequences are %+v (%v)", light.Species[0].Advice, light.Species[0].NoAdvice)
	}
}

func advised(t *testing.T, source record.Source, options run.Options) *run.Outcome {
	t.Helper()
	o, err := run.Run(t.Context(), source, weighed{}, options)
	if err != nil {
		t.Fatal(err)
	}
	return o
}

func advisedWith(t *testing.T, source record.Source, convert run.Converter) *run.Outcome {
	t.Helper()
	o, err := run.Run(t.Context(), source, convert, run.Options{Only: []run.Part{run.Advice}, Replicates: 40, Key: run.AgreedDirect})
	if err != nil {
		t.Fatal(err)
	}
	return o
}

// The curve of a recruit is the yield at F of the figures, and flat at Fmax.
func TestCurveOfARecruitIsThatOfItsFigures(t *testing.T) {
	found, _ := figures(t, seasons(t, 1, 1), run.Given{Natural: 0.2, Terminal: 0.3, Mature: 5})
	now, most := figure(t, found, "f_now", -1, 0).Today.Value.X, figure(t, found, "yield_now", -1, 0).Today.Value.X
	if len(found.Curve) < 20 || found.Curve[0].F != 0 || found.Curve[0].Yield != 0 || found.Curve[0].Spawning.X != 1 {
		t.Fatalf("the curve has %d points and begins with %+v, want nothing caught and all spawning left", len(found.Curve), found.Curve[0])
	}
	for i := 1; i < len(found.Curve); i++ {
		a, b := found.Curve[i-1], found.Curve[i]
		if !(b.F > a.F) || !(b.Spawning.X < a.Spawning.X) {
			t.Errorf("from F %v to %v the spawning goes from %v to %v", a.F, b.F, a.Spawning.X, b.Spawning.X)
		}
		if a.F <= now && now <= b.F {
			at := a.Yield + (b.Yield-a.Yield)*(now-a.F)/(b.F-a.F)
			if math.Abs(at-most) > 0.01*most {
				t.Errorf("the curve yields %v kg at F of this catch, the figures %v", at, most)
			}
		}
	}
	if last := found.Curve[len(found.Curve)-1]; last.F <= now {
		t.Errorf("the curve ends at %v, before F of this catch, %v", last.F, now)
	}
}

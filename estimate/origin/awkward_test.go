package origin

import (
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"

	"earstone/reference"
	"earstone/statistics/stream"
)

// twoTracers is a small clean problem: 12 fish a nursery, and some mixed ones.
func twoTracers() Problem {
	e := season
	e.years, e.known, e.mixed, e.ages = 2, 6, 40, 4
	return e.draw(40)
}

// noNaN looks for a NaN or an infinity in everything that x holds.
func noNaN(t *testing.T, what string, x any) {
	t.Helper()
	var walk func(v reflect.Value, path string)
	walk = func(v reflect.Value, path string) {
		switch v.Kind() {
		case reflect.Float64:
			if math.IsNaN(v.Float()) || math.IsInf(v.Float(), 0) {
				t.Errorf("%s: %s is %v", what, path, v.Float())
			}
		case reflect.Pointer:
			if !v.IsNil() {
				walk(v.Elem(), path)
			}
		case reflect.Struct:
			for i := range v.NumField() {
				if f := v.Type().Field(i); f.IsExported() {
					walk(v.Field(i), path+"."+f.Name)
				}
			}
		case reflect.Slice:
			for i := range v.Len() {
				walk(v.Index(i), path)
			}
		}
	}
	walk(reflect.ValueOf(x), reflect.TypeOf(x).String())
}

// refused wants a Trouble of a reason, in words that name what they are about.
func refused(t *testing.T, what string, p Problem, s Settings, want Reason, names ...string) {
	t.Helper()
	_, err := Estimate(p, s)
	var trouble *Trouble
	if !errors.As(err, &trouble) || trouble.Reason != want {
		t.Errorf("%s: %v, want %q", what, err, want)
		return
	}
	for _, name := range names {
		if !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %q does not name %s", what, err, name)
		}
	}
}

// everything runs all there is on a problem, and finds no NaN.
func everything(t *testing.T, what string, p Problem, s Settings) *Fit {
	t.Helper()
	f := estimate(t, p, s)
	noNaN(t, what, f)
	for i, fish := range f.Fish {
		sum := 0.0
		for _, x := range fish.Posterior {
			sum += x
		}
		if math.Abs(sum-1) > 1e-12 {
			t.Errorf("%s: posteriors of fish %d sum to %v", what, i, sum)
		}
	}
	g, err := f.Groups(Pooling{Groups: 1, Last: 11})
	if err != nil {
		return f
	}
	noNaN(t, what, g)
	c := g.NewComposer()
	row := make([]float64, c.Size())
	var r stream.Stream
	for b := range 20 {
		r.Reset(3, stream.Baseline, b)
		c.Redraw(&r)
		c.Compose(row, nil, &r)
		noNaN(t, what+", replicate", row)
	}
	for _, inform := range []bool{false, true} {
		noNaN(t, what+", simulated", simulate(t, f, Simulation{Chains: 2, Sweeps: 60, Inform: inform}))
	}
	return f
}

func doubted(f *Fit, reason Reason) (d Doubt, found bool) {
	for _, d := range f.Doubts {
		if d.Reason == reason {
			return d, true
		}
	}
	return Doubt{}, false
}

func TestPlainProblem(t *testing.T) {
	for _, form := range Forms() {
		f := everything(t, form.String(), twoTracers(), Settings{Form: form})
		if len(f.Doubts) > 0 {
			t.Errorf("a clean problem is doubted: %+v", f.Doubts)
		}
	}
}

func TestCollinearTracer(t *testing.T) {
	p := twoTracers()
	p.Tracers = append(p.Tracers, Tracer{Name: "sum"})
	add := func(x []float64) []float64 { return append(append([]float64(nil), x...), x[0]+2*x[1]) }
	for i := range p.Baseline {
		p.Baseline[i].X = add(p.Baseline[i].X)
	}
	for i := range p.Mixed {
		p.Mixed[i].X = add(p.Mixed[i].X)
	}
	refused(t, "a sum of two tracers", p, Settings{}, Collinear, "sum")
	for i := range p.Baseline {
		p.Baseline[i].X[2] = 5
	}
	refused(t, "a tracer that never varies", p, Settings{}, Constant, "sum")
}

// The oxides of the glass fragments nearly sum to a hundred: near is not quite, and an
// answer must come.
func TestNearlyCollinearGlass(t *testing.T) {
	d := reference.Data(t, "glass_fragments.csv")
	kind := d.Text("type")
	p := itself(known(t, d, []string{"Na", "Mg", "Al", "Si", "K", "Ca"}, []string{"WinF", "WinNF", "Head"}, func(i int) string { return kind[i] }))
	for i := 0; i < len(p.Baseline); i++ { // other kinds are left to the mixed fish
		if p.Baseline[i].Nursery < 0 {
			p.Baseline = append(p.Baseline[:i], p.Baseline[i+1:]...)
			i--
		}
	}
	f := everything(t, "glass", p, Settings{})
	if f.Held.Right < 0.5 {
		t.Errorf("%.0f %% of the glass is called rightly, want more than half", 100*f.Held.Right)
	}
}

func TestOneFishANursery(t *testing.T) {
	p := twoTracers()
	p.Baseline = []Baseline{{Nursery: 0, X: []float64{-8, 0}}, {Nursery: 1, X: []float64{-9, 1}}, {Nursery: 2, X: []float64{-7, 2}}}
	refused(t, "one fish a nursery", p, Settings{}, TooFewFish)
	p = twoTracers()
	p.Baseline = p.Baseline[:len(p.Baseline)-11] // the last nursery keeps one of twelve
	f := everything(t, "one fish in one nursery", p, Settings{})
	if f.Form != Pooled || f.Held == nil || f.Held.Fish != 24 {
		t.Errorf("with one fish in a nursery the form is %v with %+v, want pooled, 24 fish scored", f.Form, f.Held)
	}
	refused(t, "own covariance of one fish", p, Settings{Form: Own}, TooFewFish, "Outer")
	p.Baseline = p.Baseline[:24]
	refused(t, "no fish in a nursery", p, Settings{}, EmptyNursery, "Outer")
	p.Nurseries = p.Nurseries[:1]
	p.Baseline = p.Baseline[:12]
	refused(t, "one nursery", p, Settings{}, OneNursery)
}

func TestFewestFish(t *testing.T) {
	p := twoTracers()
	var few []Baseline
	for k := range 3 {
		few = append(few, p.Baseline[k*12:k*12+2]...) // 6 fish, 3 means, 2 tracers
	}
	p.Baseline = few
	f := everything(t, "two fish a nursery", p, Settings{Form: Pooled, PoolYears: true})
	if f.Held == nil {
		if _, told := doubted(f, NoHeldOutScore); !told {
			t.Error("nothing can be held out, and no doubt says so")
		}
	}
}

func TestTracerMissingForHalf(t *testing.T) {
	p := twoTracers()
	for i := range p.Baseline {
		if i%2 == 0 {
			p.Baseline[i].X[1], p.Baseline[i].Lacks = math.NaN(), p.Baseline[i].Lacks.With(1)
		}
	}
	for i := range p.Mixed {
		if i%2 == 0 {
			p.Mixed[i].X[1], p.Mixed[i].Lacks = math.NaN(), p.Mixed[i].Lacks.With(1)
		}
	}
	p.Mixed[0].Lacks = p.Mixed[0].Lacks.With(0) // and one has nothing at all
	for _, form := range []Form{Pooled, Kernel} {
		f := everything(t, "half lack a tracer", p, Settings{Form: form, PoolYears: true})
		if d, told := doubted(f, LacksTracer); !told || d.Tracer != 1 || len(d.Known) != 18 {
			t.Errorf("18 baseline fish lack tracer 1, told: %+v", d)
		}
		if d, told := doubted(f, MixedLacks); !told || len(d.Mixed) == 0 {
			t.Error("mixed fish lack a tracer, and nothing says so")
		}
		if f.Fish[0].Call != Unclear || f.Composition.Fish != 39 {
			t.Errorf("a fish without any tracer is called %v among %d, want unclear, 39", f.Fish[0].Call, f.Composition.Fish)
		}
	}
	for i := range p.Baseline {
		p.Baseline[i].Lacks = p.Baseline[i].Lacks.With(1)
	}
	refused(t, "a tracer that no baseline fish has", p, Settings{}, EmptyNursery)
}

// A fish that lacks a tracer is judged as if the others were all there are.
func TestMarginalIsThatOfFewerTracers(t *testing.T) {
	p := twoTracers()
	p.Mixed[7].Lacks = p.Mixed[7].Lacks.With(1)
	q := twoTracers()
	q.Tracers = q.Tracers[:1]
	for i := range q.Baseline {
		q.Baseline[i].X = q.Baseline[i].X[:1]
	}
	for i := range q.Mixed {
		q.Mixed[i].X = q.Mixed[i].X[:1]
	}
	for _, form := range []Form{Pooled, Own} {
		a, b := estimate(t, p, Settings{Form: form, PoolYears: true}), estimate(t, q, Settings{Form: form, PoolYears: true})
		nearAll(t, "log density of one tracer", a.Fish[7].LogDensity, b.Fish[7].LogDensity, 1e-9)
		nearAll(t, "D² of one tracer", a.Fish[7].D2, b.Fish[7].D2, 1e-9)
	}
	all := estimate(t, twoTracers(), Settings{Form: Kernel}) // one kernel, laid flat by sums and by no sums
	for i := range all.Fish {
		x, _, year := all.data.fish(i)
		for k := range 3 {
			whole, _, _ := all.classes.at(k, year, x, 0)
			flat, _, _ := all.classes.partly(k, year, x, 0)
			near(t, "kernel without a tracer lacking", flat, whole, 1e-9)
		}
	}
}

func TestUnitMistake(t *testing.T) {
	p := twoTracers()
	p.Baseline[5].X[0] *= 1000
	refused(t, "a thousandfold value in the baseline", p, Settings{}, UnitMistake, "Upper", "d13C")
	p = twoTracers()
	p.Baseline[5].X[0] /= 1000
	refused(t, "a thousandth in the baseline", p, Settings{}, UnitMistake, "Upper", "d13C")
	p = twoTracers()
	p.Baseline[30].X[1] = 1 // five spreads off values around nothing is not a unit
	estimate(t, p, Settings{})
	p.Mixed[3].X[0] *= 1000
	f := everything(t, "a thousandfold mixed fish", p, Settings{})
	if d, told := doubted(f, UnitMistake); !told || d.Tracer != 0 || len(d.Mixed) != 1 || d.Mixed[0] != 3 {
		t.Errorf("a thousandfold value of mixed fish 3 is told as %+v", d)
	}
	if f.Fish[3].Call != Outside {
		t.Errorf("a thousandfold fish is called %v, want outside", f.Fish[3].Call)
	}
	everything(t, "a thousandfold fish kept in", p, Settings{KeepOutside: true})
}

func TestValuesThatCannotBe(t *testing.T) {
	p := twoTracers()
	p.Baseline[0].X[1] = math.NaN()
	refused(t, "no number", p, Settings{}, NotFinite, "d18O", "Upper")
	p = twoTracers()
	p.Mixed[0].X[1] = math.Inf(1)
	refused(t, "infinite", p, Settings{}, NotFinite, "d18O")
	p = twoTracers()
	p.Tracers[0].Log = true
	refused(t, "logarithm of a negative", p, Settings{}, NotPositive, "d13C")
	p = twoTracers()
	p.Mixed[0].Weight = -1
	refused(t, "negative weight", p, Settings{}, NotFinite)
	p = twoTracers()
	p.Tracers = nil
	for i := range p.Baseline {
		p.Baseline[i].X = nil
	}
	p.Mixed = nil
	refused(t, "no tracer", p, Settings{}, NoTracers)
}

func TestNothingMixed(t *testing.T) {
	p := twoTracers()
	for i := range p.Mixed {
		p.Mixed[i].Weight = 0
	}
	f := everything(t, "no weights", p, Settings{})
	if _, told := doubted(f, NothingMixed); !told {
		t.Error("no fish has a weight, and nothing says so")
	}
	var trouble *Trouble
	if _, err := f.Groups(Pooling{Groups: 1, Last: 3}); !errors.As(err, &trouble) || trouble.Reason != NothingMixed {
		t.Errorf("pooling nothing: %v", err)
	}
	if _, err := f.Simulate(Simulation{}); !errors.As(err, &trouble) || trouble.Reason != NothingMixed {
		t.Errorf("simulating nothing: %v", err)
	}
	p = twoTracers()
	f = estimate(t, p, Settings{})
	if _, err := f.Groups(Pooling{Groups: 1, First: 20, Last: 30}); !errors.As(err, &trouble) || trouble.Reason != NoAges {
		t.Errorf("pooling over ages that no fish has: %v", err)
	}
}

func TestYearClassesThatAreNotThere(t *testing.T) {
	p := twoTracers()
	p.Mixed[0].Cohort, p.Mixed[1].Cohort = 1999, 0
	p.Baseline[0].YearClass = 0
	f := everything(t, "years", p, Settings{Form: Own})
	if d, told := doubted(f, UnseenYear); !told || d.Year != 1999 || d.Mixed[0] != 0 {
		t.Errorf("an unseen year is told as %+v", d)
	}
	if d, told := doubted(f, UnknownCohort); !told || len(d.Mixed) != 1 || d.Mixed[0] != 1 {
		t.Errorf("an unknown cohort is told as %+v", d)
	}
	if d, told := doubted(f, NoYearClass); !told || len(d.Known) != 1 {
		t.Errorf("a baseline fish without year class is told as %+v", d)
	}
	for i := range p.Baseline {
		p.Baseline[i].YearClass = 2021 + p.Baseline[i].Nursery
	}
	f = everything(t, "one year class a nursery", p, Settings{})
	if _, told := doubted(f, YearsUnknown); !told || f.YearsUsed {
		t.Error("no nursery has two year classes, and nothing says so")
	}
	for i := range p.Baseline {
		p.Baseline[i].YearClass = 0
	}
	if _, told := doubted(estimate(t, p, Settings{}), YearsUnknown); !told {
		t.Error("mixed fish have cohorts and the baseline has none, and nothing says so")
	}
	if _, told := doubted(estimate(t, p, Settings{PoolYears: true}), YearsUnknown); told {
		t.Error("years are pooled as asked, and a doubt is told")
	}
}

func TestReasonsHaveWords(t *testing.T) {
	for r := OneNursery; r <= NoAges; r++ {
		if s := r.String(); len(s) < 15 || strings.Contains(s, "Reason(") {
			t.Errorf("reason %d says %q", r, s)
		}
	}
	if Reason(0).String() != "Reason(0)" || Form(9).String() != "form 9" || Verdict(9).String() != "unknown verdict" || OffsetOut.String() != "offset out" {
		t.Error("values outside their sets have words of their own")
	}
}

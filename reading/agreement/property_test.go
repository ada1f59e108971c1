package agreement

import (
	"math"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"earstone/programme/record"
)

// draw draws counts of fish by readers, −1 among them where a fish was not read.
func draw(t *rapid.T, readers int) []int {
	fish := rapid.IntRange(0, 30).Draw(t, "fish")
	return rapid.SliceOfN(rapid.IntRange(-1, 12), fish*readers, fish*readers).Draw(t, "counts")
}

func TestOrderOfFishDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := draw(t, 2)
		a, b := column(x, 0, 2), column(x, 1, 2)
		order := make([]int, len(a))
		for i := range order {
			order[i] = i
		}
		var a2, b2 []int
		for _, i := range rapid.Permutation(order).Draw(t, "order") {
			a2, b2 = append(a2, a[i]), append(b2, b[i])
		}
		p, q := Compare(a, b), Compare(a2, b2)
		// APE and CV are sums of fractions: alike to rounding. All else to the bit.
		alike(t, "APE", p.APE, q.APE)
		alike(t, "CV", p.CV, q.CV)
		p.APE, p.CV = q.APE, q.CV
		if !reflect.DeepEqual(p, q) {
			t.Fatalf("in another order %+v becomes %+v", p, q)
		}
	})
}

func alike(t *rapid.T, what string, a, b record.Number) {
	t.Helper()
	if a.Known != b.Known || math.Abs(a.X-b.X) > 1e-12*math.Max(1, math.Abs(a.X)) {
		t.Fatalf("%s is %v and %v", what, a, b)
	}
}

func TestSwapOfReaders(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := draw(t, 2)
		p, q := Compare(column(x, 0, 2), column(x, 1, 2)), Compare(column(x, 1, 2), column(x, 0, 2))
		alike(t, "APE", p.APE, q.APE)
		alike(t, "mean difference, turned", p.Difference.Mean, record.Number{X: -q.Difference.Mean.X, Known: q.Difference.Mean.Known})
		alike(t, "lower limit, turned", p.Difference.Low, record.Number{X: -q.Difference.High.X, Known: q.Difference.High.Known})
		if p.Bowker != q.Bowker || p.EvansHoenig != q.EvansHoenig || p.McNemar != q.McNemar || p.Above != q.Below {
			t.Fatalf("swapped, %+v becomes %+v", p.Symmetry, q.Symmetry)
		}
		fish, by := 0, 0
		for _, n := range p.Table {
			fish += n
		}
		for _, b := range p.ByAge {
			by += b.Difference.N
		}
		if fish != p.ReadTwice || by != p.ReadTwice || p.Difference.N != p.ReadTwice {
			t.Fatalf("the table holds %d fish and the rows %d, want %d", fish, by, p.ReadTwice)
		}
	})
}

func TestRatioOfCVToAPE(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		two, three := Of(draw(t, 2), 2), Of(rapid.SliceOfN(rapid.IntRange(0, 12), 30, 30).Draw(t, "of three"), 3)
		if two.APE.Known {
			alike(t, "CV of two readings and √2 APE", two.CV, record.Some(math.Sqrt2*two.APE.X))
		}
		if three.APE.X > 0 {
			// Each fish lies between the bounds, and so do the means over fish.
			if r := three.CV.X / three.APE.X; r < 3*math.Sqrt(3)/4-1e-12 || r > 1.5+1e-12 {
				t.Fatalf("CV/APE of three readings is %v, want 1.299 to 1.5", r)
			}
		}
	})
}

func TestPercentAgreementClimbs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := Of(draw(t, 3), 3)
		if s.Exact.X > s.Within1.X || s.Within1.X > s.Within2.X || s.Within2.X > 100 || s.N+s.ZeroMean != s.ReadTwice {
			t.Fatalf("agreement %v, %v, %v of %d fish", s.Exact, s.Within1, s.Within2, s.ReadTwice)
		}
	})
}

// TestNoNaN walks every number of a report on whatever was read.
func TestNoNaN(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := draw(t, 3)
		var seen []Seen
		for range rapid.IntRange(0, 40).Draw(t, "edges") {
			seen = append(seen, Seen{rapid.IntRange(1, 12).Draw(t, "month"), record.Edge(rapid.IntRange(1, 3).Draw(t, "edge"))})
		}
		var controls []Control
		for range rapid.IntRange(0, 45).Draw(t, "controls") {
			controls = append(controls, Control{First: rapid.IntRange(0, 3).Draw(t, "first"), Again: rapid.IntRange(0, 3).Draw(t, "again")})
		}
		whole := []any{Of(x, 3), Compare(column(x, 0, 3), column(x, 1, 3)), Edges(seen), DriftOf("ada", controls)}
		finite(t, reflect.ValueOf(whole))
	})
	finite(t, reflect.ValueOf([]any{Of(nil, 2), Of([]int{0, 0}, 2), Of([]int{-1, 4}, 2), Compare(nil, nil), SymmetryOf(nil, 0), SymmetryOf([]int{3}, 1)}))
}

func finite(t interface {
	Helper()
	Fatalf(string, ...any)
}, v reflect.Value) {
	t.Helper()
	switch v.Kind() {
	case reflect.Float64:
		if math.IsNaN(v.Float()) || math.IsInf(v.Float(), 0) {
			t.Fatalf("there is a %v among the numbers", v.Float())
		}
	case reflect.Struct:
		for i := range v.NumField() {
			finite(t, v.Field(i))
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			finite(t, v.Index(i))
		}
	case reflect.Interface:
		finite(t, v.Elem())
	}
}

func TestNothingIsNotZero(t *testing.T) {
	s := Of([]int{4, NotRead, NotRead, NotRead}, 2)
	if want := (Summary{Single: 1}); s != want {
		t.Errorf("one reading gives %+v, want %+v", s, want)
	}
	p := Compare([]int{4}, []int{5})
	if !p.Difference.Mean.Known || p.Difference.SE.Known || p.Difference.Low.Known || p.Difference.High.Known {
		t.Errorf("the mean of one fish is %+v, want a mean without an interval", p.Difference)
	}
	if _, _, ok := p.ByAge[0].Interval(); ok {
		t.Error("the mean count on one fish has an interval")
	}
	if e := Compare(nil, nil); e.ByAge != nil || e.Bowker != (Test{}) || e.Difference != (Mean{}) {
		t.Errorf("no fish give %+v", e)
	}
}

func TestNoAllocations(t *testing.T) {
	x, table := []int{5, 5, 7, 8, 2, NotRead}, []int{5, 7, 3, 1, 4, 10, 9, 2, 5}
	if n := testing.AllocsPerRun(100, func() { Of(x, 2); SymmetryOf(table, 3) }); n != 0 {
		t.Errorf("precision and symmetry allocate %v times, want never", n)
	}
}

func TestIntervalOfBias(t *testing.T) {
	// By hand: 4, 5, 6 where a has 4: mean 5, SE 1/√3, t(0.975; 2) = 4.302653.
	p := Compare([]int{4, 4, 4}, []int{4, 5, 6})
	low, high, ok := p.ByAge[0].Interval()
	if want := 4.302653 / math.Sqrt(3); !ok || math.Abs(low-(5-want)) > 1e-6 || math.Abs(high-(5+want)) > 1e-6 {
		t.Errorf("the mean of b at 4 lies in %v to %v, want 5 ± %v", low, high, want)
	}
	if !slices.Equal(p.Table[4*p.Ages:5*p.Ages], []int{0, 0, 0, 0, 1, 1, 1}) {
		t.Errorf("row 4 of the table is %v", p.Table[4*p.Ages:5*p.Ages])
	}
}

package key_test

import (
	"errors"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"earstone/estimate/key"
)

// anySample draws a small sample: up to three strata on a ladder of two rungs, with
// unknown origins, bins and ages among the entries, and patterns of two readers.
func anySample(t *rapid.T) key.Sample {
	bins, ages := rapid.IntRange(1, 6).Draw(t, "bins"), rapid.IntRange(1, 5).Draw(t, "ages")
	s := key.Sample{
		Grid: key.Grid{
			Bins: bins, Mid: make([]float64, bins), Ages: ages, Groups: []int{3, 1},
			Rungs: [][]int32{{0, 1, 2, -1}, {0, 0, 0, 0}}, Path: [][]int32{{0, 0}, {1, 0}, {2, 0}},
		},
		Readers: 2,
	}
	for l := range s.Grid.Mid {
		s.Grid.Mid[l] = 100 + 10*float64(l)
	}
	for a := range ages {
		for b := range ages {
			s.Patterns = append(s.Patterns, []int16{int16(a), int16(b)})
		}
	}
	for range rapid.IntRange(1, 40).Draw(t, "entries") {
		a, b := rapid.IntRange(0, ages-1).Draw(t, "age"), rapid.IntRange(0, ages-1).Draw(t, "other")
		age := int32(a)
		if rapid.IntRange(0, 9).Draw(t, "unsettled") == 0 {
			age = -1
		}
		s.Entries = append(s.Entries, key.Entry{
			Trip: int32(rapid.IntRange(-1, 5).Draw(t, "trip")), Origin: int32(rapid.IntRange(0, 3).Draw(t, "origin")),
			Bin: int32(rapid.IntRange(-1, bins-1).Draw(t, "bin")), Age: age, Pattern: int32(a*ages + b),
			Fish: float64(rapid.IntRange(1, 4).Draw(t, "fish")),
		})
	}
	return s
}

// workers are all forms of key for a sample; none when it has no aged fish.
func workers(t *rapid.T, s key.Sample, readers [][]float64, set key.Smoothing) map[string]key.Worker {
	all := map[string]key.Worker{}
	keep := func(name string, w key.Worker, err error) {
		var trouble *key.Trouble
		if errors.As(err, &trouble) && (trouble.Reason == key.NoAges || trouble.Reason == key.NoReadings) {
			return
		}
		if err != nil {
			t.Fatalf("the %s key: %v", name, err)
		}
		all[name] = w
	}
	direct, err := key.NewDirect(s, key.Borrowing{Least: 3, EdgeBins: set.EdgeBins})
	keep("direct", direct, err)
	trueAges, err := key.NewTrue(s, readers, key.Borrowing{Least: 3, EdgeBins: set.EdgeBins})
	keep("direct true-age", trueAges, err)
	smooth, err := key.NewSmooth(s, set)
	keep("smoothed", smooth, err)
	trueSmooth, err := key.NewTrueSmooth(s, readers, set)
	keep("smoothed true-age", trueSmooth, err)
	return all
}

var names = []string{"direct", "direct true-age", "smoothed", "smoothed true-age"}

func twoReaders(ages int) [][]float64 {
	return [][]float64{misread(ages, 0.25, 1), misread(ages, 0.3, 1)}
}

func anySet(t *rapid.T) key.Smoothing {
	return key.Smoothing{
		DF:     rapid.IntRange(1, 4).Draw(t, "df"),
		Strata: rapid.SampledFrom([]float64{0.5, 2, math.Inf(1)}).Draw(t, "λ_s"), EdgeBins: rapid.Bool().Draw(t, "edge bins"),
	}
}

func fit(w key.Worker, s key.Sample, weight []float64, readers [][]float64) ([]float64, []key.Source, key.Told) {
	q, from, _ := blank(s.Grid)
	told := w.Fit(q, from, weight, readers)
	return q, from, told
}

func TestRowsSumToOneOrThereIsNoKey(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anySample(t)
		readers := twoReaders(s.Grid.Ages)
		all := workers(t, s, readers, anySet(t))
		weight := s.Weights()
		for i := range weight {
			weight[i] *= rapid.SampledFrom([]float64{0, 1, 4.0 / 3, 8.0 / 3}).Draw(t, "times")
		}
		for _, name := range names {
			w := all[name]
			if w == nil {
				continue
			}
			q, from, told := fit(w, s, weight, readers)
			empty := 0
			for at, source := range from {
				row := q[at*s.Grid.Ages : (at+1)*s.Grid.Ages]
				total, want := 0.0, 1.0
				for _, share := range row {
					if !(share >= 0) {
						t.Fatalf("the %s key has the share %v", name, share)
					}
					total += share
				}
				if source == key.NoKey {
					want, empty = 0, empty+1
				}
				if math.Abs(total-want) > 1e-9 {
					t.Fatalf("row %d of the %s key (rung %d) sums to %v, want %v", at, name, source.Rung(), total, want)
				}
			}
			if told.Empty != empty {
				t.Fatalf("the %s key tells of %d rows without a key; there are %d", name, told.Empty, empty)
			}
			fish := 0.0
			for _, n := range weight {
				fish += n
			}
			if math.Abs(told.Fish+told.LeftOut-fish) > 1e-9*(1+fish) {
				t.Fatalf("the %s key used %v fish and left out %v of %v", name, told.Fish, told.LeftOut, fish)
			}
		}
	})
}

func TestOrderOfEntriesDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anySample(t)
		readers, set := twoReaders(s.Grid.Ages), anySet(t)
		turned := s
		turned.Entries = rapid.Permutation(slices.Clone(s.Entries)).Draw(t, "order")
		all, again := workers(t, s, readers, set), workers(t, turned, readers, set)
		for _, name := range names {
			if all[name] == nil {
				continue
			}
			q, _, _ := fit(all[name], s, s.Weights(), readers)
			p, _, _ := fit(again[name], turned, turned.Weights(), readers)
			tol := 1e-9
			if name == "smoothed true-age" || name == "direct true-age" {
				tol = 1e-3 // each stops within the tolerance of a refit
			}
			for at := range q {
				if math.Abs(q[at]-p[at]) > tol {
					t.Fatalf("the %s key depends on the order of entries: %v and %v", name, q[at], p[at])
				}
			}
		}
	})
}

func TestDoubledWeightsChangeNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anySample(t)
		readers := twoReaders(s.Grid.Ages)
		double := s.Weights()
		for i := range double {
			double[i] *= 2
		}
		direct, err := key.NewDirect(s, key.Borrowing{Least: 1})
		if err != nil {
			return
		}
		q, _, _ := fit(direct, s, s.Weights(), readers)
		p, _, _ := fit(direct, s, double, readers)
		if !slices.Equal(q, p) {
			t.Fatalf("twice as many fish of the same ages give another direct key: %v and %v", q, p)
		}
	})
}

func TestPerfectReadersGiveTheDirectKey(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anySample(t)
		ages := s.Grid.Ages
		for i, e := range s.Entries {
			if e.Age < 0 {
				s.Entries[i].Pattern = -1
			} else {
				s.Entries[i].Pattern = e.Age*int32(ages) + e.Age
			}
		}
		identity := make([]float64, ages*ages)
		for a := range ages {
			identity[a*ages+a] = 1
		}
		readers := [][]float64{identity, identity}
		direct, err := key.NewDirect(s, key.Borrowing{Least: 3})
		if err != nil {
			return
		}
		perfect, err := key.NewTrue(s, readers, key.Borrowing{Least: 3})
		if errors.As(err, new(*key.Trouble)) {
			return // all aged fish lack a bin
		}
		q, from, _ := fit(direct, s, s.Weights(), nil)
		p, source, _ := fit(perfect, s, s.Weights(), readers)
		for at := range q {
			if math.Abs(q[at]-p[at]) > 1e-9 {
				t.Fatalf("readers without error give the share %v, the direct key %v", p[at], q[at])
			}
		}
		if !slices.Equal(from, source) {
			t.Fatalf("readers without error borrow otherwise: %v and %v", source, from)
		}
	})
}

func TestSameAgesAtLengthPool(t *testing.T) {
	// Identity, check-values 5.3: with the same q(a | l) in every stratum, the key of all
	// strata together is that key too, whatever each stratum's lengths.
	rapid.Check(t, func(t *rapid.T) {
		bins, ages := rapid.IntRange(1, 5).Draw(t, "bins"), rapid.IntRange(1, 4).Draw(t, "ages")
		grid := yearQuarterAll(1, 3, bins, ages)
		s := key.Sample{Grid: grid}
		for l := range bins {
			for a := range ages {
				n := float64(rapid.IntRange(1, 9).Draw(t, "fish"))
				for o := range int32(3) {
					s.Entries = append(s.Entries, key.Entry{Trip: -1, Origin: o, Bin: int32(l), Age: int32(a), Pattern: -1, Fish: n * float64(o+1)})
				}
			}
		}
		own, err := key.NewDirect(s, key.Borrowing{Least: 1})
		if err != nil {
			t.Fatal(err)
		}
		pooled, err := key.NewDirect(s, key.Borrowing{Least: 1e9}) // nothing is enough: the last rung serves, short
		if err != nil {
			t.Fatal(err)
		}
		q, _, _ := fit(own, s, s.Weights(), nil)
		p, from, told := fit(pooled, s, s.Weights(), nil)
		for at := range q {
			if math.Abs(q[at]-p[at]) > 1e-12 {
				t.Fatalf("pooling strata with the same ages at length gives %v, want %v", p[at], q[at])
			}
		}
		if told.Short != len(from) || !from[0].Short() || from[0].Rung() != 2 {
			t.Fatalf("the pooled key is short in %d of %d rows, the first from rung %d", told.Short, len(from), from[0].Rung())
		}
	})
}

func TestOneAgeIsAKeyToo(t *testing.T) {
	s := yearOfOneAge()
	for name, w := range map[string]func() (key.Worker, error){
		"direct":   func() (key.Worker, error) { return key.NewDirect(s, key.Borrowing{}) },
		"smoothed": func() (key.Worker, error) { return key.NewSmooth(s, key.Smoothing{}) },
	} {
		work, err := w()
		if err != nil {
			t.Fatalf("fish of one age give no %s key: %v", name, err)
		}
		q, _, told := fit(work, s, s.Weights(), nil)
		if q[1] != 1 || q[0] != 0 || told.Ages != 1 {
			t.Errorf("fish of one age give the %s key %v, with %d ages told", name, q, told.Ages)
		}
	}
}

func yearOfOneAge() key.Sample {
	s := key.Sample{Grid: yearQuarterAll(1, 1, 2, 3)}
	for l := range int32(2) {
		s.Entries = append(s.Entries, key.Entry{Trip: -1, Bin: l, Age: 1, Pattern: -1, Fish: 6})
	}
	return s
}

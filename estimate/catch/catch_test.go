package catch

import (
	"fmt"
	"math"
	"slices"
	"testing"
)

// Two trips land 300 and 100 fish. Of the first a half is small, of the second all are.
// The catch is 800 fish: lengths (300·½ + 100)/400 = 0.625 small and 0.375 large. Small
// fish are of age 1; of large ones a quarter is of age 1 and the rest of age 2.
func ExampleWork_AtAge() {
	d := Design{
		Bins: 2, Ages: 3, KeyStrata: 1,
		Mid:     []float64{55, 65},
		Trips:   []Trip{{Landed: 300, High: 2}, {Landed: 100, High: 1}},
		Lengths: []float64{0.5, 0.5, 1, 0},
		Strata:  []Stratum{{Number: 800, Trips: []int32{0, 1}}},
	}
	q := []float64{
		0, 1, 0,
		0, 0.25, 0.75,
	}
	row := make([]float64, d.Size())
	NewWork(&d).AtAge(row, q, Draw{})
	place := d.Block(row, 0)
	fmt.Println("numbers", place.Numbers(), "of", place.Total())
	fmt.Printf("mean length at age 1: (500·55 + 75·65)/575 = %.2f\n", place.Lengths()[1]/place.Numbers()[1])
	// Output:
	// numbers [0 575 225] of 800
	// mean length at age 1: (500·55 + 75·65)/575 = 56.30
}

// Of the two trips above, the first has half its fish large, the second none. w is 3/4 and
// 1/4, the share of age 2 in them 0.375 and 0 around 0.28125: each z is 800 · 0.0703125 =
// 56.25, and the variance 2/1 · 2 · 56.25². The key adds (800 · 0.375)² · ¼ · ¾ / (9 − 1).
func ExampleDesign_Covariance() {
	d := Design{
		Bins: 2, Ages: 3, KeyStrata: 1,
		Mid:     []float64{55, 65},
		Trips:   []Trip{{Landed: 300, High: 2}, {Landed: 100, High: 1}},
		Lengths: []float64{0.5, 0.5, 1, 0},
		Strata:  []Stratum{{Number: 800, Trips: []int32{0, 1}}},
	}
	q := []float64{0, 1, 0, 0, 0.25, 0.75}
	c := d.Covariance([]int32{0}, q, []KeyCell{{ID: 0, Fish: 5}, {ID: 1, Fish: 9}})
	fmt.Printf("age 2: trips %.2f, key %.3f\n", c.Trips[8], c.Key[8])
	// Output:
	// age 2: trips 12656.25, key 2109.375
}

func ExampleEffectiveSize() {
	// By hand: (0.3·0.7 + 0.7·0.3) / (0.01 + 0.01) = 21 fish.
	fmt.Printf("%.1f\n", EffectiveSize([]float64{0.3, 0.7}, []float64{0.01, 0.01}))
	// Output: 21.0
}

func ExampleDesign_AlikeIn() {
	// By hand: trips of 2 fish, 50 and 60, and 80 and 90: MSB 900, MSW 50, n0 2, so that
	// ρ = 850/950; the mean 70 has the variance ¼ · 15² · 2 · 2 = 225 against 250/3.
	d := Design{Bins: 4, Mid: []float64{50, 60, 80, 90}, Trips: []Trip{{Landed: 7, High: 2}, {Landed: 7, Low: 2, High: 4}},
		Lengths: []float64{0.5, 0.5, 0, 0, 0, 0, 0.5, 0.5}, Strata: []Stratum{{Trips: []int32{0, 1}}}}
	alike, _ := d.AlikeIn(0, []float64{2, 2})
	fmt.Printf("correlation %.4f, design effect %.2f, worth %.4f fish\n", alike.Correlation, alike.DesignEffect, alike.EffectiveFish)
	// Output: correlation 0.8947, design effect 2.70, worth 1.4815 fish
}

func TestAlikeInKnowsWhenItCannotTell(t *testing.T) {
	two := func(lengths ...float64) Design {
		return Design{Bins: 2, Mid: []float64{50, 60}, Trips: []Trip{{Landed: 1, High: 2}, {Landed: 1, High: 2}},
			Lengths: lengths, Strata: []Stratum{{Trips: []int32{0, 1}}}}
	}
	one := two(0.5, 0.5, 0.5, 0.5)
	one.Strata = []Stratum{{Trips: []int32{0}}}
	for what, c := range map[string]struct {
		d    Design
		fish []float64
	}{
		"one trip":                 {one, []float64{4, 4}},
		"one fish a trip":          {two(1, 0, 0, 1), []float64{1, 1}},
		"no spread at all":         {two(1, 0, 1, 0), []float64{4, 4}},
		"no spread within trips":   {two(1, 0, 0, 1), []float64{4, 4}},
		"no spread between trips":  {two(0.5, 0.5, 0.5, 0.5), []float64{4, 4}},
		"trips that were not seen": {two(0, 0, 0, 0), []float64{0, 0}},
	} {
		if got, ok := c.d.AlikeIn(0, c.fish); ok {
			t.Errorf("%s says %+v, want that it can't be told", what, got)
		}
	}
}

// small is a season with what goes amiss: a stratum without lengths, one whose catch in
// weight meets no equation, and one with a single trip.
func small() (Design, []float64, []KeyCell) {
	d := Design{
		Bins: 2, Ages: 2, KeyStrata: 1, Mid: []float64{55, 65},
		Trips:   []Trip{{Landed: 3, High: 2}, {Landed: 1, High: 2}, {Landed: 1, High: 2, Group: 1}},
		Lengths: []float64{0.5, 0.5, 1, 0, 0, 1},
		Strata: []Stratum{
			{Number: 800, Trips: []int32{0, 1}},
			{Number: 50},
			{ByWeight: true, WeightKg: 1000, Trips: []int32{0, 1}, Filled: true},
			{Number: 100, Trips: []int32{2}, Relative: []float64{0.5, 0.25}},
			{ByWeight: true, WeightKg: 70},
		},
		Margins: []Margin{{Strata: []int32{0, 1, 2, 3, 4}}},
	}
	return d, []float64{1, 0, 0.25, 0.75}, []KeyCell{{ID: 0, Fish: 5}, {ID: 1, Fish: 9}}
}

func TestStrataThatCannotBeKnown(t *testing.T) {
	d, q, cells := small()
	row := evaluate(&d, q, Draw{})
	if b := d.Block(row, 1); b.Unaged() != 50 || b.Total() != 50 || slices.Max(b.Numbers()) != 0 {
		t.Errorf("50 fish without a length sample are %v, want all of them unaged", b)
	}
	for _, place := range []int{2, 4, 5} { // the last is the sum of all
		if b := d.Block(row, place); !math.IsNaN(b.Total()) {
			t.Errorf("place %d, of a weight without an equation or lengths, holds %v fish, want that it is unknown", place, b.Total())
		}
	}
	c := d.Covariance([]int32{0, 1, 3}, q, cells)
	for i, v := range c.Total() {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			t.Fatalf("place %d of the covariance is %v", i, v)
		}
	}
	// The stratum with one trip adds N² R p²: 100² · 0.5 · 0.25² and 100² · 0.25 · 0.75².
	without := d.Covariance([]int32{0, 1}, q, cells)
	for a, want := range []float64{312.5, 1406.25} {
		if got := c.Trips[a*2+a] - without.Trips[a*2+a]; math.Abs(got-want) > 1e-9*want {
			t.Errorf("one trip adds %v to the variance of age %d, want %v", got, a, want)
		}
	}
}

func TestCellsWithOneFish(t *testing.T) {
	d, q, cells := small()
	cells[1].Fish = 1
	if got := d.Covariance([]int32{0}, q, cells).Key; slices.Max(got) != 0 {
		t.Errorf("a cell of one fish adds %v of its own, want nothing", got)
	}
	// By hand: 300 of the 800 fish are large: 300² times the variance given.
	cells[1].Variance = []float64{0.02, 0.02}
	got := d.Covariance([]int32{0}, q, cells).Key
	for i, want := range []float64{1800, 0, 0, 1800} {
		if math.Abs(got[i]-want) > 1e-9 {
			t.Errorf("place %d of the key's covariance is %v, want %v", i, got[i], want)
		}
	}
}

// Bins that take one and the same aged fish, such as a bin at the edge of the key beside
// the last one with fish, share its error: it is that of their fish together.
func TestBinsThatShareACell(t *testing.T) {
	d, q, cells := small()
	copy(q[:2], q[2:])
	cells[0] = cells[1]
	got := d.Covariance([]int32{0}, q, cells).Key
	// By hand: 800² · ¼ · ¾ / 8 = 15000; apart, 500² and 300² of the same would add to 7968.75.
	for i, want := range []float64{15000, -15000, -15000, 15000} {
		if math.Abs(got[i]-want) > 1e-9*15000 {
			t.Errorf("place %d of the key's covariance is %v, want %v", i, got[i], want)
		}
	}
}

func TestNoFishNoShares(t *testing.T) {
	for i, v := range ShareCovariance([]float64{0, 0}, []float64{1, 0, 0, 1}) {
		if v != 0 {
			t.Errorf("place %d of the covariance of shares of nothing is %v, want 0", i, v)
		}
	}
}

func TestWrongShapesPanic(t *testing.T) {
	d, q, cells := small()
	w, row := NewWork(&d), make([]float64, d.Size())
	for what, call := range map[string]func(){
		"a short row":                 func() { w.AtAge(row[1:], q, Draw{}) },
		"a short key":                 func() { w.AtAge(row, q[1:], Draw{}) },
		"trips of another design":     func() { w.AtAge(row, q, Draw{Trips: []float64{1}}) },
		"catches of another design":   func() { w.AtAge(row, q, Draw{Catch: []float64{1}}) },
		"a wobble of another design":  func() { w.AtAge(row, q, Draw{Wobble: []float64{1}}) },
		"a cell too few":              func() { d.Covariance([]int32{0}, q, cells[1:]) },
		"a covariance that is oblong": func() { TripCovariance(make([]float64, 3), make([]float64, 4), nil) },
		"z that does not fit":         func() { TripCovariance(make([]float64, 4), make([]float64, 3), nil) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s does not panic", what)
				}
			}()
			call()
		}()
	}
}

func TestNoAllocations(t *testing.T) {
	d, q, _ := small()
	w, row := NewWork(&d), make([]float64, d.Size())
	draw := Draw{Trips: []float64{2, 0, 1}, Catch: slices.Repeat([]float64{1.1}, 5), Wobble: slices.Repeat([]float64{1.2}, 10)}
	if n := testing.AllocsPerRun(100, func() { w.AtAge(row, q, draw) }); n != 0 {
		t.Errorf("an evaluation allocates %v times, want never", n)
	}
}

func BenchmarkAtAge(b *testing.B) {
	g := readCatch(b)
	d, q, _ := g.season(b)
	w, row := NewWork(&d), make([]float64, d.Size())
	b.ReportAllocs()
	for b.Loop() {
		w.AtAge(row, q, Draw{})
	}
}

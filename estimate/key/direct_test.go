package key_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"testing"

	"earstone/estimate/key"
	"earstone/reference"
)

func ExampleDirect() {
	n := []float64{3, 1, 0, 0, 2, 6} // 2 bins × 3 ages
	q := make([]float64, 6)
	thin := key.Direct(q, n, 3, 5, nil)
	fmt.Println(q, "too thin:", thin)
	// Output: [0 0 0 0 0.25 0.75] too thin: [0]
}

func ExampleNewDirect() {
	// Two quarters, one bin, two ages; quarter 2 (origin 1) aged two fish only.
	sample := key.Sample{
		Grid: key.Grid{
			Bins: 1, Mid: []float64{155}, Ages: 2,
			Rungs: [][]int32{{0, 1}, {0, 0}}, Groups: []int{2, 1}, Path: [][]int32{{0, 0}, {1, 0}},
		},
		Entries: []key.Entry{
			{Origin: 0, Age: 0, Fish: 6, Pattern: -1}, {Origin: 0, Age: 1, Fish: 2, Pattern: -1},
			{Origin: 1, Age: 1, Fish: 2, Pattern: -1},
		},
	}
	work, _ := key.NewDirect(sample, key.Borrowing{Least: 5})
	q, from := make([]float64, 4), make([]key.Source, 2)
	told := work.Fit(q, from, sample.Weights(), nil)
	fmt.Println(q, from[1].Rung(), told.Borrowed)
	// Output: [0.75 0.25 0.6 0.4] 1 1
}

// directGolden is what the golden file of the direct key holds; the columns of the
// key are taken by name.
type directGolden struct {
	Input  struct{ Bins []int }
	Output struct{ Key map[string]json.RawMessage }
}

func column[T any](t *testing.T, g directGolden, name string) []T {
	t.Helper()
	var values []T
	if err := json.Unmarshal(g.Output.Key[name], &values); err != nil {
		t.Fatalf("reading column %s of the golden key: %v", name, err)
	}
	return values
}

// invented is the invented aged fish on bins of 10 cm from 40, ages 1 to 7 as classes
// 0 to 6, by year and quarter.
func invented(t testing.TB) key.Sample {
	t.Helper()
	d := reference.Data(t, "invented_aged.csv")
	year, quarter, length, age := d.Numbers("year"), d.Numbers("quarter"), d.Numbers("length_cm"), d.Numbers("age")
	trips, trip := map[string]int32{}, d.Text("trip")
	s := key.Sample{Grid: yearQuarterAll(2, 4, 20, 7)}
	for l := range s.Grid.Mid {
		s.Grid.Mid[l] = 45 + 10*float64(l)
	}
	for i := range year {
		bin := int32(math.Floor(length[i]/10)) - 4
		if year[i] == 2032 && quarter[i] == 4 || year[i] == 2031 && quarter[i] == 1 && (bin == 8 || bin == 9) {
			continue // left out so that the ladder has something to do
		}
		if _, known := trips[trip[i]]; !known {
			trips[trip[i]] = int32(len(trips))
		}
		s.Entries = append(s.Entries, key.Entry{
			Trip: trips[trip[i]], Origin: int32(year[i]-2031)*4 + int32(quarter[i]) - 1,
			Bin: bin, Age: int32(age[i]) - 1, Pattern: -1, Fish: 1,
		})
	}
	return s
}

// yearQuarterAll is a grid whose ladder is year + quarter, year, everything.
func yearQuarterAll(years, quarters, bins, ages int) key.Grid {
	g := key.Grid{Bins: bins, Mid: make([]float64, bins), Ages: ages, Rungs: make([][]int32, 3), Groups: []int{years * quarters, years, 1}}
	for o := range years * quarters {
		path := []int32{int32(o), int32(o / quarters), 0}
		g.Path = append(g.Path, path)
		for r := range path {
			g.Rungs[r] = append(g.Rungs[r], path[r])
		}
	}
	for l := range g.Mid {
		g.Mid[l] = float64(l)
	}
	return g
}

func TestDirectAgainstGolden(t *testing.T) {
	// Golden topic 04: counted again by an independent tool. Tolerance 1e-12.
	const tol = 1e-12
	var golden directGolden
	reference.Golden(t, "04-direct-key", &golden)
	source, short, fish := column[string](t, golden, "borrowed_from"), column[bool](t, golden, "short"), column[float64](t, golden, "n_used")
	s := invented(t)
	rungs := map[string]int{"": 0, "year": 1, "all": 2, "no_key": -1}
	for _, edges := range []bool{false, true} {
		prefix := "q_age"
		if edges {
			prefix = "edge_q_age"
		}
		work, err := key.NewDirect(s, key.Borrowing{Least: 5, EdgeBins: edges})
		if err != nil {
			t.Fatal(err)
		}
		q, from, used := blank(s.Grid)
		work.Fit(q, from, s.Weights(), nil)
		work.Used(used)
		for a := range 7 {
			for at, want := range column[float64](t, golden, prefix+strconv.Itoa(a+1)) { // null, no key, reads as 0
				if got := q[at*7+a]; math.Abs(got-want) > tol {
					t.Errorf("edge bins %v: q of age %d at %d cm in stratum %d = %v, want %v", edges, a+1, golden.Input.Bins[at%20], at/20, got, want)
				}
			}
		}
		for at, s := range from {
			if source[at] == "no_key" && edges {
				if !s.Edge() {
					t.Errorf("stratum %d at %d cm does not say that it took the edge bin's key", at/20, golden.Input.Bins[at%20])
				}
				continue
			}
			if s.Rung() != rungs[source[at]] || s.Short() != short[at] || s.Edge() || used[at] != fish[at] {
				t.Errorf("edge bins %v: stratum %d at %d cm rests on rung %d (short %v, edge %v) with %v fish, want %q (short %v) with %v",
					edges, at/20, golden.Input.Bins[at%20], s.Rung(), s.Short(), s.Edge(), used[at], source[at], short[at], fish[at])
			}
		}
	}
}

// blank is room for a key, its sources and the fish that it rests on.
func blank(g key.Grid) (q []float64, from []key.Source, used []float64) {
	rows := len(g.Path) * g.Bins
	return make([]float64, rows*g.Ages), make([]key.Source, rows), make([]float64, rows)
}

func TestDirectGivesTheAgedFishBack(t *testing.T) {
	// Identity, check-values 5.3: a key applied to the lengths of its own aged fish
	// gives their ages back. By hand: Σ_l n_l · n_la/n_l = Σ_l n_la.
	s := invented(t)
	work, err := key.NewDirect(s, key.Borrowing{Least: 1})
	if err != nil {
		t.Fatal(err)
	}
	q, from, _ := blank(s.Grid)
	work.Fit(q, from, s.Weights(), nil)
	got, want := make([]float64, 7), make([]float64, 7)
	for _, e := range s.Entries {
		want[e.Age]++
		for a := range got {
			got[a] += q[(int(e.Origin)*20+int(e.Bin))*7+a]
		}
	}
	for a := range got {
		if math.Abs(got[a]-want[a]) > 1e-10 {
			t.Errorf("the key gives %v fish of class %d back, want %v", got[a], a, want[a])
		}
	}
}

func TestDirectWithoutAges(t *testing.T) {
	s := invented(t)
	for i := range s.Entries {
		s.Entries[i].Age = -1
	}
	_, err := key.NewDirect(s, key.Borrowing{})
	var trouble *key.Trouble
	if !errors.As(err, &trouble) || trouble.Reason != key.NoAges {
		t.Errorf("a sample without ages gives %v, want the reason NoAges", err)
	}
}

func TestDirectOfReplicateWithoutFish(t *testing.T) {
	s := invented(t)
	work, err := key.NewDirect(s, key.Borrowing{EdgeBins: true})
	if err != nil {
		t.Fatal(err)
	}
	q, from, _ := blank(s.Grid)
	q[3] = 1
	told := work.Fit(q, from, make([]float64, len(s.Entries)), nil)
	if told.Empty != len(from) || slices.Max(q) != 0 || slices.Max(from) != key.NoKey {
		t.Errorf("a replicate without fish leaves %d of %d rows without a key and a largest share of %v", told.Empty, len(from), slices.Max(q))
	}
}

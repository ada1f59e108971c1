package key_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"earstone/estimate/key"
)

// grown is a sea of which the truth is known: 4 ages whose lengths lie around 8, 14, 19
// and 23 of 30 bins in every year, and shares at age that differ between years.
type grown struct{ given, shares [][]float64 }

func newGrown(shares ...[]float64) grown {
	g := grown{shares: shares}
	for _, mean := range []float64{8, 14, 19, 23} {
		row, total := make([]float64, 30), 0.0
		for l := range row {
			row[l] = math.Exp(-(float64(l) - mean) * (float64(l) - mean) / 8)
			total += row[l]
		}
		for l := range row {
			row[l] /= total
		}
		g.given = append(g.given, row)
	}
	return g
}

// draw samples fish of a year: aged of them with their age, all with their length.
func (g grown) draw(r *rand.Rand, year, fish, aged int) (lengths, ages []float64) {
	lengths, ages = make([]float64, 30), make([]float64, 30*4)
	for i := range fish {
		a := int(drawn(r, g.shares[year]))
		l := int(drawn(r, g.given[a]))
		if lengths[l]++; i < aged {
			ages[l*4+a]++
		}
	}
	return lengths, ages
}

// season draws a sample of all years, the last of them without ages.
func (g grown) season(r *rand.Rand) (key.Sample, key.Years) {
	n := len(g.shares)
	s := key.Sample{Grid: yearQuarterAll(n, 1, 30, 4)}
	y := key.Years{Holds: []bool{true, true, false}}
	for year := range n {
		aged := 1500
		if year == n-1 {
			aged = 0
		}
		lengths, ages := g.draw(r, year, 6000, aged)
		y.Year, y.Place = append(y.Year, 2031+year), append(y.Place, 0)
		y.Fish, y.Measured = append(y.Fish, lengths...), append(y.Measured, 6000)
		for at, fish := range ages {
			if fish > 0 {
				s.Entries = append(s.Entries, key.Entry{Trip: int32(year), Origin: int32(year), Bin: int32(at / 4), Age: int32(at % 4), Pattern: -1, Fish: fish})
			}
		}
	}
	return s, y
}

// sharesAt is Σ_l n_l q(a | l) / Σ_l n_l of the last year.
func sharesAt(q []float64, y key.Years) []float64 {
	last, shares, total := len(y.Year)-1, make([]float64, 4), 0.0
	for l, fish := range y.Fish[last*30:] {
		total += fish
		for a := range shares {
			shares[a] += fish * q[(last*30+l)*4+a]
		}
	}
	for a := range shares {
		shares[a] /= total
	}
	return shares
}

func TestYearsWithoutAgesGiveTheTruthBack(t *testing.T) {
	// Truth: the shares the sample is drawn from. 40 samples; the mean of the estimates is
	// held to 4 of its standard errors, and to 0.01. The direct key of all years together
	// takes the age structure of the years with ages along and misses by 0.05 and more.
	sea := newGrown([]float64{0.5, 0.2, 0.2, 0.1}, []float64{0.3, 0.4, 0.2, 0.1}, []float64{0.1, 0.3, 0.2, 0.4})
	const samples = 40
	r := rand.New(rand.NewPCG(31, 6))
	sums, squares := map[string][]float64{}, map[string][]float64{}
	for range samples {
		s, years := sea.season(r)
		iterated, err := key.NewIterated(s, key.Borrowing{}, years)
		if err != nil {
			t.Fatal(err)
		}
		combined, err := key.NewCombined(s, key.Borrowing{}, years)
		if err != nil {
			t.Fatal(err)
		}
		direct, err := key.NewDirect(s, key.Borrowing{})
		if err != nil {
			t.Fatal(err)
		}
		for name, w := range map[string]key.Worker{"iterated": iterated, "combined": combined, "direct": direct} {
			q, _, told := fit(w, s, s.Weights(), nil)
			if !told.Converged {
				t.Errorf("the %s key does not settle", name)
			}
			if sums[name] == nil {
				sums[name], squares[name] = make([]float64, 4), make([]float64, 4)
			}
			for a, p := range sharesAt(q, years) {
				sums[name][a] += p / samples
				squares[name][a] += p * p / samples
			}
		}
	}
	worst := 0.0
	for a, truth := range sea.shares[2] {
		for _, name := range []string{"iterated", "combined"} {
			mean := sums[name][a]
			se := math.Sqrt((squares[name][a] - mean*mean) / (samples - 1))
			if off := math.Abs(mean - truth); off > 4*se || off > 0.01 {
				t.Errorf("%s: the share of age %d is %.4f (SE %.4f) on average, want %.2f", name, a, mean, se, truth)
			}
		}
		worst = math.Max(worst, math.Abs(sums["direct"][a]-truth))
	}
	if worst < 0.05 {
		t.Errorf("the direct key is only %.4f off: the sample does not show what the others are for", worst)
	}
}

// gaps is years 2031 to 2035 of one place, ages in those that are named.
func gaps(aged ...int) (key.Sample, key.Years) {
	s := key.Sample{Grid: yearQuarterAll(5, 1, 3, 2)}
	y := key.Years{Holds: []bool{true, true, false}}
	for year := range 5 {
		y.Year, y.Place, y.Measured = append(y.Year, 2031+year), append(y.Place, 0), append(y.Measured, 60)
		y.Fish = append(y.Fish, 20, 30, 10)
	}
	for _, year := range aged {
		for at, fish := range []float64{4, 1, 2, 3, 1, 6} {
			s.Entries = append(s.Entries, key.Entry{Trip: int32(year), Origin: int32(year - 2031), Bin: int32(at / 2), Age: int32(at % 2), Pattern: -1, Fish: fish})
		}
	}
	return s, y
}

func iterated(t *testing.T, s key.Sample, b key.Borrowing, y key.Years) *key.IteratedWork {
	t.Helper()
	work, err := key.NewIterated(s, b, y)
	if err != nil {
		t.Fatal(err)
	}
	return work
}

func TestDonorIsTheNearestYearWithAges(t *testing.T) {
	for _, c := range []struct {
		aged []int
		want map[int]int // year without ages: donor
	}{
		{[]int{2031, 2033}, map[int]int{2032: 2031, 2034: 2033, 2035: 2033}}, // the tie goes to the earlier year
		{[]int{2035}, map[int]int{2031: 2035, 2032: 2035, 2033: 2035, 2034: 2035}},
		{[]int{2031, 2034}, map[int]int{2032: 2031, 2033: 2034, 2035: 2034}},
	} {
		s, years := gaps(c.aged...)
		got := map[int]int{}
		for _, r := range iterated(t, s, key.Borrowing{}, years).Rebuilt() {
			got[2031+r.Stratum] = 2031 + r.Donor
		}
		if len(got) != len(c.want) {
			t.Errorf("with ages in %v the donors are %v, want %v", c.aged, got, c.want)
		}
		for year, donor := range c.want {
			if got[year] != donor {
				t.Errorf("with ages in %v the donor of %d is %d, want %d", c.aged, year, got[year], donor)
			}
		}
	}
}

func TestNoDonorNoKey(t *testing.T) {
	s, years := gaps(2031)
	years.Place[4] = 1 // no other year of the place has ages
	for name, work := range otherYears(t, s, years) {
		_, from, told := fit(work, s, s.Weights(), nil)
		if told.Empty != 3 || from[12] != key.NoKey || from[9] == key.NoKey {
			t.Errorf("%s: %d rows without a key, want the 3 of the place without ages", name, told.Empty)
		}
		ids, used := make([]int32, 15), make([]float64, 15)
		work.Cells(ids)
		work.Used(used)
		if ids[12] != -1 || used[12] != 0 || ids[9] < 0 || used[9] <= 0 {
			t.Errorf("%s: the pools are %v with %v fish", name, ids, used)
		}
	}
}

func otherYears(t *testing.T, s key.Sample, y key.Years) map[string]key.Measurer {
	t.Helper()
	combined, err := key.NewCombined(s, key.Borrowing{}, y)
	if err != nil {
		t.Fatal(err)
	}
	return map[string]key.Measurer{"iterated": iterated(t, s, key.Borrowing{}, y), "combined": combined}
}

func TestDonorWithoutFishInAReplicate(t *testing.T) {
	s, years := gaps(2031, 2035)
	work := iterated(t, s, key.Borrowing{}, years)
	weight := s.Weights()
	for i, e := range s.Entries {
		if e.Origin == 0 {
			weight[i] = 0
		}
	}
	_, from, _ := fit(work, s, weight, nil)
	// Year 2031 borrows all years' fish along its ladder; 2032 takes that key from it.
	if from[0].Rung() != 2 || !from[3].Iterated() || from[3].Rung() != 2 {
		t.Errorf("without fish the donor rests on rung %d and its heir on %v", from[0].Rung(), from[3])
	}
}

func TestLengthsBeyondTheDonorsHaveNoKeyButTheEdges(t *testing.T) {
	s, years := gaps(2031)
	years.Fish[2] = 0 // the donor's catch has no large fish
	_, from, _ := fit(iterated(t, s, key.Borrowing{}, years), s, s.Weights(), nil)
	if from[2] == key.NoKey || from[5] != key.NoKey {
		t.Errorf("beyond the donor's catch the donor rests on %v and its heir on %v, want a key and none", from[2], from[5])
	}
	q, from, told := fit(iterated(t, s, key.Borrowing{EdgeBins: true}, years), s, s.Weights(), nil)
	if !from[5].Edge() || !from[5].Iterated() || q[10] != q[8] || told.Edge != 4 {
		t.Errorf("with edge bins the heir rests on %v and %d rows on an edge", from[5], told.Edge)
	}
}

func TestMeasureMovesTheShares(t *testing.T) {
	s, years := gaps(2031)
	for name, work := range otherYears(t, s, years) {
		before, _, _ := fit(work, s, s.Weights(), nil)
		fish := append([]float64(nil), years.Fish...)
		fish[3], fish[5] = 10, 60 // more large fish in 2032
		work.Measure(fish)
		after, _, _ := fit(work, s, s.Weights(), nil)
		if after[8] >= before[8] || after[0] != before[0] && name == "iterated" {
			t.Errorf("%s: with more large fish the young are %v of the middle bin, before %v", name, after[8], before[8])
		}
		work.Measure(years.Fish)
		again, _, _ := fit(work, s, s.Weights(), nil)
		for at := range again {
			if again[at] != before[at] {
				t.Fatalf("%s: a refit remembers the one before: share %d is %v, was %v", name, at, again[at], before[at])
			}
		}
	}
}

func TestOtherYearsAllocateNothing(t *testing.T) {
	s, years := gaps(2031, 2034)
	for name, work := range otherYears(t, s, years) {
		work.Measure(years.Fish)
		noAllocations(t, name, s, work, nil)
	}
}

// threeYears is the season sample as three years of 4 quarters, the last without ages.
func threeYears(b *testing.B) (key.Sample, key.Years) {
	b.Helper()
	s, _ := season(1)
	s.Grid = yearQuarterAll(3, 4, s.Grid.Bins, s.Grid.Ages)
	y := key.Years{Holds: []bool{true, true, false}, Fish: make([]float64, 12*s.Grid.Bins), Measured: make([]float64, 12)}
	for k := range 12 {
		y.Year, y.Place = append(y.Year, 2031+k/4), append(y.Place, int32(k%4))
	}
	kept := s.Entries[:0]
	for i, e := range s.Entries {
		e.Origin = int32(i%3*4) + e.Origin%4
		y.Fish[int(e.Origin)*s.Grid.Bins+int(e.Bin)] += 4
		y.Measured[e.Origin] += 4
		if e.Origin < 8 {
			kept = append(kept, e)
		}
	}
	s.Entries = kept
	return s, y
}

func BenchmarkIteratedWork(b *testing.B) {
	s, years := threeYears(b)
	work, err := key.NewIterated(s, key.Borrowing{}, years)
	if err != nil {
		b.Fatal(err)
	}
	benchmarkFit(b, s, work, nil)
}

func BenchmarkCombinedWork(b *testing.B) {
	s, years := threeYears(b)
	work, err := key.NewCombined(s, key.Borrowing{}, years)
	if err != nil {
		b.Fatal(err)
	}
	benchmarkFit(b, s, work, nil)
}

func BenchmarkNewCombined(b *testing.B) {
	s, years := threeYears(b)
	for b.Loop() {
		if _, err := key.NewCombined(s, key.Borrowing{}, years); err != nil {
			b.Fatal(err)
		}
	}
}

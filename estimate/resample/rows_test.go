package resample

import (
	"context"
	"math"
	"slices"
	"testing"

	"earstone/estimate/catch"
	"earstone/estimate/key"
	"earstone/estimate/tally"
	"earstone/statistics/stream"
)

func evaluateAll(t testing.TB, p Problem, rows []Row) *Drawn {
	t.Helper()
	drawn, err := Evaluate(context.Background(), p, rows, nil)
	if err != nil {
		t.Fatal(err)
	}
	return drawn
}

func TestRowsAreReplicates(t *testing.T) {
	s := invent(t, "small")
	for _, form := range forms {
		p := s.problem(t, form)
		p.Replicates = 6
		want, err := Run(context.Background(), p, nil)
		if err != nil {
			t.Fatal(err)
		}
		order := []int{4, 0, 5, 2}
		rows := make([]Row, len(order))
		for i, b := range order {
			rows[i] = All(b)
		}
		got := evaluateAll(t, p, rows)
		for i, b := range order {
			if !slices.Equal(got.Row(i), want.Row(b)) {
				t.Errorf("the row of replicate %d with the %s key is not that replicate", b, form)
			}
		}
		point := evaluateAll(t, p, []Row{{}}).Row(0)
		row, q, from := s.blank()
		Point(p, row, q, from)
		for i := range row {
			if math.Abs(row[i]-point[i]) > 1e-6*math.Max(1, math.Abs(row[i])) {
				t.Fatalf("with the %s key the row that draws nothing has %v at place %d, the point %v", form, point[i], i, row[i])
			}
		}
	}
}

func TestOneSourceIsDrawnAgainAndTheOthersStay(t *testing.T) {
	s := invent(t, "small")
	p := s.problem(t, "true direct")
	p.Fish, p.within = true, true
	row, _, _ := s.blank()
	drawn := func(r Row) map[stream.Source][][]float64 {
		w := newWork(&p, p.held())
		w.row(row, r)
		return map[stream.Source][][]float64{stream.Trips: {w.trips, w.wobble}, stream.Catch: {w.factor}, stream.Reader: w.matrices,
			stream.Fish: {w.design.Lengths}}
	}
	same := func(a, b [][]float64) bool { return slices.EqualFunc(a, b, slices.Equal) }
	base := drawn(All(3))
	for _, source := range []stream.Source{stream.Trips, stream.Catch, stream.Reader, stream.Fish} {
		again, others := drawn(All(3).With(source, 8)), drawn(All(8))
		for part, was := range base {
			if same(was, again[part]) == (part == source) {
				t.Errorf("with %v drawn again %v is the same: %v", source, part, part == source)
			}
		}
		if !same(again[source], others[source]) {
			t.Errorf("%v drawn for replicate 8 is not that of replicate 8", source)
		}
	}
}

// One trip with ten stones of one bin, four of age 1, and another bin with one stone of each
// of two trips: by hand Var = N² p(1 − p)/(n − 1) of ten, and of two stones with exponential
// weights the share is uniform between them, variance 1/12.
func TestStonesWithinTrips(t *testing.T) {
	d := catch.Design{Bins: 2, Ages: 2, KeyStrata: 1, Mid: []float64{1, 2}, Lengths: []float64{1, 0, 0, 1, 0, 1},
		Trips:  []catch.Trip{{Landed: 1, High: 2}, {Landed: 1, High: 2, Group: 1}, {Landed: 1, High: 2, Group: 1}},
		Strata: []catch.Stratum{{Number: 1000, Trips: []int32{0}}, {Number: 1000, Trips: []int32{1, 2}}}}
	grid := key.Grid{Bins: 2, Mid: d.Mid, Ages: 2, Rungs: [][]int32{{0}}, Groups: []int{1}, Path: [][]int32{{0}}}
	sample := key.Sample{Grid: grid, Entries: []key.Entry{
		{Trip: 0, Bin: 0, Age: 0, Pattern: -1, Fish: 6}, {Trip: 0, Bin: 0, Age: 1, Pattern: -1, Fish: 4},
		{Trip: 1, Bin: 1, Age: 0, Pattern: -1, Fish: 1}, {Trip: 2, Bin: 1, Age: 1, Pattern: -1, Fish: 1}}}
	p := Problem{Counts: &tally.Counts{Design: d, CV: []float64{0, 0}, Key: sample, Trips: make([]tally.Trip, 3)}, Seed: 5,
		Worker: func() key.Worker { w, _ := key.NewDirect(sample, key.Borrowing{Least: 1}); return w }}
	rows := make([]Row, replicates(20000))
	for b := range rows {
		rows[b] = Alone(stream.Stones, b).Within()
	}
	drawn := evaluateAll(t, p, rows)
	for i, want := range []float64{1e6 * 0.4 * 0.6 / 9, 1e6 / 12} {
		mean, variance := drawn.moments(i*p.Counts.Design.BlockSize() + 1)
		if !near(variance, want, len(rows)) {
			t.Errorf("stratum %d: stones drawn within trips have the variance %v, want %v", i, variance, want)
		}
		if want := []float64{400, 500}[i]; math.Abs(mean-want) > 5*math.Sqrt(variance/float64(len(rows))) {
			t.Errorf("stratum %d: mean of the draws is %v, want %v", i, mean, want)
		}
	}
}

// Fifty fish of a trip, half of them small: by hand Var = N²/4/50.
func TestLengthsWithinTrips(t *testing.T) {
	p := byHand()
	d := &p.Counts.Design
	for i := range p.Counts.Trips {
		p.Counts.Trips[i].Measured = 50
	}
	rows := make([]Row, replicates(20000))
	for b := range rows {
		rows[b] = Alone(stream.Fish, b).Within()
	}
	drawn := evaluateAll(t, p, rows)
	q, want := p.key(), 0.0
	for _, trip := range d.Strata[0].Trips { // equal landings: Σ (N/m)² Var(Σ_l p̂ q)
		mean, square := 0.0, 0.0
		for l, share := range d.Lengths[int(trip)*d.Bins:][:d.Bins] {
			mean += share * q[l*d.Ages+2]
			square += share * q[l*d.Ages+2] * q[l*d.Ages+2]
		}
		m := float64(len(d.Strata[0].Trips))
		want += math.Pow(d.Strata[0].Number/m, 2) * (square - mean*mean) / 50
	}
	if _, variance := drawn.moments(2); want == 0 || !near(variance, want, len(rows)) {
		t.Errorf("lengths drawn within trips give the variance %v, want %v", variance, want)
	}
}

func TestRowsAllocateNothing(t *testing.T) {
	s := invent(t, "small")
	row, _, _ := s.blank()
	p := s.problem(t, "true direct")
	p.within = true
	w, b := newWork(&p, p.held()), 0
	if n := testing.AllocsPerRun(5, func() {
		w.row(row, All(b).With(stream.Trips, b+1).Within())
		b++
	}); n != 0 {
		t.Errorf("a row allocates %v times, want never", n)
	}
}

// Of ten stones of a trip and bin four are of age 1: without one of these 3 of 9 are,
// without one of the others 4 of 9.
func TestPluckedStones(t *testing.T) {
	d := catch.Design{Bins: 1, Ages: 2, KeyStrata: 1, Mid: []float64{1}, Lengths: []float64{1},
		Trips: []catch.Trip{{Landed: 1, High: 1}}, Strata: []catch.Stratum{{Number: 900, Trips: []int32{0}}}}
	grid := key.Grid{Bins: 1, Mid: d.Mid, Ages: 2, Rungs: [][]int32{{0}}, Groups: []int{1}, Path: [][]int32{{0}}}
	sample := key.Sample{Grid: grid, Entries: []key.Entry{
		{Trip: 0, Bin: 0, Age: 0, Pattern: -1, Fish: 6}, {Trip: 0, Bin: 0, Age: 1, Pattern: -1, Fish: 4}}}
	p := Problem{Counts: &tally.Counts{Design: d, CV: []float64{0}, Key: sample, Trips: make([]tally.Trip, 1)},
		Worker: func() key.Worker { w, _ := key.NewDirect(sample, key.Borrowing{Least: 1}); return w }}
	got, err := Pluck(context.Background(), p, 1, func(dst, row []float64) { dst[0] = p.Counts.Design.Block(row, 0).Numbers()[1] }, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{400, 300} {
		if math.Abs(got[i]-want) > 1e-9 {
			t.Errorf("without a stone of age %d there are %v fish of age 1, want %v", i, got[i], want)
		}
	}
}

package resample

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"sync/atomic"
	"testing"

	"earstone/estimate/catch"
	"earstone/estimate/key"
	"earstone/programme/strata"
	"earstone/statistics/stream"
)

func replicates(long int) int {
	if testing.Short() {
		return long / 10
	}
	return long
}

func TestSameBitsForAnyNumberOfWorkers(t *testing.T) {
	s := invent(t, "small")
	for _, form := range forms {
		p := s.problem(t, form)
		p.Fish = form == "agreed direct"
		var want *Drawn
		for _, workers := range []int{1, 2, 3, 7} {
			p.Workers = workers
			got, err := Run(context.Background(), p, nil)
			if err != nil {
				t.Fatal(err)
			}
			if want == nil {
				want = got
				continue
			}
			if !slices.Equal(got.rows, want.rows) || got.Told != want.Told {
				t.Errorf("%d workers draw the season with the %s key otherwise than one does", workers, form)
			}
		}
		if slices.Equal(want.Row(0), want.Row(1)) {
			t.Errorf("two replicates with the %s key are the same", form)
		}
		for i, x := range want.rows {
			if math.IsNaN(x) || x < 0 {
				t.Fatalf("place %d with the %s key is %v", i, form, x)
			}
		}
	}
}

func TestSeedAndReplicateAreTheKey(t *testing.T) {
	s := invent(t, "small")
	p := s.problem(t, "agreed direct")
	few, err := Run(context.Background(), p, nil)
	if err != nil {
		t.Fatal(err)
	}
	p.Replicates = 2 * p.Replicates
	many, err := Run(context.Background(), p, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(few.rows, many.rows[:len(few.rows)]) {
		t.Error("the first replicates are others when more are asked for")
	}
	p.Seed++
	other, err := Run(context.Background(), p, nil)
	if err != nil {
		t.Fatal(err)
	}
	if slices.Equal(other.Row(0), many.Row(0)) {
		t.Error("another seed draws the same replicate")
	}
}

func TestHoldingOneSourceLeavesTheOthers(t *testing.T) {
	s := invent(t, "small")
	p := s.problem(t, "true direct")
	p.Fish = true
	row, _, _ := s.blank()
	drawn := func(held ...stream.Source) *work {
		p.Held = held
		w := newWork(&p, p.held())
		w.replicate(row, 3)
		return w
	}
	all := drawn()
	parts := func(w *work) map[stream.Source][][]float64 {
		return map[stream.Source][][]float64{stream.Trips: {w.trips, w.wobble}, stream.Catch: {w.factor}, stream.Reader: w.matrices,
			stream.Fish: {w.design.Lengths}}
	}
	same := func(a, b [][]float64) bool { return slices.EqualFunc(a, b, slices.Equal) }
	for _, held := range []stream.Source{stream.Trips, stream.Catch, stream.Reader, stream.Fish} {
		one := parts(drawn(held))
		for source, part := range parts(all) {
			if same(part, one[source]) == (source == held) {
				t.Errorf("with %v held, the draw of %v is the same: %v", held, source, source == held)
			}
		}
	}
	weight := func(held ...stream.Source) []float64 { return drawn(held...).weight }
	if slices.Equal(all.weight, weight(stream.Stones)) || slices.Equal(all.weight, weight(stream.Convert)) {
		t.Error("stones without a trip or converted lengths are not drawn")
	}
	if !slices.Equal(all.weight, weight(stream.Reader, stream.Catch, stream.Fish)) {
		t.Error("the weights of stones move with readers, catches or lengths")
	}
}

func TestAllHeldIsThePoint(t *testing.T) {
	s := invent(t, "small")
	for _, form := range forms {
		p := s.problem(t, form)
		p.Replicates, p.Fish = 2, true
		p.Held = stream.Sources()
		drawn, err := Run(context.Background(), p, nil)
		if err != nil {
			t.Fatal(err)
		}
		row, q, from := s.blank()
		told := Point(p, row, q, from)
		// A key that iterates starts where the last fit ended or from the sample: the same
		// maximum, to what the iteration leaves.
		for i := range row {
			if d := math.Abs(row[i] - drawn.Row(1)[i]); d > 1e-6*math.Max(1, math.Abs(row[i])) {
				t.Fatalf("with the %s key and nothing drawn place %d is %v, the point %v", form, i, drawn.Row(1)[i], row[i])
			}
		}
		if told.Empty != drawn.Told.Empty/2 || slices.Max(q) <= 0 || !slices.ContainsFunc(from, func(s key.Source) bool { return s != key.NoKey }) {
			t.Errorf("the point's %s key has %d rows without fish, the replicates %d", form, told.Empty, drawn.Told.Empty/2)
		}
	}
}

func TestJackknifeRows(t *testing.T) {
	p := byHand()
	d := &p.Counts.Design
	p.Counts.Trips[6].Cell.Year = 2032 // trip G is a stratum of the next year, alone in it
	d.Trips[6].Group = 2
	d.Strata = []catch.Stratum{{Number: 800, Trips: []int32{0, 1, 2, 3}}, {Number: 500, Trips: []int32{4, 5}}, {Number: 60, Trips: []int32{6}}}
	p.Counts.CV = []float64{0, 0, 0}
	var steps []int
	left, err := Jackknife(context.Background(), p, func(done, of int) { steps = append(steps, done) })
	if err != nil {
		t.Fatal(err)
	}
	if left.Replicates != 6 || len(left.Row) != 7 || steps[len(steps)-1] != 6 {
		t.Fatalf("%d rows for %d trips, told to %v: want 6 rows, one a trip of 2031", left.Replicates, len(left.Row), steps)
	}
	used := map[int]bool{}
	work, row := catch.NewWork(d), make([]float64, d.Size())
	for trip, at := range left.Row {
		r := slices.Repeat([]float64{1}, len(d.Trips))
		for other := range r {
			if group := d.Groups()[d.Trips[trip].Group]; len(group) > 1 && slices.Contains(group, int32(other)) {
				r[other] = float64(len(group)) / float64(len(group)-1)
			}
		}
		if len(d.Groups()[d.Trips[trip].Group]) > 1 {
			r[trip] = 0
		}
		work.AtAge(row, p.key(), catch.Draw{Trips: r})
		s := p.Counts.Trips[trip].Stratum
		if trip == 6 {
			s = 2
		}
		got, want := d.Block(left.Drawn.Row(at), s), d.Block(row, s)
		for j := range want {
			if math.Abs(got[j]-want[j]) > 1e-9 {
				t.Errorf("without trip %d place %d of its stratum is %v, want %v", trip, j, got[j], want[j])
			}
		}
		if year := p.Counts.Trips[trip].Cell.Year; year == 2031 {
			if used[at] {
				t.Errorf("row %d leaves out two trips of 2031", at)
			}
			used[at] = true
		}
	}
}

// Strata that years do not part draw the trips of all years among each other: no two of
// them may be left out at once.
func TestJackknifeOfStrataWithoutYears(t *testing.T) {
	p := byHand()
	p.Counts.Columns = strata.Area
	for i := range p.Counts.Trips {
		p.Counts.Trips[i].Cell.Year = int16(2031 + i%2)
	}
	sets, row := leaveOut(p.Counts)
	if len(sets) != 7 || slices.Max(row) != 6 {
		t.Errorf("seven trips of strata without years are left out in the sets %v, want one by one", sets)
	}
}

func TestCancelledRuns(t *testing.T) {
	p := byHand()
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Run(ctx, p, func(int, int) { t.Error("a run that never began tells progress") }); !errors.Is(err, context.Canceled) {
		t.Errorf("a cancelled run gives %v, want %v", err, context.Canceled)
	}
	if _, err := Jackknife(ctx, p, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("a cancelled jackknife gives %v", err)
	}
	ctx, cancel = context.WithCancel(context.Background())
	var did atomic.Int64
	const n = 100_000
	err := Share(ctx, 2, n, func(int, int) { cancel() }, func(int) { did.Add(1) })
	if !errors.Is(err, context.Canceled) || did.Load() == n {
		t.Errorf("stopped at its first word, the work did %d of %d parts and gave %v", did.Load(), n, err)
	}
}

func TestProgressComesToItsEnd(t *testing.T) {
	for _, workers := range []int{0, 1, 2, 3, 7} {
		for _, n := range []int{1, 4, 5, 999} {
			var told []int
			done := make([]atomic.Int32, n)
			err := Share(context.Background(), workers, n, func(now, of int) {
				told = append(told, now)
				if of != n {
					t.Errorf("progress is told of %d, want %d", of, n)
				}
			}, func(i int) { done[i].Add(1) })
			if err != nil {
				t.Fatal(err)
			}
			if !slices.IsSorted(told) || len(slices.Compact(slices.Clone(told))) != len(told) || told[len(told)-1] != n {
				t.Errorf("%d workers tell of %d parts: %v", workers, n, told)
			}
			for i := range done {
				if done[i].Load() != 1 {
					t.Fatalf("part %d is done %d times", i, done[i].Load())
				}
			}
		}
	}
	Each(3, 0, func(int) { t.Error("of nothing a part is done") })
	if err := Share(context.Background(), 3, 0, func(int, int) { t.Error("of nothing progress is told") }, nil); err != nil {
		t.Errorf("nothing to do gives %v", err)
	}
}

// While one worker tells, the others go on and finish: their last word is not lost.
func TestProgressOfASlowListener(t *testing.T) {
	const n = 8
	var did atomic.Int32
	all, told := make(chan struct{}), []int(nil)
	err := Share(context.Background(), 2, n, func(now, _ int) {
		told = append(told, now)
		<-all
	}, func(int) {
		if did.Add(1) == n {
			close(all)
		}
	})
	if err != nil || told[len(told)-1] != n {
		t.Errorf("a slow listener hears %v of %d parts, %v", told, n, err)
	}
}

func TestTold(t *testing.T) {
	p := byHand()
	p.Replicates = 10
	q := p.key()
	p.Worker = func() key.Worker { return &restless{fixed: fixed{q}} }
	p.Workers = 1
	drawn, err := Run(context.Background(), p, nil)
	if err != nil {
		t.Fatal(err)
	}
	if want := (Told{Unsettled: 5, Borrowed: 20, Empty: 10}); drawn.Told != want {
		t.Errorf("told are %+v, want %+v", drawn.Told, want)
	}
}

// restless does not settle every second time.
type restless struct {
	fixed
	fits int
}

func (k *restless) Fit(q []float64, from []key.Source, weight []float64, readers [][]float64) key.Told {
	k.fits++
	k.fixed.Fit(q, from, weight, readers)
	return key.Told{Converged: k.fits%2 == 0, Borrowed: 2, Empty: 1}
}

func TestNoAllocations(t *testing.T) {
	s := invent(t, "small")
	row, _, _ := s.blank()
	for _, form := range forms {
		p := s.problem(t, form)
		p.Fish = true
		w, b := newWork(&p, p.held()), 0
		if n := testing.AllocsPerRun(5, func() {
			w.replicate(row, b)
			b++
		}); n != 0 {
			t.Errorf("a replicate with the %s key allocates %v times, want never", form, n)
		}
		sets, _ := leaveOut(s.counts)
		if n := testing.AllocsPerRun(5, func() { w.without(row, sets[0]) }); n != 0 {
			t.Errorf("leaving a trip out with the %s key allocates %v times, want never", form, n)
		}
	}
}

// Four trips of one stratum: on age 2 they say 0, ¼, ⅝ and 1 of 800 fish, 375 on average.
// The formula has the variance 4/3 · Σ (200 · (y − 0.46875))² = 175².
func ExampleRun() {
	p := byHand()
	p.Replicates = 4000
	drawn, err := Run(context.Background(), p, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	mean, variance := drawn.moments(2)
	fmt.Printf("mean %.0f, SE %.0f\n", mean, math.Sqrt(variance))
	// Output: mean 375, SE 176
}

// Without the last trip age 2 has (0 + ¼ + ⅝)/3 of 800 fish.
func ExampleJackknife() {
	p := byHand()
	left, err := Jackknife(context.Background(), p, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	row := left.Drawn.Row(left.Row[3])
	fmt.Printf("%.2f\n", p.Counts.Design.Block(row, 0).Numbers()[2])
	// Output: 233.33
}

func BenchmarkReplicate(b *testing.B) {
	s := invent(b, "season")
	row, _, _ := s.blank()
	for _, form := range forms {
		b.Run(form, func(b *testing.B) {
			p := s.problem(b, form)
			w, n := newWork(&p, p.held()), 0
			b.ReportAllocs()
			for b.Loop() {
				w.replicate(row, n)
				n++
			}
		})
	}
}

func BenchmarkRun(b *testing.B) {
	s := invent(b, "season")
	p := s.problem(b, "agreed direct")
	p.Replicates = 100
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Run(context.Background(), p, nil); err != nil {
			b.Fatal(err)
		}
	}
}

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

// What each source of chance moves, and by how much.

func TestRescaledDrawsHaveTheAnalyticVariance(t *testing.T) {
	p := byHand()
	p.Replicates = replicates(20000)
	drawn, err := Run(context.Background(), p, nil)
	if err != nil {
		t.Fatal(err)
	}
	d := &p.Counts.Design
	cells := slices.Repeat([]catch.KeyCell{{ID: -1}}, d.Bins)
	for i, set := range [][]int32{{0}, {1}, {0, 1}} {
		analytic := d.Covariance(set, p.key(), cells).Trips
		for a := range d.Out() {
			mean, variance := drawn.moments(i*d.BlockSize() + a)
			if want := analytic[a*d.Out()+a]; !near(variance, want, p.Replicates) {
				t.Errorf("place %d, age %d: drawn variance %v, by the formula %v", i, a, variance, want)
			}
			point := d.Block(pointOf(p), i).Numbers()[a]
			if se := math.Sqrt(variance / float64(p.Replicates)); math.Abs(mean-point) > 5*se {
				t.Errorf("place %d, age %d: mean of the draws %v, estimate %v", i, a, mean, point)
			}
		}
	}
}

func pointOf(p Problem) []float64 {
	d := &p.Counts.Design
	row := make([]float64, d.Size())
	Point(p, row, make([]float64, d.KeyStrata*d.Bins*d.Ages), make([]key.Source, d.KeyStrata*d.Bins))
	return row
}

// A trip whose fish are of four ages, and donors that say how far such shares scatter as
// those of a Dirichlet of concentration κ do: R_a = (1 − p_a)/(κ p_a). Their replicates have
// the variance N²p_a(1 − p_a)/(κ + 1), which is the declared N²p_a²R_a but for 1/κ of it.
func TestOneTripTakesThePooledVariance(t *testing.T) {
	const concentration = 50
	p := byHand()
	p.Replicates = replicates(20000)
	share := []float64{0.4, 0.3, 0.2, 0.1}
	d, ages := &p.Counts.Design, len(share)
	d.Ages, d.Bins, d.Mid, d.Lengths = ages, ages, make([]float64, ages), share
	q := make([]float64, ages*ages)
	one := catch.Stratum{Number: 1000, Trips: []int32{0}}
	for a, x := range share {
		q[a*ages+a] = 1
		one.Relative = append(one.Relative, (1-x)/(concentration*x))
		one.Wobble = append(one.Wobble, one.Relative[a]/(1-x))
	}
	d.Trips, p.Counts.Trips = []catch.Trip{{Landed: 1, High: ages}}, p.Counts.Trips[:1]
	d.Strata, d.Margins, p.Counts.CV = []catch.Stratum{one}, nil, []float64{0}
	p.Worker = func() key.Worker { return fixed{q} }
	drawn, err := Run(context.Background(), p, nil)
	if err != nil {
		t.Fatal(err)
	}
	declared := d.Covariance([]int32{0}, q, slices.Repeat([]catch.KeyCell{{ID: -1}}, d.Bins)).Trips
	for a, x := range share {
		mean, variance := drawn.moments(a)
		if want := declared[a*ages+a] * concentration / (concentration + 1); !near(variance, want, p.Replicates) {
			t.Errorf("one trip: variance %v at age %d, want %v of the declared %v", variance, a, want, declared[a*ages+a])
		}
		if se := math.Sqrt(variance / float64(p.Replicates)); math.Abs(mean-1000*x) > 5*se {
			t.Errorf("one trip: age %d has the mean %v, want %v", a, mean, 1000*x)
		}
	}
	if mean, variance := drawn.moments(len(drawn.Row(0)) - 1); mean != 1000 || variance != 0 {
		t.Errorf("one trip moves the total catch: mean %v, variance %v", mean, variance)
	}
}

// One trip's mean weight turns a landed weight into fish: its spread between trips, from the
// donors, moves number and formula alike.
func TestOneTripByWeightMovesTheNumber(t *testing.T) {
	const relative = 0.04
	p := byHand()
	p.Replicates = replicates(20000)
	share := []float64{0.6, 0.4}
	d, ages := &p.Counts.Design, len(share)
	d.Ages, d.Bins, d.Mid, d.Lengths, d.Weight = ages, ages, make([]float64, ages), share, []float64{5, 10}
	d.Trips, p.Counts.Trips = []catch.Trip{{Landed: 1, High: ages}}, p.Counts.Trips[:1]
	d.Strata = []catch.Stratum{{WeightKg: 7000, ByWeight: true, Trips: []int32{0}, RelativeNumber: relative, Relative: []float64{0, 0}}}
	d.Margins, p.Counts.CV = nil, []float64{0}
	q := []float64{1, 0, 0, 1}
	p.Worker = func() key.Worker { return fixed{q} }
	drawn, err := Run(context.Background(), p, nil)
	if err != nil {
		t.Fatal(err)
	}
	// By hand: 7000 kg at 0.6·5 + 0.4·10 = 7 kg a fish are 1000 fish, with CV √0.04.
	mean, variance := drawn.moments(d.BlockSize() - 1)
	if want := relative * 1000 * 1000; !near(variance, want, p.Replicates) {
		t.Errorf("the number of fish has the variance %v, want %v", variance, want)
	}
	if se := 200 / math.Sqrt(float64(p.Replicates)); math.Abs(mean-1000) > 5*se {
		t.Errorf("1000 fish are drawn as %v on average", mean)
	}
	declared := d.Covariance([]int32{0}, q, slices.Repeat([]catch.KeyCell{{ID: -1}}, d.Bins)).Trips
	for i, want := range []float64{relative * 600 * 600, relative * 600 * 400, relative * 600 * 400, relative * 400 * 400} {
		if math.Abs(declared[i]-want) > 1e-9*want {
			t.Errorf("the formula's covariance %d is %v, want %v", i, declared[i], want)
		}
	}
}

func TestCatchesTakeTheirCV(t *testing.T) {
	p := byHand()
	p.Replicates, p.Held = replicates(20000), []stream.Source{stream.Trips}
	p.Counts.CV = []float64{0.3, 0}
	drawn, err := Run(context.Background(), p, nil)
	if err != nil {
		t.Fatal(err)
	}
	size := p.Counts.Design.BlockSize()
	mean, variance := drawn.moments(size - 1)
	// A lognormal of mean 1 and CV 0.3 has, for its variance, a kurtosis of about 4.6.
	if want := 0.09 * 800 * 800; !near(variance, want, p.Replicates) {
		t.Errorf("a catch with a CV of 0.3 has the variance %v, want %v", variance, want)
	}
	if se := 240 / math.Sqrt(float64(p.Replicates)); math.Abs(mean-800) > 5*se {
		t.Errorf("a catch of 800 fish is drawn as %v on average", mean)
	}
	if mean, variance := drawn.moments(2*size - 1); mean != 500 || variance != 0 {
		t.Errorf("a catch without a CV is drawn with mean %v and variance %v", mean, variance)
	}
}

func TestStonesOfNoTripAreDrawnAsFish(t *testing.T) {
	s := invent(t, "small")
	p := s.problem(t, "agreed direct")
	p.Held = []stream.Source{stream.Trips, stream.Convert}
	w := newWork(&p, p.held())
	row, _, _ := s.blank()
	draws := replicates(4000)
	sums, squares := make([]float64, len(w.weight)), make([]float64, len(w.weight))
	for b := range draws {
		w.replicate(row, b)
		for i, x := range w.weight {
			r := x / s.counts.Key.Entries[i].Fish
			sums[i] += r
			squares[i] += r * r
		}
		for _, loose := range s.counts.Loose {
			total := 0.0
			for _, stone := range loose {
				for _, i := range stone[1:] {
					a, b := w.weight[i]/s.counts.Key.Entries[i].Fish, w.weight[stone[0]]/s.counts.Key.Entries[stone[0]].Fish
					if math.Abs(a-b) > 1e-12*math.Max(a, b) {
						t.Fatalf("entries of one fish are drawn %v and %v times", a, b)
					}
				}
				total += w.weight[stone[0]] / s.counts.Key.Entries[stone[0]].Fish
			}
			if n := float64(len(loose)); n > 1 && math.Abs(total-n) > 1e-9*n {
				t.Fatalf("%v fish of one place are drawn as %v", n, total)
			}
		}
	}
	// By hand: n − 1 of n times n/(n−1) has the mean 1 and the variance 1 for each fish.
	n, fish, mean, variance := float64(draws), 0.0, 0.0, 0.0
	for i, e := range s.counts.Key.Entries {
		if e.Trip >= 0 {
			if sums[i] != n {
				t.Fatalf("a stone of a trip is drawn with trips held")
			}
			continue
		}
		fish++
		mean += sums[i] / n
		variance += squares[i]/n - 1
	}
	if math.Abs(mean/fish-1) > 0.05 || math.Abs(variance/fish-1) > 0.1 {
		t.Errorf("stones of no trip have the weight %v with variance %v, want 1 and 1", mean/fish, variance/fish)
	}
}

func TestConvertedFishLieInOneBin(t *testing.T) {
	s := invent(t, "small")
	p := s.problem(t, "agreed direct")
	p.Held = []stream.Source{stream.Stones}
	w := newWork(&p, p.held())
	row, _, _ := s.blank()
	entries := s.counts.Key.Entries
	seen := make([]float64, len(entries))
	const draws = 4000 // fewer would hit some bins too rarely for a normal
	for b := range draws {
		w.replicate(row, b)
		for _, run := range s.counts.Spread {
			in, total, fish := 0, 0.0, 0.0
			for i := run.First; i < run.First+run.Len; i++ {
				if w.weight[i] > 0 {
					in++
					seen[i]++
				}
				total += w.weight[i]
				fish += entries[i].Fish
			}
			want := fish
			if t := entries[run.First].Trip; t >= 0 {
				want *= w.trips[t]
			}
			if math.Abs(total-want) > 1e-9 || want > 0 && in != 1 {
				t.Fatalf("a converted fish of weight %v lies in %d bins with %v", want, in, total)
			}
		}
	}
	off := 0.0
	for _, run := range s.counts.Spread {
		fish, times := 0.0, 0.0
		for i := run.First; i < run.First+run.Len; i++ {
			fish += entries[i].Fish
			times += seen[i]
		}
		for i := run.First; i < run.First+run.Len && times > 0; i++ {
			p := entries[i].Fish / fish
			off = math.Max(off, math.Abs(seen[i]/times-p)/math.Sqrt(p*(1-p)/times+1e-12))
		}
	}
	if off > 6 {
		t.Errorf("converted fish lie in a bin %.1f standard errors from its share", off)
	}
}

// A fish whose date is known in part has a run of entries for each age that it may have; its
// length is one all the same.
func TestConvertedFishOfTwoAgesHasOneLength(t *testing.T) {
	p := byHand()
	for _, age := range []int32{1, 2} {
		for bin := range int32(2) {
			p.Counts.Key.Entries = append(p.Counts.Key.Entries, key.Entry{Trip: 0, Bin: bin, Age: age, Pattern: -1, Fish: 0.25})
			p.Counts.Fish = append(p.Counts.Fish, tally.Fish{ID: "QB-1"})
		}
	}
	p.Counts.Spread = []tally.Spread{{First: 0, Len: 2}, {First: 2, Len: 2}}
	p.Held = []stream.Source{stream.Trips}
	w := newWork(&p, p.held())
	row := make([]float64, p.Size())
	first := 0
	for b := range replicates(400) {
		w.replicate(row, b)
		for bin := range 2 {
			if w.weight[bin] != w.weight[2+bin] {
				t.Fatalf("replicate %d has the fish at two lengths: weights %v", b, w.weight)
			}
		}
		if w.weight[0] > 0 {
			first++
		}
	}
	if n := replicates(400); first < n/3 || first > n-n/3 {
		t.Errorf("of %d draws %d lie in the first of two bins alike", n, first)
	}
}

func TestLengthsAreDrawnOnlyWhereDeclared(t *testing.T) {
	p := byHand()
	whole := slices.Clone(p.Counts.Design.Lengths)
	row := make([]float64, p.Counts.Design.Size())
	w := newWork(&p, p.held())
	w.replicate(row, 0)
	if !slices.Equal(w.design.Lengths, whole) {
		t.Error("lengths within trips are drawn without being asked for")
	}
	p.Fish, p.Replicates = true, replicates(20000)
	p.Held = []stream.Source{stream.Trips}
	p.Counts.Trips[3].Measured = 0.4 // a share of one fish: nothing to draw
	drawn, err := Run(context.Background(), p, nil)
	if err != nil {
		t.Fatal(err)
	}
	// By hand: age 1 is all of bin 0 and half of bin 1. Of 20 fish of a trip it has the mean
	// μ = p0 + p1/2 and the variance (p0 + p1/4 − μ²)/20; trips A and D have none.
	//   B: μ 0.75, (0.5 + 0.125 − 0.5625)/20 = 0.003125
	//   C: μ 0.375, (0.25 + 0.0625 − 0.140625)/20 = 0.00859375
	// Each trip is a quarter of 800 fish: 200² · 0.01171875.
	const want = 468.75
	if _, variance := drawn.moments(1); !near(variance, want, p.Replicates) {
		t.Errorf("lengths drawn within trips move age 1 by the variance %v, want %v", variance, want)
	}
	if !slices.Equal(p.Counts.Design.Lengths, whole) {
		t.Error("drawing lengths writes over those of the season")
	}
	for b := range 20 {
		sum := 0.0
		for _, n := range p.Counts.Design.Block(drawn.Row(b), 0).Numbers() {
			sum += n
		}
		if math.Abs(sum-800) > 1e-9 {
			t.Fatalf("with lengths drawn %v of 800 fish have an age", sum)
		}
	}
	plain, held := pointOf(p), p
	held.Fish = false
	if !slices.Equal(plain, pointOf(held)) {
		t.Error("the estimate itself moves when lengths are drawn within trips")
	}
	p.Held = append(p.Held, stream.Fish)
	if drawn, err = Run(context.Background(), p, nil); err != nil {
		t.Fatal(err)
	}
	if _, variance := drawn.moments(1); variance != 0 {
		t.Errorf("with lengths held age 1 has the variance %v", variance)
	}
}

// A trip alone in its group is drawn with an exponential weight, mean 1 and variance 1:
// it moves its stones, and not the shares of its own lengths.
func TestLoneTripIsDrawnByWeight(t *testing.T) {
	p := byHand()
	d := &p.Counts.Design
	d.Trips[6].Group = 2
	p.Counts.Key.Entries = []key.Entry{{Trip: 6, Fish: 3}, {Trip: 0, Fish: 1}}
	w, row := newWork(&p, p.held()), make([]float64, d.Size())
	draws := replicates(20000)
	var weights []float64
	for b := range draws {
		w.replicate(row, b)
		weights = append(weights, w.weight[0]/3)
		if w.weight[0] != 3*w.trips[6] || w.weight[1] != w.trips[0] {
			t.Fatalf("trips drawn %v times bring stones of weight %v", w.trips, w.weight)
		}
	}
	mean, variance := moments(weights)
	if math.Abs(mean-1) > 5/math.Sqrt(float64(draws)) || math.Abs(variance-1) > 5*math.Sqrt(8/float64(draws)) {
		t.Errorf("a lone trip has the weight %v with variance %v, want 1 and 1", mean, variance)
	}
}

package fishery

import (
	"math"
	"testing"

	"earstone/programme/record"
)

// The fish assayed fill a quota by quarter and bin like the aged ones they are of.
func TestAssaysFillAQuota(t *testing.T) {
	s := sized(t, "season")
	e := Invent(s, 71)
	box := func(x *picked) [2]int {
		return [2]int{e.fishery.kinds[e.fishery.strata[x.stratum].kind].quarter, int(x.cm) / s.BinCm}
	}
	aged, assayed, most := map[[2]int]int{}, map[[2]int]int{}, 0
	for i := range e.picked {
		aged[box(&e.picked[i])]++
	}
	for _, i := range e.assayed {
		at := box(&e.picked[i])
		assayed[at]++
		most = max(most, assayed[at])
	}
	for at, there := range aged {
		if got := assayed[at]; got < min(there, most-1) || got > there {
			t.Errorf("of %d aged fish in quarter %d and bin %d, %d are assayed, want the quota of %d or all", there, at[0]+1, at[1], got, most)
		}
	}
	if len(e.assayed) != s.Assayed {
		t.Errorf("%d fish are assayed, want %d", len(e.assayed), s.Assayed)
	}
}

// Year classes that the baseline lacks are as many as set, in each nursery some of its
// own; a nursery without a baseline is in the catch all the same.
func TestBaselineLacksWhatIsSet(t *testing.T) {
	s := sized(t, "season")
	s.UnseenYears = 0.5
	s.Nurseries[1].Baseline = 0
	s.Nurseries[2].Baseline = 3
	e := Invent(s, 72)
	fish := map[string]map[int]int{}
	for _, b := range e.book.Baseline {
		if fish[b.Nursery] == nil {
			fish[b.Nursery] = map[int]int{}
		}
		fish[b.Nursery][b.YearClass]++
	}
	if len(fish) != 2 || len(fish["Upper"]) != 8 || len(fish["Outer"]) != 8 {
		t.Fatalf("the baseline has %d year classes of Upper, %d of Lower and %d of Outer, want 8, 0 and 8 of 16",
			len(fish["Upper"]), len(fish["Lower"]), len(fish["Outer"]))
	}
	alike := true
	for nursery, n := range map[string]int{"Upper": 8, "Outer": 3} {
		for year, got := range fish[nursery] {
			// Ages 1 to 16 of 2031.
			if got != n || year < 2015 || year > 2030 {
				t.Errorf("%s has %d baseline fish of %d, want %d of each year class from 2015 to 2030", nursery, got, year, n)
			}
			_, both := fish["Upper"][year]
			alike = alike && both
		}
	}
	if alike {
		t.Error("both nurseries lack the same year classes")
	}
	lower := 0
	for _, k := range e.TrueNurseries() {
		if k == 1 {
			lower++
		}
	}
	if lower < 500 { // 30 % of 5,000, clustered
		t.Errorf("%d of 5,000 fish come from the nursery that the baseline lacks", lower)
	}
	s.UnseenYears = 1
	if n := s.unseen(); n != 15 {
		t.Errorf("of 16 year classes at most %d are lacking, want 15", n)
	}
}

// chemistry gathers assays by nursery and year class: those of the baseline, or those
// of the catch by the truth.
func chemistry(e *Season, of func(fish record.FishID) (cell int, there bool), cells int) (n []float64, sum, squares [][Tracers]float64, cross []float64) {
	n, cross = make([]float64, cells), make([]float64, cells)
	sum, squares = make([][Tracers]float64, cells), make([][Tracers]float64, cells)
	for i := 0; i < len(e.book.Assays); i += Tracers {
		cell, there := of(e.book.Assays[i].Fish)
		if !there {
			continue
		}
		x := [Tracers]float64{e.book.Assays[i].Value.X, e.book.Assays[i+1].Value.X}
		n[cell]++
		cross[cell] += x[0] * x[1]
		for j := range x {
			sum[cell][j] += x[j]
			squares[cell][j] += x[j] * x[j]
		}
	}
	return n, sum, squares, cross
}

// Assays scatter within a nursery and year class by the SD of its fish and that of the
// assay, and correlate; year-class means scatter around the nursery's mean as set.
func TestTracersVaryAsSet(t *testing.T) {
	s := sized(t, "season")
	s.UnseenYears, s.RunSD, s.Assayed, s.WeighedOnly = 0, 0, 0, 0
	s.Trips, s.MostTrips, s.Lengths, s.Aged, s.Readings = 216, 3, 2_000, 1, 1
	s.AssaySD = [Tracers]float64{0.15, 0.1}
	s.Nurseries[0] = Nursery{Name: "Upper", Share: 0.5, Mean: [2]float64{-8.5, -0.65}, SD: [2]float64{0.3, 0.2}, YearSD: [2]float64{0.2, 0.1}, Correlation: -0.4, Baseline: 20}
	const seeds, years = 60, 16
	within, cross := [Tracers]float64{}, 0.0
	mean, between, together := [Tracers]float64{}, [Tracers]float64{}, 0.0
	for seed := range uint64(seeds) {
		e := New(s, seed).Season(0)
		yearOf := map[record.FishID]int{}
		for _, b := range e.book.Baseline {
			if b.Nursery == "Upper" {
				yearOf[b.Fish] = b.YearClass - 2015
			}
		}
		n, sum, squares, products := chemistry(e, func(fish record.FishID) (int, bool) { y, ok := yearOf[fish]; return y, ok }, years)
		for y := range years {
			if n[y] != 20 {
				t.Fatalf("%v fish of Upper and year class %d are assayed, want 20", n[y], 2015+y)
			}
			off := [Tracers]float64{}
			for j := range Tracers {
				within[j] += (squares[y][j] - sum[y][j]*sum[y][j]/20) / 19 / (seeds * years)
				mean[j] += sum[y][j] / 20 / (seeds * years)
				off[j] = sum[y][j]/20 - s.Nurseries[0].Mean[j]
				between[j] += off[j] * off[j] / (seeds * years)
			}
			cross += (products[y] - sum[y][0]*sum[y][1]/20) / 19 / (seeds * years)
			together += off[0] * off[1] / (seeds * years)
		}
	}
	// 960 year classes of 20 fish: 18,240 df within, relative SE √(2/18,240) = 0.0105, and
	// 960 between, 0.046. Rounding to 0.01 adds 0.000008.
	for j, want := range [Tracers]float64{0.3*0.3 + 0.15*0.15, 0.2*0.2 + 0.1*0.1} {
		if math.Abs(within[j]/want-1) > 0.042 {
			t.Errorf("variance of %s within a year class = %.4f, want %.4f", tracers[j].name, within[j], want)
		}
		sd := s.Nurseries[0].YearSD[j]
		// A mean of 20 fish scatters by a twentieth of that beside.
		if whole := sd*sd + want/20; math.Abs(between[j]/whole-1) > 0.184 {
			t.Errorf("variance of %s between year classes = %.5f, want %.5f", tracers[j].name, between[j], whole)
		}
		if off := mean[j] - s.Nurseries[0].Mean[j]; math.Abs(off) > 4*0.22/math.Sqrt(seeds*years) {
			t.Errorf("mean %s of Upper is off by %.4f", tracers[j].name, off)
		}
	}
	// By hand: −0.4·0.3·0.2 = −0.024 within; −0.4·0.2·0.1 and a twentieth of that = −0.0092 between.
	if math.Abs(cross+0.024) > 0.0025 || math.Abs(together+0.0092) > 0.0035 {
		t.Errorf("covariances within and between year classes = %.4f and %.4f, want −0.024 and −0.0092", cross, together)
	}
}

// Fish of the catch have the chemistry of their nursery and year class, the same as the
// baseline of it.
func TestCatchIsLikeItsBaseline(t *testing.T) {
	s := sized(t, "small")
	s.Assayed, s.UnseenYears, s.TripNursery = 600, 0, 0
	s.Nurseries[0].YearSD, s.Nurseries[1].YearSD = [2]float64{0.5, 0.5}, [2]float64{0.5, 0.5}
	s.Nurseries[0].Baseline, s.Nurseries[1].Baseline = 40, 40
	f := New(s, 73)
	x2, df := 0.0, 0.0
	for b := range 5 {
		e := f.Season(b)
		years := s.cohorts()
		caught, known := map[record.FishID]int{}, map[record.FishID]int{}
		for _, i := range e.assayed {
			caught[e.book.Fish[i].Fish] = int(e.nursery[i])*years + f.cohort(&e.picked[i])
		}
		for _, base := range e.book.Baseline {
			k := 0
			if base.Nursery == s.Nurseries[1].Name {
				k = 1
			}
			known[base.Fish] = k*years + base.YearClass - s.yearClass(0)
		}
		n, sum, _, _ := chemistry(e, func(fish record.FishID) (int, bool) { c, ok := caught[fish]; return c, ok }, 2*years)
		m, base, _, _ := chemistry(e, func(fish record.FishID) (int, bool) { c, ok := known[fish]; return c, ok }, 2*years)
		for cell := range n {
			for j := range Tracers {
				if n[cell] > 0 && m[cell] > 0 {
					sd := math.Hypot(math.Hypot(s.Nurseries[0].SD[j], s.AssaySD[j]), s.RunSD)
					off := sum[cell][j]/n[cell] - base[cell][j]/m[cell]
					x2 += off * off / (sd * sd * (1/n[cell] + 1/m[cell]))
					df++
				}
			}
		}
	}
	if x2 > df+4*math.Sqrt(2*df) || x2 < df-4*math.Sqrt(2*df) || df < 200 {
		t.Errorf("means of catch and baseline by nursery, year class and tracer differ: χ² = %.1f on %.0f df", x2, df)
	}
}

// Runs read the reference materials as expected within their error; one that drifts reads
// ever higher, samples and reference materials alike.
func TestRunsDriftAsSet(t *testing.T) {
	s := sized(t, "season")
	s.DriftingRuns, s.RunDrift, s.AssaySD, s.RunSD = 3, 2, [Tracers]float64{}, 0.05
	with := Invent(s, 74)
	s.DriftingRuns = 0
	without := Invent(s, 74)
	drifting, square, runs := map[string]bool{}, 0.0, 0.0
	for i, r := range with.book.Standards {
		place := i % 12 / 4 // the start, the middle and the end of its run
		off, plain := r.Value.X-r.Expected.X, without.book.Standards[i].Value.X-r.Expected.X
		drift := off - plain
		if math.Abs(drift) > 0.001 {
			drifting[r.Run] = true
			if math.Abs(drift-float64(place)) > 0.001 {
				t.Errorf("run %s reads %s too high by %.3f at place %d, want 0, 1 and 2", r.Run, r.Material, drift, place)
			}
		}
		if i%12 < 2 { // one offset a tracer and run
			square, runs = square+plain*plain, runs+1
		}
	}
	if len(drifting) != 3 {
		t.Errorf("%d runs drift, want 3", len(drifting))
	}
	// 18 runs of two tracers: relative SE of the SD 1/√72 = 0.12.
	if sd := math.Sqrt(square / runs); math.Abs(sd/0.05-1) > 0.47 || runs != 36 {
		t.Errorf("offsets of %v runs and tracers scatter by %.3f, want 0.05 of 36", runs, sd)
	}
	sum, n := 0.0, 0.0
	for i, a := range with.book.Assays {
		drift := a.Value.X - without.book.Assays[i].Value.X
		if !drifting[a.Run] && math.Abs(drift) > 0.001 {
			t.Errorf("the assay of %s drifts by %.3f in run %s, which does not drift", a.Fish, drift, a.Run)
		}
		if drifting[a.Run] {
			sum, n = sum+drift, n+1
			if drift < -0.001 || drift > 2.001 {
				t.Errorf("the assay of %s drifts by %.3f, want 0 to 2", a.Fish, drift)
			}
		}
	}
	if math.Abs(sum/n-1) > 0.005 {
		t.Errorf("assays in drifting runs are too high by %.3f in the mean, want half of 2", sum/n)
	}
}

package fishery

import (
	"math"
	"testing"

	"earstone/programme/strata"
)

func sized(t testing.TB, size string) Settings {
	t.Helper()
	s, err := Sized(size)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestTruthSumsToTheCatch(t *testing.T) {
	for _, size := range []string{"small", "season", "decade"} {
		truth := New(sized(t, size), 5).Truth()
		for i, cell := range truth.Strata {
			sum := 0.0
			for _, n := range truth.CatchAtAge[i*truth.Ages : (i+1)*truth.Ages] {
				sum += n
			}
			if math.Abs(sum-truth.Number[i]) > 1e-9*truth.Number[i] {
				t.Errorf("catch at age of %v sums to %v, want %v", cell, sum, truth.Number[i])
			}
		}
		all, caught := 0.0, 0.0
		for _, n := range truth.Total(All) {
			all += n
		}
		for _, n := range truth.Number {
			caught += n
		}
		if math.Abs(all-caught) > 1e-9*caught {
			t.Errorf("catch at age of a %s sums to %v, want %v", size, all, caught)
		}
	}
}

// The closed form of the truth against a sum of its own: shares at age of a stratum by
// numbers in the sea, lengths and selection, cm by cm.
func TestSharesAtAgeAreTheSelectedFish(t *testing.T) {
	s := sized(t, "season")
	f := New(s, 5)
	st := &f.strata[30]
	of := f.kinds[st.kind]
	bank, gear := s.Banks[of.bank], s.Gears[of.gear]
	// Shares of two ages in the catch over those in the sea are as their selection. In the
	// sea they stand as in a stratum of the same year and quarter elsewhere.
	other := &f.strata[28]
	elsewhere := f.kinds[other.kind]
	if elsewhere.quarter != of.quarter || st.cell == other.cell {
		t.Fatalf("%v and %v are not two strata of one quarter", st.cell, other.cell)
	}
	seen := func(age int, b Bank, g Gear) float64 {
		mean := s.lengthAt(age, of.quarter, of.bank)
		sd, sum, whole := s.LengthCV*mean, 0.0, 0.0
		for cm := 1; cm < 400; cm++ {
			// The area of a narrow normal by Simpson's rule over the cm.
			density := func(x float64) float64 { z := (x - mean) / sd; return math.Exp(-z * z / 2) }
			in := (density(float64(cm)) + 4*density(float64(cm)+0.5) + density(float64(cm)+1)) / 6
			bin := float64(cm/5*5) + 2.5
			rise := 1 / (1 + math.Exp((g.RiseCm-bin)/g.RiseSlopeCm))
			fall := 1.0
			if g.FallSlopeCm > 0 {
				fall = 1 / (1 + math.Exp((bin-g.FallCm)/g.FallSlopeCm))
			}
			sum += in * rise * fall * math.Exp(b.Tilt*(bin-150)/100)
			whole += in
		}
		return sum / whole
	}
	for a := 2; a <= s.OldestAge; a++ {
		got := st.share[a-1] / st.share[0] / (other.share[a-1] / other.share[0])
		want := seen(a, bank, gear) / seen(1, bank, gear) /
			(seen(a, s.Banks[elsewhere.bank], s.Gears[elsewhere.gear]) / seen(1, s.Banks[elsewhere.bank], s.Gears[elsewhere.gear]))
		// The truth cuts the normal at five SD, Simpson's rule errs by a part in 10⁵ at age 1.
		if math.Abs(got-want) > 1e-3*want {
			t.Errorf("age %d over age 1 in %v against %v = %v, want %v", a, st.cell, other.cell, got, want)
		}
	}
}

// Cohorts pass through the years: in the sea next year's age a + 1 is this year's age a
// less its deaths, strong cohorts and weak ones alike.
func TestCohortsPassThroughTheYears(t *testing.T) {
	s := sized(t, "decade")
	f := New(s, 5)
	selected := f.selected()
	inYear := len(f.kinds)
	for y := range s.Years - 1 {
		now, next := &f.strata[y*inYear], &f.strata[(y+1)*inYear] // one kind, so one selection
		for a := range s.OldestAge - 2 {
			got := next.share[a+1] / next.share[a+2] * (now.share[a+1] / now.share[a])
			k := &f.kinds[now.kind]
			die := func(a int) float64 { return s.NaturalMortality + s.FishingMortality*selected[a] }
			// In the middle of a quarter the deaths of the first half quarter have come as well.
			half := (float64(k.quarter) + 0.5) / 4
			level := func(a int) float64 { return math.Exp(-die(a)*half) * k.sizes[a].caught }
			want := math.Exp(-die(a)+die(a+1)) * level(a+1) / level(a+2) * level(a+1) / level(a)
			if math.Abs(got-want) > 1e-9*want {
				t.Fatalf("from %d the cohorts of ages %d and %d do not pass on: %v, want %v", s.FirstYear+y, a+1, a+2, got, want)
			}
		}
	}
}

// A key pooled over strata is right: the true key of each stratum of a quarter is the
// same, unless areas differ in growth.
func TestOneKeyServesAllStrataOfAQuarter(t *testing.T) {
	s := sized(t, "season")
	if worst := keysApart(New(s, 6)); worst > 1e-9 {
		t.Errorf("keys of two strata of a quarter differ by %v, want one key", worst)
	}
	s.AreaEffect = 0.05
	if worst := keysApart(New(s, 6)); worst < 0.1 {
		t.Errorf("with growth 5 %% up and down the keys of two strata differ by %v at most, want a difference", worst)
	}
}

// keysApart is the largest difference of q between strata of one quarter, in bins that
// are not the far tail of either.
func keysApart(f *Fishery) (worst float64) {
	truth := f.Truth()
	only := func(cell strata.Cell) func(strata.Cell) bool {
		return func(c strata.Cell) bool { return c == cell }
	}
	byQuarter := map[int16][2][]float64{}
	for _, cell := range truth.Strata {
		q, lengths := truth.Key(5, only(cell))
		first, there := byQuarter[cell.Quarter]
		if !there {
			byQuarter[cell.Quarter] = [2][]float64{q, lengths}
			continue
		}
		total := 0.0
		for _, n := range lengths {
			total += n
		}
		for bin := range min(len(lengths), len(first[1])) {
			if lengths[bin] < 1e-6*total || first[1][bin] == 0 {
				continue
			}
			for a := range truth.Ages {
				worst = max(worst, math.Abs(q[bin*truth.Ages+a]-first[0][bin*truth.Ages+a]))
			}
		}
	}
	return worst
}

// Catch at age is the lengths of the catch through its key, and the mean lengths are
// those of the curve where nothing selects.
func TestTruthHangsTogether(t *testing.T) {
	s := sized(t, "season")
	s.Gears = []Gear{{Name: "line"}}
	s.Banks = []Bank{{"Quarrow", 0, 1}, {"Skell", 0, 1}}
	s.Trips, s.MostTrips = 40, 12
	truth := New(s, 8).Truth()
	q, lengths := truth.Key(5, All)
	want := truth.Total(All)
	for a := range truth.Ages {
		got := 0.0
		for bin, n := range lengths {
			got += n * q[bin*truth.Ages+a]
		}
		if math.Abs(got-want[a]) > 1e-9*(want[a]+1) {
			t.Errorf("catch of age %d through the key = %v, want %v", a, got, want[a])
		}
	}
	second := func(c strata.Cell) bool { return c.Quarter == 2 }
	for a := 1; a < s.PlusGroup; a++ {
		// By hand: the quarter has 91 days, its middle is 45.5 days after 1 April and 15.5 days
		// before 1 June. At age 5 the curve gives 290·(1 − e^(−0.11·5.9576)) = 139.4 cm.
		got, known := truth.MeanLength(a, second)
		want := 290 * (1 - math.Exp(-0.11*(float64(a)+1-15.5/365.25)))
		if !known || math.Abs(got-want) > 0.01 {
			t.Errorf("mean length at age %d in the second quarter = %.3f, want %.3f", a, got, want)
		}
	}
	if _, known := truth.MeanLength(0, All); known {
		t.Error("fish of age 0 have a mean length, want none caught")
	}
}

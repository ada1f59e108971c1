package fishery

import (
	"fmt"
	"math"
	"testing"

	"earstone/programme/strata"
)

// shared is a season of nurseries with shares far apart and nothing that moves them.
func shared(t testing.TB) Settings {
	t.Helper()
	s := sized(t, "season")
	s.ShareSpread = 0
	s.Nurseries[0].Share, s.Nurseries[1].Share, s.Nurseries[2].Share = 0.5, 0.48, 0.02
	return s
}

func TestCatchByNurserySumsToTheCatch(t *testing.T) {
	for _, size := range []string{"small", "season", "decade"} {
		truth := New(sized(t, size), 5).Truth()
		n := len(truth.Nurseries)
		if want := map[string]int{"small": 2, "season": 3, "decade": 3}[size]; n != want || truth.Nurseries[1] != "Lower" {
			t.Fatalf("a %s has the nurseries %v, want %d", size, truth.Nurseries, want)
		}
		for i, caught := range truth.CatchAtAge {
			sum := 0.0
			for _, x := range truth.CatchByNursery[i*n : (i+1)*n] {
				sum += x
			}
			if math.Abs(sum-caught) > 1e-9*caught {
				t.Errorf("catch by nursery of value %d of a %s sums to %v, want %v", i, size, sum, caught)
			}
		}
		total, shares := truth.Total(All), truth.Shares(All)
		whole := truth.Composition(All)
		for a, at := range total {
			sum := 0.0
			for k := range n {
				sum += shares[a*n+k]
				whole[k] -= shares[a*n+k] * at / sumOf(total)
			}
			if want := min(at, 1); math.Abs(sum-want) > 1e-12 {
				t.Errorf("shares at age %d of a %s sum to %v, want %v", a, size, sum, want)
			}
		}
		for k, rest := range whole {
			if math.Abs(rest) > 1e-12 {
				t.Errorf("the share of %s in a %s is off the mean over ages by %v", truth.Nurseries[k], size, rest)
			}
		}
		if truth.Composition(func(strata.Cell) bool { return false }) != nil {
			t.Error("nothing caught has a composition")
		}
	}
}

func sumOf(x []float64) (sum float64) {
	for _, v := range x {
		sum += v
	}
	return sum
}

func TestWithoutNurseriesThereIsNoOrigin(t *testing.T) {
	s := sized(t, "small")
	s.Nurseries, s.Assayed = nil, 0
	e := Invent(s, 5)
	truth := e.Truth()
	if len(truth.CatchByNursery) != 0 || truth.Composition(All) != nil || len(truth.Shares(All)) != 0 ||
		len(e.TrueNurseries()) != 0 || len(e.book.Assays) != 0 || len(e.book.Baseline) != 0 || len(e.book.Standards) != 0 {
		t.Errorf("with no nurseries there are shares %v, %d assays and %d baseline fish", truth.Shares(All), len(e.book.Assays), len(e.book.Baseline))
	}
}

// With no spread and no tilt each cohort has the shares of the settings at each bank.
func TestSharesAreThoseOfTheSettings(t *testing.T) {
	s := shared(t)
	truth := New(s, 5).Truth()
	for i, cell := range truth.Strata {
		shares := truth.Shares(func(c strata.Cell) bool { return c == cell })
		for a := 1; a < truth.Ages; a++ {
			for k, n := range s.Nurseries {
				if got := shares[a*3+k]; math.Abs(got-n.Share) > 1e-12 {
					t.Fatalf("the share of %s at age %d of stratum %d = %v, want %v", n.Name, a, i, got, n.Share)
				}
			}
		}
	}
	// By hand: of six banks the first has spot −1 and the fourth 0.2, so that the log odds of
	// Outer against Upper are ln(0.02/0.5) plus −0.8 and 0.16; Lower stands in the middle.
	s.BankTilt = 0.8
	o := New(s, 5).origins
	for _, x := range []struct {
		bank int
		tilt float64
	}{{0, -0.8}, {3, 0.16}, {5, 0.8}} {
		row := o.of(x.bank, 7)
		outer, lower := math.Log(row[2]/row[0])-math.Log(0.02/0.5), math.Log(row[1]/row[0])-math.Log(0.48/0.5)
		if math.Abs(outer-x.tilt) > 1e-12 || math.Abs(lower-x.tilt/2) > 1e-12 || math.Abs(sumOf(row)-1) > 1e-12 {
			t.Errorf("at bank %d the log odds of Outer and Lower against Upper are tilted by %v and %v, want %v and half of it", x.bank, outer, lower, x.tilt)
		}
	}
}

// The log odds of two nurseries walk with the spread and the memory of the settings:
// theirs are differences of two walks, of variance 2·0.5² in every cohort and with the
// correlation 0.8 of one cohort to the next.
func TestSharesWalkAsSet(t *testing.T) {
	s := sized(t, "small")
	s.ShareSpread, s.ShareMemory = 0.5, 0.8
	const seeds = 4_000
	first, last, cross, next := 0.0, 0.0, 0.0, 0.0
	odds := func(row []float64) float64 { return math.Log(row[1]/row[0]) - math.Log(0.4/0.6) }
	for seed := range uint64(seeds) {
		draw := (&Fishery{seed: seed}).stream(ofTruth, forOrigins, 0)
		o := newOrigins(&s, &draw)
		w, v, z := odds(o.of(0, 0)), odds(o.of(0, 1)), odds(o.of(1, o.cohorts-1))
		first, last, cross, next = first+w*w/seeds, last+z*z/seeds, cross+w*v/seeds, next+v*v/seeds
	}
	// SE of a variance of 0.5 from 4,000 normals: 0.5·√(2/4,000) = 0.011; of the correlation (1 − 0.8²)/√4,000 = 0.006.
	if r := cross / math.Sqrt(first*next); math.Abs(first-0.5) > 0.045 || math.Abs(last-0.5) > 0.045 || math.Abs(r-0.8) > 0.024 {
		t.Errorf("log odds of the first and last cohort have variances %.3f and %.3f, and correlate with the next by %.3f; want 0.5, 0.5 and 0.8", first, last, r)
	}
}

// school puts n fish of one age into each trip of the first stratum.
func school(f *Fishery, trips, n int, age uint8) []picked {
	all := make([]picked, 0, trips*n)
	for i := range trips {
		for range n {
			all = append(all, picked{fish: fish{trip: int32(i), cm: 150, age: age}})
		}
	}
	return all
}

// Fish of one trip and age are of one nursery more often than others, by as much as is
// set for a nursery of 2 % as for one of half; over trips the shares are the truth.
func TestFishOfATripShareNurseriesAsSet(t *testing.T) {
	s := shared(t)
	const trips, n = 20_000, 10
	for _, rho := range []float64{0, 0.1, 0.3} {
		s.TripNursery = rho
		f := New(s, 9)
		got := f.growUp(0, school(f, trips, n, 5))
		for k, nursery := range s.Nurseries {
			var l likeness
			for i := range trips {
				there := 0.0
				for _, g := range got[i*n : (i+1)*n] {
					if int(g) == k {
						there++
					}
				}
				l.add(n, there, there)
			}
			p := nursery.Share
			// A trip's share has variance p(1−p)(ρ + (1−ρ)/n); 4 SE of its mean. The correlation of a
			// share of 0.02 rests on some 400 schools: SE about ρ/√400 + √(2/20,000)/10.
			mean, tol := l.sum/l.fish, 4*math.Sqrt(p*(1-p)*(rho+(1-rho)/n)/trips)
			if math.Abs(mean-p) > tol {
				t.Errorf("with a correlation of %v the share of %s over trips = %.4f, want %.4f ± %.4f", rho, nursery.Name, mean, p, tol)
			}
			if r := l.correlation(); math.Abs(r-rho) > 4*(rho/math.Sqrt(trips*p)+0.001) {
				t.Errorf("fish of a trip correlate in being of %s by %.4f, want %.2f", nursery.Name, r, rho)
			}
		}
	}
}

// The nurseries of the aged fish of many seasons, by age, against the truth. Shares
// within a bank depend on the age alone, so that picking by length does not matter.
func TestAgedFishComeFromTheTrueNurseries(t *testing.T) {
	s := sized(t, "small")
	s.ShareSpread, s.BankTilt, s.StonesWithoutTrip = 1, 1, 0.3
	f := New(s, 46)
	const seasons = 400
	K := len(s.Nurseries)
	z := newScores(2*(s.OldestAge+1), "nurseries")
	z.n = seasons
	seen := make([]int, 2*(s.OldestAge+1))
	fish, upper := make([]float64, len(seen)), make([]float64, len(seen))
	for b := range seasons {
		clear(fish)
		clear(upper)
		e := f.drawSeason(b)
		for i, x := range e.picked {
			at := f.kinds[f.strata[x.stratum].kind].bank*(s.OldestAge+1) + int(x.age)
			fish[at]++
			if e.nursery[i] == 0 {
				upper[at]++
			}
		}
		for at, n := range fish {
			if n > 0 {
				seen[at]++
				z.add(at, upper[at]/n)
			}
		}
	}
	for at, n := range seen {
		bank, age := at/(s.OldestAge+1), at%(s.OldestAge+1)
		if n < seasons {
			continue
		}
		want := f.origins.of(bank, s.cohortOf(0, age))
		if len(want) != K {
			t.Fatalf("a cohort has %d shares, want %d", len(want), K)
		}
		z.compare(at, want[0], fmt.Sprintf("share of Upper at age %d of %s", age, s.Banks[bank].Name))
	}
	z.report(t)
}

// What is new draws from streams of its own: trips, fish, stones and readings are the
// same with it and without.
func TestNurseriesAlterNothingElse(t *testing.T) {
	with := varied(t)
	without := with
	without.Nurseries, without.Assayed, without.WeighedOnly, without.DriftingRuns, without.KnownAges = nil, 0, 0, 0, 0
	a, b := Invent(with, 23), Invent(without, 23)
	n := len(b.book.Fish)
	if n != with.Aged {
		t.Fatalf("%d fish have cards where nothing is assayed or weighed only, want %d", n, with.Aged)
	}
	for _, x := range []struct{ what, with, without string }{
		{"trips", fmt.Sprint(a.book.Trips), fmt.Sprint(b.book.Trips)},
		{"lengths", fmt.Sprint(a.rows), fmt.Sprint(b.rows)},
		{"fish", fmt.Sprint(a.book.Fish[:n]), fmt.Sprint(b.book.Fish)},
		{"stones", fmt.Sprint(a.book.Stones[:n]), fmt.Sprint(b.book.Stones)},
		{"readings", fmt.Sprint(a.book.Readings), fmt.Sprint(b.book.Readings)},
		{"catch at age", fmt.Sprint(a.Truth().CatchAtAge), fmt.Sprint(b.Truth().CatchAtAge)},
	} {
		if x.with != x.without {
			t.Errorf("%s are others where nurseries are known", x.what)
		}
	}
}

// By hand: with nothing that selects, all ages die at 0.15 + 0.15; at age 5.2 the curve
// gives 290·(1 − e^(−0.11·6.2)) = 290·(1 − 0.505605) = 143.375 cm.
func TestTruthOfGrowthAndMortality(t *testing.T) {
	s := sized(t, "season")
	if got := s.LengthAt(5.2); math.Abs(got-143.375) > 0.0005 {
		t.Errorf("length at 5.2 years = %.4f, want 143.375", got)
	}
	seen := New(s, 5).Truth().Mortality
	s.Gears = []Gear{{Name: "line"}}
	s.Banks = []Bank{{"Quarrow", 0, 1}, {"Skell", 0, 1}}
	s.Trips = 40
	flat := New(s, 5).Truth().Mortality
	if len(seen) != s.OldestAge+1 || len(flat) != s.OldestAge+1 || seen[0] != 0 {
		t.Fatalf("mortality has %d ages from %v on, want %d from 0 on", len(seen), seen[0], s.OldestAge+1)
	}
	for a := 1; a <= s.OldestAge; a++ {
		if math.Abs(flat[a]-0.3) > 1e-12 {
			t.Errorf("where nothing selects, mortality at age %d = %v, want 0.3", a, flat[a])
		}
		if seen[a] <= s.NaturalMortality {
			t.Errorf("mortality at age %d = %v, want more than the natural %v", a, seen[a], s.NaturalMortality)
		}
	}
}

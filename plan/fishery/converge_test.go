package fishery

import (
	"fmt"
	"math"
	"testing"

	"earstone/programme/strata"
)

// scores collects means with their Monte Carlo error and holds them against the truth.
type scores struct {
	n               int
	sum, squares    []float64
	worst, meanSq   float64
	compared        int
	worstOf, extent string
}

func newScores(n int, extent string) *scores {
	return &scores{sum: make([]float64, n), squares: make([]float64, n), extent: extent}
}

func (z *scores) add(i int, x float64) { z.sum[i] += x; z.squares[i] += x * x }

func (z *scores) compare(i int, want float64, of string) {
	n := float64(z.n)
	mean := z.sum[i] / n
	se := math.Sqrt((z.squares[i]/n - mean*mean) / (n - 1))
	score := (mean - want) / se
	z.compared++
	z.meanSq += score * score
	if math.Abs(score) > math.Abs(z.worst) {
		z.worst, z.worstOf = score, fmt.Sprintf("%s: mean %v, truth %v, SE %v", of, mean, want, se)
	}
}

// report asks that no score is wild (of 200 normals one passes 4.5 in about one run of
// 700) and that they are of unit size all together: the mean square of n independent
// normals has SE √(2/n), and those of one stratum hang together, so 0.4 is granted on top.
func (z *scores) report(t *testing.T) {
	t.Helper()
	z.meanSq /= float64(z.compared)
	if math.Abs(z.worst) > 4.5 {
		t.Errorf("%s: %.1f standard errors from the truth: %s", z.extent, z.worst, z.worstOf)
	}
	if off := 0.4 + 4*math.Sqrt(2/float64(z.compared)); math.Abs(z.meanSq-1) > off || z.compared < 10 {
		t.Errorf("%s: %d squared scores average %.2f, want about 1", z.extent, z.compared, z.meanSq)
	}
}

// Trips weighted by their landed numbers average to the shares at age of the stratum,
// and their lengths to its lengths.
func TestTripsAverageToTheTruth(t *testing.T) {
	s := sized(t, "small")
	f := New(s, 41)
	truth := f.Truth()
	const seasons = 1_500
	ages, cms := s.OldestAge+1, 60
	shares := newScores(len(f.strata)*ages, "shares at age")
	lengths := newScores(len(f.strata)*cms, "shares at length")
	shares.n, lengths.n = seasons, seasons
	d := f.newDeck()
	byAge, byBin := make([]float64, len(f.strata)*ages), make([]float64, len(f.strata)*cms)
	landed := make([]float64, len(f.strata))
	for b := range seasons {
		clear(byAge)
		clear(byBin)
		clear(landed)
		for i, trip := range f.planTrips(b) {
			draw, st := f.stream(b, forTrip, i), int(trip.stratum)
			f.draw(d, &draw, i, &f.strata[st], int(trip.measured))
			landed[st] += trip.landed
			for _, x := range d.fish {
				byAge[st*ages+int(x.age)] += trip.landed / float64(trip.measured)
				byBin[st*cms+int(x.cm)/10] += trip.landed / float64(trip.measured)
			}
		}
		for st, n := range landed {
			for a := range ages {
				shares.add(st*ages+a, byAge[st*ages+a]/n)
			}
			for l := range cms {
				lengths.add(st*cms+l, byBin[st*cms+l]/n)
			}
		}
	}
	for st := range f.strata {
		cell := f.strata[st].cell
		for a, p := range f.strata[st].share {
			if p > 0.005 {
				shares.compare(st*ages+a+1, p, fmt.Sprintf("age %d of %v", a+1, cell))
			}
		}
		_, want := truth.Key(10, func(c strata.Cell) bool { return c == cell })
		for l, n := range want {
			if p := n / truth.Number[st]; p > 0.005 {
				lengths.compare(st*cms+l, p, fmt.Sprintf("%d cm of %v", 10*l, cell))
			}
		}
	}
	shares.report(t)
	lengths.report(t)
}

// The stones picked by bin show the true key of their quarter: the picking leans to no
// trip and no age.
func TestStonesShowTheKey(t *testing.T) {
	s := sized(t, "season")
	f := New(s, 42)
	truth := f.Truth()
	const seasons = 100
	bins := 80
	z := newScores(4*bins*truth.Ages, "key")
	z.n = seasons
	there := make([]int, 4*bins) // seasons with stones in the bin
	fish, byAge := make([]float64, 4*bins), make([]float64, 4*bins*truth.Ages)
	for b := range seasons {
		clear(fish)
		clear(byAge)
		for _, x := range f.drawSeason(b).picked {
			box := f.kinds[f.strata[x.stratum].kind].quarter*bins + int(x.cm)/s.BinCm
			fish[box]++
			byAge[box*truth.Ages+truth.column(int(x.age)-1)]++
		}
		for box, n := range fish {
			if n == 0 {
				continue
			}
			there[box]++
			for a := range truth.Ages {
				z.add(box*truth.Ages+a, byAge[box*truth.Ages+a]/n)
			}
		}
	}
	for quarter := range 4 {
		q, _ := truth.Key(s.BinCm, func(c strata.Cell) bool { return int(c.Quarter) == quarter+1 })
		for bin := range len(q) / truth.Ages {
			for a := range truth.Ages {
				if p := q[bin*truth.Ages+a]; there[quarter*bins+bin] == seasons && p > 0.05 && p < 0.95 {
					z.compare((quarter*bins+bin)*truth.Ages+a, p, fmt.Sprintf("age %d at %d cm in quarter %d", a, bin*s.BinCm, quarter+1))
				}
			}
		}
	}
	z.report(t)
}

// Stones are not in proportion to the catch: no bin of a quarter has more than the
// quota, and the quota is met wherever so many fish were measured.
func TestStonesFillAQuota(t *testing.T) {
	s := sized(t, "season")
	e := Invent(s, 43)
	measured, taken := map[[2]int]int{}, map[[2]int]int{}
	box := func(stratum int32, cm int16) [2]int {
		return [2]int{int(e.fishery.strata[stratum].cell.Quarter), int(cm) / s.BinCm}
	}
	for _, row := range e.rows {
		measured[box(e.trips[row.trip].stratum, row.cm)] += int(row.count)
	}
	most := 0
	for _, x := range e.picked {
		taken[box(x.stratum, x.cm)]++
		most = max(most, taken[box(x.stratum, x.cm)])
	}
	for at, there := range measured {
		if got := taken[at]; got < min(there, most-1) || got > there {
			t.Errorf("of %d fish in quarter %d and bin %d, %d were picked, want the quota of %d or all", there, at[0], at[1], got, most)
		}
	}
}

// Fish of no trip are a random sample of the catch of their year, alone in their trip.
func TestStraysAreOfTheWholeCatch(t *testing.T) {
	s := sized(t, "small")
	s.StonesWithoutTrip = 1
	f := New(s, 44)
	truth := f.Truth()
	const seasons = 200
	z := newScores(truth.Ages, "strays")
	z.n = seasons
	for b := range seasons {
		e := f.drawSeason(b)
		n := make([]float64, truth.Ages)
		for _, x := range e.picked {
			if x.trip != -1 {
				t.Fatal("a fish of no trip has one")
			}
			n[truth.column(int(x.age)-1)] += 1 / float64(len(e.picked))
		}
		for a, share := range n {
			z.add(a, share)
		}
	}
	caught := 0.0
	for _, n := range truth.Number {
		caught += n
	}
	for a, n := range truth.Total(All) {
		if n > 0 {
			z.compare(a, n/caught, fmt.Sprintf("age %d", a))
		}
	}
	z.report(t)
}

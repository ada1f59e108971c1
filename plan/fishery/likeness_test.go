package fishery

import (
	"math"
	"testing"
)

// likeness adds up the analysis of variance of groups: the share of the variance that
// fish of a group have in common, ρ = (MSB − MSW)/(MSB + (n₀ − 1) MSW).
type likeness struct {
	groups                  int
	fish, squared           float64 // Σ n, Σ n²
	sum, squares, withinSum float64 // Σ x, Σ x², Σ (Σ x)²/n
}

func (l *likeness) add(n, sum, squares float64) {
	if n == 0 {
		return
	}
	l.groups++
	l.fish += n
	l.squared += n * n
	l.sum += sum
	l.squares += squares
	l.withinSum += sum * sum / n
}

// parts are the sums of squares between and within, their degrees of freedom and n₀.
func (l *likeness) parts() (between, within, dfBetween, dfWithin, n0 float64) {
	k := float64(l.groups)
	between = l.withinSum - l.sum*l.sum/l.fish
	within = l.squares - l.withinSum
	n0 = (l.fish - l.squared/l.fish) / (k - 1)
	return between, within, k - 1, l.fish - k, n0
}

func (l *likeness) correlation() float64 {
	between, within, dfBetween, dfWithin, n0 := l.parts()
	msb, msw := between/dfBetween, within/dfWithin
	return (msb - msw) / (msb + (n0-1)*msw)
}

// likenesses are the correlations within trips of one stratum of length, and of age
// among fish of one length bin, averaged over bins by their fish.
func likenesses(t *testing.T, s Settings, trips, fish int) (length, ageAtLength float64) {
	t.Helper()
	f := New(s, 7)
	d := f.newDeck()
	st := &f.strata[0]
	var lengths likeness
	byBin := make([]likeness, len(d.cms)/s.BinCm+1)
	for i := range trips {
		draw := f.stream(0, forTrip, i)
		f.draw(d, &draw, i, st, fish)
		n, sum, squares := 0.0, 0.0, 0.0
		bins := make([][3]float64, len(byBin))
		for _, x := range d.fish {
			cm, age := float64(x.cm), float64(x.age)
			n, sum, squares = n+1, sum+cm, squares+cm*cm
			b := &bins[int(x.cm)/s.BinCm]
			b[0], b[1], b[2] = b[0]+1, b[1]+age, b[2]+age*age
		}
		lengths.add(n, sum, squares)
		for i, b := range bins {
			byBin[i].add(b[0], b[1], b[2])
		}
	}
	fishes := 0.0
	for i := range byBin {
		l := &byBin[i]
		if l.groups > 1 && l.fish > 2*float64(l.groups) {
			if r := l.correlation(); !math.IsNaN(r) { // one age only in the bin
				ageAtLength += l.fish * r
				fishes += l.fish
			}
		}
	}
	return lengths.correlation(), ageAtLength / fishes
}

// Fish of one trip shall share about a tenth of the variance of length, and of age among
// fish of one length: the clusters that intervals have to allow for (methods, section 10).
func TestFishOfATripAreAlikeAsPromised(t *testing.T) {
	s := sized(t, "season")
	length, age := likenesses(t, s, 2_000, 400)
	// 2,000 trips give a correlation of 0.1 a standard error of about
	// 0.1·√(2/2,000) = 0.003; the promise is "about 0.1".
	const want, tol = 0.1, 0.015
	if math.Abs(length-want) > tol {
		t.Errorf("correlation of length within a trip = %.4f, want about %v", length, want)
	}
	if math.Abs(age-want) > tol {
		t.Errorf("correlation of age at length within a trip = %.4f, want about %v", age, want)
	}
}

func TestTripsWithNothingInCommonAreRandomSamples(t *testing.T) {
	s := sized(t, "season")
	s.TripAges, s.TripSizes, s.TripGrowth = 0, 0, 0
	length, age := likenesses(t, s, 2_000, 400)
	// Of independent fish the estimate scatters about 0 with SE √(2/2,000)/400 = 0.00008
	// for length, and by bins of some ten fish a trip with 0.003.
	if math.Abs(length) > 0.0004 || math.Abs(age) > 0.012 {
		t.Errorf("fish of unlike trips correlate: length %.5f, age at length %.5f, want 0", length, age)
	}
}

// The share of one age among trips is a beta, whose correlation within trips is
// TripAges whatever the share. By hand: Var(x) = p(1−p)/(κ+1), κ = 1/ρ − 1.
func TestAgesOfATripClusterAsSet(t *testing.T) {
	s := sized(t, "season")
	s.TripSizes, s.TripAges = 0, 0.1
	f := New(s, 3)
	d, st := f.newDeck(), &f.strata[0]
	const trips = 20_000
	mean, square := make([]float64, s.OldestAge), make([]float64, s.OldestAge)
	for i := range trips {
		draw := f.stream(0, forTrip, i)
		f.mix(d, &draw, st)
		for a, x := range d.drawn {
			mean[a] += x / trips
			square[a] += x * x / trips
		}
	}
	for a, p := range st.share {
		if p < 0.02 {
			continue
		}
		// Of a share of kurtosis under 20 the variance of 20,000 trips is known to √(19/20,000) = 3 %.
		got := (square[a] - mean[a]*mean[a]) / (p * (1 - p))
		if math.Abs(got-0.1) > 4*0.03*0.1 {
			t.Errorf("fish of a trip correlate in being of age %d by %.4f, want 0.1", a+1, got)
		}
	}
}

// Landed and measured numbers are lognormal with the spreads of the settings, where the
// catch is large enough not to bound them.
func TestTripsDifferInNumbersAsSet(t *testing.T) {
	s := sized(t, "season")
	s.CatchMedian = 1e12
	f := New(s, 12)
	const n = 30 * 400.0
	sums := [4]float64{}
	for b := range 30 {
		for _, trip := range f.planTrips(b) {
			if trip.landed > float64(trip.measured) { // not bounded by what was measured
				x := math.Log(trip.landed / s.LandedMedian)
				sums[0], sums[1] = sums[0]+x/n, sums[1]+x*x/n
			}
			y := math.Log(float64(trip.measured) / 500)
			sums[2], sums[3] = sums[2]+y/n, sums[3]+y*y/n
		}
	}
	landed, measured := math.Sqrt(sums[1]-sums[0]*sums[0]), math.Sqrt(sums[3]-sums[2]*sums[2])
	// SE of an SD from 12,000: 0.0045 and 0.002. Fifteen trips in a thousand would land less
	// than is measured and count as 0 here: integrating over both normals 0.7 becomes 0.669.
	if math.Abs(landed-0.669) > 0.018 || math.Abs(measured-0.3) > 0.01 {
		t.Errorf("logarithms of landed and measured numbers scatter by %.3f and %.3f, want 0.669 and 0.3", landed, measured)
	}
}

// A correlation of normal scores is that of the lengths themselves where no gear
// selects, but for the rounding to cm, which adds 1/12 cm² to the variance.
func TestLengthsAtOneAgeClusterAsSet(t *testing.T) {
	s := sized(t, "season")
	s.TripGrowth = 0.2
	s.Gears, s.Banks = []Gear{{Name: "line"}}, []Bank{{"Quarrow", 0, 1}}
	s.Trips, s.FewestTrips, s.MostTrips = 40, 3, 40
	f := New(s, 4)
	d, st := f.newDeck(), &f.strata[0]
	const age = 5
	var l likeness
	for i := range 4_000 {
		draw := f.stream(0, forTrip, i)
		f.draw(d, &draw, i, st, 400)
		n, sum, squares := 0.0, 0.0, 0.0
		for _, x := range d.fish {
			if x.age == age {
				cm := float64(x.cm)
				n, sum, squares = n+1, sum+cm, squares+cm*cm
			}
		}
		l.add(n, sum, squares)
	}
	sd := s.LengthCV * s.lengthAt(age, 0, 0)
	want := 0.2 * sd * sd / (sd*sd + 1./12)
	// SE about (1 − ρ)(ρ + 1/n)·√(2/4,000) = 0.004 with some 40 fish a trip.
	if got := l.correlation(); math.Abs(got-want) > 0.016 {
		t.Errorf("correlation of length at age %d within a trip = %.4f, want %.4f", age, got, want)
	}
}

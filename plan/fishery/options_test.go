package fishery

import (
	"math"
	"testing"

	"earstone/programme/date"
	"earstone/programme/record"
	"earstone/programme/strata"
)

func TestCatchInWeightIsTheSameCatch(t *testing.T) {
	s := sized(t, "season")
	s.CatchInWeight = 0.5
	e := Invent(s, 61)
	truth, kg := e.Truth(), 0
	for i, c := range e.book.Catches {
		if c.Number.Known == c.WeightKg.Known {
			t.Fatalf("%v has number %v and weight %v, want one of them", place(c), c.Number, c.WeightKg)
		}
		if c.Number.Known {
			if c.Number.X != truth.Number[i] {
				t.Errorf("catch of %v = %v, want %v", place(c), c.Number.X, truth.Number[i])
			}
			continue
		}
		kg++
		want := 0.0
		only := func(cell strata.Cell) bool { return cell == place(c) }
		_, lengths := truth.Key(1, only)
		for cm, n := range lengths {
			// Mean weight at a length: the median of the equation times e^{0.1²/2}.
			want += n * 2.1e-5 * math.Pow(float64(cm)+0.5, 2.98) * math.Exp(0.005)
		}
		byAge := 0.0
		for a, n := range truth.Total(only) {
			if mean, known := truth.MeanWeight(a, only); known {
				byAge += n * mean
			}
		}
		if math.Abs(c.WeightKg.X-want) > 1e-9*want || math.Abs(byAge-want) > 1e-9*want {
			t.Errorf("catch of %v = %v kg, by age %v, want %v", place(c), c.WeightKg.X, byAge, want)
		}
	}
	if kg < 20 || kg > 52 { // 36 of 72, SD 4.2
		t.Errorf("%d of 72 strata tell their catch in kg, want about half", kg)
	}
}

func TestStrataWithoutTripsAndWithOne(t *testing.T) {
	s := sized(t, "season")
	s.UnsampledShare, s.OneTripShare = 0.125, 0.25 // 9 and 18 of 72
	e := Invent(s, 62)
	trips := tripsByStratum(e.book)
	count := map[int]int{}
	for _, c := range e.book.Catches {
		count[min(trips[place(c)], 2)]++
	}
	if count[0] != 9 || count[1] != 18 || count[2] != 45 || len(e.book.Trips) != 400 {
		t.Errorf("%d strata have no trip, %d one, %d more, %d trips in all; want 9, 18, 45 and 400",
			count[0], count[1], count[2], len(e.book.Trips))
	}
}

func TestStonesWithoutTripAsSet(t *testing.T) {
	s := sized(t, "season")
	s.StonesWithoutTrip = 0.15
	e, none := Invent(s, 63), 0
	aged := e.book.Fish[:len(e.picked)]
	for _, fish := range aged {
		if fish.Trip == "" {
			none++
		}
	}
	if none != 750 || len(aged) != 5_000 {
		t.Errorf("%d of %d fish are of no trip, want 750 of 5,000", none, len(aged))
	}
}

func TestPartialDatesAsSet(t *testing.T) {
	s := sized(t, "season")
	s.PartialDates = 0.2
	e := Invent(s, 64)
	to := map[date.Precision]float64{}
	for i, fish := range e.book.Fish[:len(e.picked)] {
		to[fish.CaughtOn.Precision()]++
		day := date.FromSerial(int(e.picked[i].day))
		if day.Before(fish.CaughtOn.First()) || fish.CaughtOn.Last().Before(day) {
			t.Errorf("fish %s was caught on %s, and its card says %s", fish.Fish, day, fish.CaughtOn)
		}
	}
	// 1,000 of 5,000, SD 28; a quarter of them to the year.
	if vague := to[date.Month] + to[date.Year]; math.Abs(vague-1_000) > 113 || math.Abs(to[date.Year]-vague/4) > 55 {
		t.Errorf("%v dates go to the month and %v to the year, want about 750 and 250", to[date.Month], to[date.Year])
	}
}

// Curved lengths turn into straight ones by the programme's own conversion: no bias,
// none that goes with length, and its residual SD.
func TestCurvedLengthsConvertBack(t *testing.T) {
	s := sized(t, "season")
	s.MixedKinds = 0.5
	e := Invent(s, 65)
	var c record.Conversion
	for _, row := range e.book.Conversions {
		if row.Quantity == "length" {
			c = row
		}
	}
	n, sum, squares, cross, spread := 0.0, 0.0, 0.0, 0.0, 0.0
	for i, fish := range e.book.Fish[:len(e.picked)] {
		if fish.Length.Kind == record.CurvedFork {
			straight := float64(e.picked[i].cm) + 0.45 // cards are to the mm: 0.0 to 0.9 more
			residual := straight - (c.A + c.B*fish.Length.Value.X)
			n, sum, squares = n+1, sum+residual, squares+residual*residual
			cross += residual * (fish.Length.Value.X - 160)
			spread += (fish.Length.Value.X - 160) * (fish.Length.Value.X - 160)
		}
	}
	mean := sum / n
	sd := math.Sqrt(squares/n - mean*mean)
	// The residual is 1.2, with the mm left out 0.29 and the rounding 0.03 beside it: 1.23.
	// SE of the mean 0.025, of the SD 0.017; the slope on length is −1.2²/Var = −0.0003, SE 0.0003.
	if math.Abs(mean) > 0.1 || math.Abs(sd-1.235) > 0.07 || math.Abs(cross/spread) > 0.002 || math.Abs(n-2_500) > 150 {
		t.Errorf("%v curved lengths convert with bias %.3f, SD %.3f and slope %.5f; want 0, 1.235 and 0", n, mean, sd, cross/spread)
	}
}

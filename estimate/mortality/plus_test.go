package mortality

import (
	"math"
	"testing"

	"earstone/statistics/stream"
)

// Numbers that fall by Z = 0.3 to an age where all older ones are one class: Chapman &
// Robson's S is e^−0.3 wherever that is, and so is the line's slope. Without the fish of
// the plus group S would be that of fish which all died by then.
func TestPlusGroupIsOfSurvivors(t *testing.T) {
	const z = 0.3
	for _, last := range []int{7, 11, 15} {
		c := Counts{Number: []float64{0, 1000, 40_000}, Plus: true}
		for a := 3; a < last; a++ {
			c.Number = append(c.Number, 40_000*math.Exp(-z*float64(a-2)))
		}
		c.Number = append(c.Number, 40_000*math.Exp(-z*float64(last-2))/-math.Expm1(-z))
		s, err := ChapmanRobson(c, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		// By hand: T/(n + T) of a geometric count cut off is S; the terms for few fish are 1e-5 here.
		if math.Abs(s.Z-z) > 5e-5 || s.ChiSquare > 1e-3 {
			t.Errorf("with a plus group from age %d Z = %.5f and χ² = %.5f, want 0.3 and 0", last, s.Z, s.ChiSquare)
		}
		if l, err := CatchCurve(c, 0.95); err != nil || math.Abs(l.Z-z) > 1e-9 || l.Ages != last-2 {
			t.Errorf("with a plus group from age %d the line has Z = %.5f of %d ages (%v), want 0.3 of %d", last, l.Z, l.Ages, err, last-2)
		}
	}
}

// Sixty fish at a time, Z = 0.3, a plus group from the seventh year on: Z is right on the
// mean and its interval holds it.
func TestPlusGroupOfFewFish(t *testing.T) {
	const trials, fish, z, classes = 2000, 60, 0.3, 8
	held, sum := 0, 0.0
	var r stream.Stream
	for trial := range trials {
		r.Reset(21, stream.Invention, trial)
		c := Counts{Number: make([]float64, classes), Plus: true}
		for range fish {
			c.Number[min(int(r.Exponential()/z), classes-1)]++
		}
		s, err := chapmanRobson(c, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		sum += s.Z / trials
		if s.Low <= z && z <= s.High {
			held++
		}
	}
	// c is never below 1, so that the interval holds no less than it should.
	if share := float64(held) / trials; math.Abs(sum-z) > 0.005 || share < 0.94 {
		t.Errorf("Z is %.4f on the mean and its interval holds 0.3 in %.3f of samples, want 0.3 and 0.95 or a little more", sum, share)
	}
}

package agreement

import (
	"math"
	"testing"

	"earstone/programme/date"
	"earstone/statistics/stream"
)

// again makes control re-readings of fish of four rings, a day apart.
func again(differences ...int) (controls []Control) {
	for i, d := range differences {
		controls = append(controls, Control{date.FromSerial(22000 + i), 4, 4 + d})
	}
	return controls
}

// of repeats a difference.
func of(n, difference int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = difference
	}
	return out
}

func TestDriftByHand(t *testing.T) {
	// By hand: 18 re-readings without a slip, then one ring up and one down: mean 0, s =
	// √((2 + 2)/21) = 0.436436, limits ± 3 · 0.436436 · √(3/20) = 0.507093 rings.
	controls := again(append(of(18, 0), append([]int{1, -1}, append(of(9, 0), of(6, 1)...)...)...)...)
	d := DriftOf("ada", controls)
	if !d.Set || d.Controls != 35 || len(d.Points) != 6 {
		t.Fatalf("of %d controls there are %d points (%v), want 6", d.Controls, len(d.Points), d.Set)
	}
	if math.Abs(d.Difference.High-0.507093) > 1e-6 || d.Difference.Low != -d.Difference.High {
		t.Errorf("the limits are %+v, want ± 0.507093", d.Difference)
	}
	for i, want := range []float64{0.1, 0.2, 0.3, 0.4, 0.5, 0.6} {
		p := d.Points[i]
		if math.Abs(p.Mean-want) > 1e-15 || p.Breach != (want > 0.507093) || p.On != controls[29+i].On {
			t.Errorf("point %d is %+v, want mean %v", i, p, want)
		}
		// One ring of 4 and 5 is a CV of 100 √2/9.
		if math.Abs(p.CV-want*100*math.Sqrt2/9) > 1e-12 {
			t.Errorf("the CV of point %d is %v", i, p.CV)
		}
	}
	if d.Breached != controls[34].On {
		t.Errorf("the first breach is on %s, want %s", d.Breached, controls[34].On)
	}
}

func TestReaderWithoutASlip(t *testing.T) {
	// By hand: s = √(2/21), limits ± 3 √(2/21) √(3/20) = 0.358569: three slips of ten pass,
	// four do not.
	three, four := DriftOf("ada", again(append(of(27, 0), of(3, -1)...)...)), DriftOf("ada", again(append(of(26, 0), of(4, -1)...)...))
	if math.Abs(three.Difference.High-0.358569) > 1e-6 {
		t.Errorf("the limits are %+v, want ± 0.358569", three.Difference)
	}
	if three.Breached.Known() || !four.Breached.Known() {
		t.Errorf("three slips breach on %q and four on %q, want never and once", three.Breached, four.Breached)
	}
	if short := DriftOf("ada", again(of(19, 0)...)); short.Set || short.Points != nil || short.Controls != 19 {
		t.Errorf("nineteen controls give %+v", short)
	}
}

func TestDriftOfCVAlone(t *testing.T) {
	// Slips up and down in turn: the mean stays, the CV climbs.
	turns := of(20, 0)
	for i := range 10 {
		turns = append(turns, 2-4*(i%2))
	}
	d := DriftOf("ada", again(turns...))
	if len(d.Points) != 1 || d.Points[0].Mean != 0 || !d.Points[0].Breach || d.Points[0].CV <= d.CV.High {
		t.Errorf("slips of two rings either way give %+v", d)
	}
}

func TestDriftOfMeanAlone(t *testing.T) {
	// A reader who slips either way in half of the reference period, and then one way: as
	// precise as before, but lower or higher. Limits by hand: ± 3 √((10 + 2)/21) √(3/20).
	reference := append(of(10, 0), 1, 1, 1, 1, 1, -1, -1, -1, -1, -1)
	for _, way := range []int{-1, 1} {
		d := DriftOf("ada", again(append(reference, of(10, way)...)...))
		if math.Abs(d.Difference.High-0.878310) > 1e-6 {
			t.Errorf("the limits are %+v, want ± 0.878310", d.Difference)
		}
		if len(d.Points) != 1 || !d.Points[0].Breach || d.Points[0].CV > d.CV.High {
			t.Errorf("ten slips of %+d give %+v, want a breach by the mean alone", way, d)
		}
	}
}

// TestFalseAlarmsOfDrift holds the number in the comment of DriftOf: readers who never
// change, with slips in a tenth to a half of their re-readings.
func TestFalseAlarmsOfDrift(t *testing.T) {
	for _, slips := range []float64{0.1, 0.3, 0.5} {
		alarms, points, readers := 0, 0, 0
		var s stream.Stream
		s.Reset(1, stream.Reader, 0)
		for range 2000 {
			var differences []int
			for range 80 {
				d := 0
				if s.Float64() < slips {
					d = 1
					if s.Float64() < 0.5 {
						d = -1
					}
				}
				differences = append(differences, d)
			}
			d := DriftOf("ada", again(differences...))
			for _, p := range d.Points {
				points++
				if p.Breach {
					alarms++
				}
			}
			if d.Breached.Known() {
				readers++
			}
		}
		if a, r := float64(alarms)/float64(points), float64(readers)/2000; a > 0.01 || r > 0.09 {
			t.Errorf("with slips in %v of re-readings %.4f of points and %.3f of readers breach, want at most 0.01 and 0.09", slips, a, r)
		}
	}
}

// TestDriftIsSeen is the other side: a reader who slips in a tenth of re-readings and
// then counts one ring too many in six of ten is found within thirty.
func TestDriftIsSeen(t *testing.T) {
	seen := 0
	var s stream.Stream
	s.Reset(2, stream.Reader, 0)
	for range 1000 {
		var differences []int
		for i := range 50 {
			d, slips := 0, 0.1
			if i >= 20 {
				slips = 0.6
			}
			if s.Float64() < slips {
				d = 1
			}
			differences = append(differences, d)
		}
		if DriftOf("ada", again(differences...)).Breached.Known() {
			seen++
		}
	}
	if seen < 900 {
		t.Errorf("of 1,000 readers who drift %d are found, want 900 at least", seen)
	}
}

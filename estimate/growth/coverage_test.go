package growth

import (
	"math"
	"testing"

	"earstone/statistics/stream"
)

// season is an invented landing of fish of known growth, of which as many are
// aged in each bin of 10 cm as its quota allows.
type season struct {
	truth []float64
	cv    float64
	fish  int
	quota int
}

var quarrow = season{truth: []float64{240, 0.18, -0.7}, cv: 0.09, fish: 4000, quota: 12}

// pick draws a season and picks from its bins.
func (s season) pick(draw *stream.Stream, whole bool) (d Data) {
	const width = 10.
	bins := make([]Data, 60)
	for range s.fish {
		age := 0.5 + 0.2*float64(draw.IntN(70))
		if whole {
			age = float64(1 + draw.IntN(14))
		}
		if draw.Float64() > math.Exp(-0.25*age) { // died before
			continue
		}
		length := vonBertalanffy(nil, age, s.truth) * (1 + s.cv*draw.Normal())
		b := &bins[int(length/width)]
		b.Age, b.Length = append(b.Age, age), append(b.Length, length)
	}
	for _, b := range bins {
		n := min(s.quota, len(b.Age))
		for i := range n { // fish came in random order
			d.Age, d.Length, d.Weight = append(d.Age, b.Age[i]), append(d.Length, b.Length[i]), append(d.Weight, float64(len(b.Age))/float64(n))
		}
	}
	return d
}

// Aged evenly over lengths, the long fish of each age are too many: the naive
// curve is too high. Weights undo it, and their intervals cover.
func TestWeightsUndoTheChoiceByLength(t *testing.T) {
	const sets, plain = 500, 60
	var draw stream.Stream
	ages := []float64{2, 6, 10}
	naive, weighted, covered := make([]float64, 3), make([]float64, 3), make([]float64, 3)
	largest := 0.0
	for b := range sets {
		draw.Reset(8, stream.Invention, b)
		d := quarrow.pick(&draw, false)
		w, err := FitCurve(d, Settings{Scatter: ConstantCV})
		if err != nil {
			t.Fatalf("set %d: %v", b, err)
		}
		for i, p := range w.Band(0, ages, 0.95) {
			truth := vonBertalanffy(nil, ages[i], quarrow.truth)
			weighted[i] += (p.Length/truth - 1) / sets
			if p.Low <= truth && truth <= p.High {
				covered[i]++
			}
		}
		if math.Abs(w.Estimates[0]-quarrow.truth[0]) <= 1.959964*w.SE(0, 0).X {
			largest++
		}
		if b >= plain {
			continue
		}
		d.Weight = nil
		n, err := FitCurve(d, Settings{Scatter: ConstantCV})
		if err != nil {
			t.Fatalf("set %d, unweighted: %v", b, err)
		}
		for i, age := range ages {
			naive[i] += (n.Curve.Length(age, n.Estimates)/vonBertalanffy(nil, age, quarrow.truth) - 1) / plain
		}
	}
	for i, age := range ages {
		if age > 5 && naive[i] < 0.01 {
			t.Errorf("unweighted length at %v is off by %.2f %%, want it too high by over 1 %%", age, 100*naive[i])
		}
		if math.Abs(weighted[i]) > 0.003 {
			t.Errorf("weighted length at %v is off by %.2f %%, want under 0.3 %%", age, 100*weighted[i])
		}
		if share := covered[i] / sets; share < 0.93 || share > 0.97 {
			t.Errorf("95 %% intervals of length at %v cover %.1f %% of %d sets, want 93 to 97", age, 100*share, sets)
		}
	}
	if share := largest / sets; share < 0.93 || share > 0.97 {
		t.Errorf("95 %% intervals of L∞ cover %.1f %% of %d sets, want 93 to 97", 100*share, sets)
	}
}

// The conditional form needs no weights: fish chosen by length, shares known.
func TestConditionalFormStandsTheChoiceByLength(t *testing.T) {
	const sets = 25
	var draw stream.Stream
	ages := Ages{}
	for a := 1; a <= 14; a++ {
		ages.Age, ages.Share = append(ages.Age, float64(a)), append(ages.Share, math.Exp(-0.25*float64(a)))
	}
	off, naive := 0.0, 0.0
	for b := range sets {
		draw.Reset(9, stream.Invention, b)
		d := quarrow.pick(&draw, true)
		f, err := FitConditional(d, ages, Settings{Scatter: ConstantCV})
		if err != nil {
			t.Fatalf("set %d: %v", b, err)
		}
		n, err := FitCurve(Data{Age: d.Age, Length: d.Length}, Settings{Scatter: ConstantCV})
		if err != nil {
			t.Fatalf("set %d, plain: %v", b, err)
		}
		truth := vonBertalanffy(nil, 6, quarrow.truth)
		off += (f.Curve.Length(6, f.Estimates)/truth - 1) / sets
		naive += (n.Curve.Length(6, n.Estimates)/truth - 1) / sets
	}
	if math.Abs(off) > 0.005 || naive < 0.01 {
		t.Errorf("length at 6 is off by %.2f %% in the conditional form and %.2f %% without; want under 0.5 and over 1", 100*off, 100*naive)
	}
}

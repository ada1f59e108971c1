package change

import (
	"fmt"
	"math"
	"testing"

	"earstone/statistics/stream"
	"pgregory.net/rapid"
)

// normals are two sides of 1,000 replicates that share a part of their error.
func normals(seed uint64, meanA, meanB, shared float64) Sides {
	var s stream.Stream
	s.Reset(seed, stream.Invention, 0)
	side := Sides{A: meanA, B: meanB}
	for range 1000 {
		common := shared * s.Normal()
		side.DrawsA = append(side.DrawsA, meanA+common+0.1*s.Normal())
		side.DrawsB = append(side.DrawsB, meanB+common+0.1*s.Normal())
	}
	return side
}

func TestSharedErrorCancels(t *testing.T) {
	// The difference of two means with SD 0.1 each has SD √0.02 = 0.1414, whatever they share.
	for _, shared := range []float64{0, 1, 10} {
		d := Of(normals(1, 5, 5.5, shared), 0.95)
		if math.Abs(d.SE.X-math.Sqrt(0.02)) > 0.01 {
			t.Errorf("with a shared SD of %v the difference has SE %.4f, want 0.1414", shared, d.SE.X)
		}
		if math.Abs(d.Value.X-0.5) > 1e-12 || d.Low.X > 0.5 || d.High.X < 0.5 || d.Against.X > 0.01 {
			t.Errorf("the difference is %+v, want 0.5 inside its interval and a sure sign", d)
		}
	}
}

func TestSwapTurnsTheSign(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := normals(rapid.Uint64().Draw(t, "seed"), rapid.Float64Range(-3, 3).Draw(t, "a"), rapid.Float64Range(-3, 3).Draw(t, "b"), 1)
		d, back := Of(s, 0.9), Of(Sides{s.B, s.A, s.DrawsB, s.DrawsA, nil}, 0.9)
		if math.Abs(d.Value.X+back.Value.X) > 1e-12 || math.Abs(d.Low.X+back.High.X) > 1e-9 || math.Abs(d.Against.X-back.Against.X) > 1e-12 {
			t.Fatalf("B − A is %+v and A − B is %+v", d, back)
		}
	})
}

func TestNothingKnown(t *testing.T) {
	nan := math.NaN()
	if d := Of(Sides{A: nan, B: 1}, 0.95); d.Value.Known {
		t.Errorf("a side that is no number gives the difference %v", d.Value.X)
	}
	if d := Of(Sides{A: 1, B: 2, DrawsA: make([]float64, 5), DrawsB: make([]float64, 5)}, 0.95); !d.Value.Known || d.Low.Known {
		t.Errorf("five replicates give %+v, want a value without an interval", d)
	}
	s := normals(3, 1, 2, 0)
	for i := range 600 {
		s.DrawsA[i] = nan
	}
	if d := Of(s, 0.95); d.Low.Known {
		t.Error("an interval is read though most replicates are no number")
	}
}

func TestCompositionsByHand(t *testing.T) {
	// a = (1/2, 1/2), b = (4/5, 1/5): Δ = (ln 1.6, ln 0.4) less its mean, ±½ ln 4,
	// so the distance is √2 · ½ ln 4 = 0.98026. One replicate, that is where the estimate
	// is, makes P = (1 + 0)/(1 + 1).
	w, ok := Compositions([]float64{1, 1, 0}, []float64{4, 1, 0}, []float64{1, 1, 0}, []float64{4, 1, 0}, 1e-6)
	if want := math.Sqrt2 * math.Log(4) / 2; !ok || math.Abs(w.Distance-want) > 1e-12 || w.Parts != 2 || w.P != 0.5 {
		t.Errorf("the compositions lie %+v apart, want %.5f over 2 parts", w, want)
	}
	if _, ok := Compositions([]float64{1, 0}, []float64{2, 0}, []float64{1, 0}, []float64{1, 0}, 1e-6); ok {
		t.Error("compositions of one part are compared")
	}
}

func TestNullOfCompositions(t *testing.T) {
	// Two samples of one composition: P should be evenly spread, so that about one in
	// twenty lies under 0.05. 400 trials: between 5 and 40 of them (99.9 %).
	var s stream.Stream
	few := 0
	for trial := range 400 {
		s.Reset(11, stream.Invention, trial)
		share := []float64{0.5, 0.3, 0.2}
		draw := func(from []float64) []float64 {
			n := make([]int32, 3)
			s.Multinomial(n, from, 300)
			return []float64{float64(n[0]), float64(n[1]), float64(n[2])}
		}
		a, b := draw(share), draw(share)
		var drawsA, drawsB []float64
		for range 200 {
			drawsA, drawsB = append(drawsA, draw(a)...), append(drawsB, draw(b)...)
		}
		if w, _ := Compositions(a, b, drawsA, drawsB, 1e-3); w.P < 0.05 {
			few++
		}
	}
	if few < 5 || few > 40 {
		t.Errorf("%d of 400 comparisons of one composition with itself lie under 0.05, want about 20", few)
	}
}

func ExampleOf() {
	s := Sides{A: 10, B: 12}
	for i := range 99 { // replicates that all move together: the difference never varies
		s.DrawsA, s.DrawsB = append(s.DrawsA, float64(i)), append(s.DrawsB, float64(i)+2)
	}
	d := Of(s, 0.95)
	fmt.Println(d.Value.X, d.SE.X, d.Against.X)
	// Output: 2 0 0
}

package ageerror

import (
	"math"
	"testing"

	"earstone/statistics/stream"
	"pgregory.net/rapid"
)

// TestSlopesByDifferences holds gradient and second derivatives against differences of
// the log-likelihood and of the gradient, over every form, with a reader who reads twice
// and some known ages.
func TestSlopesByDifferences(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m1, theta1 := anyModel(t, 8)
		m2, theta2 := anyModel(t, 8)
		m1.Low, m2.Low = 0, 0
		v := invention{
			models: []Model{m1, m2, m2}, theta: [][]float64{theta1, theta2, theta2}, beta: stock(9), oldest: 11,
			share: []float64{0.9, 0.9, 0.5}, known: 0.1,
		}
		var s stream.Stream
		s.Reset(rapid.Uint64().Draw(t, "seed"), stream.Invention, 0)
		d := v.draw(&s, 80)
		d.Readers, d.Of = 2, []int{0, 1, 1}
		k := newChoice(d, Settings{}.filled())
		k.apart()
		climb := newClimb(newForm(k.core, 0, []Model{m1, m2}))
		climb.begin(v.beta, [][]float64{theta1, theta2})
		here := climb.now
		if !climb.evaluate(here) {
			t.Fatalf("likelihood 0 at the truth")
		}
		n := len(here.x)
		for i := range n {
			const step = 1e-5
			up, down := climb.newState(), climb.newState()
			copy(up.x, here.x)
			copy(down.x, here.x)
			up.x[i] += step
			down.x[i] -= step
			if !climb.evaluate(up) || !climb.evaluate(down) {
				t.Fatalf("likelihood 0 beside the truth")
			}
			if got, want := here.gradient[i], (up.value-down.value)/(2*step); math.Abs(got-want) > 1e-4*(1+math.Abs(want)) {
				t.Fatalf("gradient in place %d = %v, by differences %v", i, got, want)
			}
			for j := range n {
				got, want := here.second[i*n+j], (up.gradient[j]-down.gradient[j])/(2*step)
				scale := 1 + math.Sqrt(math.Abs(here.second[i*n+i]*here.second[j*n+j]))
				if math.Abs(got-want) > 1e-4*scale {
					t.Fatalf("second derivative in places %d, %d = %v, by differences %v", i, j, got, want)
				}
			}
		}
	})
}

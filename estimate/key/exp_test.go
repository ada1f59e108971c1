package key

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestExp(t *testing.T) {
	// Source: Go's math.Exp, itself within an ulp; tolerance four ulps.
	const tol = 4 * 0x1p-52
	near := func(t rapid.TB, x float64) {
		if got, want := exp(x), math.Exp(x); math.Abs(got/want-1) > tol {
			t.Errorf("e^%v = %v, math.Exp says %v: %.1f ulps away", x, got, want, math.Abs(got/want-1)/0x1p-52)
		}
	}
	for _, x := range []float64{0, math.Copysign(0, -1), 1, -1, math.Ln2, 340, -340, 700, -700, 1e-300, math.Ln2 / 128, -math.Ln2 / 128} {
		near(t, x)
	}
	if exp(0) != 1 {
		t.Errorf("e^0 = %v", exp(0))
	}
	rapid.Check(t, func(t *rapid.T) { near(t, rapid.Float64Range(-700, 700).Draw(t, "x")) })
}

func BenchmarkExp(b *testing.B) {
	x, sum := -20.0, 0.0
	for b.Loop() {
		if x += 0.37; x > 20 {
			x -= 40
		}
		sum += exp(x)
	}
	if sum < 0 {
		b.Fatal(sum)
	}
}

func BenchmarkMathExp(b *testing.B) {
	x, sum := -20.0, 0.0
	for b.Loop() {
		if x += 0.37; x > 20 {
			x -= 40
		}
		sum += math.Exp(x)
	}
	if sum < 0 {
		b.Fatal(sum)
	}
}

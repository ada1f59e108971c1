package dist

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestCutNormalOnMeanFive(t *testing.T) {
	// Source: printed, check-values section 4 item 1: normal table differences. Half the last digit.
	const tol = 0.5e-12
	p := make([]float64, 16)
	CutNormal(p, 5, 1)
	for age, want := range map[int]float64{1: 0.000229231406, 3: 0.060597535943, 4: 0.241730337457, 5: 0.382924922548} {
		if math.Abs(p[age]-want) > tol {
			t.Errorf("P(%d) of a normal with mean 5, SD 1 = %.12f, want %.12f", age, p[age], want)
		}
	}
	for age := range 6 {
		if !near(p[5+age], p[5-age], 1e-13) && age < 5 { // age 0 also takes the lower tail
			t.Errorf("P(%d) = %v and P(%d) = %v differ about the mean", 5+age, p[5+age], 5-age, p[5-age])
		}
	}
}

func TestCutNormalKeepsFarDigits(t *testing.T) {
	// Source: by hand, Φ(−9.5) − Φ(−10.5), lower tails as in a normal table:
	// Φ(−9.5) = 1.049451507536e-21, Φ(−10.5) = 4.319e-26 (lower order).
	p := make([]float64, 31)
	CutNormal(p, 5, 1)
	want := NormalCDF(-9.5) - NormalCDF(-10.5)
	if !near(p[15]*1e12, want*1e12, 1e-12) {
		t.Errorf("P(15) ten SDs above the mean = %v, want %v", p[15], want)
	}
}

func TestCutNormalProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := make([]float64, rapid.IntRange(1, 40).Draw(t, "ages"))
		mean := rapid.Float64Range(-5, 45).Draw(t, "mean")
		sd := rapid.SampledFrom([]float64{0, 1e-9, 0.01, 0.3, 1, 4, 1e3, 1e8, 1e12}).Draw(t, "sd")
		CutNormal(p, mean, sd)
		sum := 0.0
		for age, v := range p {
			if !(v >= 0) {
				t.Errorf("P(%d) = %v", age, v)
			}
			sum += v
		}
		if math.Abs(sum-1) > 1e-14 {
			t.Errorf("chances sum to %.17g", sum)
		}
		if sd == 0 {
			return
		}
		for age, v := range p { // the definition, good where nothing cancels
			want := NormalCDF((float64(age)+0.5-mean)/sd) - NormalCDF((float64(age)-0.5-mean)/sd)
			switch {
			case len(p) == 1:
				want = 1
			case age == 0:
				want = NormalCDF((0.5 - mean) / sd)
			case age == len(p)-1:
				want = NormalUpper((float64(age) - 0.5 - mean) / sd)
			}
			if math.Abs(v-want) > 1e-14 {
				t.Errorf("P(%d) = %v, want %v", age, v, want)
			}
		}
	})
}

func TestCutNormalRefusesNonsense(t *testing.T) {
	for _, c := range []struct {
		ages     int
		mean, sd float64
	}{{0, 1, 1}, {5, math.NaN(), 1}, {5, math.Inf(1), 1}, {5, 1, -1}, {5, 1, math.NaN()}, {5, 1, math.Inf(1)}} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("CutNormal with %+v did not panic", c)
				}
			}()
			CutNormal(make([]float64, c.ages), c.mean, c.sd)
		}()
	}
}

func TestNoAllocations(t *testing.T) {
	p := make([]float64, 40)
	if n := testing.AllocsPerRun(100, func() { CutNormal(p, 12.3, 1.1) }); n != 0 {
		t.Errorf("CutNormal allocates %v times", n)
	}
}

func BenchmarkCutNormal(b *testing.B) {
	p := make([]float64, 40)
	for b.Loop() {
		CutNormal(p, 12.3, 1.1)
	}
}

func ExampleCutNormal() {
	// A reader who is right on average and errs by one year as often as a normal with SD 0.5.
	p := make([]float64, 5)
	CutNormal(p, 2, 0.5)
	fmt.Printf("%.4f\n", p)
	// Output: [0.0013 0.1573 0.6827 0.1573 0.0013]
}

func ExampleWilson() {
	low, high := Wilson(3, 10, 0.95) // three of ten stones have a wide edge
	fmt.Printf("%.3f to %.3f\n", low, high)
	// Output: 0.108 to 0.603
}

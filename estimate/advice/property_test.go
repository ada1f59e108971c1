package advice

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func rates(t *rapid.T, n int, low, high float64, name string) []float64 {
	return rapid.SliceOfN(rapid.Float64Range(low, high), n, n).Draw(t, name)
}

// A cohort of known mortality gives catches from which cohort analysis gives it back.
func TestCohortsComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ages := rapid.IntRange(1, 12).Draw(t, "ages")
		m, f := rates(t, ages, 0.01, 1, "M"), rates(t, ages, 0.01, 3, "F")
		catch, want := make([]float64, ages), make([]float64, ages)
		n := 1000.0
		for a := range catch {
			z := m[a] + f[a]
			want[a], catch[a] = n, n*f[a]/z*-math.Expm1(-z)
			n *= math.Exp(-z)
		}
		got, rate := make([]float64, ages), make([]float64, ages)
		Cohort(Baranov, got, rate, catch, m, f[ages-1])
		for a := range got {
			if math.Abs(got[a]-want[a]) > 1e-9*want[a] || math.Abs(rate[a]-f[a]) > 1e-8 {
				t.Fatalf("age %d comes back as %v with F %v, want %v with %v", a, got[a], rate[a], want[a], f[a])
			}
		}
	})
}

// In a steady state the numbers of one year are a cohort's: their slope by age is Z.
func TestSlopeOfASteadyStateIsMortality(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const ages = 8
		m, f := rapid.Float64Range(0.05, 0.6).Draw(t, "M"), rapid.Float64Range(0, 1).Draw(t, "F")
		p := Ahead{Recruits: 500}
		for range ages {
			p.Natural, p.Fishing = append(p.Natural, m), append(p.Fishing, f)
			p.Caught, p.Spawning, p.Mature = append(p.Caught, 1), append(p.Spawning, 1), append(p.Mature, 1)
		}
		n, catch := make([]float64, ages), make([]float64, ages)
		for range 400 {
			p.Year(n, catch, n, 1)
		}
		for a := 1; a < ages-1; a++ {
			if got := math.Log(n[a-1] / n[a]); math.Abs(got-(m+f)) > 1e-9 {
				t.Fatalf("from age %d to %d the steady numbers fall by %v, want F + M = %v", a-1, a, got, m+f)
			}
		}
		if want := n[ages-2] * math.Exp(-m-f) / -math.Expm1(-m-f); math.Abs(n[ages-1]-want) > 1e-6*want {
			t.Fatalf("the plus group settles at %v, want %v", n[ages-1], want)
		}
	})
}

// The analytic slope is the numerical one, and a longer life only adds.
func TestSlopesAreDerivatives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ages := rapid.IntRange(1, 8).Draw(t, "ages")
		s := Schedule{rates(t, ages, 0.05, 1, "M"), rates(t, ages, 0, 1, "s"), rates(t, ages, 0, 50, "w"),
			rates(t, ages, 0, 50, "v"), rates(t, ages, 0, 1, "g"), rapid.Float64Range(0, 1).Draw(t, "when"), rapid.Bool().Draw(t, "plus")}
		f := rapid.Float64Range(0.01, 3).Draw(t, "F")
		const h = 1e-5
		up, _, _ := s.At(f + h)
		down, _, _ := s.At(f - h)
		y, slope, left := s.At(f)
		if math.Abs((up-down)/(2*h)-slope) > 1e-5*(1+math.Abs(slope)+y) {
			t.Fatalf("slope at F %v = %v, by differences %v", f, slope, (up-down)/(2*h))
		}
		if _, _, unfished := s.At(0); left > unfished*(1+1e-12) {
			t.Fatalf("fishing at %v leaves %v to spawn, more than the %v without", f, left, unfished)
		}
	})
}

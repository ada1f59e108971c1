package mortality

import (
	"math"
	"testing"
)

func TestNaturalMortality(t *testing.T) {
	// Recomputed from the printed formulas; how each is known stands with the formula
	// (reference/check-values.md, section 7): longest lives of 10, 20 and 35 years.
	want := [][3]float64{
		{0.594439197843, 0.315038741157, 0.188686622576}, // Then et al. (2015)
		{0.439930481, 0.222726862, 0.128560998},          // Hoenig (1983), all taxa
		{0.420794392, 0.208943877, 0.118730205},          // Hoenig (1983), fish
		{0.54, 0.27, 0.154285714},                        // Hamel (2015)
		{0.5109, 0.25545, 0.145971429},                   // Then et al. (2015), one parameter
	}
	found := 0
	for _, f := range Formulas() {
		if f.Growth {
			// K 0.2 a year and 200 cm: the authors' institute page with its corrigendum.
			if m := f.FromGrowth(0.2, 200, 0.95).M; math.Abs(m-0.221359589) > 1e-9 {
				t.Errorf("%s gives M %.9f, want 0.221359589", f.Name, m)
			}
			continue
		}
		for _, row := range want {
			if math.Abs(f.FromLongevity(10, 0.95).M-row[0]) > 1e-8 {
				continue
			}
			found++
			for i, tmax := range []float64{10, 20, 35} {
				n := f.FromLongevity(tmax, 0.95)
				if math.Abs(n.M-row[i]) > 1e-8 {
					t.Errorf("%s gives M %.9f at %v years, want %.9f", f.Name, n.M, tmax, row[i])
				}
				if n.Low.Known != f.Error.Known || n.Low.Known && !(n.Low.X <= n.M && n.M <= n.High.X) {
					t.Errorf("%s at %v years lies at %v between %v and %v", f.Name, tmax, n.M, n.Low, n.High)
				}
			}
		}
	}
	if found != len(want) {
		t.Errorf("%d of %d formulas by longevity give their published value", found, len(want))
	}
}

package agreement

import (
	"math"
	"testing"

	"earstone/programme/record"
	"earstone/reference"
)

// near compares a number with what is printed of it.
func near(t *testing.T, what string, got record.Number, want, tol float64) {
	t.Helper()
	if !got.Known || !(math.Abs(got.X-want) <= tol) {
		t.Errorf("%s = %v (known: %v), want %v ± %v", what, got.X, got.Known, want, tol)
	}
}

func TestTwoReadings(t *testing.T) {
	// By hand: APE = 100/4 (0 + 0.5/7.5 + 1/3 + 0.5/9.5) = 11.315789…; CV = √2 APE (identity).
	s := Of([]int{5, 5, 7, 8, 2, 4, 10, 9}, 2)
	near(t, "APE", s.APE, 25*(0.5/7.5+1.0/3+0.5/9.5), 1e-12)
	near(t, "APE as printed", s.APE, 11.315789, 0.5e-6)
	near(t, "CV", s.CV, 16.002943, 0.5e-6)
	near(t, "CV against APE", s.CV, math.Sqrt2*s.APE.X, 1e-12)
}

func TestThreeReadings(t *testing.T) {
	// Identity: two readings equal and one apart give CV/APE = 3√3/4, an even spread 3/2.
	apart, even := Of([]int{4, 4, 7}, 3), Of([]int{4, 5, 6}, 3)
	near(t, "CV of two equal and one apart", apart.CV, 3*math.Sqrt(3)/4*apart.APE.X, 1e-12)
	near(t, "CV of an even spread", even.CV, 1.5*even.APE.X, 1e-12)
	// Zhou et al., vertebrae of bigeye, three readers: CV 9.4 %, APE 7.1 % (read in an
	// abstract). Their ratio must lie between those two, as ours does in the property test.
	if ratio := 9.4 / 7.1; ratio < apart.CV.X/apart.APE.X || ratio > even.CV.X/even.APE.X {
		t.Errorf("the printed ratio %v is outside the bounds", ratio)
	}
}

func TestReferencePointsHoldTogether(t *testing.T) {
	// Campana (2001), as quoted by a fisheries department: CV 7.6 % with APE 5.5 % is what
	// many studies report, of two or three readings. Half the last digit either way, the
	// ratio must be one that two or three readings can give.
	const low, high = 7.55 / 5.55, 7.65 / 5.45
	least, most := Of([]int{4, 4, 7}, 3), Of([]int{9, 10, 12, 12, 7, 8}, 2)
	if a, b := least.CV.X/least.APE.X, most.CV.X/most.APE.X; high < a || low > b {
		t.Errorf("the printed ratio, %v to %v, is outside our %v to %v", low, high, a, b)
	}
}

func TestBowkerOnOpinions(t *testing.T) {
	// Opinions before and after: χ² 12.833333, p 0.005011251317 on 3 df (printed on a
	// calculator's page, recomputed). Evans–Hoenig by hand: (17−3)²/20 + (3−9)²/12.
	s := SymmetryOf([]int{5, 7, 3, 1, 4, 10, 9, 2, 5}, 3)
	near(t, "Bowker", s.Bowker.X2, 12.833333, 0.5e-6)
	near(t, "p of Bowker", s.Bowker.P, 0.005011251317, 0.5e-12)
	near(t, "Evans–Hoenig", s.EvansHoenig.X2, 14.0*14/20+6.0*6/12, 1e-12)
	whole(t, "df of Bowker", s.Bowker.DF, 3)
	whole(t, "df of Evans–Hoenig", s.EvansHoenig.DF, 2)
}

func TestBowkerWithEmptyPairs(t *testing.T) {
	// χ² 0.667: printed with 3 df and p 0.8810 by a program that counts empty pairs. They
	// add no degree of freedom here: 1 df, p 0.414216178 (recomputed).
	s := SymmetryOf([]int{30, 0, 0, 0, 10, 2, 0, 4, 8}, 3)
	near(t, "Bowker", s.Bowker.X2, 0.667, 0.5e-3)
	near(t, "p of Bowker", s.Bowker.P, 0.414216178, 0.5e-9)
	whole(t, "df of Bowker", s.Bowker.DF, 1)
}

func TestBowkerOnVision(t *testing.T) {
	// Unaided vision of 7,477 women and 3,242 men, Stuart (1953). Women: 19.11 on 6 df
	// (from memory, Agresti's text); the rest recomputed.
	women, men := vision(t, "female"), vision(t, "male")
	near(t, "Bowker, women, as printed", women.Bowker.X2, 19.11, 0.5e-2)
	near(t, "p of Bowker, women", women.Bowker.P, 0.003987, 0.5e-6)
	near(t, "Bowker, men", men.Bowker.X2, 4.7625, 0.5e-4)
	near(t, "p of Bowker, men", men.Bowker.P, 0.5746, 0.5e-4)
	near(t, "Evans–Hoenig, women", women.EvansHoenig.X2, 18.60997807, 0.5e-8)
	near(t, "p of Evans–Hoenig, women", women.EvansHoenig.P, 0.000329155579, 0.5e-12)
	near(t, "McNemar, women", women.McNemar.X2, 11.8849151765, 0.5e-10)
	near(t, "p of McNemar, women", women.McNemar.P, 0.000565904027, 0.5e-12)
	whole(t, "df of Bowker", women.Bowker.DF, 6)
	whole(t, "df of Evans–Hoenig", women.EvansHoenig.DF, 3)
	whole(t, "above", women.Above, 1171)
	whole(t, "below", women.Below, 1010)
}

func vision(t *testing.T, who string) Symmetry {
	t.Helper()
	d := reference.Published(t, "vision-grades.csv")
	of, right, left, count := d.Text("gender"), d.Numbers("right"), d.Numbers("left"), d.Numbers("count")
	table := make([]int, 16)
	for i := range d.Rows {
		if of[i] == who {
			table[int(right[i]-1)*4+int(left[i]-1)] += int(count[i])
		}
	}
	return SymmetryOf(table, 4)
}

func TestMcNemarOnApproval(t *testing.T) {
	// Approval survey, Agresti (1990): 17.36 uncorrected (from memory), p 3.099e-05
	// (recomputed); by hand (150 − 86)²/236.
	s := SymmetryOf([]int{794, 150, 86, 570}, 2)
	near(t, "McNemar", s.McNemar.X2, 64.0*64/236, 1e-12)
	near(t, "McNemar as printed", s.McNemar.X2, 17.36, 0.5e-2)
	near(t, "p of McNemar", s.McNemar.P, 3.099e-05, 0.5e-8)
}

func TestMcNemarExactBelow25(t *testing.T) {
	// By hand: 3 against 0 of 3 is 2/2³; 5 against 12 of 17 is 2 (1 + 17 + 136 + 680 +
	// 2380 + 6188)/2¹⁷; as many on either side is 1.
	for _, c := range []struct {
		above, below int
		exact        float64
	}{
		{3, 0, 2.0 / 8}, {0, 3, 2.0 / 8}, {5, 12, 2 * 9402.0 / 131072}, {6, 6, 1}, {1, 0, 1}, {24, 0, 2 / math.Exp2(24)},
	} {
		s := SymmetryOf([]int{0, c.above, c.below, 0}, 2)
		near(t, "exact p", s.McNemar.P, c.exact, 1e-15)
		if s.Asymptotic == s.McNemar.P && c.above != c.below {
			t.Errorf("%d against %d has the same p either way, %v", c.above, c.below, s.McNemar.P)
		}
	}
	if s := SymmetryOf([]int{0, 25, 0, 0}, 2); s.McNemar.P != s.Asymptotic {
		t.Errorf("at 25 differing pairs p is %v, want the asymptotic %v", s.McNemar.P, s.Asymptotic)
	}
}

package interval

import (
	"fmt"
	"math"
	"testing"

	"earstone/reference"
	"earstone/statistics/dist"
	"pgregory.net/rapid"
)

type clusteredShares struct {
	Output struct {
		Shares struct {
			Design, Case     []string
			Level, Share, SE []float64
			Units, DF        []float64
			Effective        []float64  `json:"n_effective"`
			SvycipropLow     []*float64 `json:"svyciprop_low"`
			SvycipropHigh    []*float64 `json:"svyciprop_high"`
			Low, High        []float64
		}
		Freedom struct {
			Hand struct {
				Moves [][]float64
				DF    float64
			}
		}
		Widened struct{ Level, DF, Widened []float64 }
	}
}

// Source: recomputed, golden/18-clustered-shares.json, R 4.2.2 with survey: svyciprop of
// the method "beta" with SE and degrees of freedom of the design.
func TestGoldenShares(t *testing.T) {
	const tol = 1e-6
	var g clusteredShares
	reference.Golden(t, "18-clustered-shares", &g)
	s := g.Output.Shares
	if len(s.Share) == 0 {
		t.Fatal("the golden file holds no share")
	}
	direct := 0
	for i := range s.Share {
		what := fmt.Sprintf("%s of %s at %v", s.Case[i], s.Design[i], s.Level[i])
		got := Share(Sampled{Share: s.Share[i], SE: s.SE[i], DF: s.DF[i], Units: s.Units[i]}, s.Level[i])
		if !near(got.Low, s.Low[i], tol) || !near(got.High, s.High[i], tol) {
			t.Errorf("%s lies in %.9f to %.9f, want %.9f to %.9f", what, got.Low, got.High, s.Low[i], s.High[i])
		}
		// Where the design is worth no more than its units, the figures are svyciprop's own.
		if s.SvycipropLow[i] == nil || s.Effective[i] > s.Units[i] {
			continue
		}
		direct++
		if !near(got.Low, *s.SvycipropLow[i], tol) || !near(got.High, *s.SvycipropHigh[i], tol) {
			t.Errorf("%s lies in %.9f to %.9f, svyciprop says %.9f to %.9f", what, got.Low, got.High, *s.SvycipropLow[i], *s.SvycipropHigh[i])
		}
	}
	if direct < 30 {
		t.Errorf("only %d intervals are svyciprop's own, want at least 30", direct)
	}
}

// A share of 1e-12 with an SE of 1e-4 is worth 1e-4 units by its SE, and 0 to 1 would be its
// interval. It was hardly ever seen: its upper end is that of one never seen.
func TestShareHardlyEverSeen(t *testing.T) {
	never := Share(Sampled{Units: 900, Effective: 300}, 0.95)
	hardly := Share(Sampled{Share: 1e-12, SE: 1e-4, Units: 900, Effective: 300}, 0.95)
	// By hand: 1 − 0.025^(1/300), Clopper & Pearson of none in 300.
	if want := 1 - math.Pow(0.025, 1.0/300); math.Abs(never.High-want) > 1e-9 || math.Abs(hardly.High-want) > 1e-9 || hardly.Low > 1e-12 {
		t.Errorf("a share never seen lies in %+v, one hardly ever seen in %+v, want an upper end of %.6f", never, hardly, want)
	}
}

// What is nearly always seen is the rest of what is hardly ever seen.
func TestShareHardlyEverMissed(t *testing.T) {
	for _, p := range []float64{1e-12, 1e-6, 0.01} {
		few := Sampled{Share: p, SE: 1e-4, Units: 900, Effective: 300}
		most := few
		most.Share = 1 - p
		hardly, nearly := Share(few, 0.95), Share(most, 0.95)
		if math.Abs(nearly.Low-(1-hardly.High)) > 1e-6 || math.Abs(nearly.High-(1-hardly.Low)) > 1e-6 {
			t.Errorf("a share of %v lies in %+v, one of 1 less that in %+v, want the one to be the rest of the other", p, hardly, nearly)
		}
	}
}

func TestFreedomByHand(t *testing.T) {
	// By hand: (2, −1, −1) has V = 3/2 · 6 = 9 on 2, (3, −3) has V = 2 · 18 = 36 on 1:
	// (9 + 36)² / (9²/2 + 36²/1) = 2025/1336.5.
	const want, tol = 2025 / 1336.5, 1e-14
	if got := Freedom([][]float64{{2, -1, -1}, {3, -3}}, 0); math.Abs(got-want) > tol {
		t.Errorf("Freedom = %.15f, want %.15f", got, want)
	}
	var g clusteredShares
	reference.Golden(t, "18-clustered-shares", &g)
	if got := Freedom(g.Output.Freedom.Hand.Moves, 0); !near(got, g.Output.Freedom.Hand.DF, 1e-12) {
		t.Errorf("Freedom = %.15f, the golden file says %.15f", got, g.Output.Freedom.Hand.DF)
	}
}

func TestFreedomOfAVarianceThatClustersDoNotExplain(t *testing.T) {
	// By hand: (2, −1, −1) has V = 9 on 2. Of a variance of 27, whose other 18 are well
	// known, 27²/(9²/2) = 18; a variance below 9 is taken to be 9.
	groups := [][]float64{{2, -1, -1}}
	for variance, want := range map[float64]float64{27: 18, 9: 2, 4: 2, 0: 2} {
		if got := Freedom(groups, variance); math.Abs(got-want) > 1e-12 {
			t.Errorf("a variance of %v has %v degrees of freedom, want %v", variance, got, want)
		}
	}
}

func TestFreedomOfGroups(t *testing.T) {
	alike := []float64{1, 1, -2, 0}
	for _, c := range []struct {
		what   string
		groups [][]float64
		want   float64
	}{
		{"one group of four", [][]float64{alike}, 3},
		{"two groups with the same moves", [][]float64{alike, alike}, 6},
		{"three of them", [][]float64{alike, alike, alike}, 9},
		{"a group that does not move beside one that does", [][]float64{alike, {0, 0, 0, 0, 0}}, 3},
		{"a group of one beside one of four", [][]float64{alike, {5}}, 3},
		{"only groups of one", [][]float64{{1}, {2}}, 0},
		{"groups that do not move", [][]float64{{0, 0}, {0, 0}}, 0},
		{"no group", nil, 0},
	} {
		if got := Freedom(c.groups, 0); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%s has %v degrees of freedom, want %v", c.what, got, c.want)
		}
	}
}

func TestFreedomLiesBetweenTheGroups(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		groups := rapid.SliceOfN(rapid.SliceOfN(rapid.Float64Range(-3, 3), 2, 6), 1, 5).Draw(t, "groups")
		least, most, moves := math.Inf(1), 0.0, 0.0
		for _, g := range groups {
			for _, l := range g {
				moves += l * l
			}
			least = math.Min(least, float64(len(g)-1))
			most += float64(len(g) - 1)
		}
		df := Freedom(groups, 0)
		if moves < 1e-100 {
			return // squares of squares would run under
		}
		if df < least*(1-1e-12) || df > most*(1+1e-12) {
			t.Errorf("%v degrees of freedom, want between the smallest group's %v and the sum %v", df, least, most)
		}
	})
}

func TestWidened(t *testing.T) {
	// By hand: t on 10 df at 0.975 is 2.228139 (printed, every table of t);
	// 2Φ(2.228139) − 1 = 2 · 0.987065 − 1.
	const want, tol = 0.974129, 1e-6
	if got := Widened(0.95, 10); math.Abs(got-want) > tol {
		t.Errorf("0.95 on 10 degrees of freedom is widened to %.6f, want %.6f", got, want)
	}
	// Source: recomputed, golden/18-clustered-shares.json, R 4.2.2 pnorm and qt.
	var g clusteredShares
	reference.Golden(t, "18-clustered-shares", &g)
	for i, level := range g.Output.Widened.Level {
		if got, want := Widened(level, g.Output.Widened.DF[i]), g.Output.Widened.Widened[i]; !near(got, want, 1e-9) {
			t.Errorf("%v on %v degrees of freedom is widened to %.12f, want %.12f", level, g.Output.Widened.DF[i], got, want)
		}
	}
	for _, df := range []float64{0, -1} {
		if got := Widened(0.95, df); got != 0.95 {
			t.Errorf("on %v degrees of freedom the level is %v, want it unchanged", df, got)
		}
	}
	if one, two := Widened(0.95, 0.3), Widened(0.95, 2); one != two {
		t.Errorf("under 2 degrees of freedom the level is %v, want that of 2, %v", one, two)
	}
}

func TestShareOfSimpleSample(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 400).Draw(t, "n")
		k := rapid.IntRange(1, n-1).Draw(t, "k")
		level := rapid.SampledFrom([]float64{0.5, 0.9, 0.95, 0.99}).Draw(t, "level")
		p := float64(k) / float64(n)
		got := Share(Sampled{Share: p, SE: math.Sqrt(p * (1 - p) / float64(n)), DF: float64(n - 1), Units: float64(n)}, level)
		low, high := dist.ExactShare(float64(k), float64(n), level)
		if math.Abs(got.Low-low) > 1e-9 || math.Abs(got.High-high) > 1e-9 {
			t.Errorf("%d of %d lies in %v to %v, the exact interval is %v to %v", k, n, got.Low, got.High, low, high)
		}
	})
}

func TestShareGrowsWithItsError(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := float64(rapid.IntRange(5, 2000).Draw(t, "units"))
		p := rapid.Float64Range(0.001, 0.999).Draw(t, "share")
		srs := math.Sqrt(p * (1 - p) / n)
		small := srs * rapid.Float64Range(0.2, 5).Draw(t, "SE")
		large := small * rapid.Float64Range(1, 4).Draw(t, "times")
		df := rapid.Float64Range(1, 60).Draw(t, "df")
		a := Share(Sampled{Share: p, SE: small, DF: df, Units: n}, 0.95)
		b := Share(Sampled{Share: p, SE: large, DF: df, Units: n}, 0.95)
		if b.Low > a.Low+1e-9 || b.High < a.High-1e-9 {
			t.Errorf("SE %v gives %v, the larger %v the interval %v, which does not hold it", small, a, large, b)
		}
		if !(a.Low >= 0 && a.Low < p && a.High > p && a.High <= 1) {
			t.Errorf("the interval %v does not hold the share %v within 0 and 1", a, p)
		}
		few := Share(Sampled{Share: p, SE: small, DF: df / 2, Units: n}, 0.95)
		if few.Low > a.Low+1e-9 || few.High < a.High-1e-9 {
			t.Errorf("on %v degrees of freedom the interval is %v, on half of them %v, which does not hold it", df, a, few)
		}
	})
}

func TestShareNeverSeen(t *testing.T) {
	// By hand: nobody of 60 fish, all single: 1 − 0.025^{1/60} = 0.0596281.
	never := Share(Sampled{Units: 60}, 0.95)
	if want, tol := 1-math.Pow(0.025, 1.0/60), 1e-12; never.Low != 0 || math.Abs(never.High-want) > tol {
		t.Errorf("never seen in 60 lies in %v to %v, want 0 to %v", never.Low, never.High, want)
	}
	// Worth 20 of them, the end is that of 20: 1 − 0.025^{1/20} = 0.1684335.
	worth := Share(Sampled{Units: 60, Effective: 20}, 0.95)
	if want, tol := 1-math.Pow(0.025, 1.0/20), 1e-12; math.Abs(worth.High-want) > tol {
		t.Errorf("never seen in 60 that are worth 20 ends at %v, want %v", worth.High, want)
	}
	always := Share(Sampled{Share: 1, Units: 60, Effective: 20}, 0.95)
	if math.Abs(always.Low-(1-worth.High)) > 1e-12 || always.High != 1 {
		t.Errorf("always seen lies in %v to %v, want the mirror of %v to %v", always.Low, always.High, worth.Low, worth.High)
	}
	if more := Share(Sampled{Units: 60, Effective: 900}, 0.95); more != never {
		t.Errorf("60 fish that are said to be worth 900 give %v, want that of 60, %v", more, never)
	}
	if one := Share(Sampled{Units: 1, DF: 3}, 0.95); one.Low != 0 || math.Abs(one.High-0.975) > 1e-12 {
		t.Errorf("never seen in one fish lies in %v to %v, want 0 to 0.975", one.Low, one.High)
	}
}

func TestSharePanics(t *testing.T) {
	for what, call := range map[string]func(){
		"a negative share":     func() { Share(Sampled{Share: -0.1, Units: 5}, 0.95) },
		"a share over 1":       func() { Share(Sampled{Share: 1.1, Units: 5}, 0.95) },
		"a share that is none": func() { Share(Sampled{Share: math.NaN(), Units: 5}, 0.95) },
		"a share of nothing":   func() { Share(Sampled{Share: 0.5}, 0.95) },
		"a level of 1":         func() { Share(Sampled{Share: 0.5, Units: 5}, 1) },
		"a level of 0":         func() { Share(Sampled{Share: 0.5, Units: 5}, 0) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s does not panic", what)
				}
			}()
			call()
		}()
	}
}

// Of 120 fish from 8 trips 12 % are of age 5, with a standard error of 4 %: as if there
// were 66 single fish, and of these 46 for want of more trips.
func ExampleShare() {
	i := Share(Sampled{Share: 0.12, SE: 0.04, DF: 7, Units: 120}, 0.95)
	fmt.Printf("%.3f to %.3f\n", i.Low, i.High)
	never := Share(Sampled{Units: 120, Effective: 30}, 0.95)
	fmt.Printf("%.3f to %.3f\n", never.Low, never.High)
	// Output:
	// 0.043 to 0.249
	// 0.000 to 0.116
}

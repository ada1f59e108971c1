package key

import "earstone/statistics/dist"

// AreaTest says whether one key serves several areas, gears or other groups: a
// likelihood-ratio test of the group effects in the smoothed key.
type AreaTest struct {
	Statistic float64   // 2 (log-likelihood with effects − without)
	Degrees   int       // Σ over ages of groups with fish at risk, less one each
	P         float64   // upper tail of χ² on Degrees
	ByAge     []float64 // the statistic's part by age class; 0 where there is no curve
	Groups    int       // groups with aged fish
	Fish      float64
	Settled   bool // both fits came to their end
	Differs   bool // P < 0.05: a key pooled over the groups may mislead
}

// Areas tests whether age given length differs between groups of origins: group[o] is
// the group of origin o, −1 leaves its fish out, and df the columns of the spline (0
// means 3).
//
// Both fits are without penalty; with effects, each age has one shift of its logit a
// group. A small P says that the groups' ages at a length differ, by how much the catch
// at age from keys with and without the groups shows. The test takes the fish for
// independent: fish of one trip are alike, so that a middling P is weaker than it
// looks, and a large one is safe.
//
// The error is a *Trouble: NoAges, or OneStratum when only one group has aged fish.
// Panics when group has not one number an origin.
//
// Methods, section 5, "Does one key serve?". Source: golden topic 05,
// stratum_likelihood_ratio.
func Areas(s Sample, group []int32, df int) (AreaTest, error) {
	if len(group) != len(s.Grid.Rungs[0]) {
		panic("key: Areas wants a group for every origin")
	}
	number := int32(0)
	for _, g := range group {
		number = max(number, g+1)
	}
	s.Grid.Rungs, s.Grid.Groups = [][]int32{group}, []int{int(number)}
	s.Grid.Path = [][]int32{{-1}}
	fish := s.byGroup(int(number))
	test := AreaTest{Fish: sum(fish)}
	first := int32(-1)
	for g, n := range fish {
		if n > 0 {
			if test.Groups++; first < 0 {
				first = int32(g)
			}
		}
	}
	switch test.Groups {
	case 0:
		return test, &Trouble{Reason: NoAges}
	case 1:
		return test, &Trouble{Reason: OneStratum, Fish: test.Fish}
	}
	test.compare(s, int(first), df)
	return test, nil
}

// byGroup is the fish with both bin and age by group, and takes the others out.
func (s *Sample) byGroup(groups int) []float64 {
	fish, kept := make([]float64, groups), make([]Entry, 0, len(s.Entries))
	for _, e := range s.Entries {
		if g := s.Grid.Rungs[0][e.Origin]; g >= 0 && e.Bin >= 0 && e.Age >= 0 && e.Fish > 0 {
			fish[g] += e.Fish
			kept = append(kept, e)
		}
	}
	s.Entries = kept
	return fish
}

// compare fits without and with effects, the first group's pinned at 0.
func (t *AreaTest) compare(s Sample, first, df int) {
	set := Smoothing{DF: df, Strata: 1, Curvature: -1}
	with, _ := newSmoothOf(s, set)
	with.shrink, with.pinned = 0, first
	told := with.refit(s.Weights(), with.start, 1e-10)
	alone := s
	alone.Grid.Rungs = [][]int32{make([]int32, len(s.Grid.Rungs[0]))}
	alone.Grid.Groups = []int{1}
	without, _ := newSmoothOf(alone, set)
	without.shrink, without.pinned = 0, 0
	plain := without.refit(s.Weights(), without.start, 1e-10)
	t.Settled = told.Converged && plain.Converged
	t.ByAge = make([]float64, s.Grid.Ages)
	pooled := without.Curves()
	for a, curve := range with.Curves() {
		if !curve.Fitted {
			continue
		}
		t.ByAge[a] = 2 * (curve.LogLikelihood - pooled[a].LogLikelihood)
		t.Statistic += t.ByAge[a]
		t.Degrees += with.atRisk(a) - 1
	}
	t.P = 1
	if t.Degrees > 0 {
		t.P = dist.ChiSquareUpper(max(t.Statistic, 0), float64(t.Degrees))
	}
	t.Differs = t.P < 0.05
}

// atRisk is how many strata have fish of age a or older.
func (s *smooth) atRisk(a int) int {
	number, size := 0, s.bins*s.strata
	for g := range s.strata {
		for at := a*size + g; at < len(s.n); at += s.strata {
			if s.n[at] > 0 {
				number++
				break
			}
		}
	}
	return number
}

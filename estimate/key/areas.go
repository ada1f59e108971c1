package key

import "earstone/statistics/dist"

// AreaTest says whether one key serves several areas, gears or other groups: a
// likelihood-ratio test of the group effects in the smoothed key.
type AreaTest struct {
	Statistic float64   // 2 (log-likelihood with effects − without)
	Degrees   int       // Σ over ages of groups with fish at risk, less those of the key itself
	P         float64   // upper tail of χ² on Degrees, were fish of one trip not alike
	ByAge     []float64 // the statistic's part by age class; 0 where there is no curve
	Groups    int       // groups with aged fish
	Fish      float64
	// Filled and FilledDegrees are Statistic and Degrees of the ages with at least ten fish, and
	// ten older ones, for each effect: where effects are many for their fish the statistic is
	// larger than χ² without any difference.
	Filled        float64
	FilledDegrees int
	Alike         float64 // design effect: how much more the scores of trips vary than those of as many fish apart, at least 1
	Clusters      int     // trips, and fish of no trip, with aged fish
	ByTrip        float64 // p of Filled/(Alike·FilledDegrees) as F on FilledDegrees and Clusters − Groups; 1 where no age is filled
	Settled       bool    // both fits came to their end
	Differs       bool    // ByTrip < 0.01: a key pooled over the groups may mislead
}

// Areas tests whether age given length differs between groups of origins: group[o] is
// the group of origin o, −1 leaves its fish out; within[o] is the stratum of the key that the
// group is a part of, nil one for all; df the columns of the spline (0 means 3).
//
// Both fits are without penalty. One has, for each age, a shift of its logit a stratum, the
// other a shift a group: what differs between strata already, quarters for one, is in both. A
// small p says that the groups' ages at a length differ, by how much the catch at age from
// keys with and without the groups shows. Fish of one trip are alike: the statistic is
// divided by the mean over ages of
//
//	Σ_t (Σ_{i∈t} r_i)² / Σ_i r_i²,  r_i = 1{a_i = j} − p_j(l_i, s_i) of fish of age j and older,
//
// at the fit without groups, and held against F on the trips less the groups.
//
// The error is a *Trouble: NoAges, or OneStratum when no stratum has aged fish of two
// groups. Panics when group or within has not one number an origin.
//
// Methods, section 5, "Does one key serve?". Source: golden topic 05,
// stratum_likelihood_ratio; Rao & Scott (1984), Ann. Stat. 12:46-60, first order (citation
// from memory).
func Areas(s Sample, group, within []int32, df int) (AreaTest, error) {
	if within == nil {
		within = make([]int32, len(group))
	}
	if len(group) != len(s.Grid.Rungs[0]) || len(within) != len(group) {
		panic("key: Areas wants a group and a stratum for every origin")
	}
	parted, whole := s.along(group), s.along(within)
	parted.byGroup()
	whole.Entries = parted.Entries
	whole.byGroup()
	parted.Entries = whole.Entries // those of a group and of a stratum
	fish := parted.byGroup()
	test := AreaTest{Fish: sum(fish)}
	groups, first := some(fish)
	strata, firstStratum := some(whole.byGroup())
	test.Groups = groups
	switch {
	case groups == 0:
		return test, &Trouble{Reason: NoAges}
	case groups <= strata:
		return test, &Trouble{Reason: OneStratum, Fish: test.Fish}
	}
	set := Smoothing{DF: df, Strata: 1, Curvature: -1}
	with, settled := unpenalised(parted, first, set)
	without, settledToo := unpenalised(whole, firstStratum, set)
	test.Settled = settled && settledToo
	test.compare(with, without)
	test.cluster(without, whole)
	test.Differs = test.ByTrip < surely
	return test, nil
}

// along is the sample with one rung, the groups of its origins.
func (s Sample) along(group []int32) Sample {
	number := int32(0)
	for _, g := range group {
		number = max(number, g+1)
	}
	s.Grid.Rungs, s.Grid.Groups, s.Grid.Path = [][]int32{group}, []int{int(number)}, [][]int32{{-1}}
	return s
}

// some counts the groups that have fish, and gives the first of them.
func some(fish []float64) (number, first int) {
	for g := len(fish) - 1; g >= 0; g-- {
		if fish[g] > 0 {
			number, first = number+1, g
		}
	}
	return number, first
}

// unpenalised fits effects of all groups but one, which is pinned at 0.
func unpenalised(s Sample, pinned int, set Smoothing) (*SmoothWork, bool) {
	w, _ := newSmoothOf(s, set)
	w.shrink, w.pinned = 0, pinned
	return w, w.refit(s.Weights(), w.start, 1e-10).Converged
}

// byGroup is the fish with both bin and age by group, and takes the others out.
func (s *Sample) byGroup() []float64 {
	fish, kept := make([]float64, s.Grid.Groups[0]), make([]Entry, 0, len(s.Entries))
	for _, e := range s.Entries {
		if g := s.Grid.Rungs[0][e.Origin]; g >= 0 && e.Bin >= 0 && e.Age >= 0 && e.Fish > 0 {
			fish[g] += e.Fish
			kept = append(kept, e)
		}
	}
	s.Entries = kept
	return fish
}

// compare sets the fit with groups against the one without.
func (t *AreaTest) compare(with, without *SmoothWork) {
	t.ByAge = make([]float64, with.ages)
	pooled := without.Curves()
	for a, curve := range with.Curves() {
		if !curve.Fitted {
			continue
		}
		t.ByAge[a] = 2 * (curve.LogLikelihood - pooled[a].LogLikelihood)
		t.Statistic += t.ByAge[a]
		effects := with.atRisk(a) - without.atRisk(a)
		t.Degrees += effects
		if own, older := with.fishOf(a), with.fishOver(a); effects > 0 && min(own, older) >= fewestAnEffect*float64(effects) {
			t.Filled += t.ByAge[a]
			t.FilledDegrees += effects
		}
	}
	t.P = 1
	if t.Degrees > 0 {
		t.P = dist.ChiSquareUpper(max(t.Statistic, 0), float64(t.Degrees))
	}
}

// cluster finds how alike the fish of a trip are about the fit w to sample s.
func (t *AreaTest) cluster(w *SmoothWork, s Sample) {
	trips, apart := 0, 0.0
	for _, e := range s.Entries {
		trips = max(trips, int(e.Trip)+1)
		if e.Trip < 0 {
			apart += e.Fish
		}
	}
	score, single, seen := make([]float64, trips*w.ages), make([]float64, w.ages), make([]bool, trips)
	joint := make([]float64, w.ages)
	w.odds(w.b)
	q := make([]float64, w.ages)
	for _, e := range s.Entries {
		w.row(q, int(e.Bin), int(s.Grid.Rungs[0][e.Origin]))
		if e.Trip >= 0 {
			seen[e.Trip] = true
		}
		left := 1.0
		for j := 0; j <= int(e.Age) && j < w.ages-1; j++ {
			p := over(q[j], left)
			left -= q[j]
			if w.kind[j] != fitted {
				continue
			}
			r := -p
			if j == int(e.Age) {
				r = 1 - p
			}
			single[j] += e.Fish * r * r
			if e.Trip < 0 {
				joint[j] += e.Fish * r * r
			} else {
				score[int(e.Trip)*w.ages+j] += e.Fish * r
			}
		}
	}
	t.Clusters = int(apart + 0.5)
	for trip, there := range seen {
		if there {
			t.Clusters++
		}
		for j := range joint {
			joint[j] += score[trip*w.ages+j] * score[trip*w.ages+j]
		}
	}
	effects, curves := 0.0, 0.0
	for j, alone := range single {
		if alone > 0 {
			effects, curves = effects+joint[j]/alone, curves+1
		}
	}
	t.Alike, t.ByTrip = 1, 1
	if curves > 0 {
		t.Alike = max(effects/curves, 1)
	}
	if free := t.Clusters - t.Groups; t.FilledDegrees > 0 && free > 0 {
		df := float64(t.FilledDegrees)
		t.ByTrip = dist.FUpper(max(t.Filled, 0)/(t.Alike*df), df, float64(free))
	}
}

// surely is the level of Differs. A programme asks of quarters, areas and gears at once, and a
// warning that comes by chance costs trust.
const surely = 0.01

// fewestAnEffect is ten events for each parameter of a logistic regression (Peduzzi and
// others 1996, J. Clin. Epidemiol. 49:1373-1379, from memory).
const fewestAnEffect = 10

// fishOf is the fish of age a.
func (s *smooth) fishOf(a int) float64 {
	size := s.bins * s.strata
	return sum(s.n[a*size : (a+1)*size])
}

// fishOver is the fish older than a.
func (s *smooth) fishOver(a int) float64 { return sum(s.n[(a+1)*s.bins*s.strata:]) }

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

package run

import (
	"cmp"
	"slices"

	"earstone/estimate/growth"
	"earstone/estimate/resample"
	"earstone/programme/record"
	"earstone/statistics/dist"
)

// GroupsFound is growth compared between sexes, areas or nurseries.
//
// Comparison takes every fish once and each for itself, as a likelihood must. Apart has
// the fish stand for the catch they were picked from, each group a curve of its own, with
// errors over trips; Equal asks whether its curves may be one.
type GroupsFound struct {
	By    string // sex, area or nursery
	Names []string
	Fish  []int // by group
	Left  int   // fish that are in no group, or in one with too few

	Scatter    growth.Scatter
	Comparison growth.Comparison
	Apart      *growth.Fit
	NoApart    error // why Apart is nil
	Equal      growth.Test
	Tested     bool
	Parameters [][]Estimate     // by group, of Apart
	Bands      [][]growth.Point // by group, within its ages
}

// The least fish of a group that is compared, and the most groups: the largest.
const (
	leastGroup = 50
	mostGroups = 6
)

// unequal is the p below which groups are said to grow differently: several groupings are
// looked at in every season, and at 0.05 one season in seven would cry wolf.
const unequal = 0.01

// Differ says whether the curves of the groups are told apart by more than chance.
func (g *GroupsFound) Differ() bool { return g.Tested && g.Equal.P < unequal }

// growthGroups compares growth between the groups that hold fish enough.
func (c *chain) growthGroups(s *Species) {
	if s.Growth == nil {
		return
	}
	sample := s.Growth.sample
	of := []struct {
		by   string
		name func(i int) string
	}{
		{"sex", func(i int) string { return sample.each[i].Sex.String() }},
		{"area", func(i int) string {
			if t := sample.stands.trip[i]; t >= 0 {
				return s.Counts.Trips[t].Cell.Area
			}
			return sample.each[i].Area
		}},
		{"nursery", c.nurseryOf(s, sample)},
	}
	weights := c.pointWeights(s, &sample.stands)
	found := make([]*GroupsFound, len(of))
	resample.Each(c.options.Workers, len(of), func(i int) {
		found[i] = sample.compare(of[i].by, of[i].name, weights, s.Growth, c.options.Level)
	})
	for _, g := range found {
		if g != nil {
			s.Growth.Groups = append(s.Growth.Groups, g)
		}
	}
	c.stage("growth of groups")
}

// nurseryOf names the nursery that a fish is of: known, or called for the likeliest.
func (c *chain) nurseryOf(s *Species, sample *growthSample) func(i int) string {
	at := map[record.FishID]string{}
	if o := s.Origin; o != nil {
		for i := range o.Fish {
			if call := o.Fit.Fish[i].Call; call >= 0 {
				at[o.Fish[i].Fish.Fish] = o.Nurseries[call]
			}
		}
		for _, f := range o.Known {
			at[f.Fish] = o.Nurseries[f.Nursery]
		}
	}
	return func(i int) string { return at[sample.each[i].Fish] }
}

// compare is nil with fewer than two groups.
func (g *growthSample) compare(by string, name func(i int) string, weights []float64, all *GrowthFound, level float64) *GroupsFound {
	found := &GroupsFound{By: by, Scatter: all.Scatter}
	group := found.divide(g.fish, name)
	if len(found.Names) < 2 {
		return nil
	}
	set := growth.Settings{Model: all.Curves[all.Chosen].Model, Scatter: all.Scatter}
	if fit := all.Curves[all.Chosen].Fit; fit != nil {
		set.Start = fit.Estimates
	}
	singly := g.grouped(group, nil)
	singly.Cluster = nil
	singly = growth.Aggregate(singly, ageStep, 0).Data
	found.Comparison, _ = growth.Compare(singly, set) // no error: there are two groups, and no weights
	set.Apart = make([]bool, len(set.Model.Parameters()))
	for p := range set.Apart {
		set.Apart[p] = true
	}
	data := growth.Aggregate(g.grouped(group, weights), ageStep, 0).Data
	fit, err := growth.FitCurve(data, set)
	if err != nil {
		found.NoApart = err
		return found
	}
	found.Apart = &fit
	found.Equal, found.Tested = fit.Equal(set.Apart)
	half := dist.TQuantile((1+level)/2, float64(max(fit.Clusters-1, 1)))
	for k := range found.Names {
		var ages []float64
		for row, of := range data.Group {
			if of == k {
				ages = append(ages, data.Age[row])
			}
		}
		found.Parameters = append(found.Parameters, ofGroup(&fit, k, half, level))
		found.Bands = append(found.Bands, fit.Band(k, bandAges(ages), level))
	}
	return found
}

// ofGroup are the parameters of a group, each with so many standard errors to either side.
func ofGroup(fit *growth.Fit, k int, half, level float64) []Estimate {
	names := fit.Curve.Model.Parameters()
	out := make([]Estimate, len(names))
	for p := range names {
		x, se := fit.Estimates[k*len(names)+p], fit.SE(k, p)
		out[p].Value, out[p].SE = record.Some(x), se
		if se.Known {
			out[p].Low, out[p].High = record.Some(x-half*se.X), record.Some(x+half*se.X)
			out[p].Level, out[p].Method = level, ByStudent
		}
	}
	return out
}

// divide names the groups, the largest ones that hold fish enough, in the order of their
// names, and gives each fish its group; −1: none.
func (g *GroupsFound) divide(fish int, name func(i int) string) []int {
	names, count := make([]string, fish), map[string]int{}
	for i := range names {
		names[i] = name(i)
		count[names[i]]++
	}
	sorted := slices.Compact(slices.Sorted(slices.Values(names)))
	sorted = slices.DeleteFunc(sorted, func(n string) bool { return n == "" || count[n] < leastGroup })
	slices.SortStableFunc(sorted, func(a, b string) int { return cmp.Compare(count[b], count[a]) })
	g.Names = sorted[:min(len(sorted), mostGroups)]
	slices.Sort(g.Names)
	g.Fish, g.Left = make([]int, len(g.Names)), fish
	group := make([]int, fish)
	for i, n := range names {
		k, in := slices.BinarySearch(g.Names, n)
		if group[i] = -1; in {
			group[i] = k
			g.Fish[k]++
			g.Left--
		}
	}
	return group
}

// grouped are the fish of the groups, with what each stands for, and with the trip that it
// came off; without weights each fish for itself.
func (g *growthSample) grouped(group []int, weights []float64) growth.Data {
	var d growth.Data
	fish, total := 0, 0.0
	for i, w := range weights {
		if w > 0 && group[i] >= 0 {
			fish, total = fish+1, total+w
		}
	}
	for i, r := range g.ages.rows {
		n := g.data.Count[i]
		if group[r.fish] < 0 || !(n > 0) || weights != nil && !(weights[r.fish] > 0) {
			continue
		}
		d.Age, d.Length, d.Count = append(d.Age, g.data.Age[i]), append(d.Length, g.data.Length[i]), append(d.Count, n)
		d.Group, d.Cluster = append(d.Group, group[r.fish]), append(d.Cluster, cluster(g.stands.trip[r.fish], int(r.fish)))
		if weights != nil {
			d.Weight = append(d.Weight, weights[r.fish]*float64(fish)/total)
		}
	}
	return d
}

// cluster numbers the trip of a fish evenly; a fish of no trip is its own, with an odd one.
func cluster(trip int32, fish int) int {
	if trip >= 0 {
		return 2 * int(trip)
	}
	return 2*fish + 1
}

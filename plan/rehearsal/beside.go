package rehearsal

import (
	"earstone/estimate/growth"
	"earstone/estimate/origin"
	"earstone/estimate/run"
	"earstone/plan/fishery"
	"earstone/programme/strata"
)

// quantity is what is scored beside the catch at age.
type quantity int

const (
	yearShare quantity = iota
	ageShare
	nurseryCatch
	wholeShare
	bayesShare
	largest
	rate
	zeroAge
)

// quantities are their names.
var quantities = [...]string{
	yearShare:    "shares of nurseries, a year's catch",
	ageShare:     "shares of nurseries, single ages",
	nurseryCatch: "catch by nursery, single ages",
	wholeShare:   "shares of nurseries, all assayed fish by likelihood",
	bayesShare:   "shares of nurseries, all assayed fish by simulation",
	largest:      "growth: Linf",
	rate:         "growth: K",
	zeroAge:      "growth: t0",
}

type besideTrial struct {
	quantity
	trial
}

// trialOf pairs an estimate with its truth.
func trialOf(of quantity, truth float64, e run.Estimate) besideTrial {
	return besideTrial{of, trial{truth: truth, value: e.Value.X, low: e.Low.X, high: e.High.X}}
}

// originTrials pairs shares and catches by nursery with the truth. A nursery that the
// baseline lacks is no trial: its fish are outside, or called for others.
func originTrials(s *run.Species, truth *fishery.Truth) []besideTrial {
	var all []besideTrial
	if s.Origin == nil {
		return nil
	}
	for i := range s.Origin.Years {
		place := &s.Origin.Years[i]
		ofYear := func(cell strata.Cell) bool { return cell.Year == place.Cell.Year }
		whole, shares, caught := truth.Composition(ofYear), truth.Shares(ofYear), truth.ByNursery(ofYear)
		K, last := len(truth.Nurseries), len(place.Number)-1
		for k, name := range s.Origin.Nurseries {
			t := at(truth.Nurseries, name)
			all = append(all, trialOf(yearShare, whole[t], place.Share[last][k]))
			for a := range last {
				if fish := caught[a*K+t]; fish > 0 {
					all = append(all, trialOf(ageShare, shares[a*K+t], place.Share[a][k]), trialOf(nurseryCatch, fish, place.Number[a][k]))
				}
			}
		}
	}
	whole := truth.Composition(fishery.All)
	for k, name := range s.Origin.Nurseries {
		share := whole[at(truth.Nurseries, name)]
		all = append(all, trialOf(wholeShare, share, s.Origin.Whole[k]))
		if s.Origin.Bayes != nil {
			all = append(all, ofBayes(share, s.Origin.Bayes, k))
		}
	}
	return all
}

func ofBayes(share float64, b *origin.Simulated, k int) besideTrial {
	return besideTrial{bayesShare, trial{truth: share, value: b.Share[k], low: b.Low[k], high: b.High[k]}}
}

func at(names []string, name string) int {
	for i, one := range names {
		if one == name {
			return i
		}
	}
	panic("rehearsal: a nursery that nobody invented: " + name)
}

// Census is the von Bertalanffy curve of the whole catch, every fish measured and its age
// known: what an estimate of growth is an estimate of. Where gears pick by length that is
// not growth in the sea.
func Census(truth *fishery.Truth, scatter growth.Scatter) (growth.Fit, error) {
	var whole growth.Data
	fish := 0.0
	for _, g := range truth.Grown(fishery.All) {
		whole.Age, whole.Length, whole.Count = append(whole.Age, g.Age), append(whole.Length, g.Cm), append(whole.Count, g.Fish)
		fish += g.Fish
	}
	for i := range whole.Count {
		whole.Count[i] *= 1e5 / fish
	}
	return growth.FitCurve(whole, growth.Settings{Model: growth.VonBertalanffy, Scatter: scatter})
}

// growthTrials pairs the reported curve with that of a census.
func growthTrials(s *run.Species, truth *fishery.Truth) []besideTrial {
	if s.Growth == nil || len(s.Growth.Parameters) == 0 || s.Growth.Curves[s.Growth.Chosen].Model != growth.VonBertalanffy {
		return nil
	}
	census, err := Census(truth, s.Growth.Scatter)
	if err != nil {
		return nil
	}
	var all []besideTrial
	for i, name := range growth.VonBertalanffy.Parameters() {
		all = append(all, trialOf(growthQuantities[name], census.Estimates[i], s.Growth.Parameters[i]))
	}
	return all
}

var growthQuantities = map[string]quantity{"Linf": largest, "K": rate, "t0": zeroAge}

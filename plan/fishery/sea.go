package fishery

import (
	"math"

	"earstone/statistics/stream"
)

// sea is the numbers of fish by year and age.
type sea struct {
	ages   int
	start  []float64 // at the start of the year, years × ages
	deaths []float64 // total mortality per year, by age − 1
}

// newSea follows cohorts of lognormal strength from age 1 at a constant mortality by
// age: natural, and fishing in proportion to what is selected.
func newSea(s *Settings, draw *stream.Stream, selected []float64) sea {
	w := sea{ages: s.OldestAge, start: make([]float64, s.Years*s.OldestAge), deaths: make([]float64, s.OldestAge)}
	for a, share := range selected {
		w.deaths[a] = s.NaturalMortality + s.FishingMortality*share
	}
	// By the year in which a cohort is of age 1; the oldest fish of the first year come first.
	for recruits := 1 - s.OldestAge; recruits < s.Years; recruits++ {
		n := math.Exp(s.RecruitSpread * draw.Normal())
		for a := range w.ages {
			if y := recruits + a; y >= 0 && y < s.Years {
				w.start[y*w.ages+a] = n
			}
			n *= math.Exp(-w.deaths[a])
		}
	}
	return w
}

// numbers is n_q(a) in the middle of a quarter (0 to 3); a counts from age 1.
func (w sea) numbers(year, quarter, a int) float64 {
	return w.start[year*w.ages+a] * math.Exp(-w.deaths[a]*(float64(quarter)+0.5)/4)
}

package fishery

import (
	"fmt"
	"math"
	"slices"
)

// Asked is a sampling that someone asked for, in place of the one that the settings deal.
type Asked struct {
	Trips    []int // by stratum, in the order of Truth.Strata
	Stones   []int // by quarter and bin of BinCm from 0 cm on, 4 × any number of bins; of each year
	Readings int
}

// Ask is the same fishery, the same truth, sampled as asked: so many trips a stratum, as
// many fish measured a trip as before, and of the fish measured in each quarter and bin so
// many aged, or all where there are fewer. Panics when the shapes do not fit.
func (f *Fishery) Ask(a Asked) *Fishery {
	if len(a.Trips) != len(f.strata) || len(a.Stones)%4 != 0 {
		panic(fmt.Sprintf("fishery: trips are asked of %d strata and stones of %d cells, and there are %d strata of four quarters",
			len(a.Trips), len(a.Stones), len(f.strata)))
	}
	asked := *f
	asked.asked = slices.Clone(a.Stones)
	asked.strata = slices.Clone(f.strata)
	s := &asked.settings
	measured, trips := float64(s.Lengths)/float64(s.Trips), 0
	for i := range asked.strata {
		asked.strata[i].trips = a.Trips[i]
		trips += a.Trips[i]
	}
	s.Trips, s.Lengths = trips, int(math.Round(measured*float64(trips)))
	s.Aged = 0
	for _, n := range a.Stones {
		s.Aged += n * s.Years
	}
	s.Readings = a.Readings
	return &asked
}

// askFor sets wanted to what was asked for.
func (p *picking) askFor(asked []int) {
	copy(p.left, p.there)
	bins := len(asked) / 4
	for box, there := range p.there {
		quarter, bin := box/p.bins, box%p.bins
		if p.wanted[box] = 0; bin < bins {
			p.wanted[box] = min(there, int32(asked[quarter*bins+bin]))
		}
	}
}

package allocation

import (
	"math"
)

// stoneVariance is what the stones of the season have in the variance of each target.
type stoneVariance struct {
	byTrip []float64 // trips × targets
	inYear []float64 // of the year's stones
}

// stoneVariance adds the squares of what each stone does; stones of other years, along the
// ladder, go to what is fixed.
func (s *Season) stoneVariance() stoneVariance {
	c, f, k := s.Species.Counts, s.Species.Influence, len(s.Ages)
	all := stoneVariance{make([]float64, len(c.Trips)*k), make([]float64, k)}
	ages := len(f.Number)
	for i, e := range c.Key.Entries {
		own := int(c.Origins[e.Origin].Year) == f.Year || c.Origins[e.Origin].Year == 0
		for j, age := range s.Ages {
			does := f.Stones[i*ages+age]
			v := e.Fish * does * does
			if e.Trip >= 0 {
				all.byTrip[int(e.Trip)*k+j] += v
			}
			if own {
				all.inYear[j] += v
			} else {
				s.Fixed[j] += v
			}
		}
	}
	return all
}

// ofTrips is what is known of the trips of one stratum.
type ofTrips struct {
	stratum int
	trips   int
	own     []float64 // unit variance by target; meaningful from two trips on
	basis   []float64 // N_h² p_h(1 − p_h)
}

// trips make a cell of each stratum with a catch.
func (s *Season) trips(stones []float64, most float64) {
	f, k := s.Species.Influence, len(s.Ages)
	all := make([]ofTrips, 0, len(f.Strata))
	top, bottom := make([]float64, k), make([]float64, k)
	for _, i := range f.Strata {
		h := s.ofStratum(i, stones)
		for j := range top {
			if h.trips >= 2 {
				weight := float64(h.trips - 1)
				top[j] += weight * h.own[j]
				bottom[j] += weight * h.basis[j]
			}
		}
		all = append(all, h)
	}
	rho := pooled(top, bottom)
	for _, h := range all {
		cell := Cell{Unit: make([]float64, k), Today: h.trips, Least: leastTrips, Cost: s.Costs[Trip],
			Most: max(int(math.Ceil(most*float64(h.trips))), leastTrips)}
		for j := range cell.Unit {
			pool := rho[j] * h.basis[j]
			if cell.Unit[j] = pool; h.trips >= 2 {
				weight := float64(h.trips-1) / float64(h.trips-1+ownTrips)
				cell.Unit[j] = max(weight*h.own[j]+(1-weight)*pool, pool/4)
			}
		}
		s.Places = append(s.Places, Place{Trip, h.stratum, -1, -1})
		s.Cells = append(s.Cells, cell)
	}
}

// pooled is ρ of each target: its own and that of all targets in equal parts, for a few
// dozen trips know no target's well; never below a tenth of that of all.
func pooled(top, bottom []float64) []float64 {
	mean, n := 0.0, 0.0
	for j := range top {
		if bottom[j] > 0 {
			mean += top[j] / bottom[j]
			n++
		}
	}
	if n > 0 {
		mean = max(mean/n, 0)
	}
	rho := make([]float64, len(top))
	for j := range rho {
		own := mean
		if bottom[j] > 0 {
			own = top[j] / bottom[j]
		}
		rho[j] = max((own+mean)/2, mean/10)
	}
	return rho
}

// ofStratum is what the trips of a stratum say of themselves: the variance by leaving each
// out in turn, m/(m − 1) Σ L², less that of their stones.
func (s *Season) ofStratum(i int, stones []float64) ofTrips {
	c, f, k := s.Species.Counts, s.Species.Influence, len(s.Ages)
	h := ofTrips{stratum: i, own: make([]float64, k), basis: make([]float64, k)}
	ages, stratum := len(f.Number), &c.Design.Strata[i]
	if !stratum.Filled {
		h.trips = len(stratum.Trips)
	}
	m := float64(h.trips)
	place := &s.Species.Catch.Strata[i]
	for j, age := range s.Ages {
		if n := place.Total.Value.X; n > 0 {
			p := place.Number[age].Value.X / n
			h.basis[j] = n * n * p * (1 - p)
		}
		if h.trips < 2 {
			continue
		}
		sum := 0.0
		for _, t := range stratum.Trips {
			moves := f.Trips[int(t)*ages+age]
			sum += float64(m/(m-1)*moves*moves) - stones[int(t)*k+j]
		}
		h.own[j] = m * sum
	}
	return h
}

// stones make a cell of each length bin of the year's key strata where fish are caught.
func (s *Season) stones(variance []float64) {
	c, f, k := s.Species.Counts, s.Species.Influence, len(s.Ages)
	bins := c.Bins.N
	aged, there := s.aged(), s.there(nil)
	basis, sum := make([]float64, len(f.Catch)*k), make([]float64, k)
	for at, fish := range f.Catch {
		if fish == 0 {
			continue
		}
		for j, age := range s.Ages {
			q := s.share(at, age)
			basis[at*k+j] = fish * fish * q * (1 - q)
			if aged[at] > 0 {
				sum[j] += basis[at*k+j] / (aged[at] + 1)
			}
		}
	}
	for at, fish := range f.Catch {
		if fish == 0 || there[at].fish < 1 {
			continue
		}
		cell := Cell{Unit: make([]float64, k), Offset: 1, Today: int(aged[at] + 0.5), Most: there[at].expected(), Cost: s.stoneCost()}
		for j := range cell.Unit {
			if sum[j] > 0 {
				cell.Unit[j] = variance[j] / sum[j] * basis[at*k+j]
			}
		}
		s.Places = append(s.Places, Place{Stone, -1, at / bins, at % bins})
		s.Cells = append(s.Cells, cell)
	}
}

// share is the share of an age of the catch in a cell of the key; where it has no key, that
// of the whole catch.
func (s *Season) share(at, age int) float64 {
	f, d := s.Species.Influence, &s.Species.Counts.Design
	q, all := 0.0, 0.0
	for a, x := range f.Q[at*d.Ages : (at+1)*d.Ages] {
		if all += x; d.Fold(a) == age {
			q += x
		}
	}
	if all > 0 {
		return q
	}
	total := 0.0
	for _, n := range f.Number {
		total += n
	}
	return f.Number[age] / total
}

// supply is how many fish of a cell come along with trips, and how unevenly.
type supply struct{ fish, variance float64 }

// expected is how many stones can be counted on when all are asked for that came along last
// time: of a number that is normal about n with an SD, the part up to n has the mean
// n − SD/√2π.
func (s supply) expected() int {
	return int(math.Max(s.fish-math.Sqrt(s.variance/(2*math.Pi)), 0) + 0.5)
}

// obtainable sets how many stones there are to be had from the trips of a plan.
func (s *Season) obtainable(n []int) {
	trips := map[int]float64{} // by stratum, of today's
	for i, place := range s.Places {
		if place.Item == Trip && s.Cells[i].Today > 0 {
			trips[place.Stratum] = float64(n[i]) / float64(s.Cells[i].Today)
		}
	}
	there := s.there(trips)
	for i, place := range s.Places {
		if place.Item == Stone {
			s.Cells[i].Most = there[place.Key*s.Species.Counts.Bins.N+place.Bin].expected()
		}
	}
}

// aged are the aged fish of the year by key stratum and bin.
func (s *Season) aged() []float64 {
	c := s.Species.Counts
	aged := make([]float64, len(s.Species.Influence.Catch))
	for _, e := range c.Key.Entries {
		if k := s.keyOf(e.Origin); k >= 0 && e.Bin >= 0 {
			aged[k*c.Bins.N+int(e.Bin)] += e.Fish
		}
	}
	return aged
}

// there is what was measured of each cell, with so many times today's trips in each stratum
// (nil: as today). Trips bring unlike numbers: the variance of a stratum's sum is m times
// that among its trips, and no less than chance alone has.
func (s *Season) there(times map[int]float64) []supply {
	c, f := s.Species.Counts, s.Species.Influence
	bins, there := c.Bins.N, make([]supply, len(f.Catch))
	for _, i := range f.Strata {
		stratum := &c.Design.Strata[i]
		if stratum.Filled {
			continue
		}
		by := 1.0
		if times != nil {
			by = times[i]
		}
		m := float64(len(stratum.Trips))
		for l := range bins {
			sum, square := 0.0, 0.0
			for _, t := range stratum.Trips {
				fish := c.Trips[t].Measured * c.Design.Lengths[int(t)*bins+l]
				sum += fish
				square += fish * fish
			}
			among := sum
			if m > 1 {
				among = math.Max(sum, m*(square-sum*sum/m)/(m-1))
			}
			at := &there[stratum.Key*bins+l]
			at.fish += by * sum
			at.variance += by * among
		}
	}
	return there
}

// keyOf is the key stratum that an origin's fish are of, −1 none.
func (s *Season) keyOf(origin int32) int {
	grid := &s.Species.Counts.Key.Grid
	group := grid.Rungs[0][origin]
	for k, path := range grid.Path {
		if group >= 0 && path[0] == group {
			return k
		}
	}
	return -1
}

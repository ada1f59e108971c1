package allocation

import (
	"slices"

	"earstone/programme/strata"
)

// Quota is what to ask for in one month at one place.
type Quota struct {
	Item Item
	Cell strata.Cell // with its month; without its year, which is the next
	Bin  int         // −1: of no length
	N    int
}

// Quotas deal the plan out to months, areas and gears. Trips of a stratum go to its months
// as its trips did; stones of a length bin go to strata and months as its measured fish did.
// Whole numbers, by the largest remainder. Second readings have no place and are not here.
func (s *Season) Quotas() []Quota {
	var all []Quota
	for i, place := range s.Places {
		if s.Plan.N[i] == 0 || place.Item == Reading {
			continue
		}
		cells, weight := s.spread(place)
		for j, n := range deal(s.Plan.N[i], weight) {
			if n > 0 {
				all = append(all, Quota{place.Item, cells[j], place.Bin, n})
			}
		}
	}
	slices.SortStableFunc(all, func(x, y Quota) int { return strata.Compare(x.Cell, y.Cell) })
	return all
}

// spread lists where the items of a place may come from, and how much of it each had.
func (s *Season) spread(place Place) (cells []strata.Cell, weight []float64) {
	c := s.Species.Counts
	for _, i := range s.Species.Influence.Strata {
		stratum := &c.Design.Strata[i]
		if place.Item == Trip && i != place.Stratum || place.Item == Stone && stratum.Key != place.Key {
			continue
		}
		months := [13]float64{}
		for _, t := range stratum.Trips {
			month := int(c.Trips[t].Cell.Month)
			if stratum.Filled {
				month = 0
			}
			if months[month]++; place.Item == Stone {
				months[month] += c.Trips[t].Measured*c.Design.Lengths[int(t)*c.Bins.N+place.Bin] - 1
			}
		}
		for month, w := range months {
			cell := c.Cells[i]
			if cell.Year = 0; month > 0 {
				cell.Month = int16(month)
			}
			if w > 0 {
				cells, weight = append(cells, cell), append(weight, w)
			}
		}
	}
	if len(cells) == 0 && place.Item == Trip { // a stratum that nobody has sampled
		cell := c.Cells[place.Stratum]
		cell.Year = 0
		return []strata.Cell{cell}, []float64{1}
	}
	return cells, weight
}

// deal gives out n in proportion to weights, in whole numbers by the largest remainder, the
// first of equal ones.
func deal(n int, weight []float64) []int {
	total := 0.0
	for _, w := range weight {
		total += w
	}
	out, rest := make([]int, len(weight)), make([]float64, len(weight))
	if total == 0 {
		return out
	}
	left := n
	for i, w := range weight {
		exact := float64(n) * w / total
		out[i] = int(exact)
		rest[i] = exact - float64(out[i])
		left -= out[i]
	}
	for ; left > 0; left-- {
		best := 0
		for i := range rest {
			if rest[i] > rest[best] {
				best = i
			}
		}
		out[best]++
		rest[best] = -1
	}
	return out
}

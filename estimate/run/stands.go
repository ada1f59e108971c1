package run

import (
	"earstone/estimate/resample"
	"earstone/estimate/tally"
	"earstone/programme/record"
	"earstone/programme/strata"
	"earstone/statistics/stream"
)

// stands is a sample of fish of the catch, each standing for as many fish as its place
// and length say: w_i = r_i F_kl / n_kl, F_kl the fish of the catch in key stratum k and
// bin l, n_kl the sampled ones there, r_i how often the fish's trip was drawn. A bin with
// catch and no sampled fish gives its fish to the nearest bin of its key stratum that has
// some. A fish from where no catch is given stands for none.
//
// Methods, section 8, "Design weights".
type stands struct {
	bins    int
	trip    []int32   // by fish; −1: of no trip
	cell    []int32   // key stratum × bins + bin; −1: none
	nearest []int32   // by cell: the cell that its catch goes to; −1: none in the key stratum
	part    int       // of the stream stones that draws fish of no trip
	inside  [][]int32 // fish of one trip and cell
}

// newStands places fish. A fish without a length, or from nowhere, stands for none.
func (c *chain) newStands(counts *tally.Counts, fish []*record.Fish, part int) stands {
	trips := map[record.TripID]int32{}
	for t := range counts.Trips {
		trips[counts.Trips[t].ID] = int32(t)
	}
	used := strata.Set(0)
	for _, set := range counts.Ladder {
		used |= set
	}
	keys := map[strata.Cell]int{}
	for k, cell := range counts.KeyCells {
		keys[cell] = k
	}
	s := stands{bins: counts.Bins.N, part: part}
	has := make([]bool, len(counts.KeyCells)*counts.Bins.N)
	for _, f := range fish {
		trip, place := int32(-1), strata.At(f.CaughtOn, f.Area, f.Gear)
		if t, ok := trips[f.Trip]; ok {
			trip, place = t, counts.Trips[t].Cell
		}
		cell := int32(-1)
		k, known := keys[place.Keep(used)]
		if x, _, ok := c.convert.Length(counts.Species, f.Length, c.book.Settings.LengthBin); ok && known {
			if l := counts.Bins.At(x); l >= 0 {
				cell = int32(k*counts.Bins.N + l)
				has[cell] = true
			}
		}
		s.trip, s.cell = append(s.trip, trip), append(s.cell, cell)
	}
	s.nearest = nearestCells(has, counts.Bins.N)
	s.gather()
	return s
}

// gather lists the fish of each trip and cell.
func (s *stands) gather() {
	at := map[[2]int32]int{}
	for i, trip := range s.trip {
		if trip < 0 || s.cell[i] < 0 {
			continue
		}
		place := [2]int32{trip, s.cell[i]}
		n, known := at[place]
		if !known {
			n = len(s.inside)
			at[place], s.inside = n, append(s.inside, nil)
		}
		s.inside[n] = append(s.inside[n], int32(i))
	}
}

// nearestCells finds for each cell the nearest one of its key stratum that has fish, the
// shorter of two equally near.
func nearestCells(has []bool, bins int) []int32 {
	nearest := make([]int32, len(has))
	for i := range nearest {
		first, l := i-i%bins, i%bins
		nearest[i] = -1
		for away := 0; away < bins && nearest[i] < 0; away++ {
			if l-away >= 0 && has[first+l-away] {
				nearest[i] = int32(first + l - away)
			} else if l+away < bins && has[first+l+away] {
				nearest[i] = int32(first + l + away)
			}
		}
	}
	return nearest
}

// standing holds the buffers of one worker.
type standing struct {
	*stands
	fish  []float64 // F by cell, the catch of empty cells moved to their nearest
	n     []float64 // sampled fish by cell
	picks []int32   // of the fish of a trip and cell
}

func (s *stands) worker() standing {
	most := 0
	for _, fish := range s.inside {
		most = max(most, len(fish))
	}
	return standing{s, make([]float64, len(s.nearest)), make([]float64, len(s.nearest)), make([]int32, most)}
}

// weights fills dst, one a fish, under a draw. Where every sampled fish of a cell was drawn
// away its catch is not represented in that replicate. Allocates nothing.
func (s standing) weights(dst []float64, drawn *resample.Drawing) {
	s.times(dst, drawn)
	s.share(dst, drawn.Fish)
}

// times fills dst with how often each fish was drawn.
func (s standing) times(dst []float64, drawn *resample.Drawing) {
	loose := drawn.Stream(stream.Stones, s.part)
	for i, trip := range s.trip {
		dst[i] = 1
		if trip >= 0 {
			dst[i] = drawn.Trips[trip]
		} else if loose != nil && !drawn.Inside {
			dst[i] = loose.Exponential()
		}
	}
	if drawn.Within && loose != nil {
		s.drawInside(dst, loose)
	}
}

// drawInside draws the fish of each trip and cell again among each other, n − 1 of n; one
// that is alone there comes as often as an exponential draw says. The key's stones are
// drawn likewise (resample.Row.Within).
func (s standing) drawInside(dst []float64, r *stream.Stream) {
	for _, fish := range s.inside {
		n := len(fish)
		if n == 1 {
			dst[fish[0]] *= r.Exponential()
			continue
		}
		picks := s.picks[:n]
		r.Picks(picks, n-1)
		for j, i := range fish {
			dst[i] *= float64(picks[j]) * float64(n) / float64(n-1)
		}
	}
}

// share turns how often each fish was drawn into the fish of the catch that it stands for.
func (s standing) share(dst, caught []float64) {
	clear(s.n)
	for i, cell := range s.cell {
		if cell >= 0 {
			s.n[cell] += dst[i]
		}
	}
	clear(s.fish)
	for cell, f := range caught {
		if to := s.nearest[cell]; to >= 0 {
			s.fish[to] += f
		}
	}
	for i, cell := range s.cell {
		if cell < 0 || s.n[cell] == 0 {
			dst[i] = 0
			continue
		}
		dst[i] *= s.fish[cell] / s.n[cell]
	}
}

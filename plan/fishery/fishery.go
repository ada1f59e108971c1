// Package fishery invents fisheries whose catch at age is known.
//
// A Fishery is cohorts of uneven strength, growth, gears and banks, and the catch of
// each stratum: the truth. A Season is one sampling of it: trips, lengths, fish cards,
// stones and readings, as a programme would hold them. The truth belongs to the seed,
// a season to (seed, number), so that estimators meet one truth many times. Nothing in
// it is of a real place, vessel or person. Methods, section 12.
//
// # What is true
//
// Bank and gear select fish by length alone, and growth is one in all banks unless
// AreaEffect parts them. So age given length bin and quarter is the same in all strata
// of a year, which is what a key pooled over strata assumes, though the ages of the
// strata differ widely. Length at age is that of the middle of the quarter on each of
// its days: a key by quarter assumes that too.
//
// Stratum s catches N_s fish, N_s·p_s(a) of age a, with
//
//	p_s(a) ∝ n_q(a) Σ_l f_q(l|a) S_s(l),
//
// n the numbers in the sea, f their lengths, S the selection. A trip of the stratum
// is not a random sample of it. It draws ages and lengths of its own whose means over
// all trips are p_s(a) and P_s(l|a) exactly, not nearly:
//
//   - u = Φ(√ρ D_t + √(1−ρ) E_i), with D_t of the trip and E_i of the fish standard
//     normal, is uniform over trips and fish together. The age at rank u of the
//     stratum, and the length at rank u of the age, have their exact distribution over
//     all trips, and fish of one trip are alike (TripSizes, TripGrowth).
//   - A Dirichlet around the trip's shares at age has those shares for its mean and
//     makes single ages patchy (TripAges).
//
// Landed numbers are independent of both, so that the mean over trips weighted by
// landed number is the same truth.
//
// A cohort comes from the nurseries in shares of its own, at each bank. A fish's
// nursery depends on its cohort and bank, and not on its length beside its age. Part of
// a trip's fish are of one school: they take their nursery at one rank of the shares,
// uniform over trips, the others each at a rank of its own. So shares over all trips
// are exact again, and two fish of a trip and age correlate in being of a nursery by
// TripNursery, whatever its share.
package fishery

import (
	"math"
	"slices"

	"earstone/programme/date"
	"earstone/programme/strata"
	"earstone/statistics/dist"
	"earstone/statistics/stream"
)

// Fishery is an invented fishery and what is true of it. It is not altered after New:
// seasons may be drawn from several goroutines.
type Fishery struct {
	settings Settings
	seed     uint64
	kinds    []kind    // quarter, bank and gear, the same in each year
	strata   []stratum // year by year, in each the kinds
	deaths   []float64 // Z, per year, by age − 1
	origins  origins
	asked    []int // stones by quarter and bin, where Ask was asked; else nil
}

// kind is a quarter, bank and gear.
type kind struct {
	quarter, bank, gear int     // from 0
	sizes               []sizes // by age − 1
}

// stratum is a year and a kind.
type stratum struct {
	cell   strata.Cell
	kind   int
	number float64   // caught
	share  []float64 // p_s(a), by age − 1
	score  []float64 // Φ⁻¹ of the cumulated shares, the last +Inf
	trips  int       // sampled
	inKg   bool      // its catch is told in weight
}

// New invents the fishery of a seed. Panics when the settings do not pass Check.
func New(settings Settings, seed uint64) *Fishery {
	if err := settings.Check(); err != nil {
		panic("fishery: " + err.Error())
	}
	settings.Banks = slices.Clone(settings.Banks)
	settings.Gears = slices.Clone(settings.Gears)
	settings.Readers = slices.Clone(settings.Readers)
	settings.Nurseries = slices.Clone(settings.Nurseries)
	f := &Fishery{settings: settings, seed: seed}
	f.cutKinds()
	var draw stream.Stream
	draw.Reset(seed, stream.Invention, 0)
	sea := newSea(&f.settings, &draw, f.selected())
	usual := make([]float64, len(f.kinds)) // what is caught in a kind in all years
	for k := range usual {
		usual[k] = draw.Normal()
	}
	for y := range settings.Years {
		for k := range f.kinds {
			f.strata = append(f.strata, f.newStratum(y, k, sea))
			own := 0.8*usual[k] + 0.6*draw.Normal() // 0.8² + 0.6² = 1
			f.strata[len(f.strata)-1].number = settings.CatchMedian * math.Exp(settings.CatchSpread*own)
		}
	}
	f.dealTrips(&draw)
	f.deaths = sea.deaths
	draw = f.stream(ofTruth, forOrigins, 0)
	f.origins = newOrigins(&f.settings, &draw)
	return f
}

// Invent is season 0 of a seed's fishery. Panics when the settings do not pass Check.
func Invent(settings Settings, seed uint64) *Season { return New(settings, seed).Season(0) }

func (f *Fishery) cutKinds() {
	s := &f.settings
	for q := range 4 {
		for b, bank := range s.Banks {
			for g := range bank.Gears {
				k := kind{quarter: q, bank: b, gear: g, sizes: make([]sizes, s.OldestAge)}
				for a := range k.sizes {
					k.sizes[a] = newSizes(s, s.lengthAt(a+1, q, b), bank, s.Gears[g])
				}
				f.kinds = append(f.kinds, k)
			}
		}
	}
}

// selected is the mean share of each age that gears and banks select, by age − 1.
func (f *Fishery) selected() []float64 {
	mean := make([]float64, f.settings.OldestAge)
	for _, k := range f.kinds {
		for a := range mean {
			mean[a] += k.sizes[a].caught / float64(len(f.kinds))
		}
	}
	return mean
}

func (f *Fishery) newStratum(year, k int, sea sea) stratum {
	s, of := &f.settings, &f.kinds[k]
	out := stratum{
		kind:  k,
		share: make([]float64, s.OldestAge),
		score: make([]float64, s.OldestAge),
		cell: strata.Cell{Year: int16(s.FirstYear + year), Quarter: int16(of.quarter + 1),
			Area: s.Banks[of.bank].Name, Gear: s.Gears[of.gear].Name},
	}
	sum := 0.0
	for a := range out.share {
		out.share[a] = sea.numbers(year, of.quarter, a) * of.sizes[a].caught
		sum += out.share[a]
	}
	below := 0.0
	for a := range out.share {
		out.share[a] /= sum
		below += out.share[a]
		out.score[a] = dist.NormalQuantile(min(below, 1))
	}
	out.score[s.OldestAge-1] = math.Inf(1)
	return out
}

// dealTrips chooses the strata without trips and with one, deals the rest of the trips
// where the catch is (by its square root, within FewestTrips and MostTrips), and makes
// catches whole numbers, large beside what is measured of them.
func (f *Fishery) dealTrips(draw *stream.Stream) {
	s := &f.settings
	none, one, full := s.sampled()
	order := make([]int, len(f.strata))
	for i := range order {
		order[i] = i
	}
	draw.Shuffle(len(order), func(i, j int) { order[i], order[j] = order[j], order[i] })
	for _, i := range order[none : none+one] {
		f.strata[i].trips = 1
	}
	weights := make([]float64, len(f.strata))
	for _, i := range order[none+one:] {
		f.strata[i].trips = s.FewestTrips
		weights[i] = math.Sqrt(f.strata[i].number)
	}
	for left := s.Trips - one - full*s.FewestTrips; left > 0; {
		i := draw.Choose(weights)
		if f.strata[i].trips == s.MostTrips {
			weights[i] = 0
			continue
		}
		f.strata[i].trips++
		left--
	}
	measured := float64(s.Lengths) / float64(s.Trips)
	for i := range f.strata {
		st := &f.strata[i]
		st.number = math.Round(max(st.number, 4*measured*float64(st.trips), 100))
		st.inKg = draw.Float64() < s.CatchInWeight
	}
}

// quarterOf is the first day of a quarter (0 to 3) as a serial number, and its days.
func quarterOf(year, quarter int) (start, days int) {
	start = date.On(year, 3*quarter+1, 1).Serial()
	last := date.On(year, 3*quarter+3, date.DaysIn(year, 3*quarter+3))
	return start, last.Serial() - start + 1
}

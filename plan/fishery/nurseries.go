package fishery

import (
	"math"

	"earstone/statistics/stream"
)

// Tracers is how many tracers the core of a stone is assayed for: δ13C and δ18O.
const Tracers = 2

// tracers are their names and what they are told in.
var tracers = [Tracers]struct{ name, unit, scale string }{{"d13C", "permil", "VPDB"}, {"d18O", "permil", "VPDB"}}

// Nursery is an invented place where fish grow up, and the chemistry of their cores:
//
//	x = Mean + YearSD·(a draw of the year class) + SD·(a draw of the fish),
//
// normal draws, those of the two tracers with Correlation. Values are ‰ VPDB, δ13C
// first.
type Nursery struct {
	Name        string
	Share       float64 // of a cohort of usual mix; those of all nurseries sum to 1
	Mean        [Tracers]float64
	SD          [Tracers]float64 // among fish of one year class
	YearSD      [Tracers]float64 // of year-class means; 0: all year classes are alike
	Correlation float64          // of the tracers, among fish and among year classes
	Baseline    int              // fish of known origin a year class; 0: a nursery that the baseline lacks
}

func twoNurseries() []Nursery {
	both := threeNurseries()[:2]
	both[0].Share, both[1].Share = 0.6, 0.4
	return both
}

func threeNurseries() []Nursery {
	sd, yearSD := [Tracers]float64{0.26, 0.22}, [Tracers]float64{0.12, 0.1}
	return []Nursery{
		{Name: "Upper", Share: 0.5, Mean: [Tracers]float64{-8.5, -0.65}, SD: sd, YearSD: yearSD, Correlation: 0.2, Baseline: 8},
		{Name: "Lower", Share: 0.3, Mean: [Tracers]float64{-9.15, -1.15}, SD: sd, YearSD: yearSD, Correlation: 0.2, Baseline: 8},
		{Name: "Outer", Share: 0.2, Mean: [Tracers]float64{-9.0, -0.15}, SD: sd, YearSD: yearSD, Correlation: 0.2, Baseline: 8},
	}
}

// around draws tracers around a mean.
func (n *Nursery) around(draw *stream.Stream, mean, sd [Tracers]float64) [Tracers]float64 {
	first, second := draw.Normal(), draw.Normal()
	second = n.Correlation*first + math.Sqrt(1-n.Correlation*n.Correlation)*second
	return [Tracers]float64{mean[0] + sd[0]*first, mean[1] + sd[1]*second}
}

// origins is what is true of the nurseries, by cohort from that of the oldest fish of
// the first year on.
type origins struct {
	nurseries, cohorts int
	share              []float64          // banks × cohorts × nurseries; sums to 1 over nurseries
	mean               [][Tracers]float64 // of year classes, nurseries × cohorts
}

// newOrigins lets the shares of nurseries walk from cohort to cohort: those of cohort c
// at a bank go with Share·exp(w_c + tilt), w_c+1 = m·w_c + √(1 − m²)·ε with m the memory
// and w and ε of SD ShareSpread, each nursery for itself.
func newOrigins(s *Settings, draw *stream.Stream) origins {
	o := origins{nurseries: len(s.Nurseries), cohorts: s.cohorts()}
	o.share = make([]float64, len(s.Banks)*o.cohorts*o.nurseries)
	o.mean = make([][Tracers]float64, o.nurseries*o.cohorts)
	for k := range s.Nurseries {
		n, walk := &s.Nurseries[k], draw.Normal()
		for c := range o.cohorts {
			for b := range s.Banks {
				tilt := s.BankTilt / 2 * spot(b, len(s.Banks)) * spot(k, o.nurseries)
				o.of(b, c)[k] = n.Share * math.Exp(s.ShareSpread*walk+tilt)
			}
			walk = s.ShareMemory*walk + math.Sqrt(1-s.ShareMemory*s.ShareMemory)*draw.Normal()
			o.mean[k*o.cohorts+c] = n.around(draw, n.Mean, n.YearSD)
		}
	}
	for b := range s.Banks {
		for c := range o.cohorts {
			sum, row := 0.0, o.of(b, c)
			for _, x := range row {
				sum += x
			}
			for k := range row {
				row[k] /= sum
			}
		}
	}
	return o
}

// spot is where the i-th of n stands, from −1 for the first to 1 for the last.
func spot(i, n int) float64 {
	if n < 2 {
		return 0
	}
	return 2*float64(i)/float64(n-1) - 1
}

// of is the shares of nurseries in a cohort at a bank.
func (o *origins) of(bank, cohort int) []float64 {
	first := (bank*o.cohorts + cohort) * o.nurseries
	return o.share[first : first+o.nurseries]
}

// at is the nursery at a rank between 0 and 1 of the shares.
func (o *origins) at(bank, cohort int, rank float64) int {
	row := o.of(bank, cohort)
	k, below := 0, row[0]
	for k < len(row)-1 && below <= rank {
		k++
		below += row[k]
	}
	return k
}

// cohorts is how many cohorts are caught in all years.
func (s *Settings) cohorts() int { return s.OldestAge + s.Years - 1 }

// cohortOf is the place among the cohorts of the fish of an age in a year from 0.
func (s *Settings) cohortOf(year, age int) int { return year - age + s.OldestAge }

// yearClass is the year in which a cohort was born.
func (s *Settings) yearClass(cohort int) int { return s.FirstYear - s.OldestAge + cohort }

// shares is the shares of nurseries in an age (from 0 for age 1) of a stratum's catch.
func (f *Fishery) shares(stratum, a int) []float64 {
	return f.origins.of(f.kinds[f.strata[stratum].kind].bank, f.settings.cohortOf(f.yearOf(int32(stratum)), a+1))
}

// growUp gives each fish its nursery; fish of one trip stand together. The first draw of a trip is the rank of its
// school; a fish is of the school with probability √TripNursery, so that two of them
// are both with probability TripNursery.
func (f *Fishery) growUp(b int, fish []picked) []uint8 {
	if f.origins.nurseries == 0 {
		return nil
	}
	out := make([]uint8, len(fish))
	alone, trip := f.stream(b, forNursery, 0), int32(-1)
	ofSchool := math.Sqrt(f.settings.TripNursery)
	var together stream.Stream
	var school float64
	for i := range fish {
		x, rank := &fish[i], 0.0
		if x.trip < 0 {
			rank = alone.Float64()
		} else {
			if x.trip != trip {
				trip = x.trip
				together = f.stream(b, forNursery, int(trip)+1)
				school = together.Float64()
			}
			rank = together.Float64()
			if together.Float64() < ofSchool {
				rank = school
			}
		}
		out[i] = uint8(f.origins.at(f.kinds[f.strata[x.stratum].kind].bank, f.cohort(x), rank))
	}
	return out
}

// cohort is the place of a fish among the cohorts.
func (f *Fishery) cohort(x *picked) int {
	return f.settings.cohortOf(f.yearOf(x.stratum), int(x.age))
}

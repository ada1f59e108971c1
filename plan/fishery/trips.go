package fishery

import (
	"math"

	"earstone/statistics/dist"
	"earstone/statistics/stream"
)

// trip is a sampled trip.
type trip struct {
	stratum  int32
	measured int32
	day      int32 // landed, a serial number
	landed   float64
}

// lengthRow is a number of fish of one cm in one trip.
type lengthRow struct {
	trip  int32
	cm    int16
	count int16
}

// fish is a measured fish.
type fish struct {
	trip int32 // −1: of no sampled trip
	cm   int16
	age  uint8
}

// What a stream of a season is for; the part of its key is purpose and number.
const (
	forPlan     = iota << 24 // how many fish each trip lands and measures
	forTrip                  // what comes off a trip
	forPicking               // stones, by year
	forStray                 // stones of no trip
	forCard                  // what is written about a fish
	forReading               // how its stone is read
	forOrigins               // shares and chemistry of nurseries: of the truth
	forNursery               // where fish grew up: 0 of no trip, then trip by trip
	forWeighed               // fish that are weighed and not read, by year
	forStone                 // the stones beyond those that are read
	forKnown                 // fish of known age
	forAssay                 // which fish are assayed, by year
	forTracer                // what is in their stones
	forBaseline              // fish of known nursery
	forRun                   // assay runs
)

// ofTruth is in the place of a season where the truth is drawn.
const ofTruth = -1

// stream keys the stream of a purpose in season b. The truth has replicate 0. What is
// new takes a purpose of its own, so that seasons drawn before stay the same.
func (f *Fishery) stream(b, purpose, number int) stream.Stream {
	var s stream.Stream
	s.ResetAt(f.seed, stream.Invention, b+1, purpose+number)
	return s
}

// planTrips gives each trip a day, a landed number and a number of fish to measure.
// The numbers measured sum to Lengths to the fish.
func (f *Fishery) planTrips(b int) []trip {
	s, draw := &f.settings, f.stream(b, forPlan, 0)
	trips := make([]trip, 0, s.Trips)
	shares := make([]float64, 0, s.Trips)
	sum := 0.0
	for i := range f.strata {
		st := &f.strata[i]
		start, days := quarterOf(int(st.cell.Year), int(st.cell.Quarter)-1)
		for range st.trips {
			trips = append(trips, trip{
				stratum: int32(i),
				day:     int32(start + draw.IntN(days)),
				landed:  s.LandedMedian * math.Exp(s.LandedSpread*draw.Normal()),
			})
			share := math.Exp(s.MeasuredSpread * draw.Normal())
			shares = append(shares, share)
			sum += share
		}
	}
	done, so := 0, 0.0
	for t := range trips {
		so += shares[t]
		upTo := int(math.Round(float64(s.Lengths) * so / sum))
		trips[t].measured = int32(upTo - done)
		done = upTo
		st := &f.strata[trips[t].stratum]
		most := st.number / float64(st.trips)
		trips[t].landed = math.Round(max(min(trips[t].landed, most), float64(trips[t].measured)))
	}
	return trips
}

// deck holds the buffers of drawing trips.
type deck struct {
	shares, drawn []float64
	counts        []int32
	cms           []int16
	fish          []fish // of the trip drawn last
}

func (f *Fishery) newDeck() *deck {
	s := &f.settings
	longest := 0
	for k := range f.kinds {
		for a := range f.kinds[k].sizes {
			d := &f.kinds[k].sizes[a]
			longest = max(longest, d.first+len(d.share))
		}
	}
	return &deck{
		shares: make([]float64, s.OldestAge), drawn: make([]float64, s.OldestAge),
		counts: make([]int32, s.OldestAge), cms: make([]int16, longest),
	}
}

// draw fills d.fish with the n fish measured from a trip of a stratum, age by age.
func (f *Fishery) draw(d *deck, draw *stream.Stream, number int, st *stratum, n int) {
	s := &f.settings
	f.mix(d, draw, st)
	draw.Multinomial(d.counts, d.drawn, n)
	shared := math.Sqrt(s.TripGrowth) * draw.Normal()
	own := math.Sqrt(1 - s.TripGrowth)
	d.fish = d.fish[:0]
	for a, count := range d.counts {
		at := &f.kinds[st.kind].sizes[a]
		for range count {
			cm := at.at(shared + own*draw.Normal())
			d.fish = append(d.fish, fish{trip: int32(number), cm: int16(cm), age: uint8(a + 1)})
		}
	}
}

// mix fills d.drawn with the shares at age of one trip: those of its sizes, then a
// Dirichlet around them.
func (f *Fishery) mix(d *deck, draw *stream.Stream, st *stratum) {
	s := &f.settings
	shared := math.Sqrt(s.TripSizes) * draw.Normal()
	own := math.Sqrt(1 - s.TripSizes)
	below := 0.0
	for a, score := range st.score {
		upTo := dist.NormalCDF((score - shared) / own)
		d.shares[a] = upTo - below
		below = upTo
	}
	if s.TripAges == 0 {
		copy(d.drawn, d.shares)
		return
	}
	for a := range d.shares {
		d.shares[a] *= 1/s.TripAges - 1
	}
	draw.Dirichlet(d.drawn, d.shares)
}

// rows appends the counts by cm of the trip drawn last.
func (d *deck) rows(to []lengthRow, number int) []lengthRow {
	clear(d.cms)
	for _, x := range d.fish {
		d.cms[x.cm]++
	}
	for cm, count := range d.cms {
		if count > 0 {
			to = append(to, lengthRow{int32(number), int16(cm), count})
		}
	}
	return to
}

package tally

import (
	"math"
	"slices"

	"earstone/estimate/catch"
	"earstone/programme/finding"
	"earstone/programme/record"
	"earstone/programme/strata"
)

// sample is what was measured of a trip, all species together.
type sample struct{ fish, kg float64 }

// addSamples adds what was measured of the species. Of one without an equation of weight
// the kg are not a number: nobody knows its part of a landing in weight.
func (b *builder) addSamples(samples map[record.TripID]sample) {
	for t := range b.counts.Trips {
		trip := &b.counts.Trips[t]
		if trip.Measured == 0 {
			continue
		}
		kg := math.NaN()
		if mean := b.meanKg(t); mean > 0 {
			kg = trip.Measured * mean
		}
		all := samples[trip.ID]
		samples[trip.ID] = sample{all.fish + trip.Measured, all.kg + kg}
	}
}

// weighTrips gives each trip its M_t: the number landed; else the weight landed over the
// mean weight of its sample; else the mean of the stratum's other trips; else 1 for all
// trips of a stratum of which nothing is known. Where a trip was measured for several
// species its landing is shared among them as its sample was: in number as the fish, in
// weight as their weights, or as the fish where some species has no equation of weight.
func (b *builder) weighTrips(samples map[record.TripID]sample) {
	c := b.counts
	known := make([]bool, len(c.Trips))
	for t := range c.Trips {
		mean, share, shareKg := b.meanKg(t), 1.0, 1.0
		if all := samples[c.Trips[t].ID]; c.Trips[t].Measured > 0 {
			share = c.Trips[t].Measured / all.fish
			shareKg = c.Trips[t].Measured * mean / all.kg
			if math.IsNaN(shareKg) {
				shareKg = share
			}
		}
		switch raw := b.trips[t]; {
		case raw.LandedNumber.Known && raw.LandedNumber.X > 0:
			c.Design.Trips[t].Landed, known[t] = raw.LandedNumber.X*share, true
			c.Landed.ByNumber++
		case raw.LandedKg.Known && raw.LandedKg.X > 0 && mean > 0:
			c.Design.Trips[t].Landed, known[t] = raw.LandedKg.X*shareKg/mean, true
			c.Landed.ByWeight++
		}
	}
	means := map[int][2]float64{}
	for t := range c.Trips {
		if known[t] {
			m := means[c.Design.Trips[t].Group]
			means[c.Design.Trips[t].Group] = [2]float64{m[0] + c.Design.Trips[t].Landed, m[1] + 1}
		}
	}
	for t := range c.Trips {
		if known[t] {
			continue
		}
		if m := means[c.Design.Trips[t].Group]; m[1] > 0 {
			c.Design.Trips[t].Landed = m[0] / m[1]
			c.Landed.ByMean++
		} else {
			c.Design.Trips[t].Landed = 1
			c.Landed.Equal++
		}
	}
}

func (b *builder) meanKg(t int) float64 {
	d := &b.counts.Design
	mean := 0.0
	for l, kg := range d.Weight {
		mean += d.Lengths[t*d.Bins+l] * kg
	}
	return mean
}

// fillStrata borrows lengths along the ladder for strata without a sample of their own.
func (b *builder) fillStrata() {
	c := b.counts
	c.Filled = make([]strata.Set, len(c.Cells))
	for s := range c.Cells {
		stratum := &c.Design.Strata[s]
		if len(stratum.Trips) > 0 {
			continue
		}
		for _, set := range b.fill {
			if trips := b.tripsSharing(c.Cells[s], set); len(trips) > 0 {
				stratum.Trips, stratum.Filled = trips, true
				c.Filled[s] = set
				break
			}
		}
		what := ""
		if stratum.Filled {
			what = c.Filled[s].String()
		} else {
			c.Unheard = append(c.Unheard, s)
		}
		c.Found.Add(finding.NoSample, finding.Place{File: "catch.csv"}, c.Cells[s].String(), what)
	}
}

// askNumbers asks how many fish each catch in weight is: without an equation of weight,
// or without lengths to take a mean weight of, nobody knows, and unknown is not zero.
func (b *builder) askNumbers() {
	c := b.counts
	p := make([]float64, c.Design.Bins)
	for s := range c.Design.Strata {
		missing := ""
		switch sampled := c.Design.LengthShares(p, s, nil); {
		case !c.Design.Strata[s].ByWeight:
		case !sampled:
			missing = "sample"
		case !(c.Design.Number(s, p) < most):
			missing = "equation"
		}
		if missing != "" {
			c.Found.Add(finding.WeightOnly, finding.Place{File: "catch.csv", Column: "weight_kg"}, c.Cells[s].String(), missing, c.Bins.Kind.String())
		}
	}
}

// most is more fish than any stratum can hold: what comes out above it is no number.
const most = 1e15

// tripsSharing are the measured trips that share the columns of a set with a cell.
func (b *builder) tripsSharing(cell strata.Cell, set strata.Set) []int32 {
	if !cell.Known().Has(set) {
		return nil
	}
	c := b.counts
	var trips []int32
	for t, trip := range c.Trips {
		measured := c.Design.Trips[t].High > c.Design.Trips[t].Low
		if measured && trip.Cell.Known().Has(set) && trip.Cell.Keep(set) == cell.Keep(set) {
			trips = append(trips, int32(t))
		}
	}
	return trips
}

// Donors are the strata whose between-trip variance speaks for stratum s, which has one
// trip: those with two or more trips of their own that share the columns of the first
// set of the ladder of lengths that has any.
func (c *Counts) Donors(s int, ladder strata.Ladder) []int {
	for _, set := range ladder {
		if set.Has(c.Columns) || !c.Cells[s].Known().Has(set) {
			continue
		}
		var donors []int
		for other, stratum := range c.Design.Strata {
			if other != s && !stratum.Filled && len(stratum.Trips) >= 2 && c.Cells[other].Keep(set) == c.Cells[s].Keep(set) {
				donors = append(donors, other)
			}
		}
		if donors != nil {
			return donors
		}
	}
	return nil
}

// makeMargins sums the strata of each year, and within a year those of each quarter,
// area and gear where that is neither a single stratum nor the whole year.
func (b *builder) makeMargins() {
	b.margins(strata.Year)
	for _, cell := range b.counts.Sums {
		b.counts.Years = append(b.counts.Years, int(cell.Year))
	}
	for _, column := range []strata.Set{strata.Quarter, strata.Area, strata.Gear} {
		if b.counts.Columns.Has(column) && b.counts.Columns != strata.Year|column {
			b.margins(strata.Year | column)
		}
	}
}

// margins adds a sum for each cell of a set of columns. A year that has one cell only has
// it already.
func (b *builder) margins(set strata.Set) {
	c := b.counts
	at, ofYear := map[strata.Cell]int{}, map[int16]int{}
	var cells []strata.Cell
	for _, cell := range c.Cells {
		if kept := cell.Keep(set); at[kept] == 0 {
			cells = append(cells, kept)
			at[kept] = len(cells)
			ofYear[kept.Year]++
		}
	}
	slices.SortFunc(cells, strata.Compare)
	for _, cell := range cells {
		if set != strata.Year && ofYear[cell.Year] < 2 {
			continue
		}
		var margin catch.Margin
		for s, stratum := range c.Cells {
			if stratum.Keep(set) == cell {
				margin.Strata = append(margin.Strata, int32(s))
			}
		}
		c.Sums = append(c.Sums, cell)
		c.Design.Margins = append(c.Design.Margins, margin)
	}
}

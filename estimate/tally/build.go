package tally

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"earstone/estimate/catch"
	"earstone/programme/finding"
	"earstone/programme/record"
	"earstone/programme/strata"
)

// Build cuts a programme into counts, one Counts a species of its settings, in one pass
// over its length counts. aged holds the fish whose readings were looked at, by species;
// readers gives the order of their classes.
//
// Settings must have been checked: a ladder or stratum column that does not exist
// panics. An error is the source's own: the lengths could not be read.
func Build(source record.Source, book *record.Book, aged map[record.Species][]AgedFish, readers []record.ReaderID, convert Converter) ([]*Counts, error) {
	builders := make([]*builder, len(book.Settings.Species))
	bySpecies := map[record.Species]*lengths{}
	for i, species := range book.Settings.Species {
		builders[i] = newBuilder(species, book, convert)
		builders[i].counts.Readers = readers
		bySpecies[species] = builders[i].lengths
	}
	err := source.Lengths(func(row *record.LengthCount) error {
		if g := bySpecies[row.Species]; g != nil {
			g.add(row)
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("counting lengths: %w", err)
	}
	samples := map[record.TripID]sample{} // of all species, to share a trip's landing among them
	for _, b := range builders {
		b.cut(aged[b.counts.Species])
		b.addSamples(samples)
	}
	all := make([]*Counts, len(builders))
	for i, b := range builders {
		all[i] = b.build(aged[b.counts.Species], samples)
	}
	return all, nil
}

type builder struct {
	book    *record.Book
	convert Converter
	lengths *lengths
	counts  *Counts
	fill    strata.Ladder  // of lengths
	trips   []*record.Trip // beside Counts.Trips
}

func newBuilder(species record.Species, book *record.Book, convert Converter) *builder {
	s := book.Settings
	c := &Counts{Species: species, Columns: mustSet(s.Strata), Ladder: mustLadder(s.Ladders.Key)}
	return &builder{book: book, convert: convert, counts: c, fill: mustLadder(s.Ladders.Lengths),
		lengths: newLengths(species, s.LengthBin, convert)}
}

// cut is what a species needs none of the others for.
func (b *builder) cut(aged []AgedFish) {
	b.cutCatch()
	b.findTrips(aged)
	b.cutLengths(aged)
	b.giveTrips()
}

func (b *builder) build(aged []AgedFish, samples map[record.TripID]sample) *Counts {
	c := b.counts
	b.weighTrips(samples)
	b.fillStrata()
	b.askNumbers()
	b.makeMargins()
	b.cutKey(aged)
	b.lengths.findings(&c.Found)
	return c
}

// cutCatch makes one stratum of each cell of the catch table. Where a cell is told partly
// in number and partly in weight the number alone counts, and that is told.
func (b *builder) cutCatch() {
	c := b.counts
	for _, rows := range b.catches() {
		var s catch.Stratum
		var told [2]float64 // variances of number and weight
		inNumber, inWeight := false, 0
		for _, row := range rows {
			switch {
			case row.Number.Known:
				s.Number += row.Number.X
				told[0] += square(row.Number.X * row.CV.X)
				inNumber = true
			case row.WeightKg.Known:
				s.WeightKg += row.WeightKg.X
				told[1] += square(row.WeightKg.X * row.CV.X)
				inWeight = row.Row
				s.ByWeight = true
			}
		}
		cell, total, variance := catchCell(rows[0]).Keep(c.Columns), s.WeightKg, told[1]
		if inNumber {
			if s.ByWeight {
				c.Found.Add(finding.Contradiction, finding.Place{File: "catch.csv", Row: inWeight, Column: "weight_kg"}, cell.String(), cell.String(), "number")
			}
			s.ByWeight, s.WeightKg = false, 0
			total, variance = s.Number, told[0]
		}
		cv := 0.0
		if variance > 0 {
			cv = math.Sqrt(variance) / total
		}
		c.Cells = append(c.Cells, cell)
		c.Design.Strata = append(c.Design.Strata, s)
		c.CV = append(c.CV, cv)
	}
}

// catches are the rows of the species, cell by cell, in an order of their own.
func (b *builder) catches() [][]record.Catch {
	of := func(row record.Catch) strata.Cell { return catchCell(row).Keep(b.counts.Columns) }
	var rows []record.Catch
	for _, row := range b.book.Catches {
		if row.Species == b.counts.Species {
			rows = append(rows, row)
		}
	}
	slices.SortFunc(rows, func(x, y record.Catch) int {
		return cmp.Or(strata.Compare(of(x), of(y)), cmp.Compare(x.Number.X, y.Number.X),
			cmp.Compare(x.WeightKg.X, y.WeightKg.X), cmp.Compare(x.CV.X, y.CV.X), cmp.Compare(x.Row, y.Row))
	})
	var cells [][]record.Catch
	for i, row := range rows {
		if i == 0 || of(row) != of(rows[i-1]) {
			cells = append(cells, nil)
		}
		cells[len(cells)-1] = append(cells[len(cells)-1], row)
	}
	return cells
}

func catchCell(row record.Catch) strata.Cell {
	quarter := row.Quarter
	if quarter == 0 && row.Month > 0 {
		quarter = (row.Month + 2) / 3
	}
	return strata.Cell{Year: int16(row.Year), Quarter: int16(quarter), Month: int16(row.Month), Area: row.Area, Gear: row.Gear}
}

// findTrips lists the trips that brought lengths or stones of the species, sorted by
// place and code.
func (b *builder) findTrips(aged []AgedFish) {
	c := b.counts
	wanted := map[record.TripID]bool{}
	for _, id := range b.lengths.order {
		wanted[id] = true
	}
	for _, fish := range aged {
		if fish.Fish.Trip != "" {
			wanted[fish.Fish.Trip] = true
		}
	}
	for i := range b.book.Trips {
		trip := &b.book.Trips[i]
		if wanted[trip.Trip] {
			b.trips = append(b.trips, trip)
			delete(wanted, trip.Trip) // a trip listed twice counts once; the rules tell of it
		}
	}
	slices.SortFunc(b.trips, func(x, y *record.Trip) int {
		if by := strata.Compare(tripCell(x), tripCell(y)); by != 0 {
			return by
		}
		return strings.Compare(string(x.Trip), string(y.Trip))
	})
	at := map[strata.Cell]int{}
	for s, cell := range c.Cells {
		at[cell] = s
	}
	noCatch, order := map[strata.Cell]int{}, []strata.Cell(nil)
	for _, trip := range b.trips {
		cell := tripCell(trip)
		own := cell.Keep(c.Columns)
		stratum, ok := at[own]
		if !ok || !cell.Known().Has(c.Columns) {
			stratum = -1
			if noCatch[own]++; noCatch[own] == 1 {
				order = append(order, own)
			}
		}
		c.Trips = append(c.Trips, Trip{ID: trip.Trip, Cell: cell, Stratum: stratum})
	}
	for _, cell := range order {
		c.Found.Add(finding.NoCatch, finding.Place{File: "catch.csv"}, cell.String(), strconv.Itoa(noCatch[cell]), c.nearest(cell))
	}
}

// nearest is the stratum of the catch that a cell was most likely meant to be, or empty.
func (c *Counts) nearest(cell strata.Cell) string {
	var names []string
	for _, other := range c.Cells {
		if other.Year == cell.Year && other.Quarter == cell.Quarter && other.Month == cell.Month {
			names = append(names, other.String())
		}
	}
	if near := finding.Nearest(cell.String(), names); near != cell.String() {
		return near
	}
	return ""
}

func tripCell(t *record.Trip) strata.Cell { return strata.At(t.LandedOn, t.Area, t.Gear) }

// cutLengths sets the grid so that it holds every measured and every aged length, and
// turns counts into shares.
func (b *builder) cutLengths(aged []AgedFish) {
	c, g := b.counts, b.lengths
	low, high := mostBins, 0
	for _, counts := range g.counts {
		for l, n := range counts {
			if n > 0 {
				low, high = min(low, l), max(high, l+1)
			}
		}
	}
	for _, fish := range aged {
		for _, p := range g.portions(fish.Fish.Length, 0, fishFile) {
			low, high = min(low, p.bin), max(high, p.bin+1)
		}
	}
	if high == 0 {
		low = 0
	}
	bin := g.bin
	c.Bins = Bins{First: float64(low) * bin.Width, Width: bin.Width, N: high - low, Unit: bin.Unit, Kind: bin.Kind}
	d := &c.Design
	d.Bins, d.Plus = c.Bins.N, b.book.Settings.PlusGroup
	d.Lengths = make([]float64, len(c.Trips)*d.Bins)
	for l := range d.Bins {
		d.Mid = append(d.Mid, c.Bins.Mid(l))
	}
	b.weighBins()
	groups := map[strata.Cell]int{}
	for t := range c.Trips {
		trip := catch.Trip{Group: b.group(groups, t)}
		if i, ok := g.trips[c.Trips[t].ID]; ok {
			counts := g.counts[i]
			total := sum(counts)
			c.Trips[t].Measured = total
			c.Measured += total
			trip.Low, trip.High = d.Bins, 0
			for l, n := range counts {
				if n > 0 {
					d.Lengths[t*d.Bins+l-low] = n / total
					trip.Low, trip.High = min(trip.Low, l-low), max(trip.High, l-low+1)
				}
			}
			if trip.High == 0 {
				trip.Low = 0
			}
		}
		d.Trips = append(d.Trips, trip)
	}
}

// group gathers trips that are drawn again among each other: those of one stratum that
// were measured, apart from those that only brought stones.
func (b *builder) group(groups map[strata.Cell]int, t int) int {
	trip := &b.counts.Trips[t]
	cell := trip.Cell.Keep(b.counts.Columns)
	if _, measured := b.lengths.trips[trip.ID]; !measured {
		cell.Gear += "\x00stones only"
	}
	group, ok := groups[cell]
	if !ok {
		group = len(groups)
		groups[cell] = group
	}
	return group
}

func (b *builder) weighBins() {
	d := &b.counts.Design
	weights := make([]float64, d.Bins)
	for l := range weights {
		kg, ok := b.convert.Weight(b.counts.Species, d.Mid[l], b.lengths.bin)
		if !ok {
			return
		}
		weights[l] = kg
	}
	d.Weight = weights
}

// giveTrips gives each stratum the measured trips of its own.
func (b *builder) giveTrips() {
	c := b.counts
	for i, trip := range c.Trips {
		if own := trip.Stratum; own >= 0 && c.Design.Trips[i].High > c.Design.Trips[i].Low {
			c.Design.Strata[own].Trips = append(c.Design.Strata[own].Trips, int32(i))
		}
	}
}

func mustSet(names []string) strata.Set {
	set, unknown := strata.ParseSet(names)
	if unknown != "" {
		panic("tally: unknown stratum column " + unknown)
	}
	return set
}

func mustLadder(rungs [][]string) strata.Ladder {
	ladder, unknown := strata.ParseLadder(rungs)
	if unknown != "" {
		panic("tally: unknown column in a ladder " + unknown)
	}
	return ladder
}

func square(x float64) float64 { return x * x }

func sum(x []float64) float64 {
	total := 0.0
	for _, v := range x {
		total += v
	}
	return total
}

package tally

import (
	"math"

	"earstone/programme/finding"
	"earstone/programme/record"
)

// mostBins bounds the grid: a length beyond it is a slip of the pen, told and left out.
const mostBins = 2000

// lengths gathers the length counts of one species, trip by trip, on a grid whose bin 0
// begins at length 0.
type lengths struct {
	species record.Species
	bin     record.LengthBin
	convert Converter
	trips   map[record.TripID]int
	order   []record.TripID
	counts  [][]float64 // by trip, by bin; grown as lengths come

	known    map[record.Length][]portion // how a length as written spreads over bins
	lastTrip record.TripID
	last     int
	lost     map[record.LengthKind]int // lengths that no equation leads to the bins
	far      int                       // lengths beyond the grid
}

// portion is a share of a fish in a bin.
type portion struct {
	bin   int
	share float64
}

func newLengths(species record.Species, bin record.LengthBin, convert Converter) *lengths {
	return &lengths{species: species, bin: bin, convert: convert, trips: map[record.TripID]int{}, last: -1,
		known: map[record.Length][]portion{}, lost: map[record.LengthKind]int{}}
}

// add counts one row.
func (g *lengths) add(row *record.LengthCount) {
	portions := g.portions(row.Length)
	if portions == nil || row.Count <= 0 {
		return
	}
	t := g.trip(row.Trip)
	for _, p := range portions {
		for len(g.counts[t]) <= p.bin {
			g.counts[t] = append(g.counts[t], 0)
		}
		g.counts[t][p.bin] += float64(row.Count * p.share)
	}
}

func (g *lengths) trip(id record.TripID) int {
	if id == g.lastTrip && g.last >= 0 {
		return g.last
	}
	t, ok := g.trips[id]
	if !ok {
		t = len(g.order)
		g.trips[id] = t
		g.order = append(g.order, id)
		g.counts = append(g.counts, nil)
	}
	g.lastTrip, g.last = id, t
	return t
}

// portions is where a fish of a length lies: one bin, or several when the length was
// converted and the equation's residual SD is known. Given the measured length the true
// one scatters around the converted value, so the expected share is counted in each bin.
func (g *lengths) portions(l record.Length) []portion {
	if p, ok := g.known[l]; ok {
		return p
	}
	p := g.spread(l)
	g.known[l] = p
	return p
}

func (g *lengths) spread(l record.Length) []portion {
	x, sd, ok := g.convert.Length(g.species, l, g.bin)
	if !ok {
		g.lost[l.Kind]++
		return nil
	}
	at := x / g.bin.Width
	if !(at >= 0 && at < mostBins) {
		g.far++
		return nil
	}
	// A hair above: 130 cm must fall into the bin that begins at 130 even where 130/5 is not exact.
	middle := int(at + 1e-9)
	if sd < g.bin.Width/20 {
		return []portion{{middle, 1}}
	}
	var portions []portion
	sum, reach := 0.0, int(4*sd/g.bin.Width)+1
	for l := max(0, middle-reach); l <= min(mostBins-1, middle+reach); l++ {
		share := normalBetween((float64(l)*g.bin.Width-x)/sd, (float64(l+1)*g.bin.Width-x)/sd)
		if share > 1e-4 {
			portions = append(portions, portion{l, share})
			sum += share
		}
	}
	for i := range portions {
		portions[i].share /= sum
	}
	return portions
}

// findings tells what could not be counted.
func (g *lengths) findings(found *finding.List) {
	for _, kind := range record.LengthKindWords() {
		k, _ := record.ParseLengthKind(kind)
		if n := g.lost[k]; n > 0 {
			found.Add(finding.NoConversion, finding.Place{File: "lengths.csv", Column: "kind"}, kind, kind, g.bin.Kind.String())
		}
	}
	if g.far > 0 {
		found.Add(finding.OutOfRange, finding.Place{File: "lengths.csv", Column: "length"}, "", "0", "")
	}
}

func normalBetween(low, high float64) float64 {
	return (math.Erfc(low/math.Sqrt2) - math.Erfc(high/math.Sqrt2)) / 2
}

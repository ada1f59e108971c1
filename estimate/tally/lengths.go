package tally

import (
	"math"
	"strconv"

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

	known    map[record.Length]placing // how a length as written lies in the bins
	lastTrip record.TripID
	last     int
	missed   map[miss]float64 // and how many fish
}

// portion is a share of a fish in a bin.
type portion struct {
	bin   int
	share float64
}

// placing is where a fish of a length lies, or what keeps it out of the bins; neither,
// where the length is not known.
type placing struct {
	in    []portion
	amiss finding.Kind
}

// miss is a kind of length of a table that could not be counted.
type miss struct {
	file  string
	kind  record.LengthKind
	amiss finding.Kind
}

func newLengths(species record.Species, bin record.LengthBin, convert Converter) *lengths {
	return &lengths{species: species, bin: bin, convert: convert, trips: map[record.TripID]int{}, last: -1,
		known: map[record.Length]placing{}, missed: map[miss]float64{}}
}

// add counts one row.
func (g *lengths) add(row *record.LengthCount) {
	if !(row.Count > 0) {
		return
	}
	portions := g.portions(row.Length, row.Count, lengthsFile)
	if portions == nil {
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

// The tables that hold lengths, and where in them the length and its kind stand.
const lengthsFile, fishFile = "lengths.csv", "fish.csv"

var lengthColumns = map[string][2]string{lengthsFile: {"length", "kind"}, fishFile: {"length", "length_kind"}}

// portions is where a fish of a length lies: one bin, or several when the length was
// converted and the equation's residual SD is known. Given the measured length the true
// one scatters around the converted value, so the expected share is counted in each bin.
// What keeps it out is told of the table that it stands in, with the number of fish.
func (g *lengths) portions(l record.Length, fish float64, file string) []portion {
	at, ok := g.known[l]
	if !ok {
		at = g.place(l)
		g.known[l] = at
	}
	if at.amiss != "" {
		g.missed[miss{file, l.Kind, at.amiss}] += fish
	}
	return at.in
}

func (g *lengths) place(l record.Length) placing {
	x, sd, ok := g.convert.Length(g.species, l, g.bin)
	switch at := x / g.bin.Width; {
	case !ok && !l.Value.Known:
		return placing{}
	case !ok && l.Kind == record.LengthKindUnknown:
		return placing{amiss: finding.Needed}
	case !ok:
		return placing{amiss: finding.NoConversion}
	case !(at >= 0 && at < mostBins):
		return placing{amiss: finding.OutOfRange}
	default:
		// A hair above: 130 cm must fall into the bin that begins at 130 even where 130/5 is not exact.
		return placing{in: g.spread(x, sd, int(at+1e-9))}
	}
}

// unit is the share that all shares are whole multiples of, so that sums of counts times
// shares are exact up to two million fish a bin, and no order of rows can move them.
const unit = 1.0 / (1 << 32)

// spread cuts a normal around x into bins. What the cut at four SD and the rounding leave
// over goes to the bin in the middle.
func (g *lengths) spread(x, sd float64, middle int) []portion {
	if sd < g.bin.Width/20 {
		return []portion{{middle, 1}}
	}
	var portions []portion
	reach, sum := int(4*sd/g.bin.Width)+1, 0.0
	low, high := max(0, middle-reach), min(mostBins-1, middle+reach)
	for l := low; l <= high; l++ {
		sum += g.between(l, x, sd)
	}
	rest, at := 1.0, 0
	for l := low; l <= high; l++ {
		share := math.Round(g.between(l, x, sd)/sum/unit) * unit
		if l == middle {
			at = len(portions)
		} else if share < 1e-4 {
			continue
		}
		portions = append(portions, portion{l, share})
		rest -= share
	}
	portions[at].share += rest
	return portions
}

// between is the share of a normal around x that lies in bin l.
func (g *lengths) between(l int, x, sd float64) float64 {
	return normalBetween((float64(l)*g.bin.Width-x)/sd, (float64(l+1)*g.bin.Width-x)/sd)
}

// findings tells what could not be counted, and how many fish that were, table by table
// and kind by kind. A fish of fish.csv without an equation is told where it is checked.
func (g *lengths) findings(found *finding.List) {
	for _, file := range []string{lengthsFile, fishFile} {
		columns := lengthColumns[file]
		length, kind := finding.Place{File: file, Column: columns[0]}, finding.Place{File: file, Column: columns[1]}
		if g.missed[miss{file, record.LengthKindUnknown, finding.Needed}] > 0 {
			found.Add(finding.Needed, kind, "")
		}
		far := g.missed[miss{file, record.LengthKindUnknown, finding.OutOfRange}]
		for _, word := range record.LengthKindWords() {
			k, _ := record.ParseLengthKind(word)
			if fish := g.missed[miss{file, k, finding.NoConversion}]; fish > 0 && file == lengthsFile {
				found.Add(finding.NoConversion, kind, word, word, g.bin.Kind.String(), text(fish))
			}
			far += g.missed[miss{file, k, finding.OutOfRange}]
		}
		if far > 0 {
			found.Add(finding.OutOfRange, length, text(far), "bins", text(g.bin.Width*mostBins), g.bin.Unit)
		}
	}
}

func text(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

func normalBetween(low, high float64) float64 {
	return (math.Erfc(low/math.Sqrt2) - math.Erfc(high/math.Sqrt2)) / 2
}

// Package tally cuts records once into counts by stratum, trip, bin and age: all that
// the estimators see.
//
// Whatever can be decided once is decided here: which stratum a trip belongs to, which
// trips give lengths to a stratum that has none, which cells of the key a fish counts
// in. The order of rows in the tables does not matter: everything is sorted.
package tally

import (
	"earstone/estimate/catch"
	"earstone/estimate/key"
	"earstone/programme/finding"
	"earstone/programme/record"
	"earstone/programme/strata"
)

// Counts is one species of a programme, cut into counts.
type Counts struct {
	Species record.Species
	Bins    Bins
	Columns strata.Set // that define a catch stratum
	Cells   []strata.Cell
	Design  catch.Design // Strata in the order of Cells; margins in the order of Sums
	CV      []float64    // of each stratum's total catch, 0 where none is given

	Trips    []Trip // in the order of Design.Trips
	Measured float64

	Key       key.Sample
	Ladder    strata.Ladder // of the key; Key.Grid.Rungs in its order
	KeyCells  []strata.Cell // key strata, in the order of Key.Grid.Path
	Origins   []strata.Cell // where aged fish come from
	Readers   []record.ReaderID
	Fish      []Fish    // beneath each entry of Key.Entries
	Spread    []Spread  // entries of fish whose length was converted with a known SD
	Loose     [][]Stone // by origin: fish of no trip
	Oldest    int       // oldest class that any reading gives
	Aged      int       // fish with an agreed age and a length
	Unsettled int       // fish whose readings are not yet one age

	Sums    []strata.Cell // years first, then quarters, areas and gears of a year
	Years   []int         // of the first Sums
	Filled  []strata.Set  // by stratum: the ladder's set that fills it; meaningful where Design.Strata[s].Filled
	Unheard []int         // strata that no sample reaches: their fish are unaged
	Landed  Landed        // how trips were weighted
	Found   finding.List
}

// Trip is one sampled trip of the design.
type Trip struct {
	ID       record.TripID
	Cell     strata.Cell
	Stratum  int     // −1: no catch is given where it fished
	Measured float64 // fish
	Aged     float64
}

// Fish names a fish beneath an entry of the key's sample.
type Fish struct{ ID record.FishID }

// Spread is a run of entries [First, First+Len) that are one fish whose converted length
// may lie in several bins; each entry holds its share.
type Spread struct{ First, Len int32 }

// Stone is the entries of one fish of no trip: several where its date or its length may
// mean several cells. It is drawn again as one.
type Stone []int32

// Landed counts the ways in which trips came by their weight M_t.
type Landed struct {
	ByNumber int // landed_number
	ByWeight int // landed_kg over the mean weight of the trip's sample
	ByMean   int // the mean of the stratum's other trips
	Equal    int // 1: nothing is known in the whole stratum
}

// Bins are the length bins: bin l holds [First + l·Width, First + (l+1)·Width).
type Bins struct {
	First, Width float64
	N            int
	Unit         string
	Kind         record.LengthKind
}

// Lower is the lower edge of bin l.
func (b Bins) Lower(l int) float64 { return b.First + float64(l)*b.Width }

// At is the bin of a length in the bins' unit and kind, −1 outside all of them.
func (b Bins) At(x float64) int {
	// A hair above: 130 cm must fall into the bin that begins at 130 even where 130/5 is not exact.
	l := int(x/b.Width+1e-9) - int(b.First/b.Width+0.5)
	if !(x >= 0) || l < 0 || l >= b.N {
		return -1
	}
	return l
}

// Mid is the midpoint of bin l.
func (b Bins) Mid(l int) float64 { return b.Lower(l) + b.Width/2 }

// Converter turns lengths as written into the kind and unit of the bins. sd is the
// residual SD of the equation, 0 where none is published; ok is false when the length
// is unknown or no equation leads there.
type Converter interface {
	Length(species record.Species, l record.Length, to record.LengthBin) (x, sd float64, ok bool)
	// Weight is E[kg] of a fish of a length in the bins' unit and kind.
	Weight(species record.Species, x float64, of record.LengthBin) (kg float64, ok bool)
}

// Variant is what one fish counts as on a part of the days that its date may mean.
type Variant struct {
	Share   float64
	Class   int     // agreed age class, −1 unsettled
	Classes []int16 // class by each reader in the programme's order, −1 not read
}

// AgedFish is a fish of the book with what its readings say.
type AgedFish struct {
	Fish     *record.Fish
	Variants []Variant
}

// Package stream draws random numbers that depend on nothing but their key: seed, source and replicate.
//
// A Stream is a value; Reset keys it, and replicate 417 of a source is the same
// wherever, whenever and beside whatever else it is drawn. The draws use no
// function of package math whose last bit differs between processors, so a
// sequence is the same on all of them. TestGoldenSequence nails it: a commit that
// changes it needs a new engine version.
package stream

import "fmt"

// Source is what a stream stands for: each random source of a run has its own,
// so that one can be redrawn while the others stay. The zero Source is unknown.
type Source uint8

// The sources of methods, section 10, then those of invented fisheries and of sittings.
const (
	Trips     Source = iota + 1 // a trip with all that came off it
	Stones                      // stones that were picked independently of trips
	Reader                      // error of the age readers
	Convert                     // residual of a length conversion
	Baseline                    // the baseline samples of origin
	Catch                       // catch totals that carry an error
	Fish                        // lengths within a trip
	Invention                   // truth and samples of an invented fishery
	Sitting                     // what a reader is given, and in what order
)

var sources = [...]string{"unknown", "trips", "stones", "reader", "convert", "baseline", "catch", "fish", "invention", "sitting"}

// String is the word by which a run names the source.
func (s Source) String() string {
	if int(s) < len(sources) {
		return sources[s]
	}
	return fmt.Sprintf("source %d", uint8(s))
}

// Sources are all sources in their order, without the unknown one.
func Sources() []Source {
	all := make([]Source, len(sources)-1)
	for i := range all {
		all[i] = Source(i + 1)
	}
	return all
}

// ParseSource is the source of a word that String wrote.
func ParseSource(word string) (Source, error) {
	for _, s := range Sources() {
		if s.String() == word {
			return s, nil
		}
	}
	return 0, fmt.Errorf("%q is not a random source", word)
}

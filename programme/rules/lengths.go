package rules

import (
	"math"
	"strconv"

	"earstone/programme/date"
	"earstone/programme/finding"
	"earstone/programme/record"
	"earstone/programme/species"
)

const lengthsFile = "lengths.csv"

// Lengths holds length counts, which are too many for a book, against the rest of the
// programme, one by one as they are read.
type Lengths struct {
	c        *check
	known    map[sized]doubt
	measured map[record.TripID]float64 // fish of all species
}

type sized struct {
	species record.Species
	length  record.Length
}

// doubt is what a length is held against, and the bound that it breaks; none when empty.
type doubt struct{ against, bound string }

// NewLengths begins a pass over the length counts of a book.
func NewLengths(book *record.Book) *Lengths {
	return &Lengths{newCheck(book, date.Day{}), map[sized]doubt{}, map[record.TripID]float64{}}
}

// Ask holds one length count against what is published of its species.
func (l *Lengths) Ask(row *record.LengthCount) {
	l.measured[row.Trip] += row.Count
	of := sized{row.Species, row.Length}
	d, known := l.known[of]
	if !known {
		d = l.c.size(row.Species, row.Length)
		l.known[of] = d
	}
	if d.against != "" {
		l.c.add(finding.Implausible, lengthsFile, row.Row, "length", text(row.Length.Value.X), d.against, d.bound)
	}
	if row.Count != math.Trunc(row.Count) {
		l.c.add(finding.Implausible, lengthsFile, row.Row, "count", text(row.Count), "whole_fish")
	}
}

// Found is what was found, after the last count: among it trips of which more fish were
// measured than landed.
func (l *Lengths) Found() *finding.List {
	for _, t := range l.c.book.Trips {
		if n := l.measured[t.Trip]; t.LandedNumber.Known && t.LandedNumber.X > 0 && n > t.LandedNumber.X {
			l.c.add(finding.Implausible, tripsFile, t.Row, "landed_number", text(t.LandedNumber.X), "measured", strconv.FormatFloat(n, 'f', -1, 64))
		}
	}
	clear(l.measured)
	return &l.c.found
}

// smallest is the part of the largest length on record below which no fish of a species
// is landed.
const smallest = 0.05

// size holds a length, as straight fork length where an equation leads there, against the
// largest that is published, and against a small part of it.
func (c *check) size(code record.Species, l record.Length) doubt {
	facts, ok := species.Of(code)
	cm, measured := inCm(l)
	largest := largest(facts.MaximumLength)
	if !ok || !measured || largest == 0 {
		return doubt{}
	}
	straight, err := c.converter.Length(code, l, record.StraightFork, "cm")
	if err == nil {
		cm = straight.Value
	}
	switch tip := err == nil || l.Kind == record.CurvedFork || l.Kind == record.LowerJawFork; {
	case tip && cm > largest:
		return doubt{"maximum_length", text(largest)}
	case tip && cm < smallest*largest:
		return doubt{"minimum_length", tenths(smallest * largest)}
	}
	return doubt{}
}

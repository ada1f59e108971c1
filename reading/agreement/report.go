package agreement

import (
	"earstone/programme/record"
	"earstone/reading/age"
)

// Report is what agreement.csv and the report page say of one species.
type Report struct {
	Species  record.Species
	All      Summary // of the last reading by each reader
	Pairs    []Pair  // in the order of readers; only those with fish in common
	Self     []Pair  // each reader against an earlier day: ReaderA equals ReaderB
	Edges    []EdgeShare
	Calendar CalendarWarning
	Drift    []Drift // of readers with control re-readings
}

// For gathers the report of one species. fish and readings may be of all species; the
// panel is that of the programme, so that readers keep their order from species to
// species.
//
// Readers are set against each other by the last counted reading of each, control
// readings only where a fish has no other (age.Panel.Latest); against themselves by
// the first and the last counted reading of a fish, controls among them, where these
// were certainly made on different days. Counts above age.Oldest are slips of the pen
// and left out; age tells of them. Readings that were not blind and joint ones are left
// out everywhere, edges and controls too.
//
// Methods, section 3.
func For(species record.Species, calendar record.Calendar, panel age.Panel, fish []record.Fish, readings []record.Reading) Report {
	g := gather(species, panel, fish, readings)
	readers := len(panel.Readers)
	r := Report{Species: species, Edges: Edges(g.seen)}
	if readers == 0 {
		return r
	}
	r.All = Of(g.counts, readers)
	for a := range readers {
		for b := a + 1; b < readers; b++ {
			r.add(&r.Pairs, panel.Readers[a], panel.Readers[b], column(g.counts, a, readers), column(g.counts, b, readers))
		}
		r.add(&r.Self, panel.Readers[a], panel.Readers[a], g.first[a], g.again[a])
		if len(g.controls[a]) > 0 {
			r.Drift = append(r.Drift, DriftOf(panel.Readers[a], g.controls[a]))
		}
	}
	r.Calendar = CheckCalendar(calendar, r.Edges)
	return r
}

func (r *Report) add(to *[]Pair, a, b record.ReaderID, countsA, countsB []int) {
	if p := Compare(countsA, countsB); p.ReadTwice > 0 {
		p.ReaderA, p.ReaderB = a, b
		*to = append(*to, p)
	}
}

func column(counts []int, r, readers int) []int {
	var out []int
	for i := r; i < len(counts); i += readers {
		out = append(out, counts[i])
	}
	return out
}

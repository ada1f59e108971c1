package fishery

import (
	"fmt"
	"math"

	"earstone/programme/date"
	"earstone/programme/record"
	"earstone/statistics/stream"
)

// sessionSize is how many stones a reader reads in a sitting.
const sessionSize = 100

// writeReadings lets each fish be read by as many readers as Readings allows, in the
// programme's order; those left over after equal numbers go to fish at random.
func (f *Fishery) writeReadings(book *record.Book, e *Season, b int) {
	s, n := &f.settings, len(e.picked)
	if n == 0 {
		return
	}
	least := min(s.Readings/n, len(s.Readers))
	more := 0
	if least < len(s.Readers) {
		more = s.Readings - least*n
	}
	draws := make([]stream.Stream, len(s.Readers))
	for r := range draws {
		draws[r] = f.stream(b, forReading, r+1)
	}
	deal := f.stream(b, forReading, 0)
	late := f.stream(b, forCard, 1)
	book.Readings = make([]record.Reading, 0, least*n+more)
	ids := codes("R", 7, least*n+more)
	var desk desk
	for i := range e.picked {
		readers := least
		if more > 0 && deal.IntN(n-i) < more {
			readers++
			more--
		}
		year := int(f.strata[e.picked[i].stratum].cell.Year)
		annuli, edge := f.laid(&late, &e.picked[i])
		for r := range readers {
			reading := f.read(&draws[r], r, &e.picked[i], annuli, edge)
			reading.Session, reading.ReadAt = desk.sit(r, year, s.Readers[r].ID)
			reading.Reading = ids[len(book.Readings)]
			reading.Fish, reading.Side = book.Stones[i].Fish, book.Stones[i].Side
			reading.Preparation = book.Preparations[i].Preparation
			reading.Row = len(book.Readings) + 2
			book.Readings = append(book.Readings, reading)
		}
	}
}

// laid is what is to be seen on a fish's stone. Its annuli come a few days early or
// late, within the window.
func (f *Fishery) laid(draw *stream.Stream, x *picked) (annuli int, edge record.Edge) {
	c := f.settings.Calendar
	window := c.AnnulusWindowDays
	late := int(math.Round(0.4 * float64(window) * draw.Normal()))
	late = min(max(late, -window), window)
	year := int(f.strata[x.stratum].cell.Year)
	return Accurate(c, year-int(x.age), date.FromSerial(int(x.day)), late)
}

// read is one reader's count: the age class read by methods, section 4, told in annuli
// on that day. A reader finds one annulus at least: none is impossible for half the year.
func (f *Fishery) read(draw *stream.Stream, r int, x *picked, annuli int, edge record.Edge) record.Reading {
	s, reader := &f.settings, &f.settings.Readers[r]
	age := float64(x.age)
	count := math.Floor(age*(1+reader.Bias) + reader.sd(int(x.age), s.OldestAge)*draw.Normal() + 0.5)
	readable := 5 - min(int(-1.2*math.Log(draw.Float64())), 4)
	if draw.Float64() < s.EdgeNoise && !f.edgeMatters(x) {
		edge = offByOne(draw, edge)
	}
	return record.Reading{
		Reader: reader.ID, Blind: record.Yes, Control: record.No,
		Annuli: max(annuli+int(count)-int(x.age), 1), Edge: edge, Readability: readable,
	}
}

// edgeMatters tells whether the capture day lies in a window of the calendar.
func (f *Fishery) edgeMatters(x *picked) bool {
	after, before := nearest(f.settings.Calendar, int(x.day))
	return min(after, before) <= f.settings.Calendar.AnnulusWindowDays
}

// offByOne is an edge one class away.
func offByOne(draw *stream.Stream, edge record.Edge) record.Edge {
	if edge != record.Partial {
		return record.Partial
	}
	if draw.IntN(2) == 0 {
		return record.Narrow
	}
	return record.Wide
}

// desk is where the readers sit: the stones of a year from 15 March of the next, a
// session every third day.
type desk []seat

type seat struct {
	year, read int
	session    string
	day        date.Day
}

func (d *desk) sit(reader, year int, id record.ReaderID) (session string, day date.Day) {
	for len(*d) <= reader {
		*d = append(*d, seat{})
	}
	at := &(*d)[reader]
	if at.year != year {
		*at = seat{year: year}
	}
	if at.read%sessionSize == 0 {
		k := at.read / sessionSize
		at.session = fmt.Sprintf("%s-%d-%03d", id, year+1, k+1)
		at.day = date.FromSerial(date.On(year+1, 3, 15).Serial() + 3*k)
	}
	at.read++
	return at.session, at.day
}

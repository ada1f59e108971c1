package fishery

import (
	"strconv"

	"earstone/programme/date"
	"earstone/programme/record"
)

// species is an ASFIS code for want of another; nothing else of the species is used.
const species record.Species = "BFT"

// What is invented of equations, ports and contributors: no value of theirs was
// published anywhere.
const (
	curvedA, curvedB, curvedSD = 1.5, 0.945, 1.2 // straight = a + b·curved, cm
	invented                   = "invented with the fishery"
)

var ports = []string{"Ellhaven", "Tarnpoint", "Low Staithe", "Withy Quay"}

const contributors = 24

// write makes the book of a season.
func (f *Fishery) write(e *Season, b int) *record.Book {
	book := &record.Book{Settings: f.programme(), Conversions: f.conversions()}
	for i, bank := range f.settings.Banks {
		book.Areas = append(book.Areas, record.Area{Area: bank.Name, Name: bank.Name + " Bank", PublicName: bank.Name + " Bank",
			Geometry: outlineOf(i, len(f.settings.Banks)), Row: i + 2})
	}
	for i, code := range codes("C", 3, contributors) {
		kind := []string{"angler", "angler", "crew", "dealer", "sampler"}[i%5]
		book.Contributors = append(book.Contributors, record.Contributor{
			Contributor: code, Kind: kind, Language: "en", ContactConsent: record.Yes, PublishConsent: record.No, Row: i + 2})
	}
	f.writeTrips(book, e)
	f.writeCatches(book)
	f.writeFish(book, e, b)
	f.writeReadings(book, e, b)
	f.writeKnownAges(book, e, b)
	f.writeAssays(book, e, b)
	return book
}

// programme is what the invented programme declares about itself.
func (f *Fishery) programme() record.Settings {
	s, to := &f.settings, record.Defaults()
	to.Name = s.Programme
	to.Species = []record.Species{species}
	to.Calendars[species] = s.Calendar
	to.LengthBin.Width = float64(s.BinCm)
	to.PlusGroup = s.PlusGroup
	to.AgreedAge.Tie = "lower_reader"
	for _, r := range s.Readers {
		to.Readers = append(to.Readers, r.ID)
	}
	to.Targets = []record.Target{{Quantity: "catch_at_age", Ages: [2]int{4, 10}, WantCV: 0.15}}
	return to
}

func (f *Fishery) conversions() []record.Conversion {
	s := &f.settings
	low, high := record.Some(20), record.Some(s.LargestCm*1.3)
	all := []record.Conversion{{
		Species: species, Quantity: "weight", From: record.StraightFork.String(), To: record.Round.String(), Form: "power",
		A: s.WeightA, B: s.WeightB, SD: record.Some(s.WeightSpread), Low: low, High: high,
		Unit: "cm to kg", Source: invented, Status: "invented", Row: 2,
	}}
	if s.MixedKinds > 0 {
		all = append(all, record.Conversion{
			Species: species, Quantity: "length", From: record.CurvedFork.String(), To: record.StraightFork.String(), Form: "linear",
			A: curvedA, B: curvedB, SD: record.Some(curvedSD), Low: low, High: high,
			Unit: "cm", Source: invented, Status: "invented", Row: 3,
		})
	}
	return all
}

func (f *Fishery) writeTrips(book *record.Book, e *Season) {
	book.Trips = make([]record.Trip, len(e.trips))
	for i, code := range codes("T", 5, len(e.trips)) {
		t := e.trips[i]
		st := &f.strata[t.stratum]
		book.Trips[i] = record.Trip{
			Trip: record.TripID(code), LandedOn: date.FromSerial(int(t.day)), Area: st.cell.Area, Gear: st.cell.Gear,
			Port: ports[i%len(ports)], LandedNumber: record.Some(t.landed), Contributor: book.Contributors[i%contributors].Contributor, Row: i + 2,
		}
	}
}

func (f *Fishery) writeCatches(book *record.Book) {
	book.Catches = make([]record.Catch, len(f.strata))
	for i := range f.strata {
		st := &f.strata[i]
		c := record.Catch{
			Year: int(st.cell.Year), Quarter: int(st.cell.Quarter), Area: st.cell.Area, Gear: st.cell.Gear,
			Species: species, Row: i + 2,
		}
		if st.inKg {
			c.WeightKg = record.Some(st.number * f.meanWeight(st))
		} else {
			c.Number = record.Some(st.number)
		}
		book.Catches[i] = c
	}
}

// codes are n codes of a letter and a number from 1 in so many digits or more, all cut
// from one text.
func codes(letters string, digits, n int) []string {
	digits = max(digits, len(strconv.Itoa(n)))
	width := len(letters) + digits
	text := make([]byte, 0, n*width)
	for i := 1; i <= n; i++ {
		text = append(text, letters...)
		number := strconv.Itoa(i)
		for range digits - len(number) {
			text = append(text, '0')
		}
		text = append(text, number...)
	}
	whole, out := string(text), make([]string, n)
	for i := range out {
		out[i] = whole[i*width : (i+1)*width]
	}
	return out
}

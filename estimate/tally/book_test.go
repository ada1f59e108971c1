package tally_test

import (
	"strconv"
	"testing"

	"earstone/estimate/tally"
	"earstone/programme/date"
	"earstone/programme/record"
)

// tables is a programme written down in a test.
type tables struct {
	book    record.Book
	lengths []record.LengthCount
	aged    map[record.Species][]tally.AgedFish
	readers []record.ReaderID
}

func (s *tables) Book() (*record.Book, error) { return &s.book, nil }

func (s *tables) Lengths(each func(*record.LengthCount) error) error {
	for i := range s.lengths {
		if err := each(&s.lengths[i]); err != nil {
			return err
		}
	}
	return nil
}

// begun is a programme of one species that has only its settings.
func begun() *tables {
	settings := record.Defaults()
	settings.Name = "Quarrow Banks"
	settings.Species = []record.Species{"BFT"}
	settings.Strata = []string{"year", "quarter", "area", "gear"}
	settings.Ladders = record.Ladders{
		Lengths: [][]string{{"year", "quarter", "area", "gear"}, {"year", "area", "gear"}, {"year", "gear"}, {"year"}},
		Key:     [][]string{{"year", "quarter"}, {"year"}, {}},
	}
	return &tables{book: record.Book{Settings: settings}, aged: map[record.Species][]tally.AgedFish{}, readers: []record.ReaderID{"R1", "R2"}}
}

func (s *tables) trip(id record.TripID, on, area, gear string, landed, kg record.Number) {
	day, ok := date.Parse(on)
	if !ok {
		panic("no such day: " + on)
	}
	s.book.Trips = append(s.book.Trips, record.Trip{Trip: id, LandedOn: day, Area: area, Gear: gear, LandedNumber: landed, LandedKg: kg})
}

func cm(x float64) record.Length {
	return record.Length{Value: record.Some(x), Unit: "cm", Kind: record.StraightFork}
}

func curved(x float64) record.Length {
	return record.Length{Value: record.Some(x), Unit: "cm", Kind: record.CurvedFork}
}

func (s *tables) measure(id record.TripID, l record.Length, count float64) {
	s.measureOf("BFT", id, l, count)
}

func (s *tables) measureOf(species record.Species, id record.TripID, l record.Length, count float64) {
	s.lengths = append(s.lengths, record.LengthCount{Trip: id, Species: species, Length: l, Count: count})
}

// age adds a fish of a trip (or of none, caught where its card says) with its variants.
func (s *tables) age(trip record.TripID, card record.Fish, l record.Length, variants ...tally.Variant) {
	card.Fish, card.Species, card.Trip, card.Length = record.FishID("F"+strconv.Itoa(100+len(s.book.Fish))), "BFT", trip, l
	s.book.Fish = append(s.book.Fish, card)
	s.aged["BFT"] = append(s.aged["BFT"], tally.AgedFish{Fish: &card, Variants: variants})
}

// read is a fish on whose class both readers agree, or the second did not look.
func read(class int, by ...int16) tally.Variant {
	return tally.Variant{Share: 1, Class: class, Classes: by}
}

func (s *tables) build(t testing.TB) []*tally.Counts {
	t.Helper()
	all, err := tally.Build(s, &s.book, s.aged, s.readers, converter{})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// converter knows centimetres, millimetres and inches, and one invented equation:
// straight = 1.5 + 0.945 curved, SD 2 cm. Weight is 1e-5 l³ where the species is BFT.
type converter struct{}

func (converter) Length(_ record.Species, l record.Length, to record.LengthBin) (x, sd float64, ok bool) {
	perUnit := map[string]float64{"cm": 1, "mm": 0.1, "in": 2.54}
	if !l.Value.Known || perUnit[l.Unit] == 0 {
		return 0, 0, false
	}
	x = l.Value.X * perUnit[l.Unit]
	switch l.Kind {
	case to.Kind:
	case record.CurvedFork:
		x, sd = 1.5+0.945*x, 2
	default:
		return 0, 0, false
	}
	return x / perUnit[to.Unit], sd / perUnit[to.Unit], true
}

func (converter) Weight(species record.Species, x float64, of record.LengthBin) (float64, bool) {
	return 1e-5 * x * x * x, species == "BFT"
}

var unknown record.Number

// quarrow is a small programme written by hand; the comments of its tests count in it.
func quarrow() *tables {
	s := begun()
	s.trip("T1", "2031-02-10", "Quarrow", "line", record.Some(300), unknown)
	s.trip("T2", "2031-03-01", "Quarrow", "line", unknown, record.Some(1000))
	s.trip("T3", "2031-01-05", "Quarrow", "line", unknown, unknown)
	s.trip("T4", "2031-02-20", "Skell", "line", unknown, unknown)
	s.trip("T5", "2031-05-11", "Quarrow", "net", record.Some(40), unknown)  // nobody tells its catch
	s.trip("T6", "2031-01-30", "Quarrow", "line", record.Some(77), unknown) // stones only
	s.trip("T7", "2031-02-02", "Quarrow", "line", record.Some(5), unknown)  // neither
	s.measure("T1", cm(52), 10)
	s.measure("T1", cm(57), 30)
	s.measure("T2", cm(57.4), 20)
	s.measure("T3", cm(66), 5)
	s.measure("T4", cm(61), 8)
	s.measure("T5", cm(71), 4)
	catch := func(year, quarter, month int, area, gear string, number, kg, cv record.Number) {
		s.book.Catches = append(s.book.Catches, record.Catch{Year: year, Quarter: quarter, Month: month, Area: area, Gear: gear,
			Species: "BFT", Number: number, WeightKg: kg, CV: cv, Row: len(s.book.Catches) + 2})
	}
	catch(2032, 1, 0, "Quarrow", "line", record.Some(70), unknown, unknown) // no sample in its year
	catch(2031, 0, 2, "Quarrow", "line", record.Some(5000), unknown, record.Some(0.1))
	catch(2031, 0, 3, "Quarrow", "line", record.Some(3000), unknown, unknown)
	catch(2031, 1, 0, "Skell", "line", unknown, record.Some(12000), record.Some(0.2))
	catch(2031, 2, 0, "Skell", "line", record.Some(900), unknown, unknown)
	catch(2031, 2, 0, "Dunmarrow", "line", record.Some(400), unknown, unknown)
	catch(2031, 1, 0, "Skell", "troll", record.Some(100), unknown, unknown)
	s.age("T1", record.Fish{}, cm(52), read(1, 1, 1))
	s.age("T1", record.Fish{}, cm(53), read(1, 1, 1))
	s.age("T1", record.Fish{}, cm(57), read(2, 2, -1))
	s.age("T6", record.Fish{}, cm(88), read(5, 5, 6))
	s.age("T2", record.Fish{}, cm(57), read(-1, 2, 3)) // not settled
	s.age("T2", record.Fish{}, record.Length{}, read(2, 2, 2))
	return s
}

package tally_test

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"runtime"
	"slices"
	"testing"

	"earstone/estimate/tally"
	"earstone/programme/date"
	"earstone/programme/record"
	"pgregory.net/rapid"
)

// crowded is a programme with more of everything than quarrow, drawn.
func crowded(t *rapid.T) *tables {
	s := begun()
	areas, gears := []string{"Quarrow", "Skell"}, []string{"line", "net"}
	area, gear := rapid.SampledFrom(areas), rapid.SampledFrom(gears)
	length := rapid.Custom(func(t *rapid.T) record.Length {
		l := cm(rapid.Float64Range(58, 70).Draw(t, "cm"))
		if rapid.Bool().Draw(t, "curved") {
			l.Kind = record.CurvedFork
		}
		return l
	})
	number := rapid.Custom(func(t *rapid.T) record.Number {
		if rapid.Bool().Draw(t, "unknown") {
			return unknown
		}
		return record.Some(rapid.Float64Range(1, 9e4).Draw(t, "number"))
	})
	trips := rapid.IntRange(0, 8).Draw(t, "trips")
	for i := range trips {
		on := fmt.Sprintf("203%d-%02d-15", i%2, rapid.IntRange(1, 12).Draw(t, "month"))
		s.trip(record.TripID(fmt.Sprintf("T%d", i)), on, area.Draw(t, "area"), gear.Draw(t, "gear"), number.Draw(t, "landed"), number.Draw(t, "kg"))
		for range rapid.IntRange(0, 9).Draw(t, "lengths") {
			s.measure(s.book.Trips[i].Trip, length.Draw(t, "length"), float64(rapid.IntRange(1, 30).Draw(t, "count")))
		}
	}
	for range rapid.IntRange(0, 12).Draw(t, "catches") {
		s.book.Catches = append(s.book.Catches, record.Catch{Year: rapid.IntRange(2030, 2031).Draw(t, "year"), Quarter: rapid.IntRange(1, 2).Draw(t, "quarter"),
			Area: area.Draw(t, "area"), Gear: gear.Draw(t, "gear"), Species: "BFT", Number: number.Draw(t, "number"), WeightKg: number.Draw(t, "kg"),
			CV: record.Some(rapid.Float64Range(0, 0.4).Draw(t, "cv")), Row: len(s.book.Catches) + 2})
	}
	class := rapid.Int16Range(-1, 6)
	for range rapid.IntRange(0, 12).Draw(t, "fish") {
		trip, card := record.TripID(""), record.Fish{CaughtOn: date.On(2030, rapid.IntRange(1, 12).Draw(t, "month"), 3), Area: area.Draw(t, "area"), Gear: gear.Draw(t, "gear")}
		if i := rapid.IntRange(-1, trips-1).Draw(t, "trip"); i >= 0 {
			trip = s.book.Trips[i].Trip
		}
		variants := []tally.Variant{read(int(class.Draw(t, "class")), class.Draw(t, "R1"), class.Draw(t, "R2"))}
		if rapid.Bool().Draw(t, "partial date") {
			variants = append(variants, read(int(class.Draw(t, "class")), class.Draw(t, "R1"), class.Draw(t, "R2")))
			variants[0].Share, variants[1].Share = 0.3, 0.7
		}
		s.age(trip, card, length.Draw(t, "length"), variants...)
	}
	return s
}

func TestOrderOfRowsDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := crowded(t)
		all, err := tally.Build(s, &s.book, s.aged, s.readers, converter{})
		if err != nil {
			t.Fatal(err)
		}
		other := *s
		other.lengths = shuffled(t, s.lengths)
		other.book.Trips = shuffled(t, s.book.Trips)
		other.book.Catches = shuffled(t, s.book.Catches)
		other.aged = map[record.Species][]tally.AgedFish{"BFT": shuffled(t, s.aged["BFT"])}
		again, err := tally.Build(&other, &other.book, other.aged, other.readers, converter{})
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(all, again) {
			t.Fatalf("rows in another order give other counts:\n%+v\n%+v", *all[0], *again[0])
		}
		checkCounts(t, all[0])
	})
}

// shuffled is a copy in another order.
func shuffled[T any](t *rapid.T, rows []T) []T {
	order := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "order"), 1)).Perm(len(rows))
	out := make([]T, len(rows))
	for i, from := range order {
		out[i] = rows[from]
	}
	return out
}

// checkCounts holds counts to what must be true of any.
func checkCounts(t *rapid.T, c *tally.Counts) {
	fish := 0.0
	for i, trip := range c.Design.Trips {
		sum := 0.0
		for l, p := range c.Design.Lengths[i*c.Bins.N : (i+1)*c.Bins.N] {
			sum += p
			if p > 0 && (l < trip.Low || l >= trip.High) {
				t.Fatalf("trip %s has fish in bin %d, outside %d to %d", c.Trips[i].ID, l, trip.Low, trip.High)
			}
		}
		if (sum > 0) != (c.Trips[i].Measured > 0) || sum > 0 && (sum < 1-1e-12 || sum > 1+1e-12) {
			t.Fatalf("the lengths of trip %s sum to %v", c.Trips[i].ID, sum)
		}
		fish += c.Trips[i].Measured
		if trip.Landed <= 0 {
			t.Fatalf("trip %s weighs %v", c.Trips[i].ID, trip.Landed)
		}
	}
	if fish != c.Measured {
		t.Fatalf("%v fish are measured, the trips have %v", c.Measured, fish)
	}
	for i, e := range c.Key.Entries {
		if e.Bin < 0 || int(e.Bin) >= c.Bins.N || int(e.Age) >= c.Design.Ages || e.Fish <= 0 {
			t.Fatalf("entry %d is %+v", i, e)
		}
	}
	inStrata := 0
	for s, stratum := range c.Design.Strata {
		if !stratum.Filled {
			inStrata += len(stratum.Trips)
		}
		if len(stratum.Trips) == 0 != slices.Contains(c.Unheard, s) {
			t.Fatalf("stratum %v has %d trips and is among the unheard: %v", c.Cells[s], len(stratum.Trips), c.Unheard)
		}
	}
	for i, trip := range c.Trips {
		if trip.Stratum >= 0 && c.Design.Trips[i].High > c.Design.Trips[i].Low {
			inStrata--
		}
	}
	if inStrata != 0 {
		t.Fatalf("%d measured trips more stand in strata than have one", inStrata)
	}
}

// flood hands over rows without keeping any.
type flood struct {
	tables
	rows int
}

func (f *flood) Lengths(each func(*record.LengthCount) error) error {
	row := record.LengthCount{Species: "BFT", Count: 1, Length: cm(0)}
	for i := range f.rows {
		row.Trip = f.book.Trips[i%len(f.book.Trips)].Trip
		row.Length.Value.X = 50 + float64(i%1000)/10
		if err := each(&row); err != nil {
			return err
		}
	}
	return nil
}

func TestMemoryIsThatOfTripsAndBins(t *testing.T) {
	few, many := 20_000, 2_000_000
	if testing.Short() {
		many = 200_000
	}
	f := &flood{tables: *begun()}
	for i := range 40 {
		f.trip(record.TripID(fmt.Sprintf("T%02d", i)), "2031-02-10", "Quarrow", "line", unknown, unknown)
	}
	allocated := func(rows int) uint64 {
		f.rows = rows
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		all, err := tally.Build(f, &f.book, nil, nil, converter{})
		runtime.ReadMemStats(&after)
		if err != nil || all[0].Measured != float64(rows) {
			t.Fatalf("of %d fish %v are measured: %v", rows, all[0].Measured, err)
		}
		return after.TotalAlloc - before.TotalAlloc
	}
	allocated(few) // whatever is made once
	a, b := allocated(few), allocated(many)
	if b > a+a/4 {
		t.Errorf("%d rows allocate %d bytes, %d rows of the same trips and bins %d", few, a, many, b)
	}
}

func BenchmarkBuildRow(b *testing.B) {
	f := &flood{tables: *begun(), rows: b.N}
	for i := range 400 {
		f.trip(record.TripID(fmt.Sprintf("T%03d", i)), "2031-02-10", "Quarrow", "line", unknown, unknown)
	}
	b.ReportAllocs()
	if _, err := tally.Build(f, &f.book, nil, nil, converter{}); err != nil {
		b.Fatal(err)
	}
}

// Two trips of one stratum, 40 and 20 fish measured.
func ExampleBuild() {
	s := begun()
	s.trip("T1", "2031-02-10", "Quarrow", "line", record.Some(300), unknown)
	s.trip("T2", "2031-03-01", "Quarrow", "line", record.Some(100), unknown)
	s.measure("T1", cm(52), 10)
	s.measure("T1", cm(57), 30)
	s.measure("T2", cm(57), 20)
	s.book.Catches = []record.Catch{{Year: 2031, Quarter: 1, Area: "Quarrow", Gear: "line", Species: "BFT", Number: record.Some(8000)}}
	all, err := tally.Build(s, &s.book, nil, nil, converter{})
	if err != nil {
		fmt.Println(err)
		return
	}
	c := all[0]
	fmt.Println(c.Cells[0], c.Design.Strata[0].Number)
	for i, trip := range c.Trips {
		fmt.Println(trip.ID, c.Design.Trips[i].Landed, c.Design.Lengths[i*c.Bins.N:(i+1)*c.Bins.N])
	}
	// Output:
	// 2031 Q1 Quarrow line 8000
	// T1 300 [0.25 0.75]
	// T2 100 [0 1]
}

package tally_test

import (
	"errors"
	"math"
	"reflect"
	"slices"
	"testing"

	"earstone/estimate/tally"
	"earstone/programme/date"
	"earstone/programme/finding"
	"earstone/programme/record"
)

func TestLengthsThatCannotBeCounted(t *testing.T) {
	s := begun()
	s.trip("T1", "2031-02-10", "Quarrow", "line", unknown, unknown)
	s.measure("T1", cm(55), 3)
	s.measure("T1", cm(55), 0)
	s.measure("T1", cm(99999), 7)
	s.measure("T1", cm(-4), 7)
	s.measure("T1", cm(math.NaN()), 7)
	s.measure("T1", record.Length{Value: record.Some(60), Unit: "cm", Kind: record.Total}, 7)
	s.measure("T1", record.Length{Value: record.Some(61), Unit: "cm"}, 7)
	s.measure("T1", record.Length{}, 7)
	s.age("T1", record.Fish{}, record.Length{Value: record.Some(60), Unit: "cm", Kind: record.Standard}, read(3, 3, 3))
	s.age("T1", record.Fish{}, record.Length{}, read(3, 3, 3))
	c := s.build(t)[0]
	if c.Measured != 3 || c.Bins.N != 1 || c.Aged != 0 || len(c.Key.Entries) != 0 {
		t.Errorf("%v fish are measured in %d bins and %d aged, want 3, 1 and none", c.Measured, c.Bins.N, c.Aged)
	}
	want := []finding.Finding{
		{Kind: finding.Needed, Place: finding.Place{File: "lengths.csv", Column: "kind"}},
		{Kind: finding.NoConversion, Place: finding.Place{File: "lengths.csv", Column: "kind"}, Value: "total", Facts: []string{"total", "straight_fork", "7"}},
		{Kind: finding.OutOfRange, Place: finding.Place{File: "lengths.csv", Column: "length"}, Value: "21", Facts: []string{"bins", "10000", "cm"}},
	}
	got := slices.DeleteFunc(c.Found.All(), func(f finding.Finding) bool { return f.Kind == finding.NoCatch })
	if len(got) != len(want) {
		t.Fatalf("told are %+v, want %d findings", got, len(want))
	}
	for i, w := range want {
		g := got[i]
		if g.Kind != w.Kind || g.Place != w.Place || g.Value != w.Value || !slices.Equal(g.Facts, w.Facts) {
			t.Errorf("finding %d is %+v, want %+v", i, g, w)
		}
	}
}

func TestCatchToldTwice(t *testing.T) {
	s := begun()
	for row, c := range []record.Catch{
		{WeightKg: record.Some(700), CV: record.Some(0.5)},
		{Number: record.Some(40), CV: record.Some(0.25)},
		{Number: record.Some(60), WeightKg: record.Some(600)},
	} {
		c.Year, c.Quarter, c.Area, c.Gear, c.Species, c.Row = 2031, 1, "Skell", "line", "BFT", row+2
		s.book.Catches = append(s.book.Catches, c)
	}
	c := s.build(t)[0]
	if got := c.Design.Strata[0]; got.ByWeight || got.Number != 100 || math.Abs(c.CV[0]-0.1) > 1e-12 {
		t.Errorf("told in number and in weight the catch is %+v with CV %v, want 100 fish with 0.1", got, c.CV[0])
	}
	if told := found(c, finding.Contradiction); len(told) != 1 || told[0].Place.Row != 2 {
		t.Errorf("the contradiction is told as %+v, want once, at row 2", told)
	}
}

func TestTripListedTwice(t *testing.T) {
	once, twice := quarrow(), quarrow()
	twice.book.Trips = append(twice.book.Trips, twice.book.Trips[0])
	if a, b := once.build(t), twice.build(t); !reflect.DeepEqual(a, b) {
		t.Errorf("a trip listed twice gives %d trips, want the %d of the programme", len(b[0].Trips), len(a[0].Trips))
	}
}

func TestEmptyEverything(t *testing.T) {
	full := quarrow
	for what, s := range map[string]func() *tables{
		"a programme without records": begun,
		"no species":                  func() *tables { s := full(); s.book.Settings.Species = nil; return s },
		"no catch":                    func() *tables { s := full(); s.book.Catches = nil; return s },
		"no trips":                    func() *tables { s := full(); s.book.Trips = nil; return s },
		"no lengths":                  func() *tables { s := full(); s.lengths = nil; return s },
		"no fish":                     func() *tables { s := full(); s.book.Fish, s.aged = nil, nil; return s },
		"no readers":                  func() *tables { s := full(); s.readers, s.aged = nil, nil; return s },
		"no ladders":                  func() *tables { s := full(); s.book.Settings.Ladders = record.Ladders{}; return s },
		"no strata":                   func() *tables { s := full(); s.book.Settings.Strata = nil; return s },
	} {
		tables := s()
		for _, c := range tables.build(t) {
			if len(c.Cells) != len(c.Design.Strata) || len(c.Trips) != len(c.Design.Trips) || len(c.Design.Mid) != c.Bins.N ||
				len(c.Key.Entries) != len(c.Fish) || len(c.Loose) != len(c.Origins) || len(c.Filled) != len(c.Cells) || len(c.CV) != len(c.Cells) {
				t.Errorf("%s: the counts do not fit together: %+v", what, c)
			}
			if len(c.Cells) == 0 && len(found(c, finding.NoCatch)) == 0 && c.Measured > 0 {
				t.Errorf("%s: nobody is told that no catch is given", what)
			}
		}
	}
}

type broken struct{ *tables }

var errBroken = errors.New("the disk is gone")

func (broken) Lengths(func(*record.LengthCount) error) error { return errBroken }

func TestLengthsThatCannotBeRead(t *testing.T) {
	s := quarrow()
	if _, err := tally.Build(broken{s}, &s.book, s.aged, s.readers, converter{}); !errors.Is(err, errBroken) {
		t.Errorf("lengths that cannot be read give %v, want the source's error", err)
	}
}

func TestUncheckedSettingsPanic(t *testing.T) {
	for what, spoil := range map[string]func(*record.Settings){
		"a stratum column that is none": func(s *record.Settings) { s.Strata = []string{"moon"} },
		"a ladder column that is none":  func(s *record.Settings) { s.Ladders.Key = [][]string{{"moon"}} },
	} {
		s := quarrow()
		spoil(&s.book.Settings)
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s does not panic", what)
				}
			}()
			_, _ = tally.Build(s, &s.book, s.aged, s.readers, converter{})
		}()
	}
}

// A catch that is told in weight alone is a number of fish only by a mean weight.
func TestCatchInWeightThatIsNoNumberOfFish(t *testing.T) {
	out := quarrow()
	out.book.Catches = append(out.book.Catches, record.Catch{Year: 2033, Quarter: 1, Area: "Skell", Gear: "line", Species: "BFT", WeightKg: record.Some(600000)})
	for _, c := range []struct {
		what    string
		of      *tables
		kg      float64 // at any length, where it is not 0
		stratum string
		missing string
	}{
		{"an equation and lengths", quarrow(), 0, "", ""},
		{"no equation", quarrow(), math.NaN(), "2031 Q1 Skell line", "equation"},
		{"an equation out of all bounds", quarrow(), math.Inf(1), "2031 Q1 Skell line", "equation"},
		{"an equation of next to nothing", quarrow(), 1e-300, "2031 Q1 Skell line", "equation"},
		{"no sample", out, 0, "2033 Q1 Skell line", "sample"},
	} {
		all, err := tally.Build(c.of, &c.of.book, c.of.aged, c.of.readers, weigher{kg: c.kg})
		if err != nil {
			t.Fatal(err)
		}
		told := found(all[0], finding.WeightOnly)
		if c.missing == "" {
			if told != nil {
				t.Errorf("%s: told are %+v, want nothing", c.what, told)
			}
			continue
		}
		if len(told) != 1 || told[0].Value != c.stratum || told[0].Facts[0] != c.missing || told[0].Severity != finding.Error {
			t.Errorf("%s: told are %+v, want an error of %s for want of the %s", c.what, told, c.stratum, c.missing)
		}
	}
}

// weigher gives every fish one weight: 0 stands for that of its length, NaN for none.
type weigher struct {
	converter
	kg float64
}

func (w weigher) Weight(species record.Species, x float64, of record.LengthBin) (float64, bool) {
	if w.kg == 0 {
		return w.converter.Weight(species, x, of)
	}
	return w.kg, !math.IsNaN(w.kg)
}

func TestNearestStratumOfTheCatch(t *testing.T) {
	s := quarrow()
	s.book.Trips[4].Area, s.book.Trips[4].LandedOn = "Quarow", date.On(2031, 3, 1)
	s.book.Trips[4].Gear = "line"
	told := found(s.build(t)[0], finding.NoCatch)
	if len(told) != 1 || !slices.Equal(told[0].Facts, []string{"1", "2031 Q1 Quarrow line"}) {
		t.Errorf("a trip of a misspelt area is told as %+v, want the stratum that was meant", told)
	}
}

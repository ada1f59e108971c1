package rules

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"earstone/programme/date"
	"earstone/programme/finding"
	"earstone/programme/record"
)

func anniversary(text string) date.Anniversary {
	day, ok := date.ParseAnniversary(text)
	if !ok {
		panic(text)
	}
	return day
}

// sound is a programme in which nothing is to be found: 40 invented fish of Quarrow
// with weight 2e-5 L³ kg and stone mass L mg, both a little scattered by turns.
func sound() *record.Book {
	s := record.Defaults()
	s.Name, s.Species, s.Readers = "Quarrow Banks", []record.Species{"BFT"}, []record.ReaderID{"KL", "MN"}
	s.Calendars["BFT"] = record.Calendar{BirthDay: anniversary("06-01"), AnnulusDay: anniversary("11-30"), AnnulusWindowDays: 30, FirstAnnulusAge: 0.5}
	b := &record.Book{Settings: s,
		Areas:        []record.Area{{Area: "Skell", Row: 2}, {Area: "Dunmarrow", Row: 3}},
		Contributors: []record.Contributor{{Contributor: "C-1", Row: 2}},
		Trips:        []record.Trip{{Trip: "T-1", LandedOn: date.On(2031, 6, 20), Area: "Skell", Gear: "rod", Contributor: "C-1", Row: 2}},
		Catches: []record.Catch{{Year: 2031, Quarter: 2, Area: "Skell", Gear: "rod", Species: "BFT", Number: record.Some(900), Row: 2},
			{Year: 2031, Quarter: 3, Area: "Skell", Gear: "rod", Species: "BFT", Number: record.Some(9000), Row: 3}},
		Preparations: []record.Preparation{{Preparation: "P-1", Fish: "EB-2", MadeOn: date.On(2031, 8, 1), Row: 2}},
		Images:       []record.Image{{Image: "I-1", Preparation: "P-1", TakenOn: date.On(2031, 8, 2), UmPerPixel: record.Some(0.8), Row: 2}},
		Readings: []record.Reading{{Reading: "R-1", Fish: "EB-2", Preparation: "P-1", Image: "I-1", Reader: "KL", ReadAt: date.On(2031, 9, 1),
			Annuli: 2, Edge: record.Narrow, Row: 2}},
		Marks: []record.Mark{{Reading: "R-1", Order: 0, Kind: "core", DistanceUm: record.Some(0), Row: 2}, {Reading: "R-1", Order: 1, Kind: "annulus", DistanceUm: record.Some(900), Row: 3},
			{Reading: "R-1", Order: 2, Kind: "annulus", DistanceUm: record.Some(1500), Row: 4}, {Reading: "R-1", Order: 3, Kind: "edge", DistanceUm: record.Some(1700), Row: 5}},
		KnownAges: []record.KnownAge{{Fish: "EB-3", DecimalAge: 4.5, Row: 2}},
		Assays:    []record.Assay{{Fish: "EB-2", Tracer: "d18O", Value: record.Some(-1.2), Row: 2}, {Fish: "Y-1", Tracer: "d18O", Value: record.Some(-1), Row: 3}},
		Baseline:  []record.Baseline{{Fish: "Y-1", Nursery: "Upper", YearClass: 2029, Row: 2}},
	}
	for i := range 40 {
		length := 100 + 4*float64(i)
		scatter := []float64{0.94, 1.03, 1, 0.98, 1.06}[i%5]
		id, row := record.FishID(fmt.Sprintf("EB-%d", i+2)), i+2
		b.Fish = append(b.Fish, record.Fish{Fish: id, Species: "BFT", CaughtOn: date.On(2031, 6, 15), ReceivedOn: date.On(2031, 7, 1), Area: "Skell", Gear: "rod",
			Trip: "T-1", Contributor: "C-1", Length: record.Length{Value: record.Some(length), Unit: "cm", Kind: record.StraightFork},
			Weight: record.Some(2e-5 * length * length * length * scatter), WeightUnit: "kg", WeightForm: record.Round, Row: row})
		b.Stones = append(b.Stones, record.Stone{Fish: id, Side: record.Left, Condition: "whole", MassMg: record.Some(length * scatter), Row: 2*i + 2},
			record.Stone{Fish: id, Side: record.Right, Condition: "whole", MassMg: record.Some(length * scatter * 1.02), Row: 2*i + 3})
	}
	return b
}

var today = date.On(2032, 1, 31)

func TestSoundProgrammeHasNoFindings(t *testing.T) {
	for _, f := range Check(sound(), today).All() {
		t.Errorf("found %+v in a sound programme", f)
	}
}

func TestEachDoubtIsFound(t *testing.T) {
	for _, c := range []struct {
		name  string
		spoil func(*record.Book)
		want  string
	}{
		{"future catch", func(b *record.Book) {
			b.Fish[3].CaughtOn, b.Fish[3].Trip, b.Fish[3].ReceivedOn = date.On(2032, 2, 1), "", date.Day{}
		}, "future_date fish.csv:5:caught_on 2032-02-01 [2032-01-31]"},
		{"received before caught", func(b *record.Book) { b.Fish[3].ReceivedOn = date.On(2031, 6, 14) }, "date_order fish.csv:5:received_on 2031-06-14 [caught_on 2031-06-15]"},
		{"read before caught", func(b *record.Book) { b.Readings[0].ReadAt = date.On(2031, 5, 1) }, "date_order readings.csv:2:read_at 2031-05-01 [caught_on 2031-06-15]"},
		{"caught after landing", func(b *record.Book) { b.Fish[3].CaughtOn = date.On(2031, 6, 21) }, "contradiction fish.csv:5:caught_on 2031-06-21 [landed_on 2031-06-20]"},
		{"unknown trip", func(b *record.Book) { b.Fish[3].Trip = "T-l" }, "unknown_id fish.csv:5:trip T-l [trips.csv T-1]"},
		{"unknown area", func(b *record.Book) { b.Trips[0].Area = "Skel" }, "unknown_id trips.csv:2:area Skel [areas.csv Skell]"},
		{"unknown contributor", func(b *record.Book) { b.Fish[3].Contributor = "C1" }, "unknown_id fish.csv:5:contributor C1 [contributors.csv C-1]"},
		{"stone without a fish", func(b *record.Book) { b.Stones[79].Fish = "EB-410" }, "unknown_id stones.csv:81:fish EB-410 [fish.csv EB-10]"},
		{"reading without a fish", func(b *record.Book) { b.Readings[0].Fish, b.Readings[0].Preparation = "EB-Z", "" }, "unknown_id readings.csv:2:fish EB-Z [fish.csv EB-2]"},
		{"unknown preparation", func(b *record.Book) { b.Images[0].Preparation = "P-9" }, "unknown_id images.csv:2:preparation P-9 [preparations.csv P-1]"},
		{"reader not in the list", func(b *record.Book) { b.Readings[0].Reader = "LK" }, "unknown_id readings.csv:2:reader LK [programme.json KL]"},
		{"marks of no reading", func(b *record.Book) { b.Marks = []record.Mark{{Reading: "R-2", Row: 2}} }, "unknown_id marks.csv:2:reading R-2 [readings.csv R-1]"},
		{"label twice", func(b *record.Book) { b.Fish[3].Fish = "EB-2"; b.Stones = nil }, "twice_id fish.csv:5:fish EB-2 [2]"},
		{"stone twice", func(b *record.Book) { b.Stones[1].Side = record.Left }, "twice_id stones.csv:3:side L [2]"},
		{"species of another programme", func(b *record.Book) { b.Catches[0].Species = "BTF" }, "unknown_id catch.csv:2:species BTF [programme.json BFT]"},
		{"stratum twice", func(b *record.Book) { b.Catches[1].Quarter = 2 }, "twice_record catch.csv:3: 2031, quarter 2, Skell, rod, BFT [2]"},
		{"longer than any", func(b *record.Book) {
			b.Fish[3].Length.Value, b.Fish[3].Weight, b.Stones = record.Some(331), record.Number{}, nil
		}, "implausible fish.csv:5:length 331 [maximum_length 319.93]"},
		{"inches", func(b *record.Book) { b.Fish[30].Length.Value = record.Some(220 / 2.54) }, "inches_as_cm fish.csv:32:length " + text(220/2.54) + " [220]"},
		{"weight off", func(b *record.Book) { b.Fish[30].Weight.X *= 0.78 }, "implausible fish.csv:32:weight"},
		{"weight far off", func(b *record.Book) { b.Fish[30].Weight.X /= 10 }, "held fish.csv:32:weight"},
		{"light fish in a small group", func(b *record.Book) { b.Fish, b.Stones = b.Fish[:5], nil; b.Fish[4].Weight.X *= 0.6 }, "implausible fish.csv:6:weight"},
		{"unequal stones", func(b *record.Book) { b.Stones[4].MassMg.X *= 0.9; b.Stones[5].MassMg.X *= 1.13 }, "implausible stones.csv:7:mass_mg"},
		{"zero mass", func(b *record.Book) { b.Stones[5].MassMg.X = 0 }, "out_of_range stones.csv:7:mass_mg 0 [>0 ]"},
		{"edge not told", func(b *record.Book) { b.Readings[0].Edge = record.EdgeUnknown }, "no_edge readings.csv:2:edge  []"},
		{"no calendar", func(b *record.Book) { b.Settings.Calendars = nil }, "no_calendar programme.json:0:calendars.BFT  [BFT]"},
		{"calendar against itself", func(b *record.Book) {
			b.Settings.Calendars["BFT"] = record.Calendar{BirthDay: anniversary("06-01"), AnnulusDay: anniversary("11-30"), AnnulusWindowDays: 30, FirstAnnulusAge: 0.75}
		}, "bad_calendar programme.json:0:calendars.BFT.first_annulus_age 0.75 [06-01 11-30 30]"},
		{"catch without a gear", func(b *record.Book) { b.Catches[0].Gear = "" }, "needed catch.csv:2:gear  []"},
		{"catch of nothing", func(b *record.Book) { b.Catches[0].Number = record.Number{} }, "needed catch.csv:2:number  []"},
		{"catch in weight without an equation", func(b *record.Book) {
			b.Catches[0].Number, b.Catches[0].WeightKg = record.Number{}, record.Some(600000)
		},
			"weight_only catch.csv:2:weight_kg 600000 [equation straight_fork]"},
		{"cv in per cent", func(b *record.Book) { b.Catches[0].CV = record.Some(30) }, "implausible catch.csv:2:cv 30 [cv 0.3]"},
		{"catch below what its trips landed", func(b *record.Book) { b.Catches[0].Number.X = 15; b.Trips[0].LandedNumber = record.Some(1350) },
			"implausible catch.csv:2:number 15 [landed 1350]"},
		{"caught long before it was landed", func(b *record.Book) { b.Fish[3].CaughtOn = date.On(2030, 7, 20) }, "implausible fish.csv:5:caught_on 2030-07-20 [landed_on 2031-06-20]"},
		{"readings far apart", func(b *record.Book) {
			b.Readings = append(b.Readings, record.Reading{Reading: "R-2", Fish: "EB-2", Preparation: "P-1", Reader: "MN", Annuli: 24, Edge: record.Narrow, Row: 3})
		}, "implausible readings.csv:3:annuli 24 [other_reading 2 2]"},
		{"shorter than any", func(b *record.Book) {
			b.Fish[3].Length.Value, b.Fish[3].Weight, b.Stones = record.Some(5), record.Number{}, nil
		}, "implausible fish.csv:5:length 5 [minimum_length 16]"},
		{"trip known to the year", func(b *record.Book) { b.Trips[0].LandedOn, _ = date.Parse("2031") }, "coarse_date trips.csv:2:landed_on 2031 [quarter]"},
		{"marks inwards", func(b *record.Book) { b.Marks[2].DistanceUm.X = 800 }, "mark_order marks.csv:4:distance_um 800 [1 900]"},
		{"mark beyond the edge", func(b *record.Book) { b.Marks[3].Order, b.Marks[2].Order = 2, 3 }, "mark_order marks.csv:4:kind annulus [2 edge]"},
		{"expert who read nothing", func(b *record.Book) {
			b.Settings.Readers, b.Settings.AgreedAge = nil, record.AgreedAge{Rule: "expert", Expert: "KI"}
		}, "unknown_id programme.json:0:agreed_age.expert KI [readings.csv KL]"},
		{"fewer marks than annuli", func(b *record.Book) { b.Readings[0].Annuli = 3 }, "contradiction readings.csv:2:annuli 3 [marks.csv 2]"},
		{"no way to the bins", func(b *record.Book) { b.Fish[3].Length.Kind = record.PectoralToFork }, "no_conversion fish.csv:5:length_kind pectoral_to_fork [pectoral_to_fork straight_fork]"},
		{"two publications", func(b *record.Book) {
			one := record.Conversion{Species: "BFT", Quantity: "length", From: "curved_fork", To: "straight_fork", Form: "linear", B: 0.955, Unit: "cm", Source: "one", Row: 2}
			other := one
			other.B, other.Source, other.Row = 0.96, "other", 3
			b.Conversions = []record.Conversion{one, other}
		}, "two_publications conversions.csv:2:from  [curved_fork straight_fork one; other]"},
		{"unit of an equation", func(b *record.Book) {
			b.Conversions = []record.Conversion{{Species: "BFT", From: "straight_fork", To: "round", Form: "power", A: 2e-5, B: 3, Unit: "cm", Row: 2}}
		}, "not_this_thing conversions.csv:2:unit cm [unit_of_equation cm to kg]"},
		{"equation of a giant", func(b *record.Book) {
			b.Conversions = []record.Conversion{{Species: "BFT", From: "straight_fork", To: "round", Form: "power", A: 2e-5, B: 300, Row: 2}}
		}, "not_this_thing conversions.csv:2:form power [size_of_a_fish]"},
		{"spread of an equation", func(b *record.Book) {
			b.Conversions = []record.Conversion{{Species: "BFT", From: "straight_fork", To: "round", Form: "power", A: 2e-5, B: 3, SD: record.Some(30), Row: 2}}
		}, "not_this_thing conversions.csv:2:sd 30 [sd_of_logarithms]"},
		{"equation that falls", func(b *record.Book) {
			b.Conversions = []record.Conversion{{Species: "BFT", From: "curved_fork", To: "straight_fork", Form: "linear", B: -1, Row: 2}}
		}, "not_this_thing conversions.csv:2:form linear [rising_equation]"},
		{"outside the range", func(b *record.Book) {
			b.Fish[0].Length.Kind = record.CurvedFork
			b.Conversions = []record.Conversion{{Species: "BFT", From: "curved_fork", To: "straight_fork", Form: "linear", B: 0.955, Low: record.Some(120), Row: 2}}
		}, "extrapolated fish.csv:2:length 100 [120 ]"},
		{"tables that are not there", func(b *record.Book) { b.Trips = nil }, "missing_table trips.csv:0:  [fish.csv]"},
	} {
		b := sound()
		c.spoil(b)
		all := Check(b, today).All()
		if len(all) != 1 {
			t.Errorf("%s: %d findings, want one: %+v", c.name, len(all), all)
			continue
		}
		f := all[0]
		line := fmt.Sprintf("%s %s:%d:%s %s %v", f.Kind, f.Place.File, f.Place.Row, f.Place.Column, f.Value, f.Facts)
		if len(line) < len(c.want) || line[:len(c.want)] != c.want {
			t.Errorf("%s: found %s, want %s", c.name, line, c.want)
		}
	}
}

// TestUnlistedReaderIsAWarning: a reader whom the settings do not list keeps no estimate back,
// and joint readings are of nobody on the list.
func TestUnlistedReaderIsAWarning(t *testing.T) {
	b := sound()
	b.Readings[0].Reader = "reda"
	found := Check(b, today)
	if found.Of(finding.Error) != 0 || found.Of(finding.Warning) != 1 {
		t.Errorf("A reader who is not listed makes %d errors and %d warnings, want one warning: %+v", found.Of(finding.Error), found.Of(finding.Warning), found.All())
	}
	b.Readings[0].Reader = record.Joint
	if all := Check(b, today).All(); len(all) != 0 {
		t.Errorf("A joint reading is found wrong: %+v", all)
	}
}

func TestCurvedBelowStraight(t *testing.T) {
	b := sound()
	b.Fish = append(b.Fish, b.Fish[30])
	b.Fish[40].Row, b.Fish[40].Length.Kind, b.Fish[40].Length.Value = 42, record.CurvedFork, record.Some(215)
	var contradicted bool
	for _, f := range Check(b, today).All() {
		contradicted = contradicted || f.Kind == finding.Contradiction && f.Place.Row == 42 && f.Facts[0] == "straight_fork"
	}
	if !contradicted {
		t.Error("215 cm over the curve is not held against 220 cm straight of the same label")
	}
}

func TestLineThroughTheMiddleIsNotMovedByWildRecords(t *testing.T) {
	var pairs []pair
	for i := range 60 {
		x := 4 + float64(i)/60
		y := 3*x - 10
		if i%10 == 0 {
			y += 5
		}
		pairs = append(pairs, pair{x: x, y: y})
	}
	l, ok := throughMiddle(pairs)
	if !ok || math.Abs(l.slope-3) > 0.05 || l.z(pairs[10]) < 20 {
		t.Errorf("line = %+v, want slope 3 with the wild records far off", l)
	}
	if _, ok := throughMiddle(pairs[:19]); ok {
		t.Error("19 pairs made a line")
	}
}

func TestLengthCountsAreHeldAgainstTheSpecies(t *testing.T) {
	b := sound()
	b.Trips[0].LandedNumber = record.Some(120)
	lengths := NewLengths(b)
	for i, c := range []struct{ cm, count float64 }{{128, 9}, {1280, 9}, {1e6, 9}, {0.01, 9}, {5, 9}, {40, 9}, {150, 0.5}, {200, 90000}} {
		lengths.Ask(&record.LengthCount{Trip: "T-1", Species: "BFT", Length: record.Length{Value: record.Some(c.cm), Unit: "cm", Kind: record.StraightFork}, Count: c.count, Row: i + 2})
	}
	want := []string{"lengths.csv:3 1280 [maximum_length 319.93]", "lengths.csv:4 1000000 [maximum_length 319.93]", "lengths.csv:5 0.01 [minimum_length 16]",
		"lengths.csv:6 5 [minimum_length 16]", "lengths.csv:8 0.5 [whole_fish]", "trips.csv:2 120 [measured 90054.5]"}
	var got []string
	for _, f := range lengths.Found().All() {
		got = append(got, fmt.Sprintf("%s:%d %s %v", f.Place.File, f.Place.Row, f.Value, f.Facts))
	}
	if !slices.Equal(got, want) {
		t.Errorf("found %q, want %q", got, want)
	}
}

package tally_test

import (
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"earstone/estimate/key"
	"earstone/estimate/tally"
	"earstone/programme/date"
	"earstone/programme/finding"
	"earstone/programme/record"
	"earstone/programme/strata"
)

func at(t *testing.T, c *tally.Counts, name string) int {
	t.Helper()
	for s, cell := range c.Cells {
		if cell.String() == name {
			return s
		}
	}
	t.Fatalf("there is no stratum %s among %v", name, c.Cells)
	return 0
}

func tripIDs(c *tally.Counts, trips []int32) (ids []string) {
	for _, t := range trips {
		ids = append(ids, string(c.Trips[t].ID))
	}
	return ids
}

func found(c *tally.Counts, kind finding.Kind) (all []finding.Finding) {
	for _, f := range c.Found.All() {
		if f.Kind == kind {
			all = append(all, f)
		}
	}
	return all
}

func TestStrataOfTheCatch(t *testing.T) {
	c := quarrow().build(t)[0]
	var names []string
	for _, cell := range c.Cells {
		names = append(names, cell.String())
	}
	want := []string{"2031 Q1 Quarrow line", "2031 Q1 Skell line", "2031 Q1 Skell troll", "2031 Q2 Dunmarrow line", "2031 Q2 Skell line", "2032 Q1 Quarrow line"}
	if !slices.Equal(names, want) {
		t.Fatalf("the strata are %q, want %q", names, want)
	}
	// Two months of one quarter add up: 8,000 fish, CV 0.1 · 5000 / 8000.
	if s := c.Design.Strata[0]; s.Number != 8000 || s.ByWeight || math.Abs(c.CV[0]-0.0625) > 1e-12 {
		t.Errorf("Quarrow line has %v fish (by weight %v) with CV %v, want 8000 with 0.0625", s.Number, s.ByWeight, c.CV[0])
	}
	if s := c.Design.Strata[1]; !s.ByWeight || s.WeightKg != 12000 || s.Number != 0 || math.Abs(c.CV[1]-0.2) > 1e-12 {
		t.Errorf("Skell line is %+v with CV %v, want 12,000 kg with 0.2", s, c.CV[1])
	}
	if c.CV[2] != 0 {
		t.Errorf("a catch without a CV has %v, want 0", c.CV[2])
	}
	if !slices.Equal(c.Years, []int{2031, 2032}) || !slices.Equal(c.Design.Margins[0].Strata, []int32{0, 1, 2, 3, 4}) || !slices.Equal(c.Design.Margins[1].Strata, []int32{5}) {
		t.Errorf("the years are %v with the strata %v", c.Years, c.Design.Margins)
	}
	none := found(c, finding.NoCatch)
	if len(none) != 1 || none[0].Value != "2031 Q2 Quarrow net" || !slices.Equal(none[0].Facts, []string{"1", ""}) {
		t.Errorf("strata without a catch are told as %+v, want Quarrow net once", none)
	}
}

func TestUnsampledStrataAreFilledAlongTheLadder(t *testing.T) {
	c := quarrow().build(t)[0]
	for _, w := range []struct {
		stratum string
		filled  bool
		by      string
		trips   string
	}{
		{"2031 Q1 Quarrow line", false, "", "T3 T1 T2"},
		{"2031 Q1 Skell line", false, "", "T4"},
		{"2031 Q2 Skell line", true, "year+area+gear", "T4"},
		{"2031 Q2 Dunmarrow line", true, "year+gear", "T1 T2 T3 T4"},
		{"2031 Q1 Skell troll", true, "year", "T1 T2 T3 T4 T5"},
		{"2032 Q1 Quarrow line", false, "", ""},
	} {
		s := at(t, c, w.stratum)
		stratum := c.Design.Strata[s]
		got := tripIDs(c, stratum.Trips)
		slices.Sort(got)
		want := strings.Fields(w.trips)
		slices.Sort(want)
		if stratum.Filled != w.filled || !slices.Equal(got, want) || w.filled && c.Filled[s].String() != w.by {
			t.Errorf("%s is filled %v by %v from %v, want %v by %s from %v", w.stratum, stratum.Filled, c.Filled[s], got, w.filled, w.by, want)
		}
	}
	if !slices.Equal(c.Unheard, []int{at(t, c, "2032 Q1 Quarrow line")}) {
		t.Errorf("no sample reaches the strata %v, want 2032 alone", c.Unheard)
	}
	told := found(c, finding.NoSample)
	if len(told) != 4 {
		t.Fatalf("%d strata without a sample are told, want 4: %+v", len(told), told)
	}
	if last := told[3]; last.Value != "2032 Q1 Quarrow line" || last.Facts[0] != "" {
		t.Errorf("the stratum out of reach is told as %+v", last)
	}
}

func TestDonorsOfOneTrip(t *testing.T) {
	s := quarrow()
	s.book.Trips[4].Gear = "troll" // T5: one trip of 2031 Q2 Quarrow troll
	s.book.Catches = append(s.book.Catches, record.Catch{Year: 2031, Quarter: 2, Area: "Quarrow", Gear: "troll", Species: "BFT", Number: record.Some(9)},
		record.Catch{Year: 2031, Quarter: 1, Area: "Skell", Gear: "pole", Species: "BFT", Number: record.Some(9)}) // filled from all trips
	s.trip("T8", "2031-06-01", "Dunmarrow", "line", unknown, unknown)
	s.trip("T9", "2031-06-03", "Dunmarrow", "line", unknown, unknown)
	s.measure("T8", cm(62), 4)
	s.measure("T9", cm(63), 4)
	c := s.build(t)[0]
	ladder, _ := strata.ParseLadder(s.book.Settings.Ladders.Lengths)
	one := at(t, c, "2031 Q1 Skell line")
	// Same area and gear: Skell Q2 is filled and gives nothing. Same gear: Quarrow and Dunmarrow.
	want := []int{at(t, c, "2031 Q1 Quarrow line"), at(t, c, "2031 Q2 Dunmarrow line")}
	if got := c.Donors(one, ladder); !slices.Equal(got, want) {
		t.Errorf("the donors of Skell line are %v, want %v", got, want)
	}
	// Of its gear there is but a filled stratum, of its year the same two and filled ones.
	if got := c.Donors(at(t, c, "2031 Q2 Quarrow troll"), ladder); !slices.Equal(got, want) {
		t.Errorf("the donors of Quarrow troll are %v, want %v", got, want)
	}
	if got := c.Donors(at(t, c, "2032 Q1 Quarrow line"), ladder); got != nil {
		t.Errorf("a stratum alone in its year has the donors %v, want none", got)
	}
	if got := c.Donors(one, ladder[:1]); got != nil {
		t.Errorf("a ladder that ends at the stratum gives the donors %v, want none", got)
	}
}

func TestWeightsOfTrips(t *testing.T) {
	c := quarrow().build(t)[0]
	landed := map[string]float64{}
	for i, trip := range c.Trips {
		landed[string(trip.ID)] = c.Design.Trips[i].Landed
	}
	// T2 landed 1,000 kg of fish that all lie in the bin of midpoint 57.5: 1000/(1e-5 · 57.5³).
	byWeight := 1000 / (1e-5 * 57.5 * 57.5 * 57.5)
	for trip, want := range map[string]float64{"T1": 300, "T2": byWeight, "T3": (300 + byWeight) / 2, "T4": 1, "T5": 40, "T6": 77} {
		if got, ok := landed[trip]; !ok || math.Abs(got-want) > 1e-9*want {
			t.Errorf("trip %s weighs %v fish, want %v", trip, got, want)
		}
	}
	if _, there := landed["T7"]; there {
		t.Error("a trip without lengths and stones is part of the design")
	}
	if want := (tally.Landed{ByNumber: 3, ByWeight: 1, ByMean: 1, Equal: 1}); c.Landed != want {
		t.Errorf("trips came by their weight %+v, want %+v", c.Landed, want)
	}
	if c.Measured != 77 {
		t.Errorf("%v fish are measured, want 77", c.Measured)
	}
	// Stones without lengths are drawn among each other, not among the measured trips.
	group := map[string]int{}
	for i, trip := range c.Trips {
		group[string(trip.ID)] = c.Design.Trips[i].Group
	}
	if group["T1"] != group["T2"] || group["T1"] != group["T3"] || group["T6"] == group["T1"] || group["T4"] == group["T1"] {
		t.Errorf("the groups of trips are %v", group)
	}
}

func TestSpeciesShareALanding(t *testing.T) {
	s := begun()
	s.book.Settings.Species = []record.Species{"BFT", "YFT"}
	s.trip("T1", "2031-02-10", "Quarrow", "line", record.Some(100), unknown)
	s.measureOf("BFT", "T1", cm(52), 30)
	s.measureOf("YFT", "T1", cm(52), 10)
	s.measureOf("SKJ", "T1", cm(52), 99) // not of the programme
	all := s.build(t)
	if len(all) != 2 || all[0].Species != "BFT" || all[1].Species != "YFT" {
		t.Fatalf("the species are %d, want BFT and YFT", len(all))
	}
	for i, want := range []float64{75, 25} {
		if got := all[i].Design.Trips[0].Landed; math.Abs(got-want) > 1e-12 {
			t.Errorf("%v fish of the landing are %s, want %v", got, all[i].Species, want)
		}
	}
	if all[0].Design.Weight == nil || all[1].Design.Weight != nil {
		t.Error("only BFT has an equation for weight")
	}
}

// both is a converter that knows the weight of YFT too: a fifth of a BFT of its length.
type both struct{ converter }

func (both) Weight(species record.Species, x float64, of record.LengthBin) (float64, bool) {
	kg, ok := converter{}.Weight("BFT", x, of)
	if species == "YFT" {
		kg /= 5
	}
	return kg, ok
}

func TestSpeciesShareALandingInWeight(t *testing.T) {
	// By hand: 600 kg of as many BFT of w kg as YFT of w/5 kg, w = 52.5³ · 1e-5, are
	// 600/(w + w/5) of each. Shared by the fish alone they would be 300/w and 1,500/w.
	w := 1e-5 * 52.5 * 52.5 * 52.5
	s := begun()
	s.book.Settings.Species = []record.Species{"BFT", "YFT"}
	s.trip("T1", "2031-02-10", "Quarrow", "line", unknown, record.Some(600))
	s.measureOf("BFT", "T1", cm(52), 20)
	s.measureOf("YFT", "T1", cm(52), 20)
	all, err := tally.Build(s, &s.book, s.aged, s.readers, both{})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{500 / w, 500 / w} {
		if got := all[i].Design.Trips[0].Landed; math.Abs(got-want) > 1e-9*want {
			t.Errorf("%v fish of 600 kg are %s, want %v", got, all[i].Species, want)
		}
	}
	// Without an equation for YFT nobody knows its part of the weight: half, as of the fish.
	if got, want := s.build(t)[0].Design.Trips[0].Landed, 300/w; math.Abs(got-want) > 1e-9*want {
		t.Errorf("%v fish of 600 kg are BFT beside a species without a weight, want %v", got, want)
	}
}

func TestKeyOfTheSample(t *testing.T) {
	c := quarrow().build(t)[0]
	if c.Aged != 4 || c.Unsettled != 1 || c.Oldest != 6 || c.Design.Ages != 7 {
		t.Errorf("%d fish are aged, %d are not settled, the oldest reading is %d: want 4, 1 and 6", c.Aged, c.Unsettled, c.Oldest)
	}
	wantPatterns := [][]int16{{1, 1}, {2, -1}, {2, 2}, {2, 3}, {5, 6}} // {2, 2} is a fish without a length
	if !reflect.DeepEqual(c.Key.Patterns, wantPatterns) {
		t.Errorf("the patterns are %v, want %v", c.Key.Patterns, wantPatterns)
	}
	trip := func(id string) int32 {
		for i := range c.Trips {
			if string(c.Trips[i].ID) == id {
				return int32(i)
			}
		}
		return -1
	}
	// Bins begin at 50: 52 and 53 are alike and lie in bin 0, 57 in bin 1, 88 in bin 7.
	want := []key.Entry{
		{Trip: trip("T1"), Bin: 0, Age: 1, Pattern: 0, Fish: 2},
		{Trip: trip("T1"), Bin: 1, Age: 2, Pattern: 1, Fish: 1},
		{Trip: trip("T2"), Bin: 1, Age: -1, Pattern: 3, Fish: 1},
		{Trip: trip("T6"), Bin: 7, Age: 5, Pattern: 4, Fish: 1},
	}
	slices.SortFunc(want, func(x, y key.Entry) int { return int(x.Trip-y.Trip)*100 + int(x.Bin-y.Bin) })
	if !slices.Equal(c.Key.Entries, want) {
		t.Errorf("the entries are %+v, want %+v", c.Key.Entries, want)
	}
	if len(c.Fish) != len(want) || c.Bins.First != 50 || c.Bins.N != 8 {
		t.Errorf("%d fish lie beneath %d entries in the bins %+v", len(c.Fish), len(want), c.Bins)
	}
	// One origin, Quarrow line in 2031 Q1; the catch has three places: 2031 Q1, 2031 Q2 and 2032 Q1.
	if len(c.Origins) != 1 || c.Origins[0].String() != "2031 Q1 Quarrow line" || len(c.KeyCells) != 3 {
		t.Errorf("fish come from %v, the key strata are %v", c.Origins, c.KeyCells)
	}
	g := c.Key.Grid
	for r, together := range []string{"quarter", "year", "all"} {
		own, q2, next := g.Path[0][r], g.Path[1][r], g.Path[2][r]
		if g.Rungs[r][0] != own {
			t.Errorf("on rung %s the fish of 2031 Q1 are not in their own group", together)
		}
		if (q2 == own) != (r > 0) || (next == own) != (r > 1) {
			t.Errorf("on rung %s the strata lie in the groups %d, %d and %d", together, own, q2, next)
		}
	}
}

func TestFishWithoutTrip(t *testing.T) {
	s := quarrow()
	card := record.Fish{CaughtOn: date.On(2031, 6, 3), Area: "Skell", Gear: "line"}
	s.age("", card, cm(60), read(3, 3, 3))
	s.age("", card, cm(60), read(3, 3, 3))
	s.age("T-unheard-of", card, cm(61), read(3, 3, -1))
	s.age("", card, curved(70), tally.Variant{Share: 0.75, Class: 3, Classes: []int16{3, 3}}, tally.Variant{Share: 0.25, Class: 4, Classes: []int16{4, 4}})
	c := s.build(t)[0]
	if len(c.Loose) != len(c.Origins) {
		t.Fatalf("fish of no trip are listed for %d origins of %d", len(c.Loose), len(c.Origins))
	}
	origin := slices.IndexFunc(c.Origins, func(cell strata.Cell) bool { return cell.String() == "2031 Q2 Skell line" })
	if origin < 0 || len(c.Loose[origin]) != 4 {
		t.Fatalf("2031 Q2 Skell line has the fish %v, want 4", c.Loose)
	}
	seen := map[int32]bool{}
	for _, stone := range c.Loose[origin] {
		fish, id := 0.0, c.Fish[stone[0]].ID
		for _, i := range stone {
			e := c.Key.Entries[i]
			if e.Trip != -1 || e.Origin != int32(origin) || c.Fish[i].ID != id || seen[i] {
				t.Errorf("entry %d, %+v of %s, is out of place", i, e, c.Fish[i].ID)
			}
			seen[i] = true
			fish += e.Fish
		}
		if math.Abs(fish-1) > 1e-12 {
			t.Errorf("fish %s counts as %v fish", id, fish)
		}
	}
	if want := curvedBins(t, 70) * 2; len(seen) != 3+want {
		t.Errorf("the fish lie in %d entries, want 3 and %d of the one that was converted", len(seen), want)
	}
}

// curvedBins is the number of 5 cm bins that a curved length spreads over.
func curvedBins(t *testing.T, x float64) int {
	t.Helper()
	s := begun()
	s.trip("T1", "2031-02-10", "Quarrow", "line", unknown, unknown)
	s.measure("T1", curved(x), 1)
	n := 0
	for _, p := range s.build(t)[0].Design.Lengths {
		if p > 0 {
			n++
		}
	}
	return n
}

func TestConvertedLengthsAreSpread(t *testing.T) {
	s := begun()
	s.trip("T1", "2031-02-10", "Quarrow", "line", unknown, unknown)
	s.measure("T1", curved(60), 1000)
	s.age("T1", record.Fish{}, curved(60), read(2, 2, -1))
	s.age("T1", record.Fish{}, curved(60), read(2, 2, -1))
	c := s.build(t)[0]
	// By hand: 1.5 + 0.945 · 60 = 58.2 with SD 2: below 55 lie Φ(−1.6) = 0.0548 of it,
	// above 60 1 − Φ(0.9) = 0.1841, in between 0.7611; beyond 65 1 − Φ(3.4) = 0.0003.
	const tol = 1e-4
	total := 0.0
	for l, p := range c.Design.Lengths {
		want := map[float64]float64{50: 0.0548, 55: 0.7611, 60: 0.1837, 65: 0.0003}[c.Bins.Lower(l)]
		if math.Abs(p-want) > tol {
			t.Errorf("from %v cm lie %.5f of the fish, want %v", c.Bins.Lower(l), p, want)
		}
		total += p
	}
	if math.Abs(total-1) > 1e-15 || c.Measured != 1000 {
		t.Errorf("the shares sum to %v of %v fish, want 1 of 1000", total, c.Measured)
	}
	if len(c.Spread) != 2 {
		t.Fatalf("%d runs of entries are spread, want one for each fish", len(c.Spread))
	}
	for _, run := range c.Spread {
		fish := 0.0
		for i := run.First; i < run.First+run.Len; i++ {
			fish += c.Key.Entries[i].Fish
			if c.Fish[i].ID != c.Fish[run.First].ID {
				t.Errorf("run %+v holds the fish %s and %s", run, c.Fish[run.First].ID, c.Fish[i].ID)
			}
		}
		if fish != 1 {
			t.Errorf("run %+v counts as %v fish, want 1 exactly", run, fish)
		}
	}
}

func TestPartialDates(t *testing.T) {
	s := quarrow()
	n := s.build(t)[0]
	s.age("T1", record.Fish{}, cm(57), tally.Variant{Share: 0.4, Class: 2, Classes: []int16{2, -1}}, tally.Variant{Share: 0.6, Class: 3, Classes: []int16{3, -1}})
	c := s.build(t)[0]
	if c.Aged != n.Aged+1 {
		t.Errorf("with one more fish %d are aged, want %d", c.Aged, n.Aged+1)
	}
	fish := map[int32]float64{}
	for _, e := range c.Key.Entries {
		if string(c.Trips[e.Trip].ID) == "T1" && e.Bin == 1 {
			fish[e.Age] += e.Fish
		}
	}
	if math.Abs(fish[2]-1.4) > 1e-12 || math.Abs(fish[3]-0.6) > 1e-12 {
		t.Errorf("in its bin are %v, want 1.4 fish of age 2 and 0.6 of age 3", fish)
	}
	s.age("T1", record.Fish{}, cm(57), tally.Variant{Share: 0.5, Class: 2, Classes: []int16{2, 2}}, tally.Variant{Share: 0.5, Class: -1, Classes: []int16{2, 3}})
	s.age("T1", record.Fish{}, cm(57), tally.Variant{Share: 0.5, Class: -1, Classes: []int16{2, 3}}, tally.Variant{Share: 0.5, Class: 2, Classes: []int16{2, 2}})
	half := s.build(t)[0]
	if half.Aged != c.Aged || half.Unsettled != c.Unsettled+2 {
		t.Errorf("settled on half of their days, two fish make %d aged and %d unsettled, want %d and %d", half.Aged, half.Unsettled, c.Aged, c.Unsettled+2)
	}
}

func TestEdgesOfBins(t *testing.T) {
	for _, c := range []struct {
		what  string
		bin   record.LengthBin
		l     record.Length
		lower float64
	}{
		{"130 cm in bins of 5", record.LengthBin{Width: 5, Unit: "cm", Kind: record.StraightFork}, cm(130), 130},
		{"129.9 cm in bins of 5", record.LengthBin{Width: 5, Unit: "cm", Kind: record.StraightFork}, cm(129.9), 125},
		{"0.7 m in bins of 0.1 cm", record.LengthBin{Width: 0.1, Unit: "cm", Kind: record.StraightFork}, cm(70.1), 70.1},
		{"51 in in bins of an inch", record.LengthBin{Width: 2.54, Unit: "cm", Kind: record.StraightFork},
			record.Length{Value: record.Some(51), Unit: "in", Kind: record.StraightFork}, 129.54},
		{"1290 mm in bins of 3 cm", record.LengthBin{Width: 3, Unit: "cm", Kind: record.StraightFork},
			record.Length{Value: record.Some(1290), Unit: "mm", Kind: record.StraightFork}, 129},
		{"0 cm", record.LengthBin{Width: 5, Unit: "cm", Kind: record.StraightFork}, cm(0), 0},
	} {
		s := begun()
		s.book.Settings.LengthBin = c.bin
		s.trip("T1", "2031-02-10", "Quarrow", "line", unknown, unknown)
		s.measure("T1", c.l, 1)
		got := s.build(t)[0]
		if got.Bins.N != 1 || math.Abs(got.Bins.Lower(0)-c.lower) > 1e-9 || math.Abs(got.Bins.Mid(0)-c.lower-c.bin.Width/2) > 1e-9 {
			t.Errorf("%s lie in %d bins from %v, want one from %v", c.what, got.Bins.N, got.Bins.Lower(0), c.lower)
		}
	}
	for inches := range 200 {
		s := begun()
		s.book.Settings.LengthBin.Width = 2.54
		s.trip("T1", "2031-02-10", "Quarrow", "line", unknown, unknown)
		s.measure("T1", cm(float64(inches)*2.54), 1)
		if got := s.build(t)[0].Bins.Lower(0); math.Abs(got-float64(inches)*2.54) > 1e-9 {
			t.Errorf("%d inches lie in the bin from %v cm", inches, got)
		}
	}
}

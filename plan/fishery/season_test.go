package fishery

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"earstone/programme/record"
	"earstone/programme/strata"
)

func TestSizesAsPromised(t *testing.T) {
	for _, want := range []struct {
		size                                   string
		strata, trips, lengths, aged, readings int
		weighed, assayed, baseline             int
	}{
		// Year classes: 16 are caught in a year and 25 in ten, a quarter of them (4 and 6) are
		// lacking in the baseline; 8 fish of each of the others from 2 or 3 nurseries.
		{"small", 12, 60, 6_000, 600, 1_400, 100, 200, 12 * 8 * 2},
		{"season", 72, 400, 200_000, 5_000, 12_000, 500, 400, 12 * 8 * 3},
		{"decade", 720, 4_000, 2_000_000, 50_000, 120_000, 4_000, 3_000, 19 * 8 * 3},
	} {
		e := Invent(sized(t, want.size), 11)
		book, lengths := e.book, 0.0
		if err := e.Lengths(func(row *record.LengthCount) error { lengths += row.Count; return nil }); err != nil {
			t.Fatal(err)
		}
		for _, got := range []struct {
			what      string
			got, want int
		}{
			{"strata", len(book.Catches), want.strata}, {"trips", len(book.Trips), want.trips},
			{"lengths", int(lengths), want.lengths}, {"fish", len(book.Fish), want.aged + want.weighed + want.baseline},
			{"stones", len(book.Stones), want.aged + want.weighed + want.assayed + want.baseline},
			{"true ages", len(e.TrueAges()), want.aged + want.weighed}, {"true nurseries", len(e.TrueNurseries()), want.aged},
			{"preparations", len(book.Preparations), want.aged}, {"readings", len(book.Readings), want.readings},
			{"fish of known nursery", len(book.Baseline), want.baseline},
			{"assays", len(book.Assays), 2 * (want.assayed + want.baseline)},
			{"runs' standards", len(book.Standards), 12 * ((want.assayed + want.baseline + 39) / 40)},
		} {
			if got.got != got.want {
				t.Errorf("a %s has %d %s, want %d", want.size, got.got, got.what, got.want)
			}
		}
		byStratum := tripsByStratum(book)
		for _, c := range book.Catches {
			if m := byStratum[place(c)]; m < 3 || m > 12 {
				t.Errorf("%v of a %s has %d trips, want 3 to 12", place(c), want.size, m)
			}
		}
	}
	if _, err := Sized("century"); err == nil {
		t.Error("a century is a size, want an error")
	}
}

func place(c record.Catch) strata.Cell {
	return strata.Cell{Year: int16(c.Year), Quarter: int16(c.Quarter), Area: c.Area, Gear: c.Gear}
}

func tripsByStratum(book *record.Book) map[strata.Cell]int {
	n := map[strata.Cell]int{}
	for _, t := range book.Trips {
		n[strata.At(t.LandedOn, t.Area, t.Gear).Keep(strata.Year|strata.Quarter|strata.Area|strata.Gear)]++
	}
	return n
}

// digest is a mark of everything that a season holds.
func digest(t *testing.T, e *Season) string {
	t.Helper()
	sum := sha256.New()
	to := json.NewEncoder(sum)
	book, err := e.Book()
	if err != nil {
		t.Fatal(err)
	}
	plain := *book
	plain.Settings.Calendars = nil // the same in all; dates below keep their fields to themselves
	if err := to.Encode(plain); err != nil {
		t.Fatal(err)
	}
	for i := range book.Fish {
		sum.Write([]byte(book.Fish[i].CaughtOn.String() + book.Fish[i].ReceivedOn.String()))
	}
	for i := range book.Trips {
		sum.Write([]byte(book.Trips[i].LandedOn.String()))
	}
	if err := e.Lengths(func(row *record.LengthCount) error { return to.Encode(row) }); err != nil {
		t.Fatal(err)
	}
	truth := e.Truth()
	if err := to.Encode([]any{truth.CatchAtAge, truth.CatchByNursery, e.TrueAges(), e.TrueNurseries()}); err != nil {
		t.Fatal(err)
	}
	return hex.EncodeToString(sum.Sum(nil))
}

// Season b of a seed is the same whenever and in whatever company it is drawn.
func TestSameSeedSameSeason(t *testing.T) {
	s := varied(t)
	f := New(s, 21)
	third := digest(t, f.Season(3))
	f.Season(0)
	if again := digest(t, f.Season(3)); again != third {
		t.Error("season 3 drawn twice of one fishery differs")
	}
	if elsewhere := digest(t, New(s, 21).Season(3)); elsewhere != third {
		t.Error("season 3 of a fishery invented anew differs")
	}
	seen := map[string]string{third: "season 3"}
	for name, e := range map[string]*Season{"season 0": Invent(s, 21), "season 4": f.Season(4), "season 3 of another seed": New(s, 22).Season(3)} {
		mark := digest(t, e)
		if other, twice := seen[mark]; twice {
			t.Errorf("%s is the same as %s", name, other)
		}
		seen[mark] = name
	}
	a, b := New(s, 21).Truth(), f.Season(9).Truth()
	for i := range a.CatchAtAge {
		if a.CatchAtAge[i] != b.CatchAtAge[i] {
			t.Fatalf("the truth of season 9 differs from that of its fishery in value %d", i)
		}
	}
}

// varied is small with every option that can be had.
func varied(t testing.TB) Settings {
	t.Helper()
	s := sized(t, "small")
	s.CatchInWeight, s.StonesWithoutTrip = 0.3, 0.2
	s.UnsampledShare, s.OneTripShare = 0.17, 0.17
	s.MixedKinds, s.PartialDates = 0.4, 0.1
	s.BankTilt, s.DriftingRuns, s.KnownAges, s.ChippedStones = 0.5, 1, 20, 0.1
	return s
}

func TestEveryRecordHoldsUp(t *testing.T) {
	for _, s := range []Settings{sized(t, "small"), sized(t, "season"), varied(t)} {
		e := Invent(s, 31)
		book := e.book
		trips := map[record.TripID]record.Trip{}
		for _, trip := range book.Trips {
			if _, twice := trips[trip.Trip]; twice || trip.Trip == "" {
				t.Errorf("trip %q stands twice or has no code", trip.Trip)
			}
			trips[trip.Trip] = trip
		}
		checkFish(t, e, trips)
		checkReadings(t, e)
		checkLengths(t, e, trips)
		checkStones(t, e)
		checkAssays(t, e)
	}
}

func checkFish(t *testing.T, e *Season, trips map[record.TripID]record.Trip) {
	t.Helper()
	book, catch := e.book, len(e.picked)+len(e.weighed)
	seen := map[record.FishID]bool{}
	for i, fish := range book.Fish {
		if seen[fish.Fish] || fish.Fish == "" {
			t.Errorf("fish %q stands twice or has no label", fish.Fish)
		}
		seen[fish.Fish] = true
		if !fish.CaughtOn.Known() || fish.ReceivedOn.Before(fish.CaughtOn) {
			t.Errorf("fish %s was caught on %q and received on %s", fish.Fish, fish.CaughtOn, fish.ReceivedOn)
		}
		if i >= catch {
			if fish.Length.Value.Known || fish.Trip != "" || fish.Area != "" || fish.Species == "" || fish.Remark == "" {
				t.Errorf("fish %+v of the baseline passes for one of the catch", fish)
			}
			continue
		}
		if i < len(e.picked) && (book.Preparations[i].MadeOn.Before(fish.ReceivedOn) || book.Preparations[i].Fish != fish.Fish) {
			t.Errorf("the stone of %s was cut on %s, before it came on %s", fish.Fish, book.Preparations[i].MadeOn, fish.ReceivedOn)
		}
		if book.Stones[i].Fish != fish.Fish {
			t.Errorf("stone %d is of %s, want %s", i, book.Stones[i].Fish, fish.Fish)
		}
		if !fish.Length.Value.Known || fish.Length.Value.X < 20 || fish.Length.Value.X > 400 || fish.Weight.X <= 0 {
			t.Errorf("fish %s measures %v and weighs %v", fish.Fish, fish.Length.Value, fish.Weight)
		}
		if fish.Trip == "" {
			continue
		}
		trip, there := trips[fish.Trip]
		if !there || trip.Area != fish.Area || trip.Gear != fish.Gear || trip.LandedOn.Before(fish.CaughtOn) {
			t.Errorf("fish %s of %s %s on %s came off trip %+v", fish.Fish, fish.Area, fish.Gear, fish.CaughtOn, trip)
		}
		if fish.CaughtOn.Quarter() != 0 && fish.CaughtOn.Quarter() != trip.LandedOn.Quarter() {
			t.Errorf("fish %s was caught in another quarter than it was landed in", fish.Fish)
		}
	}
}

func checkReadings(t *testing.T, e *Season) {
	t.Helper()
	book := e.book
	received := map[record.FishID]int{}
	for _, fish := range book.Fish {
		received[fish.Fish] = fish.ReceivedOn.Serial()
	}
	type by struct {
		fish   record.FishID
		reader record.ReaderID
	}
	ids, once, each := map[string]bool{}, map[by]bool{}, map[record.FishID]int{}
	for _, r := range book.Readings {
		if ids[r.Reading] || once[by{r.Fish, r.Reader}] {
			t.Errorf("reading %s stands twice, or %s read %s twice", r.Reading, r.Reader, r.Fish)
		}
		ids[r.Reading], once[by{r.Fish, r.Reader}] = true, true
		each[r.Fish]++
		came, there := received[r.Fish]
		if !there || r.ReadAt.Serial() <= came {
			t.Errorf("reading %s of %s on %s comes before the fish", r.Reading, r.Fish, r.ReadAt)
		}
		if r.Annuli < 1 || r.Annuli > 40 || r.Edge == record.EdgeUnknown || r.Readability < 1 || r.Readability > 5 || r.Blind != record.Yes {
			t.Errorf("reading %+v is out of its range", r)
		}
	}
	for fish, n := range each {
		if n < 2 || n > 3 {
			t.Errorf("fish %s has %d readings, want 2 or 3", fish, n)
		}
	}
	for _, fish := range book.Fish[:len(e.picked)] {
		delete(each, fish.Fish)
	}
	if len(each) > 0 || len(book.Readings) == 0 {
		t.Errorf("%d fish were read that are not to be", len(each))
	}
}

func checkLengths(t *testing.T, e *Season, trips map[record.TripID]record.Trip) {
	t.Helper()
	measured := map[record.TripID]float64{}
	err := e.Lengths(func(row *record.LengthCount) error {
		if row.Count < 1 || row.Length.Value.X < 20 || row.Length.Unit != "cm" || row.Length.Kind != record.StraightFork {
			t.Errorf("length row %+v is out of its range", *row)
		}
		measured[row.Trip] += row.Count
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for code, trip := range trips {
		if measured[code] < 1 || measured[code] > trip.LandedNumber.X {
			t.Errorf("of trip %s %v fish were measured and %v landed", code, measured[code], trip.LandedNumber.X)
		}
	}
}

func checkStones(t *testing.T, e *Season) {
	t.Helper()
	mass := map[record.FishID]float64{}
	once := map[string]bool{}
	for _, stone := range e.book.Stones {
		if mark := string(stone.Fish) + stone.Side.String(); stone.Side == record.SideUnknown || once[mark] {
			t.Errorf("stone %s stands twice or has no side", mark)
		} else {
			once[mark] = true
		}
		if stone.MassMg.Known && stone.Condition != "whole" {
			t.Errorf("the stone of %s is %s and has a mass", stone.Fish, stone.Condition)
		}
		if !stone.MassMg.Known {
			continue
		}
		other, there := mass[stone.Fish]
		if ratio := stone.MassMg.X / other; there && (ratio < 0.8 || ratio > 1.25) {
			t.Errorf("one stone of %s weighs %.2f of the other", stone.Fish, ratio)
		}
		mass[stone.Fish] = stone.MassMg.X
	}
}

func checkAssays(t *testing.T, e *Season) {
	t.Helper()
	book := e.book
	stones, cut := map[string]bool{}, map[string]bool{}
	for _, stone := range book.Stones {
		stones[string(stone.Fish)+stone.Side.String()] = stone.Purpose == "chemistry"
	}
	for _, p := range book.Preparations {
		cut[string(p.Fish)+p.Side.String()] = true
	}
	runs, once := map[string]int{}, map[string]bool{}
	for _, a := range book.Assays {
		stone := string(a.Fish) + a.Side.String()
		if !stones[stone] || cut[stone] || once[stone+a.Tracer] {
			t.Errorf("stone %s is not for chemistry, was cut for age or assayed twice", stone)
		}
		once[stone+a.Tracer] = true
		if !a.Value.Known || a.Value.X < -12 || a.Value.X > 3 || a.Scale != "VPDB" || a.Unit != "permil" || a.Region != "core" || a.SD.X <= 0 {
			t.Errorf("assay %+v is out of its range", a)
		}
		runs[a.Run]++
	}
	standards := map[string]int{}
	for _, r := range book.Standards {
		standards[r.Run]++
	}
	for run, n := range runs {
		if n > 2*e.fishery.settings.RunSize || standards[run] != 12 {
			t.Errorf("run %s has %d assays and %d of reference materials, want up to 80 and 12", run, n, standards[run])
		}
	}
	if len(standards) != len(runs) {
		t.Errorf("there are %d runs and %d with reference materials", len(runs), len(standards))
	}
}

// A record says where it stands: the header is row 1.
func TestRowsAreThoseOfTheTables(t *testing.T) {
	e := Invent(varied(t), 32)
	book, row := e.book, 1
	err := e.Lengths(func(l *record.LengthCount) error {
		if row++; l.Row != row {
			t.Errorf("a length count says row %d, want %d", l.Row, row)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	last := func(table string, n, row int) {
		if row != n+1 {
			t.Errorf("the last of %d %s says row %d, want %d", n, table, row, n+1)
		}
	}
	last("areas", len(book.Areas), book.Areas[len(book.Areas)-1].Row)
	last("contributors", len(book.Contributors), book.Contributors[len(book.Contributors)-1].Row)
	last("trips", len(book.Trips), book.Trips[len(book.Trips)-1].Row)
	last("catches", len(book.Catches), book.Catches[len(book.Catches)-1].Row)
	last("fish", len(book.Fish), book.Fish[len(book.Fish)-1].Row)
	last("stones", len(book.Stones), book.Stones[len(book.Stones)-1].Row)
	last("preparations", len(book.Preparations), book.Preparations[len(book.Preparations)-1].Row)
	last("readings", len(book.Readings), book.Readings[len(book.Readings)-1].Row)
	last("known ages", len(book.KnownAges), book.KnownAges[len(book.KnownAges)-1].Row)
	last("assays", len(book.Assays), book.Assays[len(book.Assays)-1].Row)
	last("standards", len(book.Standards), book.Standards[len(book.Standards)-1].Row)
	last("baseline", len(book.Baseline), book.Baseline[len(book.Baseline)-1].Row)
	last("conversions", len(book.Conversions), book.Conversions[len(book.Conversions)-1].Row)
}

func TestLengthsEndWhereAsked(t *testing.T) {
	e := Invent(sized(t, "small"), 1)
	enough, rows := errors.New("enough"), 0
	err := e.Lengths(func(*record.LengthCount) error {
		if rows++; rows == 3 {
			return enough
		}
		return nil
	})
	if !errors.Is(err, enough) || rows != 3 {
		t.Errorf("the stream ended with %v after %d rows, want to end after 3", err, rows)
	}
}

func TestLengthsMakeNothing(t *testing.T) {
	e := Invent(sized(t, "small"), 1)
	sum := 0.0
	each := func(row *record.LengthCount) error { sum += row.Count; return nil }
	if n := testing.AllocsPerRun(3, func() { _ = e.Lengths(each) }); n > 1 {
		t.Errorf("a walk through the length rows allocates %v times, want the one row", n)
	}
}

func TestSettingsThatDoNotFitAreRefused(t *testing.T) {
	for _, x := range []struct {
		alter func(*Settings)
		says  string
	}{
		{func(s *Settings) { s.Trips = 10 }, "10 trips"},
		{func(s *Settings) { s.EdgeNoise = 1.5 }, "EdgeNoise is 1.5"},
		{func(s *Settings) { s.PlusGroup = 20 }, "plus group 20"},
		{func(s *Settings) { s.Readings = 100 }, "100 readings"},
		{func(s *Settings) { s.UnsampledShare = 1 }, "none has more than one trip"},
		{func(s *Settings) { s.Banks[0].Gears = 9 }, "9 of 3 gears"},
		{func(s *Settings) { s.TripSizes = 1 }, "stay below 1"},
		{func(s *Settings) { s.TripNursery = 1 }, "stay below 1"},
		{func(s *Settings) { s.Nurseries[1].Share = 0.4 }, "sum to 1.1"},
		{func(s *Settings) { s.Nurseries[1].Name = "Upper" }, `names of their own: "Upper"`},
		{func(s *Settings) { s.Nurseries[0].Correlation = -1 }, "Upper correlate by -1"},
		{func(s *Settings) { s.Nurseries[2].SD[1] = 0 }, "Outer differ in d18O"},
		{func(s *Settings) { s.Nurseries = nil }, "there is no nursery"},
		{func(s *Settings) { s.Assayed = 5_001 }, "5001 are assayed"},
		{func(s *Settings) { s.WeighedOnly = 195_001 }, "195001 more weighed"},
		{func(s *Settings) { s.KnownAges = -1 }, "the age of -1 is known"},
		{func(s *Settings) { s.DriftingRuns = 18 }, "18 runs that drift"}, // 688 fish fill 17
		{func(s *Settings) { s.RunSize = 0 }, "RunSize is 0"},
		{func(s *Settings) { s.MassA = 0 }, "MassA"},
	} {
		s := sized(t, "season")
		x.alter(&s)
		if err := s.Check(); err == nil || !strings.Contains(err.Error(), x.says) {
			t.Errorf("Check says %v, want something of %q", err, x.says)
		}
	}
}

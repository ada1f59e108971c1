package age

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"earstone/programme/date"
	"earstone/programme/finding"
	"earstone/programme/record"
)

// summer is a programme whose fish are born on 1 June and lay an annulus down on that
// day, thirty days early or late; its readers are Ada, then Ben, then Cleo.
func summer(t testing.TB) record.Settings {
	t.Helper()
	s := record.Defaults()
	s.Calendars["BFT"] = calendar(t, "06-01", "06-01", 30, 1)
	s.Readers = []record.ReaderID{"ada", "ben", "cleo"}
	return s
}

func rules(t testing.TB, s record.Settings, readings []record.Reading) *Rules {
	t.Helper()
	r, found := NewRules(s, readings)
	if len(found) > 0 {
		t.Fatalf("the settings are found at fault: %v", found)
	}
	return r
}

func caught(t testing.TB, day string) *record.Fish {
	t.Helper()
	return &record.Fish{Fish: "Q1", Species: "BFT", CaughtOn: on(t, day), Row: 2}
}

func read(reader record.ReaderID, annuli int) record.Reading {
	return record.Reading{Fish: "Q1", Reader: reader, Annuli: annuli, Edge: record.Partial}
}

func TestAgreedAge(t *testing.T) {
	// By hand: on 15 August n rings are class n, and of decimal age n + 75/365.25.
	const past = 75 / 365.25
	type out struct {
		class   Class
		decimal float64
		annuli  float64
		trouble Trouble
		towards bool
	}
	no := func(annuli float64, trouble Trouble) out { return out{NoClass, math.NaN(), annuli, trouble, false} }
	for _, c := range []struct {
		rule, tie string
		rings     []int // of Ada, Ben, Cleo, ...
		want      out
	}{
		{"median", "reread", []int{5}, out{5, 5, 5, None, false}},
		{"median", "reread", []int{5, 5}, out{5, 5, 5, None, false}},
		{"median", "reread", []int{7, 5, 6}, out{6, 6, 6, None, false}},
		{"median", "reread", []int{9, 5, 5}, out{5, 5, 5, None, false}},
		{"median", "reread", []int{4, 6}, out{5, 5, 5, None, false}},
		{"median", "reread", []int{5, 6}, no(5.5, Unresolved)},
		{"median", "reread", []int{2, 5, 6, 9}, no(5.5, Unresolved)},
		{"median", "lower_reader", []int{5, 6}, out{5, 5, 5.5, None, true}},
		{"median", "lower_reader", []int{6, 5}, out{6, 6, 5.5, None, true}},
		{"median", "lower_reader", []int{2, 5}, out{3, 3, 3.5, None, true}},
		{"median", "lower_reader", []int{9, 5, 6, 2}, out{6, 6, 5.5, None, true}},
		{"median", "lower_reader", []int{2, 5, 6, 9}, out{5, 5, 5.5, None, true}},
		{"median", "lower_reader", []int{4, 6}, out{5, 5, 5, None, false}},
		{"expert", "reread", []int{4, 6, 9}, out{6, 6, 6, None, false}},
		{"expert", "reread", []int{4}, out{NoClass, math.NaN(), math.NaN(), NotRead, false}},
		{"mode", "reread", []int{4, 6, 6}, out{6, 6, 6, None, false}},
		{"mode", "reread", []int{4, 6}, no(5, Unresolved)},
		{"mode", "reread", []int{4, 4, 6, 6, 9}, no(6, Unresolved)},
		{"mode", "lower_reader", []int{9, 6, 4, 6, 4}, out{6, 6, 6, None, true}},
		{"mode", "lower_reader", []int{9, 4, 6}, out{9, 9, 9, None, true}},
		{"mode", "reread", []int{5}, out{5, 5, 5, None, false}},
		{"median", "reread", nil, out{NoClass, math.NaN(), math.NaN(), NotRead, false}},
	} {
		readers := []record.ReaderID{"ada", "ben", "cleo", "dora", "emil"}
		var opinions []Opinion
		for i, n := range c.rings {
			a, trouble := Of(calendar(t, "06-01", "06-01", 30, 1), January, date.On(2031, 8, 15), n, record.Partial)
			opinions = append(opinions, Opinion{readers[i], n, a, trouble})
		}
		got := Agree(record.AgreedAge{Rule: c.rule, Expert: "ben", Tie: c.tie}, opinions)
		want := c.want
		decimalOK := got.Decimal.Known == (want.class != NoClass) &&
			(!got.Decimal.Known || math.Abs(got.Decimal.X-want.decimal-past) < 1e-12)
		annuliOK := got.Annuli.Known == !math.IsNaN(want.annuli) && (!got.Annuli.Known || got.Annuli.X == want.annuli)
		cohortOK := got.Class == NoClass && got.Cohort == 0 || got.Cohort == 2031-int(got.Class)
		if got.Class != want.class || got.Trouble != want.trouble || got.Towards != want.towards || !decimalOK || !annuliOK || !cohortOK {
			t.Errorf("%s (%s) of %v = %+v, want %+v", c.rule, c.tie, c.rings, got, want)
		}
	}
}

func TestAgreedAgeDoesNotHangOnOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rule := record.AgreedAge{Rule: rapid.SampledFrom([]string{"median", "mode"}).Draw(t, "rule"), Tie: "reread"}
		classes := rapid.SliceOfN(rapid.IntRange(0, 9), 1, 7).Draw(t, "classes")
		ask := func(classes []int) Agreed {
			var opinions []Opinion
			for _, c := range classes {
				opinions = append(opinions, Opinion{"", c, Age{Decimal: float64(c), Cohort: 2031 - c, Class: Class(c)}, None})
			}
			return Agree(rule, opinions)
		}
		got, other := ask(classes), ask(rapid.Permutation(classes).Draw(t, "order"))
		if got != other {
			t.Fatalf("%s of %v is %+v in one order and %+v in another", rule.Rule, classes, got, other)
		}
		if got.Class.Known() && (int(got.Class) < slices.Min(classes) || int(got.Class) > slices.Max(classes) || got.Decimal.X != float64(got.Class)) {
			t.Fatalf("%s of %v is %+v", rule.Rule, classes, got)
		}
	})
}

func TestReadingsThatCount(t *testing.T) {
	dated := func(r record.Reading, day string) record.Reading { r.ReadAt = on(t, day); return r }
	control := func(r record.Reading) record.Reading { r.Control = record.Yes; return r }
	for _, c := range []struct {
		name     string
		readings []record.Reading
		class    Class
		used     []int
		flags    string
		classes  []Class // Ada, Ben, Cleo, Zoe (not declared)
	}{
		{"the later of two", []record.Reading{dated(read("ada", 6), "2032-02-01"), dated(read("ada", 5), "2032-01-01")}, 6, []int{0}, "", []Class{6, -1, -1, -1}},
		{"the later in the table", []record.Reading{read("ada", 6), read("ada", 5)}, 5, []int{1}, "", []Class{5, -1, -1, -1}},
		{"a dated one before an undated", []record.Reading{dated(read("ada", 6), "2032-02"), read("ada", 5)}, 6, []int{0}, "", []Class{6, -1, -1, -1}},
		{"the count before a look that gave none", []record.Reading{dated(read("ada", 6), "2032-01-01"), dated(read("ada", -1), "2032-02-01")}, 6, []int{0}, "", []Class{6, -1, -1, -1}},
		{"nothing counted", []record.Reading{read("ada", -1)}, NoClass, nil, "not_read", nil},
		{"no reading", nil, NoClass, nil, "not_read", nil},
		{"controls beside others", []record.Reading{read("ada", 6), control(read("ada", 5)), control(read("ben", 5))}, 6, []int{0}, "", []Class{6, -1, -1, -1}},
		{"controls alone", []record.Reading{control(read("ada", 6)), control(read("ben", 6)), control(read("ben", -1))}, 6, []int{0, 1}, "controls_only", []Class{6, 6, -1, -1}},
		{"a reader not declared comes last", []record.Reading{read("zoe", 4), read("ben", 6), read("cleo", 5)}, 5, []int{1, 2, 0}, "", []Class{-1, 6, 5, 4}},
		{"readers who differ", []record.Reading{read("ada", 4), read("ben", 5)}, NoClass, []int{0, 1}, "unresolved", []Class{4, 5, -1, -1}},
	} {
		r := rules(t, summer(t), []record.Reading{{Reader: "zoe"}})
		got := r.Fish(caught(t, "2031-08-15"), c.readings, nil)
		var classes []Class
		if len(got.Variants) == 1 {
			classes = got.Variants[0].Classes
		}
		if got.Class != c.class || !slices.Equal(got.Used, c.used) || got.Flags.String() != c.flags || !slices.Equal(classes, c.classes) {
			t.Errorf("%s: class %d of readings %v, flags %q, classes %v; want %d of %v, %q, %v",
				c.name, got.Class, got.Used, got.Flags, classes, c.class, c.used, c.flags, c.classes)
		}
	}
}

func TestRuleStandsWithTheAge(t *testing.T) {
	s := summer(t)
	s.AgreedAge.Tie = "lower_reader"
	got := rules(t, s, nil).Fish(caught(t, "2031-08-15"), []record.Reading{read("ada", 4), read("ben", 5)}, nil)
	if got.Class != 4 || got.Rule != "median lower_reader" || got.Flags != TowardsFirst {
		t.Errorf("a tie towards Ada gives class %d by %q, flags %q", got.Class, got.Rule, got.Flags)
	}
	// The expert judged the edge; what another left open does not matter.
	s.AgreedAge = record.AgreedAge{Rule: "expert", Expert: "ben", Tie: "reread"}
	readings := []record.Reading{read("ada", 4), read("ben", 5)}
	readings[0].Edge = record.NotJudged
	got = rules(t, s, nil).Fish(caught(t, "2031-06-15"), readings, nil)
	if got.Class != 5 || got.Rule != "expert" || got.Flags != 0 || !slices.Equal(got.Used, []int{1}) || !slices.Equal(got.Variants[0].Classes, []Class{4, 5, NoClass}) {
		t.Errorf("the expert's age is %+v, flags %q", got, got.Flags)
	}
}

func TestFishWithoutAnAge(t *testing.T) {
	s := summer(t)
	s.Calendars["ALB"] = record.Calendar{FirstAnnulusAge: 1}
	s.Calendars["BET"] = calendar(t, "06-01", "12-01", 30, 0.9)
	r, found := NewRules(s, nil)
	if len(found) != 1 || found[0].Kind != finding.BadCalendar || found[0].Place.Column != "calendars.BET" {
		t.Fatalf("the settings are found to hold %v, want one bad calendar of BET", found)
	}
	for _, c := range []struct {
		species record.Species
		day     string
		flags   string
	}{
		{"BFT", "", "no_date"}, {"ALB", "2031-08-15", "no_calendar"}, {"YFT", "2031-08-15", "no_calendar"}, {"BET", "2031-08-15", "bad_calendar"},
	} {
		r.Panel = NewPanel(s.Readers, nil)
		fish := caught(t, c.day)
		fish.Species = c.species
		got := r.Fish(fish, []record.Reading{read("ada", 5)}, nil)
		if got.Class != NoClass || got.Decimal.Known || got.Variants != nil || got.Flags.String() != c.flags || len(got.Used) != 1 {
			t.Errorf("%s caught on %q: %+v with flags %q, want no age and %q", c.species, c.day, got, got.Flags, c.flags)
		}
	}
}

func TestSettingsThatMeanNothing(t *testing.T) {
	s := summer(t)
	s.AgeConvention, s.AgreedAge = "july", record.AgreedAge{Rule: "loudest", Tie: "coin"}
	r, found := NewRules(s, nil)
	var columns []string
	for _, f := range found {
		columns = append(columns, f.Place.Column)
	}
	if want := []string{"age_convention", "agreed_age.rule", "agreed_age.tie"}; !slices.Equal(columns, want) {
		t.Errorf("found at fault: %v, want %v", columns, want)
	}
	if got := r.Fish(caught(t, "2031-08-15"), []record.Reading{read("ada", 5)}, nil); got.Class != 5 || got.Rule != "median" {
		t.Errorf("the defaults give class %d by %q, want 5 by median", got.Class, got.Rule)
	}
	s = summer(t)
	s.AgreedAge = record.AgreedAge{Rule: "expert", Tie: "reread"}
	if _, found := NewRules(s, nil); len(found) != 1 || found[0].Place.Column != "agreed_age.expert" {
		t.Errorf("an expert without a name is found as %v", found)
	}
}

func TestReadersAndDateTogether(t *testing.T) {
	// By hand, narrow edges in May 2031 (birth and annulus 1 June ± 30 days): on 1 May 4
	// rings are those of 2030 and before, cohort 2026, class 5; from 2 May on the ring of
	// June 2031 is laid down early, cohort 2027, class 4. 5 rings are one class more.
	s := summer(t)
	r := rules(t, s, nil)
	a, b := read("ada", 4), read("ben", 5)
	a.Edge, b.Edge = record.Narrow, record.Narrow
	got := r.Fish(caught(t, "2031-05"), []record.Reading{a, b, read("cleo", 5)}, nil)
	// Cleo's partial edge holds to one thing all month: 5 rings, cohort 2025, class 6.
	want := []struct {
		share   float64
		class   Class
		classes []Class
	}{{1.0 / 31, 6, []Class{5, 6, 6}}, {30.0 / 31, 5, []Class{4, 5, 6}}}
	if len(got.Variants) != len(want) {
		t.Fatalf("there are %d variants, want %d", len(got.Variants), len(want))
	}
	for i, w := range want {
		v := got.Variants[i]
		if math.Abs(v.Share-w.share) > 1e-15 || v.Class != w.class || !slices.Equal(v.Classes, w.classes) {
			t.Errorf("variant %d is %+v, want %+v", i, v, w)
		}
	}
	if got.Class != 5 || got.Cohort != 2026 || got.Flags != PartialDate {
		t.Errorf("the row says class %d, cohort %d, flags %q; want 5, 2026, partial_date", got.Class, got.Cohort, got.Flags)
	}
}

func TestKnownAgeStandsAboveReadings(t *testing.T) {
	// By hand: 4.2 years before 15 August 2031 is 2 June 2027; cohort 2027.
	r := rules(t, summer(t), nil)
	got := r.Fish(caught(t, "2031-08-15"), []record.Reading{read("ada", 5), read("cleo", 3)}, &record.KnownAge{Fish: "Q1", DecimalAge: 4.2})
	if got.Class != 4 || got.Cohort != 2027 || got.Decimal != record.Some(4.2) || got.Rule != "known_age" || got.Flags != Known || got.Used != nil {
		t.Errorf("the fish of known age 4.2 is %+v", got)
	}
	if v := got.Variants[0]; !slices.Equal(v.Classes, []Class{5, NoClass, 3}) || v.Annuli != record.Some(4) {
		t.Errorf("its readers gave %v, median %v; want [5 -1 3], 4", v.Classes, v.Annuli)
	}
	alone := r.Fish(caught(t, "2031-08-15"), nil, &record.KnownAge{Fish: "Q1", DecimalAge: 4.2})
	if alone.Class != 4 || alone.Annuli.Known {
		t.Errorf("unread it is %+v", alone)
	}
	undated := r.Fish(caught(t, ""), nil, &record.KnownAge{Fish: "Q1", DecimalAge: 4.2})
	if undated.Class != NoClass || undated.Decimal != record.Some(4.2) || undated.Flags != Known|Undated {
		t.Errorf("without a date it is %+v with flags %q", undated, undated.Flags)
	}
	if odd := r.Fish(caught(t, "2031-08-15"), nil, &record.KnownAge{DecimalAge: math.NaN()}); odd.Class != NoClass || odd.Trouble != NotAnAge {
		t.Errorf("an age that is no number gives %+v", odd)
	}
}

func TestImpossibleReadingsKeepTheFishOut(t *testing.T) {
	s := summer(t)
	s.Calendars["BFT"] = calendar(t, "06-01", "01-15", 45, 228/365.25)
	r := rules(t, s, nil)
	readings := []record.Reading{read("ada", 1), read("ben", 0), read("cleo", 999)}
	readings[1].Row, readings[2].Row = 7, 8
	got := r.Fish(caught(t, "2031-05-31"), readings, nil)
	if got.Class != NoClass || got.Trouble != AnnulusOverdue || !slices.Equal(got.Variants[0].Classes, []Class{1, NoClass, NoClass}) {
		t.Errorf("with an annulus overdue: %+v", got)
	}
	var list finding.List
	got.Findings(&list, caught(t, "2031-05-31"), readings)
	all := list.All()
	if len(all) != 2 || all[0].Kind != finding.ImpossibleAnnuli || all[0].Place.Row != 7 || all[0].Value != "0" ||
		all[1].Kind != finding.Contradiction || all[1].Place.Row != 8 || all[1].Value != "999" {
		t.Errorf("the findings are %v", all)
	}
	// Known to the year, the fish may have been caught on another day: no mistake.
	if got := r.Fish(caught(t, "2031"), readings[:2], nil); len(got.Doubts) != 0 || got.Flags&Overdue == 0 || !got.Class.Known() {
		t.Errorf("caught some time in 2031: %+v, flags %q", got, got.Flags)
	}
}

func TestEachSettlesTheFishOfABook(t *testing.T) {
	s := summer(t)
	readings := []record.Reading{read("ada", 5), {Fish: "Q3", Reader: "ada", Annuli: 2, Edge: record.NotJudged}, read("ben", 5), {Fish: "gone", Reader: "ben", Annuli: 1}}
	fish := []record.Fish{*caught(t, "2031-08-15"), *caught(t, "2031-08-15"), *caught(t, "2031-06-15")}
	fish[1].Fish, fish[2].Fish = "Q2", "Q3"
	r := rules(t, s, readings)
	got := r.Each(fish, readings, []record.KnownAge{{Fish: "Q2", DecimalAge: 7}, {Fish: "Q2", DecimalAge: 9}})
	if got[0].Class != 5 || !slices.Equal(got[0].Used, []int{0, 2}) || got[1].Class != 7 || got[2].Class != 2 || got[2].Flags != EdgeUnknown {
		t.Errorf("the book gives %+v", got)
	}
}

// TestSharesSumToOne walks partial dates: no share of a fish is lost, and each full
// day of the span is in the variant that the day itself would give.
func TestSharesSumToOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := record.Defaults()
		s.AgeConvention = rapid.SampledFrom([]string{"january", "birthday"}).Draw(t, "convention")
		b, _ := date.ParseAnniversary("06-01")
		f, _ := date.ParseAnniversary("01-15")
		s.Calendars["BFT"] = record.Calendar{BirthDay: b, AnnulusDay: f, AnnulusWindowDays: 45, FirstAnnulusAge: 228 / 365.25}
		var readings []record.Reading
		for i := range rapid.IntRange(1, 3).Draw(t, "readers") {
			readings = append(readings, record.Reading{Reader: record.ReaderID(rune('a' + i)),
				Annuli: rapid.IntRange(0, 4).Draw(t, "annuli"), Edge: record.Edge(rapid.IntRange(1, 4).Draw(t, "edge"))})
		}
		r, _ := NewRules(s, readings)
		text := rapid.SampledFrom([]string{"2031", "2032", "2032-01", "2031-05", "2032-02"}).Draw(t, "date")
		day, _ := date.Parse(text)
		fish := record.Fish{Species: "BFT", CaughtOn: day}
		whole := r.Fish(&fish, readings, nil)
		total, days := 0.0, day.Last().Serial()-day.First().Serial()+1
		for _, v := range whole.Variants {
			n := 0
			for serial := day.First().Serial(); serial <= day.Last().Serial(); serial++ {
				fish.CaughtOn = date.FromSerial(serial)
				one := r.Fish(&fish, readings, nil).Variants[0]
				if slices.Equal(one.Classes, v.Classes) && one.Class == v.Class && one.Cohort == v.Cohort && one.Trouble == v.Trouble {
					n++
				}
			}
			if math.Abs(v.Share-float64(n)/float64(days)) > 1e-12 && v.Class.Known() {
				t.Fatalf("in %s the variant %+v has share %v, but holds on %d of %d days", text, v, v.Share, n, days)
			}
			total += v.Share
		}
		if math.Abs(total-1) > 1e-12 {
			t.Fatalf("the shares in %s sum to %v", text, total)
		}
	})
}

// BenchmarkEach is the plan figure: 5,000 fish of 2.4 readings, one in ten of them
// known to the month only.
func BenchmarkEach(b *testing.B) {
	s := summer(b)
	var fish []record.Fish
	var readings []record.Reading
	for i := range 5000 {
		id := record.FishID([]byte{'Q', byte('0' + i/1000), byte('0' + i/100%10), byte('0' + i/10%10), byte('0' + i%10)})
		f := record.Fish{Fish: id, Species: "BFT", CaughtOn: date.FromSerial(22000 + i%700)}
		if i%10 == 0 {
			f.CaughtOn, _ = date.Parse(f.CaughtOn.String()[:7])
		}
		fish = append(fish, f)
		for k := range 2 + i%5/3 {
			readings = append(readings, record.Reading{Fish: id, Reader: s.Readers[k], Annuli: 3 + i%9 + k%2, Edge: record.Edge(1 + i%4)})
		}
	}
	r, _ := NewRules(s, readings)
	b.ReportAllocs()
	for b.Loop() {
		r.Each(fish, readings, nil)
	}
}

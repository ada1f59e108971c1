package age

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"earstone/programme/date"
	"earstone/programme/record"
	"earstone/reference"
)

// goldenAges is golden file 01.
type goldenAges struct {
	Input struct {
		Calendars map[string]struct {
			Birth   string  `json:"birth_day"`
			Annulus string  `json:"annulus_day"`
			Window  int     `json:"annulus_window_days"`
			First   float64 `json:"first_annulus_age"`
		}
	}
	Output struct {
		Cases struct {
			Calendar  []string
			CaughtOn  []string `json:"caught_on"`
			Annuli    []int
			Edge      []string
			Decimal   []float64 `json:"decimal_age"`
			Cohort    []int
			January   []Class `json:"age_january"`
			Birthday  []Class `json:"age_birthday"`
			Formation []string
			Rule      []string
			Flags     []string
		}
		Partial []struct {
			Calendar     string
			CaughtOn     string `json:"caught_on"`
			Annuli       int
			Edge         string
			Days         int
			DecimalFirst float64 `json:"decimal_age_first"`
			DecimalLast  float64 `json:"decimal_age_last"`
			CohortFirst  int     `json:"cohort_first"`
			CohortLast   int     `json:"cohort_last"`
			Cohorts      []int
			Shares       []float64
		} `json:"partial_dates"`
		Earliest struct {
			Calendar []string
			CaughtOn []string  `json:"caught_on"`
			Decimal  []float64 `json:"decimal_age_proposed"`
		} `json:"n0_wide_in_window"`
	}
}

func (g goldenAges) calendar(t *testing.T, name string) record.Calendar {
	t.Helper()
	in, ok := g.Input.Calendars[name]
	if !ok {
		t.Fatalf("there is no calendar %s", name)
	}
	return calendar(t, in.Birth, in.Annulus, in.Window, in.First)
}

func calendar(t testing.TB, birth, annulus string, window int, first float64) record.Calendar {
	t.Helper()
	b, okBirth := date.ParseAnniversary(birth)
	f, okAnnulus := date.ParseAnniversary(annulus)
	if !okBirth || !okAnnulus {
		t.Fatalf("%s or %s is no day", birth, annulus)
	}
	return record.Calendar{BirthDay: b, AnnulusDay: f, AnnulusWindowDays: window, FirstAnnulusAge: first}
}

func on(t testing.TB, text string) date.Day {
	t.Helper()
	d, ok := date.Parse(text)
	if !ok {
		t.Fatalf("%q is no date", text)
	}
	return d
}

func edge(t testing.TB, text string) record.Edge {
	t.Helper()
	e, ok := record.ParseEdge(text)
	if !ok {
		t.Fatalf("%q is no edge", text)
	}
	return e
}

func TestAgesOfGoldenFile(t *testing.T) {
	// Golden 01, all cases: decimal age to 1e-12, the rest exactly. Where no annulus was
	// counted and the edge is wide just after the formation day, the file's main columns
	// keep an older wording (the latest birth day); its table n0_wide_in_window gives
	// the decimal age of the rule as it stands (the earliest).
	var g goldenAges
	reference.Golden(t, "01-ages", &g)
	c := g.Output.Cases
	if len(c.Decimal) != 81 {
		t.Fatalf("the golden file has %d cases, want 81", len(c.Decimal))
	}
	earliest := 0
	for i := range c.Decimal {
		cal, caught := g.calendar(t, c.Calendar[i]), on(t, c.CaughtOn[i])
		got, trouble := Of(cal, January, caught, c.Annuli[i], edge(t, c.Edge[i]))
		birthday, _ := Of(cal, Birthday, caught, c.Annuli[i], edge(t, c.Edge[i]))
		decimal, cohort, january, completed := c.Decimal[i], c.Cohort[i], c.January[i], c.Birthday[i]
		for k := range g.Output.Earliest.Decimal {
			e := g.Output.Earliest
			if c.Annuli[i] == 0 && c.Edge[i] == "wide" && e.Calendar[k] == c.Calendar[i] && e.CaughtOn[k] == c.CaughtOn[i] {
				decimal = e.Decimal[k]
				cohort, january, completed = cohort-1, january+1, completed+1 // one birth day earlier
				earliest++
			}
		}
		name := []any{c.Annuli[i], c.Edge[i], c.CaughtOn[i], c.Calendar[i]}
		if math.Abs(got.Decimal-decimal) > 1e-12 {
			t.Errorf("%d rings, %s edge on %s (%s): decimal age %v, want %v", append(name, got.Decimal, decimal)...)
		}
		if got.Cohort != cohort || got.Class != january || birthday.Class != completed {
			t.Errorf("%d rings, %s edge on %s (%s): cohort %d, classes %d and %d, want %d, %d and %d",
				append(name, got.Cohort, got.Class, birthday.Class, cohort, january, completed)...)
		}
		if got.Formed.String() != c.Formation[i] || got.Step.String() != c.Rule[i] {
			t.Errorf("%d rings, %s edge on %s (%s): formed %s by %s, want %s by %s",
				append(name, got.Formed, got.Step, c.Formation[i], c.Rule[i])...)
		}
		var flags Flags
		if got.EdgeUnknown {
			flags = EdgeUnknown
		}
		if flags |= trouble.flag(); flags.String() != c.Flags[i] {
			t.Errorf("%d rings, %s edge on %s (%s): flags %q, want %q", append(name, flags, c.Flags[i])...)
		}
	}
	if earliest != 2 {
		t.Errorf("%d cases take the earliest birth day, want 2", earliest)
	}
}

func TestPartialDatesOfGoldenFile(t *testing.T) {
	var g goldenAges
	reference.Golden(t, "01-ages", &g)
	for _, p := range g.Output.Partial {
		cal, caught, e := g.calendar(t, p.Calendar), on(t, p.CaughtOn), edge(t, p.Edge)
		first, _ := Of(cal, January, caught.First(), p.Annuli, e)
		last, _ := Of(cal, January, caught.Last(), p.Annuli, e)
		if math.Abs(first.Decimal-p.DecimalFirst) > 1e-12 || math.Abs(last.Decimal-p.DecimalLast) > 1e-12 ||
			first.Cohort != p.CohortFirst || last.Cohort != p.CohortLast {
			t.Errorf("%d rings, %s edge in %s: %v (%d) to %v (%d), want %v (%d) to %v (%d)", p.Annuli, p.Edge, p.CaughtOn,
				first.Decimal, first.Cohort, last.Decimal, last.Cohort, p.DecimalFirst, p.CohortFirst, p.DecimalLast, p.CohortLast)
		}
		joints, trouble := Readings(cal, January, caught, []Read{{Annuli: p.Annuli, Edge: e}})
		if trouble != None || len(joints) != len(p.Cohorts) {
			t.Errorf("%d rings, %s edge in %s: %d parts (%s), want %d", p.Annuli, p.Edge, p.CaughtOn, len(joints), trouble, len(p.Cohorts))
			continue
		}
		for k, cohort := range p.Cohorts {
			share := 0.0
			for _, j := range joints {
				if j.Ages[0].Cohort == cohort {
					share = j.Share
				}
			}
			if math.Abs(share-p.Shares[k]) > 1e-12 {
				t.Errorf("%d rings, %s edge in %s: cohort %d has share %v, want %v", p.Annuli, p.Edge, p.CaughtOn, cohort, share, p.Shares[k])
			}
		}
	}
}

func TestAgesWorkedByHand(t *testing.T) {
	// By hand from the rule: birth 1 June, annulus 30 November ± 30 days, a1 = 0.5 years.
	// The days are those between the two dates shown.
	cal := calendar(t, "06-01", "11-30", 30, 0.5)
	for _, c := range []struct {
		caught  string
		annuli  int
		edge    record.Edge
		formed  string
		decimal float64
	}{
		{"2020-11-10", 3, record.Wide, "2019-11-30", 0.5 + 2 + 346/365.25},
		{"2020-11-10", 4, record.Narrow, "2020-11-30", 0.5 + 3 - 20/365.25},
		{"2020-12-10", 3, record.Wide, "2019-11-30", 0.5 + 2 + 376/365.25},
		{"2020-12-10", 4, record.Narrow, "2020-11-30", 0.5 + 3 + 10/365.25},
	} {
		got, trouble := Of(cal, January, on(t, c.caught), c.annuli, c.edge)
		if trouble != None || got.Formed.String() != c.formed || math.Abs(got.Decimal-c.decimal) > 1e-12 || got.Cohort != 2017 {
			t.Errorf("%d rings, %s edge on %s: %v formed %s, cohort %d (%s), want %v formed %s, cohort 2017",
				c.annuli, c.edge, c.caught, got.Decimal, got.Formed, got.Cohort, trouble, c.decimal, c.formed)
		}
	}
}

// TestCohortHoldsThroughLife follows fish over every day of their life: whatever the
// reader makes of a ring at the edge within the window, the cohort stays.
func TestCohortHoldsThroughLife(t *testing.T) {
	for _, c := range []struct {
		birth, annulus string
		window, years  int // whole years before the fraction of the first annulus
	}{
		{"06-01", "11-30", 30, 0}, {"06-01", "06-01", 30, 1}, {"06-01", "01-15", 45, 0},
		{"01-01", "01-05", 20, 1}, {"11-20", "05-10", 25, 1}, {"02-29", "02-29", 10, 1}, {"12-31", "01-01", 90, 0},
	} {
		cal := calendar(t, c.birth, c.annulus, c.window, 0)
		const born = 2030
		birth := cal.BirthDay.In(born).Serial()
		first := born // year of the first annulus
		if cal.AnnulusDay.In(born).Serial() < birth {
			first++
		}
		first += c.years
		cal.FirstAnnulusAge = float64(cal.AnnulusDay.In(first).Serial()-birth) / 365.25
		if facts := Contradiction(cal); facts != nil {
			t.Fatalf("the calendar %s to %s is refused: %v", c.birth, c.annulus, facts)
		}
		count := 0 // of rings laid down by the calendar
		for serial := cal.AnnulusDay.In(first).Serial(); serial < birth+12*365; serial++ {
			caught := date.FromSerial(serial)
			if serial == cal.AnnulusDay.In(caught.Year()).Serial() {
				count++
			}
			holds := func(annuli int, e record.Edge) {
				if a, trouble := Of(cal, January, caught, annuli, e); trouble != None || a.Cohort != born {
					t.Errorf("born %s %d, caught %s with %d rings and a %s edge: cohort %d (%s)", c.birth, born, caught, annuli, e, a.Cohort, trouble)
				}
			}
			holds(count, record.Partial)
			last, next := cal.AnnulusDay.In(first+count-1).Serial(), cal.AnnulusDay.In(first+count).Serial()
			if serial-last <= c.window { // laid down in time, or late
				holds(count, record.Narrow)
				if count > 1 {
					holds(count-1, record.Wide)
				}
			}
			if next-serial <= c.window { // not yet, or early
				holds(count, record.Wide)
				holds(count+1, record.Narrow)
			}
		}
	}
}

func TestEveryReadingHasAnAgeOrATrouble(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		anniversary := func(name string) date.Anniversary {
			d := date.FromSerial(rapid.IntRange(0, 365).Draw(t, name))
			a, _ := date.ParseAnniversary(d.String()[5:])
			return a
		}
		cal := record.Calendar{BirthDay: anniversary("birth"), AnnulusDay: anniversary("annulus"),
			AnnulusWindowDays: rapid.IntRange(0, 182).Draw(t, "window")}
		days := (cal.AnnulusDay.In(2031).Serial() - cal.BirthDay.In(2031).Serial() + 365) % 365
		cal.FirstAnnulusAge = float64(rapid.IntRange(0, 2).Draw(t, "whole")) + float64(days)/365.25
		caught := date.FromSerial(rapid.IntRange(date.On(1900, 1, 1).Serial(), date.On(2199, 12, 31).Serial()).Draw(t, "caught"))
		annuli, e := rapid.IntRange(-1, 40).Draw(t, "annuli"), record.Edge(rapid.IntRange(0, 4).Draw(t, "edge"))

		a, trouble := Of(cal, January, caught, annuli, e)
		b, other := Of(cal, Birthday, caught, annuli, e)
		if annuli < 0 {
			if trouble != NotCounted || a.Class != NoClass {
				t.Fatalf("a reading without a count gives class %d (%s)", a.Class, trouble)
			}
			return
		}
		if math.IsNaN(a.Decimal) || a.Cohort != b.Cohort || a.Decimal != b.Decimal {
			t.Fatalf("the conventions disagree on decimal age or cohort: %v and %v", a, b)
		}
		if trouble == None && a.Class < 0 || other == None && b.Class < 0 {
			t.Fatalf("a negative class passes: %d (%s), %d (%s)", a.Class, trouble, b.Class, other)
		}
		if step := a.Class - b.Class; step != 0 && step != 1 {
			t.Fatalf("class %d by January and %d by birthday", a.Class, b.Class)
		}
		if older, ok := Of(cal, January, caught, annuli+1, e); annuli > 0 && (ok == None && trouble == None) && older.Class != a.Class+1 {
			t.Fatalf("one ring more makes class %d of %d", older.Class, a.Class)
		}
	})
}

func TestEndsOfTheRule(t *testing.T) {
	// By hand. A ring at birth, 1 June ± 30 days: without it a fish can be 29 days old and
	// not 30, and one that has it in May is not born yet by completed birthdays.
	cal := calendar(t, "06-01", "06-01", 30, 0)
	for _, c := range []struct {
		convention Convention
		caught     string
		annuli     int
		edge       record.Edge
		class      Class
		trouble    Trouble
	}{
		{January, "2031-06-30", 0, record.Partial, 0, None},
		{January, "2031-07-01", 0, record.Partial, 0, AnnulusOverdue},
		{January, "2031-05-20", 1, record.Narrow, 0, None},
		{Birthday, "2031-05-20", 1, record.Narrow, -1, NotAnAge},
		{January, "2031-08-15", Oldest, record.Partial, Oldest - 1, None},
		{January, "2031-08-15", Oldest + 1, record.Partial, NoClass, NotAnAge},
		{January, "0200-08-15", 4, record.Partial, NoClass, NotAnAge}, // too near year 1 to count back from
	} {
		a, trouble := Of(cal, c.convention, on(t, c.caught), c.annuli, c.edge)
		if a.Class != c.class || trouble != c.trouble {
			t.Errorf("%d rings, %s edge on %s by %s: class %d (%s), want %d (%s)",
				c.annuli, c.edge, c.caught, c.convention, a.Class, trouble, c.class, c.trouble)
		}
	}
}

func TestCohortHalfwayBetweenBirthDays(t *testing.T) {
	// By hand: 182.5 days before 1 June 2031 lie as far from 1 June 2030; the earlier year
	// is taken.
	if y := (day{date.On(2031, 6, 1).Serial(), 2031}).cohort(calendar(t, "06-01", "06-01", 30, 1), 182.5/365.25); y != 2030 {
		t.Errorf("born halfway between birth days the cohort is %d, want 2030", y)
	}
}

func TestPartsOfAJoint(t *testing.T) {
	cal := calendar(t, "06-01", "06-01", 30, 1)
	// By hand: over the 30 days of June 4 rings are 4 years and 0 to 29 days, 14.5 in the mean.
	june, _ := Readings(cal, January, on(t, "2031-06"), []Read{{Annuli: 4, Edge: record.Partial}})
	if want := 4 + 14.5/365.25; len(june) != 1 || math.Abs(june[0].Ages[0].Decimal-want) > 1e-12 {
		t.Errorf("in June the decimal age is %+v, want %v", june, want)
	}
	// 1 January is far from the window, and the days up to 31 May are one joint with it.
	year, _ := Readings(cal, January, on(t, "2031"), []Read{{Annuli: 4, Edge: record.NotJudged}})
	if len(year) != 2 || !year[0].Ages[0].EdgeUnknown || !year[1].Ages[0].EdgeUnknown {
		t.Errorf("over the year an edge not judged gives %+v, want it flagged in both parts", year)
	}
	for _, c := range []struct {
		cal    record.Calendar
		caught date.Day
		want   Trouble
	}{
		{record.Calendar{}, date.On(2031, 6, 1), NoCalendar}, {calendar(t, "06-01", "06-01", 30, 0.5), date.On(2031, 6, 1), BadCalendar}, {cal, date.Day{}, NoDate},
	} {
		if joints, trouble := Readings(c.cal, January, c.caught, nil); trouble != c.want || joints != nil {
			t.Errorf("Readings gives %v (%s), want %s", joints, trouble, c.want)
		}
		if _, trouble := Of(c.cal, January, c.caught, 3, record.Partial); trouble != c.want {
			t.Errorf("Of gives %s, want %s", trouble, c.want)
		}
	}
}

func TestCalendarsThatContradictThemselves(t *testing.T) {
	for _, c := range []struct {
		birth, annulus string
		window         int
		first          float64
		fits           bool
	}{
		{"06-01", "12-01", 30, 0.5, true},  // the example of the tables
		{"06-01", "12-01", 0, 0.5, true},   // 182.625 days against 183
		{"06-01", "12-01", 0, 1.501, true}, // a year later
		{"06-01", "12-01", 30, 1, false},
		{"06-01", "06-01", 30, 0.5, false},
		{"06-01", "06-01", 30, 0, true}, // a ring at birth is counted
		{"06-01", "05-20", 30, 0, true}, // within the window of it
		{"06-01", "05-20", 5, 0, false},
		{"01-01", "12-31", 2, 1, true},
		{"06-01", "06-01", -1, 1, false},
		{"06-01", "06-01", 183, 1, false},
		{"06-01", "06-01", 30, -1, false},
		{"06-01", "06-01", 30, math.NaN(), false},
		{"06-01", "06-01", 30, math.Inf(1), false},
		{"", "06-01", 30, 1, true}, // not complete, but nothing to contradict
	} {
		cal := calendar(t, c.birth, c.annulus, c.window, c.first)
		facts := Contradiction(cal)
		if (facts == nil) != c.fits {
			t.Errorf("birth %s, annulus %s ± %d, first at %v: contradiction %q, want fitting %v", c.birth, c.annulus, c.window, c.first, facts, c.fits)
		}
		if _, trouble := Of(cal, January, date.On(2031, 7, 1), 3, record.Partial); facts != nil && trouble != BadCalendar {
			t.Errorf("a calendar that contradicts itself gives an age (%s)", trouble)
		}
	}
	facts := Contradiction(calendar(t, "06-01", "12-01", 30, 1))
	const want = "birth_day=06-01 annulus_day=12-01 annulus_window_days=30 first_annulus_age=0.50"
	if len(facts) != 2 || facts[0] != "first_annulus_age=1" || facts[1] != want {
		t.Errorf("the facts are %q, want %q", facts, want)
	}
}

func TestConventionsReadBack(t *testing.T) {
	for _, c := range []Convention{January, Birthday} {
		if back, ok := ParseConvention(c.String()); !ok || back != c {
			t.Errorf("convention %s reads back as %s", c, back)
		}
	}
	for _, text := range []string{"", "July"} {
		if c, ok := ParseConvention(text); ok {
			t.Errorf("%q is taken for the convention %s", text, c)
		}
	}
}

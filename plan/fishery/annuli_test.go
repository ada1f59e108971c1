package fishery

import (
	"fmt"
	"testing"

	"earstone/programme/date"
	"earstone/programme/record"
	"earstone/reading/age"
)

func calendar(t testing.TB, birth, annulus string, window int, first float64) record.Calendar {
	t.Helper()
	b, fineBirth := date.ParseAnniversary(birth)
	f, fineAnnulus := date.ParseAnniversary(annulus)
	c := record.Calendar{BirthDay: b, AnnulusDay: f, AnnulusWindowDays: window, FirstAnnulusAge: first}
	if wrong := age.Contradiction(c); !fineBirth || !fineAnnulus || wrong != nil {
		t.Fatalf("calendar of birth %s and annulus %s contradicts itself: %v", birth, annulus, wrong)
	}
	return c
}

// What an accurate reader writes down gives the fish back its cohort by methods,
// section 2: on every day of a life, leap years among them, and however early or late
// within the window the fish lays its annuli. The exception is that of Accurate: no
// annulus yet, and a birth day since its own.
func TestAccurateReadingGivesBackTheCohort(t *testing.T) {
	for _, c := range []record.Calendar{
		calendar(t, "06-01", "12-01", 30, 0.5), // that of the invented programme
		calendar(t, "06-01", "06-01", 30, 1),
		calendar(t, "06-01", "01-15", 45, 0.6242299794661191),
		calendar(t, "01-01", "01-05", 20, 1+4/365.25),
		calendar(t, "01-01", "01-01", 0, 1),
		calendar(t, "02-29", "02-29", 10, 1),
		calendar(t, "11-20", "05-10", 25, 1.47),
	} {
		t.Run(fmt.Sprintf("%s %s", c.BirthDay, c.AnnulusDay), func(t *testing.T) {
			seen := map[record.Edge]int{}
			for _, cohort := range []int{2009, 2010, 2011, 2012} {
				birth := c.BirthDay.In(cohort).Serial()
				for serial := birth; serial < birth+20*366; serial++ {
					givesBack(t, c, cohort, date.FromSerial(serial), seen)
				}
			}
			for _, edge := range []record.Edge{record.Narrow, record.Partial, record.Wide} {
				if seen[edge] == 0 {
					t.Errorf("no edge was %s in 20 years", edge)
				}
			}
		})
	}
}

func givesBack(t *testing.T, c record.Calendar, cohort int, day date.Day, seen map[record.Edge]int) {
	t.Helper()
	w := c.AnnulusWindowDays
	for _, late := range []int{-w, -w / 2, -1, 0, 1, w / 2, w} {
		if late < -w || late > w {
			continue
		}
		annuli, edge := Accurate(c, cohort, day, late)
		seen[edge]++
		got, trouble := age.Of(c, age.January, day, annuli, edge)
		want := cohort
		if after, _ := nearest(c, day.Serial()); annuli == 0 && after > w {
			want = latestBirth(c, day) // not told from a fish just born
		}
		if trouble != age.None || got.Cohort != want {
			t.Fatalf("%d annuli and a %s edge on %s, laid %d days late, give cohort %d (%v), want %d",
				annuli, edge, day, late, got.Cohort, trouble, want)
		}
	}
}

// latestBirth is the year of the latest birth day on or before a day.
func latestBirth(c record.Calendar, day date.Day) int {
	if c.BirthDay.In(day.Year()).Serial() <= day.Serial() {
		return day.Year()
	}
	return day.Year() - 1
}

// By hand, for the invented calendar: a fish born in June 2029 lays an annulus each
// 1 December, so that on 20 November 2031 two are due.
func TestAccurateReadingsWorkedByHand(t *testing.T) {
	c := calendar(t, "06-01", "12-01", 30, 0.5)
	for _, x := range []struct {
		day    date.Day
		late   int
		annuli int
		edge   record.Edge
	}{
		{date.On(2029, 7, 1), 0, 0, record.Narrow},     // 30 days old
		{date.On(2031, 8, 1), 0, 2, record.Partial},    // 243 days since the second
		{date.On(2031, 10, 15), 0, 2, record.Wide},     // 318 days
		{date.On(2031, 11, 20), 0, 2, record.Wide},     // the third to come
		{date.On(2031, 11, 20), -15, 3, record.Narrow}, // came on 16 November
		{date.On(2031, 12, 10), 0, 3, record.Narrow},   // nine days ago
		{date.On(2031, 12, 10), 20, 2, record.Wide},    // not before 21 December
		{date.On(2031, 12, 31), 30, 3, record.Narrow},  // on that very day
		{date.On(2032, 4, 30), 0, 3, record.Partial},   // 151 days
		{date.On(2031, 1, 15), 0, 2, record.Narrow},    // 45 days
	} {
		annuli, edge := Accurate(c, 2029, x.day, x.late)
		if annuli != x.annuli || edge != x.edge {
			t.Errorf("on %s, laid %d days late, a reader sees %d annuli and a %s edge, want %d and %s",
				x.day, x.late, annuli, edge, x.annuli, x.edge)
		}
	}
}

// Package age turns a count of annuli, the edge and the day of capture into a
// decimal age, a cohort and an age class.
//
// One reading on one day is Of; a date that stops at the month or the year, and
// several readings of one fish, are Readings; the age that a programme settles on is
// Agree, and Rules does all of it for a fish as it stands in the tables.
package age

import (
	"math"

	"earstone/programme/date"
	"earstone/programme/record"
)

// yearDays is the length of a year in the equations.
const yearDays = 365.25

// Class is an age class: a whole number of years, counted as the Convention says.
type Class int

// NoClass stands where a fish or a reader has no age class.
const NoClass Class = -1

// Known is false for NoClass.
func (c Class) Known() bool { return c >= 0 }

// Convention says how a year class becomes an age class. The zero value is unknown.
type Convention uint8

// The conventions: January counts years since the cohort (every fish becomes a year
// older on 1 January), Birthday counts completed birthdays.
const (
	ConventionUnknown Convention = iota
	January
	Birthday
)

func (c Convention) String() string { return [...]string{"", "january", "birthday"}[c] }

// ParseConvention reads january or birthday; ok is false for all else.
func ParseConvention(text string) (c Convention, ok bool) {
	for _, c := range []Convention{January, Birthday} {
		if text == c.String() {
			return c, true
		}
	}
	return ConventionUnknown, false
}

// Step is the branch of the rule by which a reading became an age.
type Step uint8

// The steps. StepBack: a wide edge just after the formation day, its annulus not laid
// down yet. StepForward: a narrow edge just before the next, its annulus laid down
// early. StepNone: neither. NoAnnulus: none was counted, the birth days decide.
const (
	StepNone Step = iota
	StepBack
	StepForward
	NoAnnulus
)

func (s Step) String() string {
	return [...]string{"none", "step2_back", "step3_forward", "n0"}[s]
}

// Age is what one reading says of a fish on one day.
type Age struct {
	Decimal     float64 // years
	Cohort      int     // year class: the calendar year of birth
	Class       Class
	Step        Step
	Formed      date.Day // formation day F of the last counted annulus; unknown when none was counted
	EdgeUnknown bool     // the edge was not judged, and the day lies within a window where it would decide
}

// Of is the age that annuli completed rings and an edge give a fish caught on a day.
//
// With F the latest formation day on or before capture, w the window in days, a1 the
// age at the first counted annulus and n the count:
//
//	wide edge,   0 ≤ capture − F ≤ w:       F goes back one year
//	narrow edge, 1 ≤ next F − capture ≤ w:  F goes forward one year
//	decimal age = a1 + (n − 1) + (capture − F)/365.25        for n ≥ 1
//	decimal age = (capture − birth day)/365.25               for n = 0
//
// For n = 0 the birth day is the latest that leaves an age below a1 + w/365.25, or the
// earliest such when the edge is wide and capture lies within w days after F. The
// cohort is the year of the birth day nearest to capture − 365.25 · decimal age, a tie
// going to the earlier year. The age class is capture year − cohort (January), less
// one before the birth day of the capture year (Birthday).
//
// A calendar without its days is NoCalendar, one that Contradiction refuses
// BadCalendar, a capture not known to the day NoDate, a negative count NotCounted.
// AnnulusOverdue and NotAnAge come with the age that the reading would have given, so
// that a person can see why it can't be; it is not to be used. An edge left empty
// counts as not judged.
//
// Methods, section 2.
func Of(c record.Calendar, convention Convention, caught date.Day, annuli int, edge record.Edge) (Age, Trouble) {
	switch {
	case !complete(c):
		return Age{Class: NoClass}, NoCalendar
	case Contradiction(c) != nil:
		return Age{Class: NoClass}, BadCalendar
	case caught.Precision() != date.Full:
		return Age{Class: NoClass}, NoDate
	}
	on := day{caught.Serial(), caught.Year()}
	a, formed, trouble := on.age(c, convention, Read{Annuli: annuli, Edge: edge})
	if formed != noDay {
		a.Formed = date.FromSerial(formed)
	}
	return a, trouble
}

// complete tells whether a calendar has the two days without which there is no age.
func complete(c record.Calendar) bool { return c.BirthDay.Known() && c.AnnulusDay.Known() }

// day is a day of capture: its serial number and its calendar year.
type day struct{ serial, year int }

// Oldest is the count above which a reading is taken for a slip of the pen; no fish is
// known to reach it.
const Oldest = 300

// noDay stands for a formation day that there is not.
const noDay = math.MinInt

// age is Of with days as serial numbers, for a calendar that holds.
func (d day) age(c record.Calendar, convention Convention, r Read) (a Age, formed int, trouble Trouble) {
	switch {
	case r.Annuli < 0 && !r.known:
		return Age{Class: NoClass}, noDay, NotCounted
	case r.Annuli > Oldest || r.known && !(r.decimal >= 0 && r.decimal <= Oldest) || d.year <= Oldest+int(c.FirstAnnulusAge)+2:
		return Age{Class: NoClass}, noDay, NotAnAge
	case r.known:
		a.Decimal, formed = r.decimal, noDay
	default:
		a, formed, trouble = d.counted(c, r)
	}
	a.Cohort = d.cohort(c, a.Decimal)
	a.Class = Class(d.year - a.Cohort)
	if convention == Birthday && d.serial < c.BirthDay.In(d.year).Serial() {
		a.Class--
	}
	if a.Class < 0 && trouble == None {
		trouble = NotAnAge
	}
	return a, formed, trouble
}

// counted applies steps 1 to 4 of the rule.
func (d day) counted(c record.Calendar, r Read) (a Age, formed int, trouble Trouble) {
	year := d.year // in which the formation day F falls
	if c.AnnulusDay.In(year).Serial() > d.serial {
		year--
	}
	last, next := c.AnnulusDay.In(year).Serial(), c.AnnulusDay.In(year+1).Serial()
	after := d.serial-last <= c.AnnulusWindowDays
	before := next-d.serial <= c.AnnulusWindowDays
	switch {
	case r.Edge == record.NotJudged || r.Edge == record.EdgeUnknown:
		a.EdgeUnknown = after || before
	case r.Edge == record.Wide && after:
		a.Step, last = StepBack, c.AnnulusDay.In(year-1).Serial()
	case r.Edge == record.Narrow && before:
		a.Step, last = StepForward, next
	}
	if r.Annuli == 0 {
		a.Step = NoAnnulus
		a.Decimal, trouble = d.sinceBirth(c, r.Edge == record.Wide && after)
		return a, noDay, trouble
	}
	a.Decimal = c.FirstAnnulusAge + float64(r.Annuli-1) + float64(d.serial-last)/yearDays
	return a, last, None
}

// sinceBirth is the age of a fish without an annulus. With overdue trouble the
// youngest age stands.
func (d day) sinceBirth(c record.Calendar, earliest bool) (float64, Trouble) {
	year := d.year
	if c.BirthDay.In(year).Serial() > d.serial {
		year--
	}
	bound := c.FirstAnnulusAge + float64(c.AnnulusWindowDays)/yearDays
	age := float64(d.serial-c.BirthDay.In(year).Serial()) / yearDays
	if age >= bound {
		return age, AnnulusOverdue
	}
	for earliest {
		year--
		older := float64(d.serial-c.BirthDay.In(year).Serial()) / yearDays
		if older >= bound {
			break
		}
		age = older
	}
	return age, None
}

// cohort is the year of the birth day nearest to the day of birth that an age gives.
func (d day) cohort(c record.Calendar, decimal float64) int {
	born := float64(d.serial) - float64(decimal*yearDays)
	first := d.year - int(math.Floor(decimal)) - 2
	nearest, least := first, math.Inf(1)
	for year := first; year <= first+3; year++ {
		if gap := math.Abs(float64(c.BirthDay.In(year).Serial()) - born); gap < least {
			nearest, least = year, gap
		}
	}
	return nearest
}

// Package date holds calendar days that may stop at the month or the year.
//
// A card often says "June 2031" or just "2031": that is the precision of the
// date, and nothing finer may be made of it. Days are proleptic Gregorian.
package date

import (
	"fmt"
	"strconv"
)

// A Day is a calendar date known to the day, the month or the year. The zero
// value is unknown. Days are comparable and can be keys of maps.
type Day struct {
	year  int16
	month uint8 // 0: known to the year only
	day   uint8 // 0: known to the month only
}

// Precision says how much of a date is known.
type Precision uint8

// The precisions, coarsest first.
const (
	Unknown Precision = iota
	Year
	Month
	Full
)

// On is the full date year-month-day; it panics when there is no such day.
func On(year, month, day int) Day {
	d := Day{int16(year), uint8(month), uint8(day)}
	if !d.valid() || day == 0 {
		panic(fmt.Sprintf("date: no such day %d-%d-%d", year, month, day))
	}
	return d
}

// Parse reads an ISO 8601 date that may stop at the month or the year: 2031-06-15,
// 2031-06 or 2031. An empty text is the unknown day. ok is false for all else.
func Parse(text string) (d Day, ok bool) {
	switch len(text) {
	case 0:
		return Day{}, true
	case 4, 7, 10:
	default:
		return Day{}, false
	}
	year, okYear := digits(text[:4])
	d.year = int16(year)
	ok = okYear && year >= 1
	if len(text) >= 7 {
		month, okMonth := digits(text[5:7])
		d.month = uint8(month)
		ok = ok && okMonth && text[4] == '-' && month >= 1
	}
	if len(text) == 10 {
		day, okDay := digits(text[8:10])
		d.day = uint8(day)
		ok = ok && okDay && text[7] == '-' && day >= 1
	}
	if !ok || !d.valid() {
		return Day{}, false
	}
	return d, true
}

// String is the ISO 8601 text that Parse reads back; the unknown day is empty.
func (d Day) String() string {
	switch d.Precision() {
	case Full:
		return fmt.Sprintf("%04d-%02d-%02d", d.year, d.month, d.day)
	case Month:
		return fmt.Sprintf("%04d-%02d", d.year, d.month)
	case Year:
		return fmt.Sprintf("%04d", d.year)
	}
	return ""
}

// Precision tells how much of the date is known.
func (d Day) Precision() Precision {
	switch {
	case d.day > 0:
		return Full
	case d.month > 0:
		return Month
	case d.year > 0:
		return Year
	}
	return Unknown
}

// Known is false for the zero value.
func (d Day) Known() bool { return d.year > 0 }

// Year is the calendar year, 0 when unknown.
func (d Day) Year() int { return int(d.year) }

// Month is 1 to 12, or 0 when the month is unknown.
func (d Day) Month() int { return int(d.month) }

// DayOfMonth is 1 to 31, or 0 when the day is unknown.
func (d Day) DayOfMonth() int { return int(d.day) }

// Quarter is 1 to 4, or 0 when the month is unknown.
func (d Day) Quarter() int { return (int(d.month) + 2) / 3 }

// First is the first full day that the date may mean; it panics on an unknown day.
func (d Day) First() Day {
	d.mustKnow()
	return Day{d.year, max(d.month, 1), max(d.day, 1)}
}

// Last is the last full day that the date may mean; it panics on an unknown day.
func (d Day) Last() Day {
	d.mustKnow()
	if d.month == 0 {
		d.month = 12
	}
	if d.day == 0 {
		d.day = uint8(DaysIn(int(d.year), int(d.month)))
	}
	return d
}

// Serial counts days: 0 is 1970-01-01, and the next day is one more. It panics
// unless the date is known to the day.
func (d Day) Serial() int {
	if d.Precision() != Full {
		panic("date: Serial of a date that is not known to the day")
	}
	// Days from civil, with the year beginning in March so that the leap day is its last.
	y, m := int(d.year), int(d.month)
	if m <= 2 {
		y--
		m += 12
	}
	return 365*y + y/4 - y/100 + y/400 + (153*(m-3)+2)/5 + int(d.day) - 719469
}

// FromSerial is the full day of a serial number.
func FromSerial(serial int) Day {
	// Year by year from an estimate that is never late by more than one.
	year := (serial + 719468) * 400 / 146097
	for serial < (Day{int16(year), 1, 1}).Serial() {
		year--
	}
	for serial >= (Day{int16(year + 1), 1, 1}).Serial() {
		year++
	}
	rest, month := serial-(Day{int16(year), 1, 1}).Serial(), 1
	for rest >= DaysIn(year, month) {
		rest -= DaysIn(year, month)
		month++
	}
	return Day{int16(year), uint8(month), uint8(rest + 1)}
}

// Before compares the first days that two known dates may mean.
func (d Day) Before(other Day) bool { return d.First().Serial() < other.First().Serial() }

// DaysIn is the number of days of a month.
func DaysIn(year, month int) int {
	switch month {
	case 4, 6, 9, 11:
		return 30
	case 2:
		if year%4 == 0 && (year%100 != 0 || year%400 == 0) {
			return 29
		}
		return 28
	}
	return 31
}

// An Anniversary is a day that comes every year, such as a birth day. 29 February
// counts as 28 February in common years. The zero value is unknown.
type Anniversary struct{ month, day uint8 }

// ParseAnniversary reads MM-DD. An empty text is unknown; ok is false for all else
// that is not a day of a leap year.
func ParseAnniversary(text string) (a Anniversary, ok bool) {
	if text == "" {
		return Anniversary{}, true
	}
	if len(text) != 5 || text[2] != '-' {
		return Anniversary{}, false
	}
	month, okMonth := digits(text[:2])
	day, okDay := digits(text[3:])
	if !okMonth || !okDay || month < 1 || month > 12 || day < 1 || day > DaysIn(2000, month) {
		return Anniversary{}, false
	}
	return Anniversary{uint8(month), uint8(day)}, true
}

// String is MM-DD, or empty when unknown.
func (a Anniversary) String() string {
	if !a.Known() {
		return ""
	}
	return fmt.Sprintf("%02d-%02d", a.month, a.day)
}

// Known is false for the zero value.
func (a Anniversary) Known() bool { return a.month > 0 }

// In is the day on which the anniversary falls in a year.
func (a Anniversary) In(year int) Day {
	return Day{int16(year), a.month, uint8(min(int(a.day), DaysIn(year, int(a.month))))}
}

func (d Day) valid() bool {
	if d.year < 1 || d.month > 12 {
		return false
	}
	return d.day == 0 || d.month > 0 && int(d.day) <= DaysIn(int(d.year), int(d.month))
}

func (d Day) mustKnow() {
	if !d.Known() {
		panic("date: the day is unknown")
	}
}

func digits(text string) (int, bool) {
	for i := range len(text) {
		if text[i] < '0' || text[i] > '9' {
			return 0, false
		}
	}
	n, err := strconv.Atoi(text)
	return n, err == nil
}

package age

import "earstone/programme/finding"

// Trouble is why a reading gives no age, or a fish has none. The zero value is none.
type Trouble uint8

// The troubles.
const (
	None           Trouble = iota
	NoDate                 // the day of capture is unknown (to Of: not known to the day)
	NoCalendar             // the species has no birth day or no annulus day
	BadCalendar            // the calendar of the species contradicts itself
	NotRead                // no reading that the rule may use
	NotCounted             // a reading without a count
	AnnulusOverdue         // no annulus is impossible on this date
	NotAnAge               // the age would be negative, or beyond any fish
	Unresolved             // the readers disagree and the rule leaves it to a re-reading
)

func (t Trouble) String() string {
	return [...]string{"", "no_date", "no_calendar", "bad_calendar", "not_read", "not_counted",
		"annulus_overdue", "not_an_age", "unresolved"}[t]
}

// kind is the finding that a trouble with one reading or one fish is told as. ok is
// false for troubles that are told otherwise: those with a date or a count that is
// missing are no mistake, those with a calendar belong to the settings, and readers
// who disagree are counted, not reported.
func (t Trouble) kind() (kind finding.Kind, ok bool) {
	switch t {
	case AnnulusOverdue:
		return finding.ImpossibleAnnuli, true
	case NotAnAge:
		return finding.Contradiction, true
	case NoCalendar:
		return finding.NoCalendar, true
	}
	return "", false
}

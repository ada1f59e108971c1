package age

import "strings"

// Flags are what is to be known of a fish's age beside its number.
type Flags uint16

// The flags. Their texts stand in ages.csv.
const (
	EdgeUnknown  Flags = 1 << iota // an edge that would decide was not judged
	PartialDate                    // the date stops at the month or the year
	Known                          // the age is known without a stone
	Controls                       // only control readings were there
	TowardsFirst                   // a tie went towards the reader listed first
	Overdue                        // a reading without an annulus is impossible on the date
	Impossible                     // a reading gives no possible age on the date
	Disagreement                   // unresolved: the fish waits for another reading
	Undated
	Uncalendared
	Miscalendared
	Unread
)

var flagTexts = [...]string{"edge_unknown", "partial_date", "known_age", "controls_only", "lower_reader",
	"annulus_overdue", "not_an_age", "unresolved", "no_date", "no_calendar", "bad_calendar", "not_read"}

// String is the texts of the flags that are up, joined by semicolons.
func (f Flags) String() string {
	var up []string
	for i, text := range flagTexts {
		if f&(1<<i) != 0 {
			up = append(up, text)
		}
	}
	return strings.Join(up, ";")
}

// flag is what a trouble puts up.
func (t Trouble) flag() Flags {
	return [...]Flags{None: 0, NoDate: Undated, NoCalendar: Uncalendared, BadCalendar: Miscalendared, NotRead: Unread,
		NotCounted: Unread, AnnulusOverdue: Overdue, NotAnAge: Impossible, Unresolved: Disagreement}[t]
}

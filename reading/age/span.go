package age

import (
	"slices"

	"earstone/programme/date"
	"earstone/programme/record"
)

// Read is what one reader saw: completed annuli (−1: not counted) and the edge.
type Read struct {
	Annuli int
	Edge   record.Edge

	known   bool // the age is known without a stone: decimal, in years
	decimal float64
}

// Joint is a share of the days on which a fish may have been caught, with what all its
// readings say on them. Ages holds one age a reading, in their order.
type Joint struct {
	Share    float64 // of the days of the span; the shares of a fish sum to 1
	Ages     []Age
	Troubles []Trouble // one a reading; the class of a reading with trouble is NoClass
}

// Readings gives the ages of several readings of one fish for each day on which it
// may have been caught, equal days merged: a full date gives one joint, a date known
// to the month or the year one for each different vector of cohorts and age classes.
//
// The share of a joint is its number of days over the days of the span, counted day
// by day; joints stand in the order of their first day. Age.Decimal is the mean over
// the days of the joint, EdgeUnknown holds if it does on any of them, the other parts
// are those of its first day. The readings go
// together: a fish read as 4 and 5 rings moves from one pair of classes to the next,
// and the pairs, not the single classes, carry the shares.
//
// A day on which a reading can't be (AnnulusOverdue, NotAnAge) keeps its share with
// NoClass for that reading, so that what stays out of keys can be counted. Without a
// date or a calendar that holds there are no joints and a trouble says why.
//
// Methods, section 2, step 5 and "Edge not judged".
func Readings(c record.Calendar, convention Convention, caught date.Day, readings []Read) ([]Joint, Trouble) {
	switch {
	case !complete(c):
		return nil, NoCalendar
	case Contradiction(c) != nil:
		return nil, BadCalendar
	case !caught.Known():
		return nil, NoDate
	}
	return span(c, convention, caught, readings), None
}

// span is Readings for a calendar that holds and a date that is known.
func span(c record.Calendar, convention Convention, caught date.Day, readings []Read) []Joint {
	first, last := caught.First().Serial(), caught.Last().Serial()
	var joints []Joint
	today := Joint{Ages: make([]Age, len(readings)), Troubles: make([]Trouble, len(readings))}
	at := 0 // the joint of the day before, nearly always that of today
	for serial := first; serial <= last; serial++ {
		on := day{serial, caught.Year()}
		for i, r := range readings {
			today.Ages[i], _, today.Troubles[i] = on.age(c, convention, r)
		}
		if at >= len(joints) || !joints[at].same(today) {
			at = slices.IndexFunc(joints, today.same)
		}
		if at < 0 {
			at = len(joints)
			joints = append(joints, begin(c, convention, on, readings))
		} else {
			joints[at].join(today)
		}
	}
	for v := range joints {
		for i := range joints[v].Ages {
			joints[v].Ages[i].Decimal /= joints[v].Share
		}
		joints[v].Share /= float64(last - first + 1)
	}
	return joints
}

// begin is a joint of one day. Its share is 1: a day, until the span is through.
func begin(c record.Calendar, convention Convention, on day, readings []Read) Joint {
	v := Joint{Share: 1, Ages: make([]Age, len(readings)), Troubles: make([]Trouble, len(readings))}
	for i, r := range readings {
		a, formed, trouble := on.age(c, convention, r)
		if formed != noDay {
			a.Formed = date.FromSerial(formed)
		}
		v.Ages[i], v.Troubles[i] = a, trouble
	}
	return v
}

// join adds one more day to a joint.
func (v *Joint) join(today Joint) {
	v.Share++
	for i, a := range today.Ages {
		v.Ages[i].Decimal += a.Decimal
		v.Ages[i].EdgeUnknown = v.Ages[i].EdgeUnknown || a.EdgeUnknown
	}
}

// same tells whether two days are one joint: equal classes, cohorts and troubles.
func (v Joint) same(other Joint) bool {
	for i, a := range v.Ages {
		b := other.Ages[i]
		if a.Class != b.Class || a.Cohort != b.Cohort || v.Troubles[i] != other.Troubles[i] {
			return false
		}
	}
	return true
}

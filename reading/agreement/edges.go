package agreement

import (
	"earstone/programme/date"
	"earstone/programme/record"
	"earstone/statistics/dist"
)

// Seen is the edge of one fish and the month in which it was caught.
type Seen struct {
	Month int // 1 to 12
	Edge  record.Edge
}

// EdgeShare is the share of one edge class among the fish of one month.
type EdgeShare struct {
	Month            int
	Edge             record.Edge
	N, Of            int // fish with this edge, fish with any edge
	Share, Low, High float64
}

// edgeClasses are the edges that are shared out.
var edgeClasses = [...]record.Edge{record.Narrow, record.Partial, record.Wide}

// Edges are the shares of the three edge classes in each month with fish, with Wilson
// intervals of 95 %, by month and then narrow, partial, wide. A month without fish has
// no rows.
func Edges(seen []Seen) (shares []EdgeShare) {
	var n [13][5]int
	var of [13]int
	for _, s := range seen {
		n[s.Month][s.Edge]++
		of[s.Month]++
	}
	for month := 1; month <= 12; month++ {
		for _, e := range edgeClasses {
			if of[month] > 0 {
				k, all := float64(n[month][e]), float64(of[month])
				low, high := dist.Wilson(k, all, level)
				shares = append(shares, EdgeShare{month, e, n[month][e], of[month], k / all, low, high})
			}
		}
	}
	return shares
}

// CalendarWarning says that narrow edges appear where the calendar does not expect
// them. The zero value warns of nothing.
type CalendarWarning struct {
	Given    bool
	Declared date.Anniversary // annulus day
	Month    int              // in which narrow edges are commonest, outside the months expected
	Seen     EdgeShare        // narrow edges in that month
	Expected EdgeShare        // the expected month in which most narrow edges could be
}

const (
	// leastFish is the number of fish below which a month says nothing of a calendar.
	leastFish = 10
	// narrowDays is how long an edge is expected to stay narrow after its annulus.
	narrowDays = 90
)

// CheckCalendar holds the months of narrow edges against the declared annulus day.
//
// An edge is narrow from the time the annulus is complete until enough has grown for
// it to be partial: with the annulus day f and its window of w days, narrow edges are
// expected from f − w to f + w + 90 days, and in every month that holds one of these
// days. A month speaks when at least 10 of its fish have a judged edge. The warning is
// given when in some month outside the expected ones the lower limit of the share of
// narrow edges lies above the upper limit of that share in every expected month that
// speaks, of which there must be one. Limits are 95 % Wilson intervals as in shares.
//
// The rule is made to be silent when in doubt: two limits that do not touch are
// stronger evidence than a test at 5 %, an annulus day that is off by no more than the
// window and a season is not told, and a fishery of one season gives none. It asks
// where edges are narrow and not where the mean of them lies, because the months in
// which nobody fishes would draw that mean away.
//
// Methods, section 3, "edges"; the numbers 90 and 10 are ours.
func CheckCalendar(c record.Calendar, shares []EdgeShare) CalendarWarning {
	if !c.AnnulusDay.Known() {
		return CalendarWarning{}
	}
	expected := expectedMonths(c)
	var best, other EdgeShare // the highest upper limit expected, the highest lower limit elsewhere
	for _, s := range shares {
		switch {
		case s.Edge != record.Narrow || s.Of < leastFish:
		case expected[s.Month] && s.High > best.High:
			best = s
		case !expected[s.Month] && s.Low > other.Low:
			other = s
		}
	}
	if best.Of == 0 || other.Low <= best.High {
		return CalendarWarning{}
	}
	return CalendarWarning{true, c.AnnulusDay, other.Month, other, best}
}

// expectedMonths are those that hold a day on which narrow edges are expected.
func expectedMonths(c record.Calendar) (months [13]bool) {
	f := c.AnnulusDay.In(2031).Serial()
	last := min(f+c.AnnulusWindowDays+narrowDays, f-c.AnnulusWindowDays+366)
	for serial := f - c.AnnulusWindowDays; serial <= last; serial++ {
		months[date.FromSerial(serial).Month()] = true
	}
	return months
}

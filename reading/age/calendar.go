package age

import (
	"fmt"
	"math"
	"slices"

	"earstone/programme/record"
)

// Contradiction holds a calendar against itself and is nil where it holds. Otherwise
// it gives the facts of finding.BadCalendar: what is said, and what it contradicts.
//
// The age a1 at the first counted annulus must be a whole number of years, none
// included, plus the time from the birth day to the formation day, within the window
// of w days. A day is granted on top of w, because a year is no whole number of days:
// 0.5 years is 182.625 days, and from 1 June to 30 November it is 182. A window must
// be 0 to 182 days: wider ones overlap, and an edge within both would mean two things.
// a1 must be a number from 0 to 100.
//
// A calendar that lacks its birth day or annulus day contradicts nothing; Of says
// NoCalendar of it. Methods, section 2.
func Contradiction(c record.Calendar) []string {
	a1, w := c.FirstAnnulusAge, c.AnnulusWindowDays
	switch {
	case w < 0 || w > 182:
		return []string{fmt.Sprintf("annulus_window_days=%d", w), "0..182"}
	case !(a1 >= 0 && a1 <= 100):
		return []string{fmt.Sprintf("first_annulus_age=%v", a1), "0..100"}
	case !complete(c):
		return nil
	}
	fits := fitting(c)
	apart := func(fit float64) bool { return math.Abs(a1-fit)*yearDays <= float64(w)+1 }
	if slices.ContainsFunc(fits, apart) {
		return nil
	}
	against := fmt.Sprintf("birth_day=%s annulus_day=%s annulus_window_days=%d first_annulus_age=%.2f",
		c.BirthDay, c.AnnulusDay, w, nearest(fits, a1))
	return []string{fmt.Sprintf("first_annulus_age=%v", a1), against}
}

// fitting are the ages at a first annulus near the one declared that the two days of
// a calendar allow; never below 0 by more than the window forgives.
func fitting(c record.Calendar) []float64 {
	// Any common year serves: a leap day is within the day that Contradiction grants.
	days := c.AnnulusDay.In(2031).Serial() - c.BirthDay.In(2031).Serial()
	fraction := float64(days) / yearDays // −1 to 1
	var fits []float64
	for whole := math.Floor(c.FirstAnnulusAge) - 1; whole <= math.Floor(c.FirstAnnulusAge)+2; whole++ {
		fits = append(fits, whole+fraction)
	}
	return fits
}

// nearest is the fit nearest to a1 that is not negative.
func nearest(fits []float64, a1 float64) float64 {
	best := math.Inf(1)
	for _, fit := range fits {
		if fit >= 0 && math.Abs(fit-a1) < math.Abs(best-a1) {
			best = fit
		}
	}
	return best
}

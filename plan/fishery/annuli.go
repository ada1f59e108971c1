package fishery

import (
	"earstone/programme/date"
	"earstone/programme/record"
)

// Accurate is what a reader who sees everything writes down for a fish of a cohort:
// the annuli that are laid and how much has grown outside the last. late is by how many
// days after the annulus day this fish lays its annuli; early is negative, and no fish
// is out by more than the window.
//
// It is the inverse of methods, section 2. Inside a window the edge tells whether the
// annulus due is already laid: wide after the annulus day says not yet, narrow before
// it says already, and any other edge that the annulus day holds. Elsewhere the edge is
// that of the days since the last annulus, or since birth: narrow in the first
// quarter of a year, wide from seven tenths on.
//
// One fish is not given back: it has passed a birth day since its own, its first
// annulus is still to come, and nothing tells it from a fish born on that day. A
// calendar whose first annulus forms before the first birthday knows no such fish.
//
// Panics when the fish is not born by then, or late lies outside the window.
func Accurate(c record.Calendar, cohort int, caught date.Day, late int) (annuli int, edge record.Edge) {
	birth := c.BirthDay.In(cohort).Serial()
	day, window := caught.Serial(), c.AnnulusWindowDays
	if day < birth || late > window || late < -window {
		panic("fishery: a fish is caught after its birth, and lays its annuli within the window")
	}
	first := firstAnnulusYear(c, cohort)
	due, last := 0, birth
	for year := first; c.AnnulusDay.In(year).Serial()-window <= day; year++ {
		annulus := c.AnnulusDay.In(year).Serial()
		if annulus <= day {
			due++
		}
		if annulus+late <= day {
			annuli++
			last = annulus + late
		}
	}
	switch {
	case annuli < due:
		return annuli, record.Wide
	case annuli > due:
		return annuli, record.Narrow
	}
	edge = grown(day - last)
	after, before := nearest(c, day)
	if after <= window && edge == record.Wide {
		edge = record.Partial
	}
	if before <= window && edge == record.Narrow {
		edge = record.Partial
	}
	return annuli, edge
}

// firstAnnulusYear is the year of the annulus day nearest to birth and the age at the
// first annulus.
func firstAnnulusYear(c record.Calendar, cohort int) int {
	aim := float64(c.BirthDay.In(cohort).Serial()) + c.FirstAnnulusAge*365.25
	year := date.FromSerial(int(aim)).Year()
	best := year
	for _, other := range []int{year - 1, year + 1} {
		if distance(c, other, aim) < distance(c, best, aim) {
			best = other
		}
	}
	return best
}

func distance(c record.Calendar, year int, aim float64) float64 {
	d := float64(c.AnnulusDay.In(year).Serial()) - aim
	return max(d, -d)
}

// nearest is the days since the latest annulus day, and those to the next.
func nearest(c record.Calendar, day int) (after, before int) {
	year := date.FromSerial(day).Year()
	next := c.AnnulusDay.In(year).Serial()
	if next <= day {
		next = c.AnnulusDay.In(year + 1).Serial()
		return day - c.AnnulusDay.In(year).Serial(), next - day
	}
	return day - c.AnnulusDay.In(year-1).Serial(), next - day
}

// grown is the edge of so many days since the last annulus.
func grown(days int) record.Edge {
	switch {
	case days < 91:
		return record.Narrow
	case days < 256:
		return record.Partial
	}
	return record.Wide
}

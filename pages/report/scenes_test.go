package report

import (
	"slices"
	"testing"

	"earstone/estimate/run"
	"earstone/plan/fishery"
	"earstone/programme/date"
	"earstone/programme/finding"
	"earstone/programme/record"
)

// inventThin is a programme of three years that has all that can be told: strata with one
// trip and with none, fish that wait, a wrong calendar, a reader who drifts, a species
// of which nothing was caught and one whose fish were never read.
func inventThin(t testing.TB) (*run.Outcome, About) {
	t.Helper()
	settings, err := fishery.Sized("season")
	if err != nil {
		t.Fatal(err)
	}
	settings.Years, settings.Trips, settings.Lengths, settings.Aged, settings.Readings = 3, 500, 30_000, 1_200, 2_700
	settings.UnsampledShare, settings.OneTripShare, settings.FewestTrips = 0.15, 0.15, 2
	settings.MixedKinds, settings.PartialDates = 0.1, 0.02
	o, about := invented(t, settings, 40, func(book *record.Book) {
		book.Settings.Species = append(slices.Clone(book.Settings.Species), "ALB", "YFT")
		book.Fish = append(book.Fish, record.Fish{Fish: "QB-1", Species: "YFT", CaughtOn: date.On(2031, 5, 1)})
		calendar := book.Settings.Calendars["BFT"]
		calendar.AnnulusDay, _ = date.ParseAnniversary("06-01")
		calendar.BirthDay, _ = date.ParseAnniversary("12-01")
		book.Settings.Calendars = map[record.Species]record.Calendar{"BFT": calendar}
		book.Settings.Key.Form = "direct"
		addControls(book)
	})
	o.Found.Add(finding.Implausible, finding.Place{File: "fish.csv", Row: 12, Column: "weight"}, "3", "length", "5.1")
	o.Found.Add(finding.Implausible, finding.Place{File: "fish.csv", Row: 19, Column: "weight"}, "900", "length", "7.2")
	return o, about
}

// addControls lets the first reader read 60 fish again, one ring more each time after
// the fortieth.
func addControls(book *record.Book) {
	reader, added := book.Readings[0].Reader, 0
	for _, r := range slices.Clone(book.Readings) {
		if r.Reader != reader || added == 60 {
			continue
		}
		r.Control, r.ReadAt = record.Yes, date.FromSerial(date.On(2034, 6, 1).Serial()+added)
		r.Reading += "-again"
		if added >= 40 {
			r.Annuli++
		}
		added++
		book.Readings = append(book.Readings, r)
	}
}

// decadeOne has the years and strata of a decade, and fewer fish.
func decadeOne(t testing.TB) (*run.Outcome, About) {
	t.Helper()
	settings, err := fishery.Sized("decade")
	if err != nil {
		t.Fatal(err)
	}
	settings.Trips, settings.Lengths, settings.Aged, settings.Readings = 1_800, 40_000, 3_000, 6_500
	settings.FewestTrips = 2
	return invented(t, settings, 20, func(book *record.Book) { book.Settings.Key = record.KeySettings{Form: "direct", LeastFish: 5} }, run.Agreement, run.Catch)
}

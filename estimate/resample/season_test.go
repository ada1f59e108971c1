package resample

import (
	"math"
	"slices"
	"testing"

	"earstone/estimate/catch"
	"earstone/estimate/key"
	"earstone/estimate/tally"
	"earstone/plan/fishery"
	"earstone/programme/record"
	"earstone/programme/strata"
	"earstone/reading/age"
	"earstone/reading/ageerror"
)

// fixed is a key that no draw moves.
type fixed struct{ q []float64 }

func (k fixed) Fit(q []float64, from []key.Source, _ []float64, _ [][]float64) key.Told {
	copy(q, k.q)
	clear(from)
	return key.Told{Converged: true}
}

func (k fixed) Used(n []float64)  { clear(n) }
func (k fixed) Cells(ids []int32) { clear(ids) }

// byHand is a season of 2031 in two strata with a fixed key: 800 fish of four trips, 500
// of three, all trips of a stratum landing alike, so that the catch at age is linear in
// how often a trip is drawn. The first bin is of age 1, the last of age 2, the middle half
// and half.
func byHand() Problem {
	c := &tally.Counts{Columns: strata.Year | strata.Area, CV: []float64{0, 0}}
	d := &c.Design
	d.Bins, d.Ages, d.KeyStrata, d.Mid = 3, 3, 1, []float64{55, 65, 75}
	d.Lengths = []float64{
		1, 0, 0,
		0.5, 0.5, 0,
		0.25, 0.25, 0.5,
		0, 0, 1,
		0.2, 0.8, 0,
		0, 0.5, 0.5,
		0.6, 0.2, 0.2,
	}
	areas := []string{"Quarrow", "Quarrow", "Quarrow", "Quarrow", "Skell", "Skell", "Skell"}
	for t, area := range areas {
		group := 0
		if area == "Skell" {
			group = 1
		}
		c.Trips = append(c.Trips, tally.Trip{ID: record.TripID(rune('A' + t)), Cell: strata.Cell{Year: 2031, Area: area}, Stratum: group, Measured: 20})
		d.Trips = append(d.Trips, catch.Trip{Landed: 1, High: 3, Group: group})
	}
	d.Strata = []catch.Stratum{{Number: 800, Trips: []int32{0, 1, 2, 3}}, {Number: 500, Trips: []int32{4, 5, 6}}}
	d.Margins = []catch.Margin{{Strata: []int32{0, 1}}}
	q := []float64{0, 1, 0, 0, 0.5, 0.5, 0, 0, 1}
	return Problem{Counts: c, Worker: func() key.Worker { return fixed{q} }, Replicates: 200, Seed: 11, Workers: 1}
}

func (p Problem) key() []float64 { return p.Worker().(fixed).q }

// season is an invented season under a form of key.
type season struct {
	counts  *tally.Counts
	readers *ageerror.Fit
}

// straight measures straight fork length in cm and converts curved with an SD of 1.2 cm.
type straight struct{}

func (straight) Length(_ record.Species, l record.Length, _ record.LengthBin) (x, sd float64, ok bool) {
	if l.Kind == record.CurvedFork {
		return 1.5 + 0.945*l.Value.X, 1.2, l.Value.Known
	}
	return l.Value.X, 0, l.Value.Known
}

func (straight) Weight(_ record.Species, cm float64, _ record.LengthBin) (float64, bool) {
	return 2e-5 * cm * cm * cm, true
}

// invent makes a season of a size with all that can be drawn: converted lengths, partial
// dates, stones without a trip, strata with one trip, totals with a CV.
func invent(t testing.TB, size string) season {
	t.Helper()
	settings, err := fishery.Sized(size)
	if err != nil {
		t.Fatal(err)
	}
	settings.MixedKinds, settings.PartialDates, settings.StonesWithoutTrip = 0.2, 0.1, 0.1
	settings.OneTripShare = 0.1
	source := fishery.Invent(settings, 5)
	book, err := source.Book()
	if err != nil {
		t.Fatal(err)
	}
	for i := range book.Catches {
		book.Catches[i].CV = record.Some(0.1)
	}
	rules, _ := age.NewRules(book.Settings, book.Readings)
	aged := map[record.Species][]tally.AgedFish{}
	data := ageerror.Data{Readers: len(rules.Readers), First: 1}
	for i, result := range rules.Each(book.Fish, book.Readings, nil) {
		fish := tally.AgedFish{Fish: &book.Fish[i]}
		for _, v := range result.Variants {
			var classes []int16
			for _, class := range v.Classes {
				classes = append(classes, int16(max(class, -1)))
				data.Oldest = max(data.Oldest, int(class))
			}
			fish.Variants = append(fish.Variants, tally.Variant{Share: v.Share, Class: int(max(v.Class, -1)), Classes: classes})
			data.Patterns = append(data.Patterns, ageerror.Pattern{Counts: classes, N: v.Share, Known: -1})
		}
		if fish.Variants != nil {
			aged[fish.Fish.Species] = append(aged[fish.Fish.Species], fish)
		}
	}
	data.Ages = data.Oldest
	fit, err := ageerror.Estimate(data, ageerror.Settings{})
	if err != nil {
		t.Fatal(err)
	}
	all, err := tally.Build(source, book, aged, rules.Readers, straight{})
	if err != nil {
		t.Fatal(err)
	}
	s := season{all[0], &fit}
	ladder, _ := strata.ParseLadder(book.Settings.Ladders.Lengths)
	p := s.problem(t, "agreed direct")
	row, q, from := s.blank()
	Point(p, row, q, from)
	s.counts.Design.Singles(q, func(one int) []int { return s.counts.Donors(one, ladder) })
	if len(s.counts.Spread) == 0 || !slices.ContainsFunc(s.counts.Loose, func(l []tally.Stone) bool { return len(l) > 1 }) ||
		!slices.ContainsFunc(s.counts.Design.Strata, func(one catch.Stratum) bool { return one.Relative != nil }) {
		t.Fatal("the season lacks converted lengths, stones without a trip or strata with one trip")
	}
	return s
}

func (s season) blank() (row, q []float64, from []key.Source) {
	d := &s.counts.Design
	return make([]float64, d.Size()), make([]float64, d.KeyStrata*d.Bins*d.Ages), make([]key.Source, d.KeyStrata*d.Bins)
}

var forms = []string{"agreed direct", "agreed smoothed", "true direct", "true smoothed"}

// problem is the season under a form of key.
func (s season) problem(t testing.TB, form string) Problem {
	t.Helper()
	var readers [][]float64
	p := Problem{Counts: s.counts, Replicates: 24, Seed: 3}
	if form == "true direct" || form == "true smoothed" {
		p.Readers = s.readers
		for r := range s.readers.Models {
			readers = append(readers, s.readers.MatrixOf(r, s.counts.Design.Ages))
		}
	}
	if testing.Short() {
		p.Replicates = 10
	}
	sample := s.counts.Key
	make := map[string]func() (key.Worker, error){
		"agreed direct":   func() (key.Worker, error) { return key.NewDirect(sample, key.Borrowing{}) },
		"agreed smoothed": func() (key.Worker, error) { return key.NewSmooth(sample, key.Smoothing{}) },
		"true direct":     func() (key.Worker, error) { return key.NewTrue(sample, readers, key.Borrowing{}) },
		"true smoothed":   func() (key.Worker, error) { return key.NewTrueSmooth(sample, readers, key.Smoothing{}) },
	}[form]
	if _, err := make(); err != nil {
		t.Fatalf("%s key: %v", form, err)
	}
	p.Worker = func() key.Worker {
		w, _ := make() // it could be made once, so it can be made again
		return w
	}
	return p
}

// moments of column j of the replicates.
func (d *Drawn) moments(j int) (mean, variance float64) {
	column := make([]float64, d.Replicates)
	d.Column(column, j)
	return moments(column)
}

func moments(x []float64) (mean, variance float64) {
	for _, v := range x {
		mean += (v - x[0]) / float64(len(x)) // so that what does not move has no variance
	}
	for _, v := range x {
		variance += (v - x[0] - mean) * (v - x[0] - mean) / float64(len(x)-1)
	}
	return x[0] + mean, variance
}

// near tells whether a variance of replicates is the one wanted within five Monte Carlo
// errors, those of a normal's variance widened for heavier tails.
func near(got, want float64, replicates int) bool {
	return math.Abs(got-want) <= 5*want*math.Sqrt(4/float64(replicates))
}

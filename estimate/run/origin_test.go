package run_test

import (
	"context"
	"errors"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"earstone/estimate/origin"
	"earstone/estimate/run"
	"earstone/plan/fishery"
	"earstone/programme/finding"
	"earstone/programme/record"
	"earstone/programme/result"
)

// altered is an invented season whose records somebody has been at.
type altered struct {
	*fishery.Season
	book *record.Book
}

func (a altered) Book() (*record.Book, error) { return a.book, nil }

// assayed is a small invented season with its book, to be altered.
func assayed(t *testing.T, change func(*fishery.Settings)) altered {
	t.Helper()
	settings, err := fishery.Sized("small")
	if err != nil {
		t.Fatal(err)
	}
	if change != nil {
		change(&settings)
	}
	season := fishery.Invent(settings, 5)
	book, err := season.Book()
	if err != nil {
		t.Fatal(err)
	}
	return altered{season, book}
}

func (a altered) estimate(t *testing.T) *run.Outcome {
	t.Helper()
	outcome, err := run.Run(context.Background(), a, straight{}, run.Options{Only: []run.Part{run.Mortality, run.Origin},
		Replicates: 40, Seed: 3, Workers: 1, Key: run.AgreedDirect})
	if err != nil {
		t.Fatal(err)
	}
	return outcome
}

// each calls f for the assays of the fish that of takes in.
func (a altered) each(of func(record.FishID) bool, f func(i int, assay *record.Assay)) {
	for i := range a.book.Assays {
		if of(a.book.Assays[i].Fish) {
			f(i, &a.book.Assays[i])
		}
	}
}

func (a altered) known(id record.FishID) bool {
	return slices.ContainsFunc(a.book.Baseline, func(b record.Baseline) bool { return b.Fish == id })
}

func (a altered) caught(id record.FishID) bool { return !a.known(id) }

// finite fails where any cell of any table is no number that claims to be one.
func finite(t *testing.T, o *run.Outcome) {
	t.Helper()
	for _, table := range o.Tables() {
		for _, e := range table.Estimate {
			for _, n := range []record.Number{e.Value, e.SE, e.Low, e.High, e.Filled} {
				if n.Known && (math.IsNaN(n.X) || math.IsInf(n.X, 0)) {
					t.Fatalf("%s.csv holds %v of %v", table.Name, n.X, e.ID)
				}
			}
			sound(t, table.Name, slices.Concat(e.ID, e.Further))
		}
	}
	for _, plain := range o.Plains() {
		for _, row := range plain.Rows {
			sound(t, plain.Name, row)
		}
	}
}

func sound(t *testing.T, table string, cells []string) {
	t.Helper()
	for _, cell := range cells {
		if x, err := strconv.ParseFloat(cell, 64); err == nil && (math.IsNaN(x) || math.IsInf(x, 0)) {
			t.Fatalf("%s.csv holds %s in %q", table, cell, cells)
		}
	}
}

// TestAwkwardChemistry: what can't be had is told in words, what can is a number.
func TestAwkwardChemistry(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*fishery.Settings)
		alter  func(altered)
		reason origin.Reason // why there is no nursery of origin; 0: there is one
		doubt  origin.Reason // told beside the answer
		found  finding.Kind
	}{
		{name: "as it was sampled"},
		{name: "a tracer that is the sum of others", reason: origin.Collinear, alter: func(a altered) {
			for i := 0; i+1 < len(a.book.Assays); i++ {
				if one, two := a.book.Assays[i], a.book.Assays[i+1]; one.Fish == two.Fish && one.Tracer == "d13C" {
					one.Tracer, one.Value.X = "sum", one.Value.X+two.Value.X
					a.book.Assays = append(a.book.Assays, one)
				}
			}
		}},
		{name: "a tracer that never varies", reason: origin.Constant, alter: func(a altered) {
			a.each(a.known, func(_ int, assay *record.Assay) {
				if assay.Tracer == "d13C" {
					assay.Value.X = -8.5
				}
			})
		}},
		{name: "one fish a class", reason: origin.TooFewFish, alter: func(a altered) {
			seen := map[string]bool{}
			a.book.Baseline = slices.DeleteFunc(a.book.Baseline, func(b record.Baseline) bool {
				was := seen[b.Nursery]
				seen[b.Nursery] = true
				return was
			})
		}},
		{name: "one fish a nursery and year class", alter: func(a altered) {
			seen := map[string]bool{}
			a.book.Baseline = slices.DeleteFunc(a.book.Baseline, func(b record.Baseline) bool {
				key := b.Nursery + strconv.Itoa(b.YearClass)
				was := seen[key]
				seen[key] = true
				return was
			})
		}, reason: origin.TooFewFish},
		{name: "a tracer missing for half of the catch", doubt: origin.MixedLacks, alter: func(a altered) {
			a.each(a.caught, func(i int, assay *record.Assay) {
				if assay.Tracer == "d18O" && i%4 == 1 {
					assay.Value = record.Number{}
				}
			})
		}},
		{name: "a baseline fish in another unit", reason: origin.UnitMistake, alter: func(a altered) {
			id := a.book.Baseline[3].Fish
			a.each(func(f record.FishID) bool { return f == id }, func(_ int, assay *record.Assay) { assay.Value.X *= 1000 })
		}},
		{name: "fish of the catch in another unit", doubt: origin.UnitMistake, alter: func(a altered) {
			a.each(a.caught, func(i int, assay *record.Assay) {
				if i%10 == 0 {
					assay.Value.X *= 1000
				}
			})
		}},
		{name: "a nursery that the baseline lacks", found: finding.OutsideBaseline, change: func(s *fishery.Settings) {
			far := s.Nurseries[1]
			far.Name, far.Mean, far.Baseline = "Outer", [fishery.Tracers]float64{-6, 2}, 0
			s.Nurseries = append(s.Nurseries, far)
			s.Nurseries[0].Share, s.Nurseries[1].Share, s.Nurseries[2].Share = 0.5, 0.3, 0.2
		}},
		{name: "every fish of the catch outside", found: finding.OutsideBaseline, doubt: origin.NothingMixed, alter: func(a altered) {
			a.each(a.caught, func(_ int, assay *record.Assay) { assay.Value.X += 50 })
		}},
		{name: "a single nursery", reason: origin.OneNursery, alter: func(a altered) {
			for i := range a.book.Baseline {
				a.book.Baseline[i].Nursery = "Upper"
			}
		}},
		{name: "an assay run that is off", found: finding.RunHeldOut, alter: func(a altered) {
			for i := range a.book.Standards {
				if a.book.Standards[i].Run == a.book.Standards[0].Run {
					a.book.Standards[i].Value.X += 3
				}
			}
		}},
		{name: "no assay of the catch", doubt: origin.NothingMixed, alter: func(a altered) {
			a.book.Assays = slices.DeleteFunc(a.book.Assays, func(assay record.Assay) bool { return a.caught(assay.Fish) })
		}},
		{name: "a single assayed fish", alter: func(a altered) {
			kept := record.FishID("")
			a.book.Assays = slices.DeleteFunc(a.book.Assays, func(assay record.Assay) bool {
				if kept == "" && a.caught(assay.Fish) {
					kept = assay.Fish
				}
				return a.caught(assay.Fish) && assay.Fish != kept
			})
		}},
		{name: "no catch", alter: func(a altered) { a.book.Catches = nil }},
		{name: "no readings", alter: func(a altered) { a.book.Readings = nil }},
		{name: "no assay at all", reason: origin.NoTracers, alter: func(a altered) { a.book.Assays = nil }},
		{name: "year classes unknown", alter: func(a altered) {
			for i := range a.book.Baseline {
				a.book.Baseline[i].YearClass = 0
			}
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := assayed(t, c.change)
			if c.alter != nil {
				c.alter(a)
			}
			o := a.estimate(t)
			finite(t, o)
			s := o.Species[0]
			var trouble *origin.Trouble
			switch {
			case c.reason != 0 && (!errors.As(s.NoOrigin, &trouble) || trouble.Reason != c.reason):
				t.Errorf("there is no nursery of origin because: %v; want %v", s.NoOrigin, c.reason)
			case c.reason == 0 && s.Origin == nil:
				t.Fatalf("there is no nursery of origin: %v", s.NoOrigin)
			}
			if c.doubt != 0 && !slices.ContainsFunc(s.Origin.Fit.Doubts, func(d origin.Doubt) bool { return d.Reason == c.doubt }) {
				t.Errorf("the doubts are %v, want one that %v", s.Origin.Fit.Doubts, c.doubt)
			}
			if told := slices.ContainsFunc(o.Found.All(), func(f finding.Finding) bool { return f.Kind == c.found }); c.found != "" && !told {
				t.Errorf("no finding tells %s", c.found)
			}
		})
	}
}

// TestNurseriesAddUp: rows of an age add up to the number at age, shares to 1, whatever
// the place.
func TestNurseriesAddUp(t *testing.T) {
	o := assayed(t, nil).estimate(t)
	s := o.Species[0]
	for _, pair := range []struct {
		catch   []run.Place
		nursery []run.NurseryPlace
	}{{s.Catch.Years, s.Origin.Years}, {s.Catch.Sums, s.Origin.Sums}, {s.Catch.Strata, s.Origin.Strata}} {
		if len(pair.catch) == 0 || len(pair.catch) != len(pair.nursery) {
			t.Fatalf("%d places of the catch at age, %d by nursery", len(pair.catch), len(pair.nursery))
		}
		for i, place := range pair.nursery {
			if place.Cell != pair.catch[i].Cell {
				t.Fatalf("place %d is %v by nursery and %v by age", i, place.Cell, pair.catch[i].Cell)
			}
			all := 0.0
			for a, want := range pair.catch[i].Number {
				all += want.Value.X
				if got := sumOf(place.Number[a]); math.Abs(got-want.Value.X) > 1e-9*(1+want.Value.X) {
					t.Errorf("%v: nurseries of age %d add up to %v fish, want %v", place.Cell, a, got, want.Value.X)
				}
				if place.Share != nil && want.Value.X > 0 && math.Abs(sumOf(place.Share[a])-1) > 1e-9 {
					t.Errorf("%v: shares of age %d add up to %v", place.Cell, a, sumOf(place.Share[a]))
				}
			}
			if got := sumOf(place.Number[len(place.Number)-1]); math.Abs(got-all) > 1e-9*(1+all) {
				t.Errorf("%v: all ages by nursery are %v fish, want %v", place.Cell, got, all)
			}
			for a, row := range place.Number {
				for c, e := range row {
					if e.Low.Known && (e.Low.X > e.Value.X+1e-9*e.Value.X || e.High.X < e.Value.X-1e-9*e.Value.X) {
						t.Errorf("%v: age row %d, column %d: %v lies outside its own interval %v to %v", place.Cell, a, c, e.Value.X, e.Low.X, e.High.X)
					}
				}
			}
		}
	}
}

func sumOf(row []run.Estimate) (sum float64) {
	for _, e := range row {
		sum += e.Value.X
	}
	return sum
}

// TestScalesAreTurned: δ18O given on VSMOW is the same δ18O.
func TestScalesAreTurned(t *testing.T) {
	vpdb, vsmow := assayed(t, nil), assayed(t, nil)
	for i := range vsmow.book.Assays {
		if a := &vsmow.book.Assays[i]; a.Tracer == "d18O" {
			a.Value.X, a.Scale = origin.ToVSMOW(a.Value.X), "VSMOW"
		}
	}
	one, two := vpdb.estimate(t).Species[0].Origin, vsmow.estimate(t).Species[0].Origin
	for k, share := range one.Fit.Composition.Share {
		// The printed coefficients turn there and back to 0.01 ‰, a thirtieth of the spread.
		if got := two.Fit.Composition.Share[k]; math.Abs(got-share) > 0.02 {
			t.Errorf("%s has %.4f of the catch on VPDB and %.4f on VSMOW", one.Nurseries[k], share, got)
		}
	}
}

// TestWorkersChangeNoNursery: the same tables to the last bit.
func TestWorkersChangeNoNursery(t *testing.T) {
	var tables [2]string
	for i, workers := range []int{1, 3} {
		o, err := run.Run(context.Background(), assayed(t, nil), straight{}, run.Options{Only: []run.Part{run.Origin}, Replicates: 40, Seed: 3, Workers: workers, Key: run.AgreedDirect})
		if err != nil {
			t.Fatal(err)
		}
		tables[i] = textOf(o.Tables())
	}
	if tables[0] != tables[1] {
		t.Error("three workers give other tables than one")
	}
}

func textOf(tables []result.Table) string {
	var b strings.Builder
	for _, table := range tables {
		for _, e := range table.Estimate {
			b.WriteString(strings.Join(e.ID, ","))
			for _, n := range []record.Number{e.Value, e.SE, e.Low, e.High} {
				b.WriteString(" " + strconv.FormatFloat(n.X, 'g', -1, 64))
			}
			b.WriteByte('\n')
		}
	}
	return b.String()
}

// TestYearClassesMeetInTheirYears: of two years the first stands a step further along the
// walk, so that one year class has one share; and the two are compared.
func TestYearClassesMeetInTheirYears(t *testing.T) {
	o := assayed(t, func(s *fishery.Settings) {
		s.Years, s.Trips, s.Lengths, s.Aged, s.Readings = 2, 120, 12_000, 1_200, 2_800
	}).estimate(t)
	found := o.Species[0].Origin
	if found == nil || found.Groups == nil {
		t.Fatalf("there is no composition by place and age: %v", o.Species[0].NoOrigin)
	}
	last := int(found.Places[len(found.Places)-1].Year)
	for g, place := range found.Places {
		if want := last - int(place.Year); found.Groups.Shift[g] != want {
			t.Errorf("%v stands %d steps along the walk, want %d", place, found.Groups.Shift[g], want)
		}
	}
	// Years against each other, and the two areas of each year; quarters and gears are not.
	if len(found.Changes) != 3 {
		t.Errorf("%d changes of the composition, want 3", len(found.Changes))
	}
	for _, c := range found.Changes {
		if len(c.Shares) != len(found.Nurseries) || !c.Compared {
			t.Errorf("between %v and %v %d shares are compared, as a whole: %v", c.A, c.B, len(c.Shares), c.Compared)
		}
	}
}

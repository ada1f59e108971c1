package run_test

import (
	"context"
	"math"
	"reflect"
	"strconv"
	"testing"

	"earstone/estimate/run"
	"earstone/programme/date"
	"earstone/programme/finding"
	"earstone/programme/record"
)

// written is a programme written down in a test.
type written struct {
	book    record.Book
	lengths []record.LengthCount
}

func (w *written) Book() (*record.Book, error) { return &w.book, nil }

func (w *written) Lengths(each func(*record.LengthCount) error) error {
	for i := range w.lengths {
		if err := each(&w.lengths[i]); err != nil {
			return err
		}
	}
	return nil
}

// straight takes every length as it stands.
type straight struct{}

func (straight) Length(_ record.Species, l record.Length, _ record.LengthBin) (x, sd float64, ok bool) {
	return l.Value.X, 0, l.Value.Known
}

func (straight) Weight(record.Species, float64, record.LengthBin) (float64, bool) { return 0, false }

func day(t *testing.T, text string) date.Day {
	t.Helper()
	d, ok := date.Parse(text)
	if !ok {
		t.Fatalf("%s is no day", text)
	}
	return d
}

// twoYears is a programme of two years of which only the first has ages. Fish of 50 cm are
// of age 1, of 60 cm of age 1 or 2, of 70 cm of age 2.
func twoYears(t *testing.T, form string, ageingError bool) *written {
	t.Helper()
	birth, _ := date.ParseAnniversary("06-01")
	annulus, _ := date.ParseAnniversary("12-01")
	settings := record.Defaults()
	settings.Name, settings.Species = "Quarrow Banks", []record.Species{"BFT"}
	settings.Calendars = map[record.Species]record.Calendar{"BFT": {BirthDay: birth, AnnulusDay: annulus, AnnulusWindowDays: 30, FirstAnnulusAge: 0.5}}
	settings.LengthBin.Width = 10
	settings.Key = record.KeySettings{Form: form, LeastFish: 5, AgeingError: ageingError}
	w := &written{book: record.Book{Settings: settings}}
	for i, counts := range [][]float64{{8, 8, 4}, {10, 6, 4}, {6, 10, 4}, {4, 9, 7}, {6, 8, 6}, {2, 10, 8}} {
		year := 2031 + i/3
		trip := record.TripID("T" + strconv.Itoa(i))
		w.book.Trips = append(w.book.Trips, record.Trip{Trip: trip, LandedOn: day(t, strconv.Itoa(year)+"-03-10"), Area: "Quarrow", Gear: "line"})
		for l, n := range counts {
			w.lengths = append(w.lengths, record.LengthCount{Trip: trip, Species: "BFT", Length: cm(50 + 10*float64(l)), Count: n})
		}
	}
	for year := 2031; year <= 2032; year++ {
		w.book.Catches = append(w.book.Catches, record.Catch{Year: year, Quarter: 1, Area: "Quarrow", Gear: "line", Species: "BFT", Number: record.Some(1000), Row: year})
	}
	for i := range 30 { // five of each age at 60 cm, ten of one age at 50 and at 70
		length, annuli := 50+10*(i%3), 1
		if length == 70 || length == 60 && i%2 == 1 {
			annuli = 2
		}
		fish := record.FishID("F" + strconv.Itoa(10+i))
		trip := &w.book.Trips[i/10]
		w.book.Fish = append(w.book.Fish, record.Fish{Fish: fish, Species: "BFT", CaughtOn: trip.LandedOn, Area: "Quarrow", Gear: "line", Trip: trip.Trip, Length: cm(float64(length))})
		w.book.Readings = append(w.book.Readings, record.Reading{Reading: string(fish), Fish: fish, Reader: "R1", ReadAt: day(t, "2032-06-01"), Annuli: annuli, Edge: record.Narrow})
	}
	return w
}

func cm(x float64) record.Length {
	return record.Length{Value: record.Some(x), Unit: "cm", Kind: record.StraightFork}
}

func estimated(t *testing.T, w *written, o run.Options) *run.Outcome {
	t.Helper()
	return estimatedOf(t, w, o)
}

func estimatedOf(t testing.TB, source record.Source, o run.Options) *run.Outcome {
	t.Helper()
	outcome, err := run.Run(context.Background(), source, straight{}, o)
	if err != nil {
		t.Fatal(err)
	}
	return outcome
}

func TestYearWithoutAgesFromEndToEnd(t *testing.T) {
	// By hand: 2031 has the lengths 24, 24, 12, so that P(l | 1) = 2/3, 1/3, 0 and P(l | 2) =
	// 0, 1/2, 1/2. The lengths of 2032, 12, 27, 21 of 60, are those of 0.3 and 0.7 exactly:
	// 300 and 700 of its 1,000 fish. The key of 2031 as it is would say 425 and 575.
	for form, source := range map[string]string{"iterated": "iterated from 2031", "combined": "all years together"} {
		o := estimated(t, twoYears(t, form, false), run.Options{Replicates: 80, Seed: 3})
		s := o.Species[0]
		if s.Key == nil || s.Key.Form != "agreed_"+form || s.Key.InPlace != "" {
			t.Fatalf("%s: the key is %+v (%v)", form, s.Key, s.NoKey)
		}
		year := s.Catch.Years[1]
		for a, want := range []float64{0, 300, 700} {
			if got := year.Number[a]; math.Abs(got.Value.X-want) > 0.1 || a > 0 && !(got.SE.X > 0) {
				t.Errorf("%s: of age %d there are %.2f (SE %.2f) in 2032, want %v", form, a, got.Value.X, got.SE.X, want)
			}
		}
		if rebuilt := s.Key.Rebuilt; len(rebuilt) != 1 || s.Counts.KeyCells[rebuilt[0].Stratum].Year != 2032 {
			t.Errorf("%s: rebuilt %+v, want 2032", form, rebuilt)
		} else {
			for l, share := range []float64{0.2, 0.45, 0.35} {
				if math.Abs(rebuilt[0].Observed[l]-share) > 1e-12 || math.Abs(rebuilt[0].Fitted[l]-share) > 1e-3 {
					t.Errorf("%s: bin %d is observed %v and fitted %v, want %v", form, l, rebuilt[0].Observed[l], rebuilt[0].Fitted[l], share)
				}
			}
		}
		said := 0
		for _, e := range o.Tables()[4].Estimate {
			if e.ID[1] == "2032" && e.Value.X > 0.001 {
				if said++; e.Further[0] != source {
					t.Errorf("%s: the key of 2032 is borrowed from %q, want %q", form, e.Further[0], source)
				}
			}
		}
		if said != 4 {
			t.Errorf("%s: the key of 2032 has %d shares, want 4", form, said)
		}
		assumed := 0
		for _, f := range o.Found.All() {
			if f.Kind == finding.GrowthAssumed && f.Value == "2032" {
				assumed++
			}
		}
		if assumed != 1 {
			t.Errorf("%s: the assumption on growth is told %d times, want once", form, assumed)
		}
		if rests := s.Key.Rests; form == "iterated" && (math.Abs(rests.Borrowed-0.5) > 1e-12 || math.Abs(rests.Own-0.5) > 1e-12) {
			t.Errorf("the catch rests on %+v, want one year of two on the other", rests)
		}
	}
}

func TestOtherYearsAreOfAgreedAges(t *testing.T) {
	o := estimated(t, twoYears(t, "iterated", true), run.Options{Replicates: 20, Only: []run.Part{run.Key}})
	if k := o.Species[0].Key; k == nil || k.Form != run.AgreedIterated || k.InPlace != "true_iterated" {
		t.Errorf("with the ageing error asked for the key is %+v", k)
	}
}

func TestOtherYearsWithAnyWorkers(t *testing.T) {
	for _, form := range []string{run.AgreedIterated, run.AgreedCombined} {
		one := estimated(t, twoYears(t, "direct", false), run.Options{Replicates: 40, Workers: 1, Key: form}).Tables()
		two := estimated(t, twoYears(t, "direct", false), run.Options{Replicates: 40, Workers: 2, Key: form}).Tables()
		if !reflect.DeepEqual(one, two) {
			t.Errorf("%s: two workers come to other tables than one", form)
		}
	}
}

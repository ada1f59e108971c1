package fishery

import (
	"slices"
	"testing"
)

func TestAskedIsWhatIsSampled(t *testing.T) {
	settings, err := Sized("small")
	if err != nil {
		t.Fatal(err)
	}
	f := New(settings, 5)
	truth := f.Truth()
	const bins = 70
	a := Asked{Trips: make([]int, len(truth.Strata)), Stones: make([]int, 4*bins), Readings: 900}
	for i := range a.Trips {
		a.Trips[i] = 2 + i%4
	}
	for i := range a.Stones {
		a.Stones[i] = 3
	}
	asked := f.Ask(a)
	if !slices.Equal(asked.Truth().CatchAtAge, truth.CatchAtAge) {
		t.Error("asking for other samples alters the truth")
	}
	season := asked.Season(0)
	trips := make([]int, len(a.Trips))
	for _, trip := range season.trips {
		trips[trip.stratum]++
	}
	if !slices.Equal(trips, a.Trips) {
		t.Errorf("the strata have %v trips, want %v", trips, a.Trips)
	}
	cells := make([]int, 4*bins)
	for _, x := range season.picked {
		quarter := int(f.strata[x.stratum].cell.Quarter) - 1
		cells[quarter*bins+int(x.cm)/settings.BinCm]++
	}
	if most := slices.Max(cells); most != 3 || len(season.picked) < 200 {
		t.Errorf("a cell has %d stones of %d in all, want 3 in each that has as many fish", most, len(season.picked))
	}
	book, _ := season.Book()
	if len(book.Readings) != 900 {
		t.Errorf("there are %d readings, want 900", len(book.Readings))
	}
	if again := f.Season(0); len(again.trips) != settings.Trips {
		t.Errorf("after asking the fishery itself has %d trips, want %d", len(again.trips), settings.Trips)
	}
	defer func() {
		if recover() == nil {
			t.Error("trips for a stratum too few do not panic")
		}
	}()
	f.Ask(Asked{Trips: a.Trips[1:]})
}

package rules

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"earstone/programme/record"
)

// counted is a programme of 120 stones whose fish have 1 to 12 annuli, ten of each, and a
// mass of 20 √n mg, scattered by 6 %.
func counted() *record.Book {
	b := &record.Book{Settings: record.Defaults()}
	b.Settings.Species = []record.Species{"BFT"}
	for i := range 120 {
		n := 1 + i/10
		fish := record.FishID(fmt.Sprintf("EB-%d", i))
		scatter := []float64{0.94, 1.03, 1, 0.98, 1.06}[i%5]
		b.Fish = append(b.Fish, record.Fish{Fish: fish, Species: "BFT", Row: i + 2})
		b.Stones = append(b.Stones, record.Stone{Fish: fish, Side: record.Left, MassMg: record.Some(math.Round(200*math.Sqrt(float64(n))*scatter) / 10), Row: i + 2})
		b.Readings = append(b.Readings, record.Reading{Reading: fmt.Sprintf("R-%d", i), Fish: fish, Reader: "KL", Annuli: n, Edge: record.Narrow, Row: i + 2})
	}
	return b
}

// massFindings are those on the mass of stones, as the row, the value and the facts.
func massFindings(b *record.Book) (found []string) {
	for _, f := range Check(b, today).All() {
		if f.Place.Column == "mass_mg" {
			found = append(found, fmt.Sprint(f.Place.Row, " ", f.Kind, " ", f.Value, " ", f.Facts[0], " ", f.Facts[2:]))
		}
	}
	return found
}

func TestMassAgainstAnnuli(t *testing.T) {
	for _, c := range []struct {
		what   string
		change func(*record.Book)
		want   []string
	}{
		{"a sound programme", func(*record.Book) {}, nil},
		// 63.2 mg is 20 √10: what ten annuli weigh, on a fish of three.
		{"the stone of another fish", func(b *record.Book) { b.Stones[25].MassMg = record.Some(63.2) }, []string{"27 implausible 63.2 annuli [3 10]"}},
		{"a count miswritten", func(b *record.Book) { b.Readings[100].Annuli = 1 }, []string{"102 implausible 62.4 annuli [1 10]"}},
		{"a mass that no count has", func(b *record.Book) { b.Stones[25].MassMg = record.Some(346) }, []string{"27 implausible 346 annuli [3 ]"}},
		{"the middle of three counts", func(b *record.Book) {
			b.Readings = append(b.Readings, record.Reading{Reading: "R-a", Fish: "EB-25", Reader: "MN", Annuli: 3, Row: 122}, record.Reading{Reading: "R-b", Fish: "EB-25", Reader: "OP", Annuli: 12, Row: 123})
		}, nil},
		{"a chipped stone", func(b *record.Book) { b.Stones[25].MassMg, b.Stones[25].Condition = record.Some(6), "chipped" }, nil},
		{"stones that were not weighed", func(b *record.Book) {
			for i := 10; i < 120; i++ {
				b.Stones[i].MassMg = record.Number{}
			}
			b.Stones[3].MassMg = record.Some(90)
		}, nil},
	} {
		b := counted()
		c.change(b)
		if got := massFindings(b); !slices.Equal(got, c.want) {
			t.Errorf("%s: found %q, want %q", c.what, got, c.want)
		}
	}
}

// What order the stones stand in must not matter.
func TestMassAgainstAnnuliInAnyOrder(t *testing.T) {
	b := counted()
	b.Stones[25].MassMg = record.Some(63.2)
	want := massFindings(b)
	slices.Reverse(b.Stones)
	slices.Reverse(b.Readings)
	if got := massFindings(b); !slices.Equal(got, want) {
		t.Errorf("turned round, the stones give %q, want %q", got, want)
	}
}

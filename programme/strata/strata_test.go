package strata

import (
	"testing"

	"earstone/programme/date"
	"pgregory.net/rapid"
)

func TestSetsReadBack(t *testing.T) {
	for s := range Set(1 << 5) {
		back, unknown := ParseSet(s.Names())
		if back != s || unknown != "" {
			t.Errorf("set %s reads back as %s", s, back)
		}
	}
	if _, unknown := ParseSet([]string{"year", "bank"}); unknown != "bank" {
		t.Errorf("an unknown column is named %q, want bank", unknown)
	}
}

func TestKeepNeverInvents(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := Cell{
			int16(rapid.IntRange(0, 3).Draw(t, "year")), int16(rapid.IntRange(0, 4).Draw(t, "quarter")), 0,
			rapid.SampledFrom([]string{"", "Skell", "Quarrow"}).Draw(t, "area"), rapid.SampledFrom([]string{"", "line"}).Draw(t, "gear"),
		}
		s, u := Set(rapid.IntRange(0, 31).Draw(t, "s")), Set(rapid.IntRange(0, 31).Draw(t, "u"))
		if c.Keep(s).Keep(u) != c.Keep(s&u) {
			t.Fatalf("%v kept by %s then %s is not %v kept by both", c, s, u, c)
		}
		if c.Keep(s).Known() != c.Known()&s {
			t.Fatalf("%v kept by %s knows %s", c, s, c.Keep(s).Known())
		}
	})
}

func TestCellOfPartialDate(t *testing.T) {
	d, _ := date.Parse("2031")
	if c := At(d, "Skell", "line"); c.Known() != Year|Area|Gear || c.String() != "2031 Skell line" {
		t.Errorf("a trip of 2031 lies in %s and knows %s", c, c.Known())
	}
}

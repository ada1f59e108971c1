package date

import (
	"testing"

	"pgregory.net/rapid"
)

func TestDayNumbers(t *testing.T) {
	// Julian day numbers 2451545 (2000-01-01) and 2436116 (1957-10-04, counted at noon):
	// Meeus, Astronomical Algorithms (from memory); their difference is 15429 days.
	if days := On(2000, 1, 1).Serial() - On(1957, 10, 4).Serial(); days != 15429 {
		t.Errorf("1957-10-04 to 2000-01-01 is %d days, want 15429", days)
	}
	if s := On(1970, 1, 1).Serial(); s != 0 {
		t.Errorf("1970-01-01 is day %d, want 0", s)
	}
}

func TestSerialRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		serial := rapid.IntRange(On(1, 1, 1).Serial(), On(9999, 12, 31).Serial()).Draw(t, "serial")
		d := FromSerial(serial)
		if d.Serial() != serial {
			t.Fatalf("day %d is %s, whose serial is %d", serial, d, d.Serial())
		}
		if back, ok := Parse(d.String()); !ok || back != d {
			t.Fatalf("%s reads back as %s", d, back)
		}
	})
}

func TestPartialDates(t *testing.T) {
	for _, c := range []struct{ text, first, last string }{
		{"2032", "2032-01-01", "2032-12-31"},
		{"2032-02", "2032-02-01", "2032-02-29"},
		{"1900-02", "1900-02-01", "1900-02-28"},
		{"2031-06-15", "2031-06-15", "2031-06-15"},
	} {
		d, ok := Parse(c.text)
		if !ok || d.First().String() != c.first || d.Last().String() != c.last || d.String() != c.text {
			t.Errorf("%s spans %s to %s (%v), want %s to %s", c.text, d.First(), d.Last(), ok, c.first, c.last)
		}
	}
	for _, text := range []string{"2031-13", "2031-02-29", "31-02-01", "2031-6-1", "2031/06/01", "0000", "20310601", "2031-00", "2031-06-00"} {
		if d, ok := Parse(text); ok {
			t.Errorf("%q is read as %s, want refused", text, d)
		}
	}
}

func TestLeapAnniversary(t *testing.T) {
	a, ok := ParseAnniversary("02-29")
	if !ok || a.In(2031).String() != "2031-02-28" || a.In(2032).String() != "2032-02-29" {
		t.Errorf("29 February falls on %s and %s", a.In(2031), a.In(2032))
	}
	if _, ok := ParseAnniversary("02-30"); ok {
		t.Error("30 February is taken for an anniversary")
	}
}

func FuzzParse(f *testing.F) {
	for _, text := range []string{"", "2031", "2031-06", "2031-06-15", "2031-02-30", "٢٠٣١"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if d, ok := Parse(text); ok && d.String() != text {
			t.Errorf("%q is taken and comes back as %q", text, d)
		}
	})
}

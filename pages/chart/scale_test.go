package chart

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestRound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.Float64Range(-1e9, 1e9).Draw(t, "a")
		b := rapid.Float64Range(-1e9, 1e9).Draw(t, "b")
		var s span
		s.see(a, b)
		low, high, ticks := s.round(5)
		if slack := 1e-6 * (high - low); low > min(a, b)+slack || high < max(a, b)-slack {
			t.Errorf("%v to %v was rounded to %v to %v, which doesn't hold it", a, b, low, high)
		}
		if len(ticks) < 2 || len(ticks) > 11 {
			t.Fatalf("%v to %v has %d ticks, want 2 to 11", a, b, len(ticks))
		}
		d := ticks[1] - ticks[0]
		lead := d / math.Pow(10, math.Floor(math.Log10(d)+1e-9))
		if r := math.Round(lead); math.Abs(lead-r) > 1e-6 || r != 1 && r != 2 && r != 5 && r != 10 {
			t.Errorf("ticks of %v to %v are %v apart, want 1, 2 or 5 times a power of ten", a, b, d)
		}
	})
}

func TestNothingSeenIsZeroToOne(t *testing.T) {
	if low, high, _ := (span{}).round(5); low != 0 || high != 1 {
		t.Errorf("an axis without numbers runs from %v to %v, want 0 to 1", low, high)
	}
}

func TestSpread(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := rapid.SliceOfN(rapid.Float64Range(0, 200), 1, 8).Draw(t, "at")
		got := spread(at, 16, 0, 200)
		for i := range got {
			if got[i] < -1e-9 || got[i] > 200+1e-9 {
				t.Errorf("label %d lies at %v, outside 0 to 200", i, got[i])
			}
			for j := range i {
				if math.Abs(got[i]-got[j]) < 16-1e-9 {
					t.Errorf("labels at %v and %v are less than 16 apart", got[j], got[i])
				}
				if at[i] < at[j] && got[i] > got[j] {
					t.Errorf("labels %d and %d changed places", j, i)
				}
			}
		}
	})
}

func TestNumbers(t *testing.T) {
	for _, c := range []struct{ got, want string }{ // by hand
		{number(12000, 0), "12\u202f000"},
		{number(1000, 0), "1\u202f000"},
		{number(999, 0), "999"},
		{number(-0.5, 1), "−0.5"},
		{number(-0.01, 1), "0.0"},
		{number(1234567.25, 2), "1\u202f234\u202f567.25"},
		{value(0), "0"},
		{value(12345), "12\u202f300"},
		{value(0.012345), "0.0123"},
		{value(-1.4999), "−1.50"},
		{percent(0.712), "71\u202f%"},
		{percent(0.004), "0.4\u202f%"},
		{percent(0), "0\u202f%"},
		{ageLabel(12, 12, true), "12+"},
		{ageLabel(11, 12, true), "11"},
		{ageLabel(12, 12, false), "12"},
	} {
		if c.got != c.want {
			t.Errorf("wrote %q, want %q", c.got, c.want)
		}
	}
}

func TestTickLabels(t *testing.T) {
	for _, c := range []struct {
		ticks []float64
		want  []string
	}{
		{[]float64{0, 5000, 10000}, []string{"0", "5\u202f000", "10\u202f000"}},
		{[]float64{-0.5, 0, 0.5}, []string{"−0.5", "0.0", "0.5"}},
		{[]float64{0, 0.02, 0.04}, []string{"0.00", "0.02", "0.04"}},
	} {
		for i, got := range tickLabels(c.ticks) {
			if got != c.want[i] {
				t.Errorf("tick %v of %v is written %q, want %q", c.ticks[i], c.ticks, got, c.want[i])
			}
		}
	}
}

func TestShorten(t *testing.T) {
	if got := shorten("Quarrow Bank", 15, 1000); got != "Quarrow Bank" {
		t.Errorf("words with room to spare became %q", got)
	}
	got := shorten("Quarrow Bank, quarters 1 and 2", 15, 120)
	if textWidth(got, 15) > 120 || []rune(got)[len([]rune(got))-1] != '…' {
		t.Errorf("words cut to 120 pixels became %q, %v wide", got, textWidth(got, 15))
	}
}

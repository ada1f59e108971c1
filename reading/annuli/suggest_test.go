package annuli

import (
	"errors"
	"math"
	"slices"
	"testing"

	"earstone/plan/section"
	"earstone/reading/transect"
)

// A clean section is counted right, with marks where the annuli are.
func TestCleanSections(t *testing.T) {
	w := NewWork(Default())
	for i := range 12 {
		l := lesson(chooseSeed, i, section.Settings{Least: 2, Most: 12, UmPerPixel: 5, Quiet: true})
		s, err := w.Suggest(l.Section)
		if err != nil {
			t.Fatal(err)
		}
		if off := len(s.Marks) - len(l.Marks); off < -1 || off > 1 {
			t.Errorf("A clean section of %d annuli is counted as %d.", len(l.Marks), len(s.Marks))
		}
		found := 0
		for _, at := range l.Marks {
			if slices.ContainsFunc(s.Marks, func(m Mark) bool { return math.Abs(m.At-at) < 8 }) {
				found++
			}
		}
		if found < len(l.Marks)-1 {
			t.Errorf("Of %d annuli of a clean section %d are marked within 40 µm.", len(l.Marks), found)
		}
	}
}

// A suggestion holds together, whatever the section.
func TestSuggestionHoldsTogether(t *testing.T) {
	w := NewWork(Default())
	for _, l := range lessons(chooseSeed+1, 25) {
		s, err := w.Suggest(l.Section)
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for _, p := range s.Counts {
			sum += p
		}
		if math.Abs(sum-1) > 1e-6 || s.Confidence != slices.Max(s.Counts) || s.Counts[len(s.Marks)] != s.Confidence {
			t.Errorf("The counts have the probabilities %v, sum %v; the count is %d with %v.", s.Counts, sum, len(s.Marks), s.Confidence)
		}
		if math.Abs(s.Within(0)-s.Confidence) > 1e-12 || s.Within(1) < s.Confidence || math.Abs(s.Within(60)-1) > 1e-6 {
			t.Errorf("Within 0, 1 and 60 have the probabilities %v, %v and %v.", s.Within(0), s.Within(1), s.Within(60))
		}
		last := 0.0
		for _, m := range s.Marks {
			if m.At <= last || m.At > l.Section.Edge || !(m.Confidence >= 0 && m.Confidence <= 1) {
				t.Errorf("The marks %+v are not in order between core and edge at %v.", s.Marks, l.Section.Edge)
				break
			}
			last = m.At
		}
	}
}

// Light through a section and light on it are each other's negative: so are their
// suggestions the same.
func TestLightThroughAndLightOn(t *testing.T) {
	l := lesson(chooseSeed, 40, section.Settings{UmPerPixel: 5})
	w := NewWork(Default())
	a, errA := w.Suggest(l.Section)
	turned := *l.Section.Band
	turned.Light = slices.Clone(turned.Light)
	for i, v := range turned.Light {
		turned.Light[i] = 1 - v
	}
	negative := l.Section
	negative.Band, negative.Bright = &turned, !negative.Bright
	b, errB := w.Suggest(negative)
	if errA != nil || errB != nil || len(a.Marks) != len(b.Marks) || math.Abs(a.Confidence-b.Confidence) > 1e-6 {
		t.Errorf("The negative of a section of %d annuli (%.3f) is suggested %d (%.3f).", len(a.Marks), a.Confidence, len(b.Marks), b.Confidence)
	}
}

// A lamp twice as bright changes nothing.
func TestBrightnessOfTheLampDoesNotMatter(t *testing.T) {
	l := lesson(chooseSeed, 41, section.Settings{UmPerPixel: 5})
	w := NewWork(Default())
	a, errA := w.Suggest(l.Section)
	dim := *l.Section.Band
	dim.Light = slices.Clone(dim.Light)
	for i := range dim.Light {
		dim.Light[i] *= 0.5
	}
	half := l.Section
	half.Band = &dim
	b, errB := w.Suggest(half)
	if errA != nil || errB != nil || len(a.Marks) != len(b.Marks) || math.Abs(a.Confidence-b.Confidence) > 1e-6 {
		t.Errorf("In half the light a section of %d annuli (%.3f) is suggested %d (%.3f).", len(a.Marks), a.Confidence, len(b.Marks), b.Confidence)
	}
}

func TestNothingToSuggest(t *testing.T) {
	flat := &transect.Band{Along: 400, Across: 5, Step: 1, Apart: 2, Light: make([]float64, 2000)}
	w := NewWork(Default())
	for _, c := range []struct {
		what string
		s    Section
		want error
	}{
		{"no scale", Section{Band: flat, Edge: 390}, ErrScale},
		{"an axis of 30 pixels", Section{Band: flat, Edge: 30, UmPerPixel: 5}, ErrShort},
		{"pixels of 100 µm", Section{Band: flat, Edge: 390, UmPerPixel: 100}, ErrShort},
		{"one brightness", Section{Band: flat, Edge: 390, UmPerPixel: 5}, ErrBlank},
	} {
		if s, err := w.Suggest(c.s); !errors.Is(err, c.want) {
			t.Errorf("With %s the suggestion is %+v, %v; want %v.", c.what, s, err, c.want)
		}
	}
	axis, err := transect.Through([]transect.Point{{X: 0, Y: 0}, {X: 50, Y: 0}})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Of(flat, nil, axis, 0, false); !errors.Is(err, ErrScale) {
		t.Errorf("A picture without scale gives %v, want ErrScale.", err)
	}
}

func BenchmarkSuggest(b *testing.B) {
	l := lesson(chooseSeed, 3, section.Settings{Least: 15, Most: 15, UmPerPixel: 5})
	w := NewWork(Default())
	for b.Loop() {
		if _, err := w.Suggest(l.Section); err != nil {
			b.Fatal(err)
		}
	}
}

package section

import (
	"bytes"
	"image"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"earstone/reading/transect"
)

func TestSectionIsDecidedBySeedAndNumber(t *testing.T) {
	s := Settings{UmPerPixel: 10}
	a, b, c := Draw(1, 7, s), Draw(1, 7, s), Draw(1, 8, s)
	if !bytes.Equal(a.Picture.Pix, b.Picture.Pix) || !slices.Equal(a.Annuli, b.Annuli) || !slices.Equal(a.Clicked, b.Clicked) {
		t.Error("The same seed and number drew two sections.")
	}
	if bytes.Equal(a.Picture.Pix, c.Picture.Pix) || a.Edge == c.Edge {
		t.Error("Two numbers drew the same section.")
	}
}

// However it is drawn, the truth is one that a stone could have.
func TestTruthIsPossible(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		settings := Settings{Least: rapid.IntRange(0, 10).Draw(t, "least"), UmPerPixel: 10}
		settings.Most = settings.Least + rapid.IntRange(1, 20).Draw(t, "more")
		s := Draw(rapid.Uint64().Draw(t, "seed"), rapid.IntRange(0, 1<<40).Draw(t, "number"), settings)
		if n := len(s.Annuli); n < settings.Least || n > settings.Most || len(s.Places) != n {
			t.Fatalf("%d annuli in %d places were drawn where %d to %d are asked for.", n, len(s.Places), settings.Least, settings.Most)
		}
		last := 0.0
		for k, at := range s.Annuli {
			if at <= last {
				t.Fatalf("Annulus %d lies at %v µm, and the one before it at %v.", k+1, at, last)
			}
			last = at
			if p := s.Places[k]; !inside(s.Picture, p) {
				t.Fatalf("Annulus %d is to be seen at %v, outside the picture %v.", k+1, p, s.Picture.Rect)
			}
		}
		if s.Edge <= last {
			t.Fatalf("The stone ends at %v µm, within its last annulus at %v.", s.Edge, last)
		}
		if !slices.IsSorted(s.Checks) || (len(s.Checks) > 0 && s.Checks[len(s.Checks)-1] >= s.Edge) {
			t.Fatalf("The checks %v are not in order within the stone, which ends at %v.", s.Checks, s.Edge)
		}
		axis, err := transect.Through(s.Clicked)
		if err != nil {
			t.Fatalf("The clicked axis is none: %v", err)
		}
		if got := axis.Length() * s.UmPerPixel; math.Abs(got-s.Edge) > 120+0.1*s.Edge {
			t.Fatalf("The axis as clicked has %v µm of the %v along the arm.", got, s.Edge)
		}
	})
}

func inside(p *image.Gray16, at transect.Point) bool {
	return at.X >= 0 && at.Y >= 0 && at.X < float64(p.Rect.Dx()) && at.Y < float64(p.Rect.Dy())
}

// What the docstring says of stones holds of those that are drawn.
func TestAnnuliDrawCloser(t *testing.T) {
	var early, late, light [2]float64
	for i := range 60 {
		s := Draw(3, i, Settings{Least: 15, Most: 15, UmPerPixel: 20})
		early[0] += s.Annuli[2] - s.Annuli[1]
		late[0] += s.Annuli[14] - s.Annuli[13]
		early[1] = max(early[1], s.Annuli[0])
		light[s.Light]++
	}
	if early[0] < 4*late[0] {
		t.Errorf("Third years add %.0f µm, fifteenth ones %.0f; want at least four times less.", early[0]/60, late[0]/60)
	}
	if early[1] > 1600 || light[Transmitted] < 15 || light[Reflected] < 15 {
		t.Errorf("The widest first year has %.0f µm, and the light is %v; want under 1,600, and both kinds.", early[1], light)
	}
}

// In a section without flaws each annulus is where its truth says: darker than both its
// sides in light that shines through, brighter in light that falls on.
func TestAnnuliAreWhereTheTruthSays(t *testing.T) {
	for i := range 12 {
		s := Draw(5, i, Settings{Least: 4, Most: 4, UmPerPixel: 4, Quiet: true})
		axis, err := transect.Through(s.Clicked)
		if err != nil {
			t.Fatal(err)
		}
		var band transect.Band
		band.Read(s.Picture, axis, transect.Swath{Half: 3})
		var w transect.Work
		profile := make([]float64, band.Along)
		w.Profile(profile, &band, transect.Lean{}, 0, band.Across)
		for k, place := range s.Places {
			d, aside := axis.Nearest(place)
			here := profile[int(d+0.5)]
			in, out := profile[int(d)-24], profile[min(int(d)+12, len(profile)-1)]
			if s.Light == Reflected {
				here, in, out = -here, -in, -out
			}
			if math.Abs(aside) > 8 {
				t.Errorf("Section %d: annulus %d lies %.1f pixels off the axis.", i, k+1, aside)
			}
			if k < 3 && !(here < in && here < out) {
				t.Errorf("Section %d, %v light: annulus %d does not stand out: %.3f between %.3f and %.3f.", i, s.Light, k+1, here, in, out)
			}
		}
	}
}

// The two ways between picture and arm undo each other.
func TestArmAndPlace(t *testing.T) {
	var p pencil
	for i := range 50 {
		p.key(9, i, forLook)
		b := newBend(&p.draw, 2500, 150)
		for k := range 11 {
			u := 250 * float64(k)
			x, y := b.place(u)
			got, aside := b.arm(x, y)
			if math.Abs(got-u) > 1 || math.Abs(aside) > 1 {
				t.Fatalf("Bend %d: %v µm along the arm is at %.1f, %.1f, and that at %.2f along and %.2f aside.", i, u, x, y, got, aside)
			}
		}
	}
}

func TestShapesThatPanic(t *testing.T) {
	for name, call := range map[string]func(){
		"a negative number":          func() { Draw(1, -1, Settings{}) },
		"least above most":           func() { Draw(1, 1, Settings{Least: 5, Most: 4}) },
		"a scale of half a µm":       func() { Draw(1, 1, Settings{UmPerPixel: 0.5}) },
		"a scale of a tenth of a mm": func() { Draw(1, 1, Settings{UmPerPixel: 100}) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("No panic for %s.", name)
				}
			}()
			call()
		}()
	}
}

func BenchmarkDraw(b *testing.B) {
	for i := 0; b.Loop(); i++ {
		Draw(1, i%20, Settings{UmPerPixel: 5})
	}
}

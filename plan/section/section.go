// Package section draws invented sections of stones whose number of annuli is known.
//
// What is drawn follows what is common knowledge at the microscope, and nothing that
// reads sections is fitted to it in here: annuli draw closer with age and merge at
// the edge; the first are broad and faint; checks look like annuli, mostly in the
// first years, and often cross a part of the arm only; some annuli are double; the arm
// bends and its rings bow; the light is uneven, the edge has a rim, and there are
// dust, scratches and grain. Methods, section 12.
package section

import (
	"fmt"
	"image"
	"math"

	"earstone/reading/transect"
	"earstone/statistics/stream"
)

// Light is how the section was lit.
type Light uint8

// The kinds of light: annuli are dark in light that shines through, and bright in
// light that falls on.
const (
	Transmitted Light = iota
	Reflected
)

func (l Light) String() string { return [...]string{"transmitted", "reflected"}[l] }

// Settings say what sections to draw. The zero value of a field is its default.
type Settings struct {
	Least, Most int     // annuli, each number as likely; 1 to 22
	UmPerPixel  float64 // 4
	Quiet       bool    // nothing but annuli: no noise, checks, doubles, scratches, dust or uneven light
}

// Section is one drawn section with its truth.
type Section struct {
	Picture    *image.Gray16
	UmPerPixel float64
	Light      Light
	Clicked    []transect.Point // core, three or four bends, edge: as a hand sets them, a few µm off

	Annuli []float64        // µm from the core along the arm, ascending: the truth
	Checks []float64        // µm, ascending: what should not be counted
	Edge   float64          // µm: where the stone ends
	Places []transect.Point // of the annuli in the picture, where the middle line of the arm crosses them
}

// Draw is section number of a seed; the same three always give the same section.
//
// Panics when number is negative, Least is above Most, or UmPerPixel outside 1 to 20.
func Draw(seed uint64, number int, s Settings) Section {
	s = s.filled()
	if number < 0 || s.Least < 0 || s.Least > s.Most || s.UmPerPixel < 1 || s.UmPerPixel > 20 {
		panic(fmt.Sprintf("section: no section %d of %+v", number, s))
	}
	p := pencil{settings: s}
	p.key(seed, number, forGrowth)
	p.grow()
	p.key(seed, number, forLook)
	p.shape()
	p.rings()
	p.flaws()
	p.key(seed, number, forGrain)
	p.render()
	p.key(seed, number, forHand)
	return p.section()
}

// The parts of a section's stream. They lie beyond those of invented fisheries.
const (
	forGrowth = 7_000_000 + iota
	forLook
	forGrain
	forHand
)

func (s Settings) filled() Settings {
	if s.Least == 0 && s.Most == 0 {
		s.Least, s.Most = 1, 22
	}
	if s.UmPerPixel == 0 {
		s.UmPerPixel = 4
	}
	return s
}

// pencil is a section while it is drawn. Lengths are in µm.
type pencil struct {
	settings Settings
	draw     stream.Stream

	annuli, widths []float64 // places, and the growth of the year each one closes
	edge           float64
	checks         []check
	bend           bend
	tilt, bow      float64 // rings lie tilt·v − bow·v² further out aside
	half           float64 // of the arm's breadth

	light            Light
	base, contrast   float64
	even, cos, sin   []float64 // darkness by µm: of the whole ring, and of its waxing aside
	wave             float64   // µm, of that waxing
	scratches, dusts []flaw
	slope            [3]float64 // of the light: along, across, bowed
	grain, noise     float64

	picture *image.Gray16
}

func (p *pencil) key(seed uint64, number, part int) {
	p.draw.ResetAt(seed, stream.Invention, number, part)
}

// about is a lognormal draw of that median and SD of the logarithm.
func (p *pencil) about(median, sd float64) float64 {
	return median * math.Exp(sd*p.draw.Normal())
}

// between is a uniform draw.
func (p *pencil) between(low, high float64) float64 {
	return low + (high-low)*p.draw.Float64()
}

// section hands out what was drawn, with the axis as a hand would click it.
func (p *pencil) section() Section {
	um := p.settings.UmPerPixel
	s := Section{
		Picture: p.picture, UmPerPixel: um, Light: p.light, Annuli: p.annuli, Edge: p.edge,
	}
	for _, c := range p.checks {
		s.Checks = append(s.Checks, c.at)
	}
	for _, at := range p.annuli {
		x, y := p.bend.place(at)
		s.Places = append(s.Places, transect.Point{X: x / um, Y: y / um})
	}
	bends := 3 + p.draw.IntN(2)
	for k := range bends + 2 {
		share := float64(k) / float64(bends+1)
		x, y := p.bend.place(share * p.edge)
		off := 12.0
		switch {
		case p.settings.Quiet:
			off = 0
		case k == 0:
			off = 18 // where the core is nobody knows to the µm
		case k == bends+1:
			off = 5
		}
		s.Clicked = append(s.Clicked, transect.Point{X: (x + off*p.draw.Normal()) / um, Y: (y + off*p.draw.Normal()) / um})
	}
	return s
}

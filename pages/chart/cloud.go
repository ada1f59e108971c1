package chart

// Spot is fish at one place of a plot; Fish is how many, and 0 or less is none.
type Spot struct {
	X, Y float64
	Fish int
}

func (s Spot) drawn() bool {
	return s.Fish > 0 && s.Fish <= 1<<40 && drawable(s.X) && drawable(s.Y)
}

// mostDots is how many dots a cloud may have before neighbours are drawn
// together, and grain the side in pixels of the squares in which they are.
const (
	mostDots = 300
	grain    = 9.0
)

// cloud draws fish as dots whose areas follow their number. No fish is left out:
// where the places are many, those within one small square are drawn as one dot
// at their mean place. It answers the fish of the largest dot.
func (p plot) cloud(fish []Spot) (most int) {
	dots := p.dots(fish)
	for _, d := range dots {
		most = max(most, d.Fish)
	}
	for _, d := range dots {
		p.circle("dot fill-1", d.X, d.Y, dotRadius(d.Fish, most))
	}
	if len(dots) > 0 {
		p.b.WriteString("\n")
	}
	return most
}

// dotRadius makes area follow the number: the largest dot just fills its square,
// a lone fish among many stays visible.
func dotRadius(n, most int) float64 {
	if most <= 1 {
		return 2.4
	}
	return max(areaRadius(n, most, grain/2), 1.2)
}

// dots are the places on the sheet, drawn together where they are many.
func (p plot) dots(fish []Spot) []Spot {
	var at []Spot
	for _, f := range fish {
		if f.drawn() {
			at = append(at, Spot{p.x.at(f.X), p.y.at(f.Y), f.Fish})
		}
	}
	if len(at) <= mostDots {
		return at
	}
	across := int((p.area.x1-p.area.x0)/grain) + 1
	up := int((p.area.y1-p.area.y0)/grain) + 1
	squares := make([]struct {
		x, y float64
		fish int
	}, across*up)
	for _, d := range at {
		i := min(max(int((d.X-p.area.x0)/grain), 0), across-1)
		j := min(max(int((d.Y-p.area.y0)/grain), 0), up-1)
		s := &squares[j*across+i]
		s.x += d.X * float64(d.Fish)
		s.y += d.Y * float64(d.Fish)
		s.fish += d.Fish
	}
	at = at[:0]
	for _, s := range squares {
		if s.fish > 0 {
			at = append(at, Spot{s.x / float64(s.fish), s.y / float64(s.fish), s.fish})
		}
	}
	return at
}

// cloudNotes explains the dots: one fish each, or the number of the largest.
func cloudNotes(most int) []note {
	switch {
	case most <= 0:
		return nil
	case most == 1:
		return []note{{"a fish", func(c *canvas, x, y float64) { c.circle("dot fill-1", x, y, dotRadius(1, 1)) }}}
	}
	return []note{{"fish, by area; largest dot " + number(float64(most), 0), func(c *canvas, x, y float64) {
		c.circle("dot fill-1", x-4, y, dotRadius(max(1, most/4), most))
		c.circle("dot fill-1", x+5, y, grain/2)
	}}}
}

// largestDot is the number of fish of the largest dot, before it is drawn.
func (p plot) largestDot(fish []Spot) (most int) {
	for _, d := range p.dots(fish) {
		most = max(most, d.Fish)
	}
	return most
}

// seeSpots widens two extents to fish.
func seeSpots(x, y *span, fish []Spot) {
	for _, f := range fish {
		if f.drawn() {
			x.see(f.X)
			y.see(f.Y)
		}
	}
}

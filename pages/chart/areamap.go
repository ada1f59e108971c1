package chart

import (
	"math"
	"strconv"
)

// AreaMap draws areas by their outlines, coarse by intent: longitude is shrunk by
// the cosine of the middle latitude, nothing more. An area is tinted in five
// steps by its value, which also stands in it in words; an area without a value
// is open, with a broken outline. Areas across the line of 180° are kept in one piece.
type AreaMap struct {
	Frame
	Unit  string // of the value
	Areas []MapArea
}

// MapArea is one area. Rings are longitude and latitude in degrees, one pair
// after the other: the outer rings of its parts, holes left out. Words are what
// stands in the area beneath its name, such as "1 200 fish"; none means the value.
type MapArea struct {
	Name  string
	Words string
	Value Amount
	Rings [][]float64
}

// steps of tint.
const tints = 5

// Draw answers the picture.
func (p AreaMap) Draw() SVG {
	w, _ := p.size(0)
	c := &canvas{width: w}
	rings, east, north := p.place()
	if !east.seen {
		_, c.height = p.size(60)
		c.text("small muted", 4, 30, "No area has an outline.")
		return c.finish(p.Frame)
	}
	wide := max(east.high-east.low, 1e-6)
	tall := max(north.high-north.low, 1e-6)
	shrink := max(math.Cos((north.low+north.high)/2*math.Pi/180), 0.05)
	_, most := p.extent()
	top := c.notes(p.notes(most), 0) + 8
	inner := w - 48 - 8
	height := min(max(inner*tall/(wide*shrink), 150), 620)
	_, c.height = p.size(top + height + 30)
	area := box{48, top, w - 8, c.height - 30}
	unit := min((area.x1-area.x0)/(wide*shrink), (area.y1-area.y0)/tall) * 0.94
	q := plot{c, area, scale{}, scale{}}
	half := (area.x1 - area.x0) / 2 / (unit * shrink)
	q.x = scale{(east.low+east.high)/2 - half, (east.low+east.high)/2 + half, area.x0, area.x1}
	up := (area.y1 - area.y0) / 2 / unit
	q.y = scale{(north.low+north.high)/2 - up, (north.low+north.high)/2 + up, area.y1, area.y0}
	p.net(q)
	c.inside(area, func() {
		for i, a := range p.Areas {
			p.area(q, a, rings[i], most)
		}
	})
	p.names(q, rings)
	return c.finish(p.Frame)
}

// place takes the outlines that can be drawn, moved to one side of the line of
// 180°, and their extent.
func (p AreaMap) place() (rings [][][]float64, east, north span) {
	rings = make([][][]float64, len(p.Areas))
	shift := p.acrossLine()
	for i, a := range p.Areas {
		for _, ring := range a.Rings {
			if !possibleRing(ring) {
				continue
			}
			moved := make([]float64, len(ring))
			for j := 0; j < len(ring); j += 2 {
				moved[j], moved[j+1] = ring[j], ring[j+1]
				if shift && ring[j] < 0 {
					moved[j] += 360
				}
				east.see(moved[j])
				north.see(moved[j+1])
			}
			rings[i] = append(rings[i], moved)
		}
	}
	return rings, east, north
}

// acrossLine tells whether the areas lie on both sides of 180° rather than of 0°.
func (p AreaMap) acrossLine() bool {
	plain, moved := span{}, span{}
	for _, a := range p.Areas {
		for _, ring := range a.Rings {
			for j := 0; possibleRing(ring) && j < len(ring); j += 2 {
				plain.see(ring[j])
				if ring[j] < 0 {
					moved.see(ring[j] + 360)
				} else {
					moved.see(ring[j])
				}
			}
		}
	}
	return plain.high-plain.low > 180 && moved.high-moved.low < plain.high-plain.low
}

func possibleRing(ring []float64) bool {
	if len(ring) < 6 || len(ring)%2 != 0 {
		return false
	}
	for j := 0; j < len(ring); j += 2 {
		if !(math.Abs(ring[j]) <= 180) || !(math.Abs(ring[j+1]) <= 90) {
			return false
		}
	}
	return true
}

// extent is the smallest and the largest value.
func (p AreaMap) extent() (least, most float64) {
	for _, a := range p.Areas {
		if a.Value.known() {
			least, most = min(least, a.Value.Value), max(most, a.Value.Value)
		}
	}
	return least, most
}

// tint is the step of a value: 1 for up to a fifth of the largest, and so on.
func tint(x, most float64) int {
	if !(most > 0) || !(x > 0) {
		return 1
	}
	return min(max(int(math.Ceil(x/most*tints-1e-9)), 1), tints)
}

// net draws lines of longitude and latitude with their degrees.
func (p AreaMap) net(q plot) {
	for _, lon := range within(q.x.low, q.x.high, 5) {
		x := q.x.at(lon)
		q.line("grid", x, q.area.y0, x, q.area.y1)
		q.text("small muted middle", min(max(x, 24), q.width-24), q.area.y1+19, degrees(lon, "E", "W"))
	}
	for _, lat := range within(q.y.low, q.y.high, 4) {
		y := q.y.at(lat)
		q.line("grid", q.area.x0, y, q.area.x1, y)
		q.text("small muted end", q.area.x0-6, y+4.5, degrees(lat, "N", "S"))
	}
}

// within are round numbers between two ends.
func within(low, high float64, about int) []float64 {
	d := step(high-low, about)
	var out []float64
	for k := math.Ceil(low/d - 1e-9); k*d <= high+1e-9*d; k++ {
		out = append(out, k*d)
	}
	return out
}

// degrees writes 12° W; longitudes beyond 180° come round.
func degrees(x float64, above, below string) string {
	if x > 180 {
		x -= 360
	}
	side := ""
	if x > 1e-9 {
		side = " " + above
	}
	if x < -1e-9 {
		side = " " + below
	}
	return strconv.FormatFloat(math.Round(math.Abs(x)*100)/100, 'f', -1, 64) + "°" + side
}

func (p AreaMap) area(q plot, a MapArea, rings [][]float64, most float64) {
	q.mark(p.words(a), func() {
		for _, ring := range rings {
			points := make([]float64, 0, len(ring))
			for j := 0; j < len(ring); j += 2 {
				points = append(points, q.x.at(ring[j]), q.y.at(ring[j+1]))
			}
			if a.Value.known() {
				q.path("fill-1 tint-"+strconv.Itoa(tint(a.Value.Value, most)), true, points...)
				q.path("line-1 fine", true, points...)
			} else {
				q.path("rule", true, points...)
			}
		}
	})
}

func (p AreaMap) words(a MapArea) string { return a.Name + ": " + p.said(a) }

// said is what stands in an area beneath its name.
func (p AreaMap) said(a MapArea) string {
	switch {
	case a.Words != "":
		return a.Words
	case a.Value.known():
		return value(a.Value.Value) + " " + p.Unit
	}
	return "not known"
}

// names writes each area's name and words at the middle of its largest ring;
// where another label stands already, further down.
func (p AreaMap) names(q plot, rings [][][]float64) {
	var taken []box
	for i, a := range p.Areas {
		if len(rings[i]) == 0 {
			continue
		}
		x, y := middle(rings[i])
		name := shorten(a.Name, textSize, q.width/2)
		said := shorten(p.said(a), smallSize, q.width/2)
		half := max(textWidth(name, textSize), textWidth(said, smallSize)) / 2
		px := min(max(q.x.at(x), half+4), q.width-half-4)
		py := min(max(q.y.at(y), q.area.y0+14), q.area.y1-16)
		for moved := true; moved && py < q.area.y1-16; {
			moved = false
			for _, b := range taken {
				if px-half < b.x1 && px+half > b.x0 && py-16 < b.y1 && py+20 > b.y0 {
					py, moved = min(b.y1+17, q.area.y1-16), true
				}
			}
		}
		taken = append(taken, box{px - half, py - 16, px + half, py + 20})
		q.text("strong middle halo", px, py, name)
		q.text("small middle halo", px, py+18, said)
	}
}

// middle is the centre of gravity of the largest ring, or the mean of its
// corners where it has no surface.
func middle(rings [][]float64) (x, y float64) {
	best := -1.0
	for _, ring := range rings {
		var surface, sx, sy, mx, my float64
		n := len(ring) / 2
		for i := range n {
			j := (i + 1) % n
			x0, y0, x1, y1 := ring[2*i]-ring[0], ring[2*i+1]-ring[1], ring[2*j]-ring[0], ring[2*j+1]-ring[1]
			cross := x0*y1 - x1*y0
			surface += cross
			sx += (x0 + x1) * cross
			sy += (y0 + y1) * cross
			mx += x0 / float64(n)
			my += y0 / float64(n)
		}
		if math.Abs(surface) <= best {
			continue
		}
		best = math.Abs(surface)
		if best > 1e-9 {
			mx, my = sx/(3*surface), sy/(3*surface)
		}
		x, y = ring[0]+mx, ring[1]+my
	}
	return x, y
}

// notes explains the steps of tint by their upper ends.
func (p AreaMap) notes(most float64) []note {
	var out []note
	for i := 1; i <= tints && most > 0; i++ {
		words := "to " + value(most*float64(i)/tints)
		if i == tints {
			words += " " + p.Unit
		}
		out = append(out, note{words, func(c *canvas, x, y float64) {
			r := box{x - 9, y - 7, x + 9, y + 7}
			c.rect("fill-1 tint-"+strconv.Itoa(i), r)
			c.rect("line-1 fine", r)
		}})
	}
	for _, a := range p.Areas {
		if !a.Value.known() {
			return append(out, note{"not known", func(c *canvas, x, y float64) { c.path("rule", true, x-9, y-7, x+9, y-7, x+9, y+7, x-9, y+7) }})
		}
	}
	return out
}

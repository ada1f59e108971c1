package chart

import "strconv"

// Marks draws the age-by-age table of two readers: one mark a cell, its area
// the number of fish, with the number in it where it fits. Cells on which the
// readers agree lie on a shaded diagonal.
type Marks struct {
	Frame
	ReaderA, ReaderB string
	Cells            []Cell
}

// Cell is the fish with one age by reader A and one by reader B.
type Cell struct{ A, B, Fish int }

func (d Cell) drawn() bool { return d.Fish > 0 && possible(d.A) && possible(d.B) }

// Draw answers the picture.
func (p Marks) Draw() SVG {
	var extent span
	most := 0
	for _, d := range p.Cells {
		if !d.drawn() {
			continue
		}
		extent.see(float64(d.A), float64(d.B))
		most = max(most, d.Fish)
	}
	if !extent.seen {
		extent.see(0, 1)
	}
	first, n := int(extent.low), int(extent.high-extent.low)+1
	w, h := p.size(470)
	c := &canvas{width: w, height: h}
	labels := make([]string, n)
	for i := range labels {
		labels[i] = strconv.Itoa(first + i)
	}
	area := box{leftRoom(labels), 30, w - 8, h - underTicks - underName}
	q := plot{c, area, bands(n, area.x0, area.x1), bands(n, area.y1, area.y0)}
	q.text("small muted", 4, 16, shorten("age by "+p.ReaderB+" (years); area and number: fish", smallSize, w-8))
	p.grid(q, labels)
	wide, tall := q.x.at(1)-q.x.at(0), q.y.at(0)-q.y.at(1)
	c.inside(area, func() {
		for _, d := range p.Cells {
			if d.drawn() {
				p.cell(q, d, d.A-first, d.B-first, areaRadius(d.Fish, most, min(wide, tall)*0.47))
			}
		}
	})
	q.xName(shorten("age by "+p.ReaderA+" (years)", smallSize, area.x1-area.x0))
	return c.finish(p.Frame)
}

// grid draws the empty table, its diagonal shaded.
func (p Marks) grid(q plot, labels []string) {
	for i := range labels {
		x, y := float64(i), float64(i)
		q.rect("soft-0", box{q.x.at(x - 0.5), q.y.at(y + 0.5), q.x.at(x + 0.5), q.y.at(y - 0.5)})
		q.line("grid", q.area.x0, q.y.at(y-0.5), q.area.x1, q.y.at(y-0.5))
		q.line("grid", q.x.at(x+0.5), q.area.y0, q.x.at(x+0.5), q.area.y1)
	}
	every := 1
	for float64(every)*(q.y.at(0)-q.y.at(1)) < smallSize+3 && every < len(labels) {
		every++
	}
	for i, l := range labels {
		if i%every == 0 {
			q.text("small muted end", q.area.x0-8, q.y.at(float64(i))+4.5, l)
		}
	}
	q.xBands(labels)
	q.line("axis", q.area.x0, q.area.y1, q.area.x1, q.area.y1)
	q.line("axis", q.area.x0, q.area.y0, q.area.x0, q.area.y1)
}

func (p Marks) cell(q plot, d Cell, i, j int, r float64) {
	x, y := q.x.at(float64(i)), q.y.at(float64(j))
	class, label := "fill-2", number(float64(d.Fish), 0)
	if d.A == d.B {
		class = "fill-1"
	}
	q.mark(p.ReaderA+" "+strconv.Itoa(d.A)+", "+p.ReaderB+" "+strconv.Itoa(d.B)+": "+count(d.Fish, "fish"), func() {
		q.circle(class, x, y, r)
	})
	if textWidth(label, smallSize) < 1.75*r && r > 10 {
		q.text("small strong middle on", x, y+4.5, label)
	}
}

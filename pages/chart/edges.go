package chart

import (
	"strconv"
)

// Edges draws the share of each edge class by month, one panel a class, each
// share with its interval; the declared annulus day is a line through all of
// them. A month without fish stays empty.
type Edges struct {
	Frame
	Classes    []string    // in the order in which an edge grows: narrow, medium, wide
	Months     []EdgeMonth // any order; each month once
	AnnulusDay MonthDay    // the zero value draws no line
}

// EdgeMonth is one month of the year, 1 to 12: Shares follow Classes.
type EdgeMonth struct {
	Month  int
	Fish   int
	Shares []EdgeShare
}

// EdgeShare is the share of one class in one month.
type EdgeShare struct {
	Share    float64
	Interval Interval
}

// MonthDay is a day of any year.
type MonthDay struct{ Month, Day int }

var monthNames = [12]string{"January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"}

// Draw answers the picture. Panics when a month isn't 1 to 12 or its shares
// don't follow Classes.
func (p Edges) Draw() SVG {
	const panel, gap = 84, 44
	n := max(len(p.Classes), 1)
	w, h := p.size(float64(n)*panel + float64(n-1)*gap + 90 + 66)
	c := &canvas{width: w, height: h}
	unknown := false
	for _, m := range p.Months {
		for _, s := range m.Shares {
			unknown = unknown || m.Fish > 0 && !s.Interval.known()
		}
	}
	top := c.notes(append([]note{{"share and " + p.interval(), estimateGlyph}}, unknownNote(unknown)...), 0) + 58
	tall := (h - top - 62 - float64(n-1)*gap) / float64(n)
	area := box{56, top, w - 8, top + tall}
	months := bands(12, area.x0, area.x1)
	p.annulus(c, months, top-34, h-62)
	for k, class := range p.Classes {
		area.y0, area.y1 = top, top+tall
		q := plot{c, area, months, scale{0, 1, area.y1, area.y0}}
		q.yAxis([]float64{0, 0.5, 1}, []string{"0", "", "100" + thin + "%"}, "")
		c.text("strong halo", 4, top-14, shorten(class+" edge", textSize, w-8))
		c.inside(area, func() {
			for _, m := range p.Months {
				p.bar(q, m, k)
			}
		})
		q.zero()
		top += tall + gap
	}
	p.axis(c, months, h-62)
	return c.finish(p.Frame)
}

func (p Edges) bar(q plot, m EdgeMonth, class int) {
	if m.Month < 1 || m.Month > 12 {
		panic("chart: a month is 1 to 12")
	}
	if m.Fish <= 0 {
		return
	}
	if len(m.Shares) != len(p.Classes) {
		panic("chart: a month of edges needs one share a class")
	}
	s := m.Shares[class]
	if !drawable(s.Share) {
		return
	}
	x, y := q.x.at(float64(m.Month-1)), q.y.clip(s.Share)
	half := (q.x.at(0.34) - q.x.at(0))
	q.mark(monthNames[m.Month-1]+", "+p.Classes[class]+" edge: "+percent(s.Share)+" of "+count(m.Fish, "fish")+", "+p.within(s.Interval, percent), func() {
		q.rect("soft-1", box{x - half, y, x + half, q.y.at(0)})
		q.line("line-1", x-half, y, x+half, y)
		if s.Interval.known() {
			q.whisker("line-1 thick", x, s.Interval)
		} else {
			q.circle("open line-1", x, min(max(y, q.area.y0+4.5), q.area.y1-4.5), 4.5)
		}
	})
}

// annulus draws the declared day as a line down the whole picture.
func (p Edges) annulus(c *canvas, months scale, y0, y1 float64) {
	d := p.AnnulusDay
	if d.Month < 1 || d.Month > 12 {
		return
	}
	x := months.at(float64(d.Month-1) - 0.5 + (float64(min(max(d.Day, 1), 31))-0.5)/31)
	words := "declared annulus day, " + strconv.Itoa(max(d.Day, 1)) + " " + monthNames[d.Month-1]
	c.line("rule", x, y0+4, x, y1)
	half := textWidth(words, smallSize) / 2
	c.text("small middle", min(max(x, half+4), c.width-half-4), y0-2, words)
}

// axis writes the months, and beneath them the fish that each rests on.
func (p Edges) axis(c *canvas, months scale, y float64) {
	fish := [12]int{}
	for _, m := range p.Months {
		fish[m.Month-1] = max(m.Fish, 0)
	}
	c.text("small muted", 4, y+40, "fish")
	for i, name := range monthNames {
		x := months.at(float64(i))
		c.text("small muted middle", x, y+19, name[:1])
		c.text("small muted middle", x, y+40, number(float64(fish[i]), 0))
	}
}

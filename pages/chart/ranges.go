package chart

import (
	"math"
	"strings"
)

// Ranges sets estimates of one quantity side by side, a line each: a mark and
// its interval on one scale, the value beside it. For differences Zero draws the
// line of no difference; an interval is full where it keeps clear of it and
// hollow where it does not. A value without an interval is an open circle.
type Ranges struct {
	Frame
	Unit        string // of the scale: "percentage points", "a year"
	Rows        []Range
	Zero        bool   // the rows are differences
	Fewer, More string // what lies on either side of zero, for the axis; of Zero only
}

// Range is one estimate. An unknown value keeps its line and says Why.
type Range struct {
	Group    string // a heading above the first row of each
	Name     string
	Value    Amount
	Interval Interval
	Why      string
}

// Draw answers the picture.
func (p Ranges) Draw() SVG {
	const line, head = 27.0, 36.0
	tall := 0.0
	for i := range p.Rows {
		tall += line
		if p.heads(i) {
			tall += head
		}
	}
	least := tall + 44 + underTicks + underName
	if p.Zero {
		least += 22
	}
	w, h := p.size(least)
	c := &canvas{width: w, height: h}
	var extent span
	unknown, name := false, 0.0
	if p.Zero {
		extent.see(0)
	}
	for _, r := range p.Rows {
		name = max(name, textWidth(r.Name, smallSize))
		if r.Value.known() {
			extent.see(r.Value.Value)
			extent.seeInterval(r.Interval)
			unknown = unknown || !r.Interval.known()
		}
	}
	low, high, ticks := extent.round(5)
	name = min(name, w*0.42)
	top := c.notes(p.notes(unknown), 0) + 8
	area := box{name + 14, top, w - 86, h - underTicks - underName}
	q := plot{c, area, scale{low, high, area.x0 + 8, area.x1 - 8}, scale{}}
	if p.Zero {
		q.area.y0 += 22
		p.sides(q)
	}
	each := (q.area.y1 - q.area.y0) / max(tall, 1)
	c.inside(q.area, func() {
		p.grid(q, ticks)
		p.each(q, each, func(r Range, y float64) { p.mark(q, r, y) })
	})
	p.labels(q, each, ticks)
	q.xAxis(ticks, p.ticks(ticks))
	q.xName(p.Unit)
	return c.finish(p.Frame)
}

func (p Ranges) ticks(ticks []float64) []string {
	if p.Zero {
		return signedLabels(ticks)
	}
	return tickLabels(ticks)
}

// heads tells whether row i opens a group.
func (p Ranges) heads(i int) bool {
	return p.Rows[i].Group != "" && (i == 0 || p.Rows[i-1].Group != p.Rows[i].Group)
}

// each visits the rows with the height at which each stands.
func (p Ranges) each(q plot, unit float64, visit func(r Range, y float64)) {
	const line, head = 27.0, 36.0
	y := q.area.y0
	for i, r := range p.Rows {
		if p.heads(i) {
			y += head * unit
		}
		visit(r, y+line*unit/2)
		y += line * unit
	}
}

func (p Ranges) grid(q plot, ticks []float64) {
	for _, t := range ticks {
		q.line("grid", q.x.at(t), q.area.y0, q.x.at(t), q.area.y1)
	}
	if p.Zero {
		q.line("zero", q.x.at(0), q.area.y0, q.x.at(0), q.area.y1)
	}
}

// sides says above the plot what lies to the left and right of zero.
func (p Ranges) sides(q plot) {
	x, y := q.x.at(0), q.area.y0-8
	if p.Fewer != "" && x-14 > textWidth(p.Fewer, smallSize) {
		q.text("small muted end", x-8, y, "← "+p.Fewer)
	}
	if p.More != "" && q.width-x-14 > textWidth(p.More, smallSize)+20 {
		q.text("small muted", x+8, y, p.More+" →")
	}
}

// clear tells whether a difference keeps clear of zero.
func (p Ranges) clear(r Range) bool {
	return r.Interval.known() && (!p.Zero || r.Interval.Low > 0 || r.Interval.High < 0)
}

func (p Ranges) mark(q plot, r Range, y float64) {
	if !r.Value.known() {
		return
	}
	q.mark(p.words(r), func() {
		x := q.x.at(r.Value.Value)
		if r.Interval.known() {
			x0, x1 := seen(q.x.at(r.Interval.Low), q.x.at(r.Interval.High), q.area.x0, q.area.x1)
			q.lying("1", x0, x1, x, y, p.clear(r))
			return
		}
		q.circle("open line-1", x, y, 5)
	})
}

// lying draws an interval that lies flat, with the estimate as a stroke across it;
// full says that it counts, and a hollow one that it does not.
func (c *canvas) lying(hue string, x0, x1, x, y float64, full bool) {
	if full {
		c.line("line-"+hue+" thick", x0, y, x1, y)
	} else {
		c.rect("open fine line-"+hue, box{x0, y - 3, x1, y + 3})
	}
	c.line("line-"+hue, x, y-8, x, y+8)
}

func (p Ranges) words(r Range) string {
	said := r.Name + ": " + value(r.Value.Value) + ", " + p.within(r.Interval, value)
	if r.Group != "" {
		said = r.Group + ", " + said
	}
	return said
}

// labels writes groups, names and values.
func (p Ranges) labels(q plot, unit float64, ticks []float64) {
	at := -1
	p.each(q, unit, func(r Range, y float64) {
		at++
		if p.heads(at) {
			q.text("strong halo", 4, y-27*unit/2-8, shorten(r.Group, textSize, q.width-8))
		}
		q.text("small", 4, y+4.5, shorten(r.Name, smallSize, q.area.x0-12))
		switch {
		case r.Value.known():
			q.text("small end", q.width-4, y+4.5, shorten(p.number(r.Value.Value, ticks), smallSize, 78))
		default:
			q.text("small muted halo", q.area.x0+12, y+4.5, shorten(r.Why, smallSize, q.width-q.area.x0-20))
		}
	})
}

// number writes a value to about a fifth of a step of the scale, a difference
// with its sign.
func (p Ranges) number(x float64, ticks []float64) string {
	decimals := 0
	if len(ticks) > 1 {
		decimals = min(max(0, -int(math.Floor(math.Log10((ticks[1]-ticks[0])/5)+1e-9))), 9)
	}
	said := number(x, decimals)
	if p.Zero && x > 0 && strings.Trim(said, "0.") != "" {
		said = "+" + said
	}
	return said
}

func (p Ranges) notes(unknown bool) []note {
	out := []note{{"estimate and " + p.interval(), func(c *canvas, x, y float64) {
		c.lying("1", x-9, x+9, x, y, true)
	}}}
	if p.Zero {
		out = append(out, note{"may be no difference", func(c *canvas, x, y float64) {
			c.lying("1", x-9, x+9, x, y, false)
		}})
	}
	return append(out, unknownNote(unknown)...)
}

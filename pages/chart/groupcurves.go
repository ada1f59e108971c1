package chart

import "strconv"

// GroupCurves draws the curve of length at age of each group over its own ages, with
// the interval of the curve as a band. Groups differ in colour and line pattern and
// carry their names.
type GroupCurves struct {
	Frame
	Unit   string // of length
	Groups []GroupCurve
}

// GroupCurve is one group; points are in rising order of age.
type GroupCurve struct {
	Name  string
	Curve []CurvePoint
}

// Draw answers the picture.
func (p GroupCurves) Draw() SVG {
	w, h := p.size(380)
	c := &canvas{width: w, height: h}
	var ages span
	lengths := span{seen: true}
	name := 0.0
	curves := make([]curve, len(p.Groups))
	for i, g := range p.Groups {
		name = max(name, textWidth(g.Name, smallSize))
		curves[i] = Growth{Curve: g.Curve}.line()
		curves[i].name, curves[i].words = g.Name, g.Name
		for _, d := range curves[i].spots {
			ages.see(d.age)
			lengths.see(d.value)
			lengths.seeInterval(d.interval)
		}
	}
	low, high, ticks := ages.round(7)
	bottom, top, heights := lengths.round(6)
	labels := tickLabels(heights)
	area := box{leftRoom(labels), 36, w - min(name, w/3) - 22, h - underTicks - underName}
	area.y0 += c.notes([]note{{"band: " + p.interval(), func(c *canvas, x, y float64) {
		c.rect("band fill-1", box{x - 9, y - 6, x + 9, y + 6})
		c.line("line-1", x-9, y, x+9, y)
	}}}, 0)
	q := plot{c, area, scale{low, high, area.x0, area.x1}, scale{bottom, top, area.y1, area.y0}}
	q.yAxis(heights, labels, shorten("length ("+p.Unit+")", smallSize, w-8))
	c.inside(area, func() {
		for i, k := range curves {
			k.band(q, i)
		}
		for i, k := range curves {
			q.mark(k.words, func() { k.drawIn(q, "line-"+hue(i)+" dash-"+strconv.Itoa((i+i/4)%4)) })
			Growth{Frame: p.Frame, Unit: p.Unit + " (" + k.name + ")"}.points(q, k)
		}
	})
	nameCurves(q, curves)
	q.xAxis(ticks, tickLabels(ticks))
	q.xName("age (years)")
	return c.finish(p.Frame)
}

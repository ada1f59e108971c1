package chart

// Promised sets side by side, age by age, the CV that a figure has and the one that a plan
// promises: the first an open circle, the second a full square, a line between them, and a
// short upright stroke where it is wanted to be.
type Promised struct {
	Frame
	Rows []Promise
}

// Promise is one age; CVs are shares. One that is not known is not drawn.
type Promise struct {
	Name                   string
	Today, Planned, Wanted Amount
}

// Draw answers the picture.
func (p Promised) Draw() SVG {
	const line = 25.0
	w, h := p.size(line*float64(len(p.Rows)) + 50 + underTicks + underName)
	c := &canvas{width: w, height: h}
	extent, name := span{seen: true}, 0.0
	for _, r := range p.Rows {
		name = max(name, textWidth(r.Name, smallSize))
		for _, a := range []Amount{r.Today, r.Planned, r.Wanted} {
			if a.known() && a.Value >= 0 {
				extent.see(100 * a.Value)
			}
		}
	}
	low, high, ticks := extent.round(6)
	top := c.notes([]note{
		{"as now", func(c *canvas, x, y float64) { c.circle("open line-1", x, y, 5) }},
		{"planned", func(c *canvas, x, y float64) { c.shape("fill-2", square, x, y, 6) }},
		{"wanted", func(c *canvas, x, y float64) { c.line("line-0", x, y-9, x, y+9) }},
	}, 0) + 8
	area := box{min(name, w*0.4) + 18, top, w - 14, h - underTicks - underName}
	q := plot{c, area, scale{low, high, area.x0 + 6, area.x1 - 6}, scale{}}
	each := (area.y1 - area.y0) / float64(max(len(p.Rows), 1))
	c.inside(area, func() {
		for _, t := range ticks {
			q.line("grid", q.x.at(t), area.y0, q.x.at(t), area.y1)
		}
		for i, r := range p.Rows {
			p.row(q, r, area.y0+each*(float64(i)+0.5))
		}
	})
	for i, r := range p.Rows {
		c.text("small", 4, area.y0+each*(float64(i)+0.5)+4.5, shorten(r.Name, smallSize, area.x0-12))
	}
	q.xAxis(ticks, tickLabels(ticks))
	q.xName("CV in percent of the number of fish")
	return c.finish(p.Frame)
}

func (p Promised) row(q plot, r Promise, y float64) {
	at := func(a Amount) (float64, bool) {
		return q.x.clip(100 * min(max(a.Value, 0), beyond/100)), a.known() && a.Value >= 0
	}
	said := r.Name
	for i, a := range []Amount{r.Today, r.Planned, r.Wanted} {
		if _, ok := at(a); ok {
			said += ", " + []string{"as now", "planned", "wanted"}[i] + " " + number(100*min(a.Value, 1e6), 0) + thin + "%"
		}
	}
	q.mark(said, func() {
		today, known := at(r.Today)
		planned, promised := at(r.Planned)
		wanted, asked := at(r.Wanted)
		if known && promised && (today-planned > 1 || planned-today > 1) {
			q.line("leader", today, y, planned, y)
		}
		if asked {
			q.line("line-0", wanted, y-9, wanted, y+9)
		}
		if known {
			q.circle("open line-1", today, y, 5)
		}
		if promised {
			q.shape("fill-2", square, planned, y, 6)
		}
	})
}

package chart

// CatchAtAge draws the number caught at each age: a bar from zero, its top a
// firm line, and the interval as a thick stroke through it. The part of a bar
// that rests on filled strata is hatched; an unknown interval is an open circle
// on the bar's top; a known truth, where one is given, is an open diamond.
type CatchAtAge struct {
	Frame
	Ages []CatchBar // in rising order of age
	Plus bool       // the last age also holds all that are older
	Unit string     // what is counted, for the axis: "fish", "thousand fish"
}

// CatchBar is the catch of one age. Filled is how much of Number rests on strata
// that were filled from others.
type CatchBar struct {
	Age      int
	Number   float64
	Interval Interval
	Filled   float64
	Truth    Amount
}

// Draw answers the picture.
func (p CatchAtAge) Draw() SVG {
	w, h := p.size(340)
	c := &canvas{width: w, height: h}
	top := c.notes(p.notes(), 0)
	extent := span{seen: true}
	for _, b := range p.Ages {
		extent.see(b.Number)
		extent.seeInterval(b.Interval)
		if b.Truth.known() {
			extent.see(b.Truth.Value)
		}
	}
	low, high, ticks := extent.round(5)
	labels := tickLabels(ticks)
	area := box{leftRoom(labels), top + 32, w - 8, h - underTicks - underName}
	q := plot{c, area, bands(len(p.Ages), area.x0, area.x1), scale{low, high, area.y1, area.y0}}
	q.yAxis(ticks, labels, p.Unit)
	c.inside(area, func() {
		for i, b := range p.Ages {
			p.bar(q, i, b)
		}
	})
	q.zero()
	q.xBands(p.labels())
	q.xName("age (years)")
	return c.finish(p.Frame)
}

func (p CatchAtAge) labels() []string {
	labels := make([]string, len(p.Ages))
	for i, b := range p.Ages {
		labels[i] = ageLabel(b.Age, p.Ages[len(p.Ages)-1].Age, p.Plus)
	}
	return labels
}

func (p CatchAtAge) bar(q plot, i int, b CatchBar) {
	if !drawable(b.Number) {
		return
	}
	half := min(q.x.at(0.36)-q.x.at(0), 26)
	x, y, base := q.x.at(float64(i)), q.y.at(b.Number), q.y.at(0)
	words := "age " + p.labels()[i] + ": " + value(b.Number) + " " + p.Unit + ", " + p.within(b.Interval, value)
	if b.Filled > 0 && drawable(b.Filled) {
		words += "; " + value(b.Filled) + " of it from filled strata"
	}
	q.mark(words, func() {
		q.rect("soft-1", box{x - half, y, x + half, base})
		if b.Filled > 0 && b.Number > 0 {
			part := box{x - half, y, x + half, q.y.at(b.Number - min(b.Filled, b.Number))}
			q.rect("fill-paper", part)
			q.hatch("hatch hatch-1", part)
			q.path("line-1 fine", false, part.x0, part.y1, part.x0, part.y0, part.x1, part.y0, part.x1, part.y1)
		}
		q.line("line-1", x-half, y, x+half, y)
		if b.Interval.known() {
			q.whisker("line-1 thick", x, b.Interval)
		} else {
			r := min(5, half)
			q.circle("open line-1", x, min(max(y, q.area.y0+r), q.area.y1-r), r)
		}
	})
	if b.Truth.known() {
		r := min(6, half)
		x += half - r // beside the interval, so that neither hides the other
		q.mark("age "+p.labels()[i]+": known truth "+value(b.Truth.Value)+" "+p.Unit, func() {
			q.shape("open line-2", diamond, x, min(max(q.y.at(b.Truth.Value), q.area.y0+r), q.area.y1-r), r)
		})
	}
}

func (p CatchAtAge) notes() []note {
	var filled, unknown, known, truth bool
	for _, b := range p.Ages {
		filled = filled || b.Filled > 0
		known = known || b.Interval.known()
		unknown = unknown || !b.Interval.known()
		truth = truth || b.Truth.known()
	}
	var out []note
	if known {
		out = append(out, note{"estimate and " + p.interval(), estimateGlyph})
	}
	if filled {
		out = append(out, note{"rests on filled strata", hatchedGlyph})
	}
	out = append(out, unknownNote(unknown)...)
	if truth {
		out = append(out, note{"known truth", func(c *canvas, x, y float64) { c.shape("open line-2", diamond, x, y, 6) }})
	}
	return out
}

func estimateGlyph(c *canvas, x, y float64) {
	c.line("line-1", x-9, y, x+9, y)
	c.line("line-1 thick", x, y-8, x, y+8)
}

func hatchedGlyph(c *canvas, x, y float64) {
	r := box{x - 9, y - 7, x + 9, y + 7}
	c.hatch("hatch hatch-1", r)
	c.rect("line-1 fine", r)
}

// unknownNote explains the open mark where there is one.
func unknownNote(shown bool) []note {
	if !shown {
		return nil
	}
	return []note{{"interval unknown", func(c *canvas, x, y float64) { c.circle("open line-1", x, y, 4.5) }}}
}

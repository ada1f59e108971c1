package chart

// Scores draws held-out log scores side by side: a dot a model on one scale,
// higher being better, with its interval where known; the chosen one is filled
// and says so in words.
type Scores struct {
	Frame
	Rows []Score // in the order in which they are to stand
	Unit string  // what one score is of: "log score per fish"
}

// Score is one model. An unknown score keeps its row and says so.
type Score struct {
	Name     string
	Score    Amount
	Interval Interval
	Chosen   bool
}

// Draw answers the picture.
func (p Scores) Draw() SVG {
	const row = 54
	w, h := p.size(float64(len(p.Rows))*row + 52 + 42)
	c := &canvas{width: w, height: h}
	var extent span
	for _, r := range p.Rows {
		if r.Score.known() {
			extent.see(r.Score.Value)
			extent.seeInterval(r.Interval)
		}
	}
	low, high, ticks := extent.round(5)
	unknown := false
	for _, r := range p.Rows {
		unknown = unknown || r.Score.known() && !r.Interval.known()
	}
	area := box{12, c.notes(unknownNote(unknown), 0) + 6, w - 12, h - underTicks - underName}
	q := plot{c, area, scale{low, high, area.x0 + 16, area.x1 - 16}, scale{}}
	each := (area.y1 - area.y0) / float64(max(len(p.Rows), 1))
	c.inside(area, func() {
		for i, r := range p.Rows {
			y := area.y0 + float64(i)*each + each*0.72
			for _, t := range ticks { // short, so that no line runs through words
				c.line("grid", q.x.at(t), y-6, q.x.at(t), y+6)
			}
			p.row(q, r, y)
		}
	})
	for i, r := range p.Rows {
		y := area.y0 + float64(i)*each + each*0.72 - 15
		class, suffix := "halo", ""
		if r.Chosen {
			class, suffix = "halo strong", " (chosen)"
		}
		said := "not known"
		if r.Score.known() {
			said = number(r.Score.Value, 3)
		}
		c.text(class, 4, y, shorten(r.Name, textSize, w-90-textWidth(suffix, textSize))+suffix)
		c.text(class+" end", w-4, y, said)
	}
	q.xAxis(ticks, tickLabels(ticks))
	q.xName(p.Unit + ", higher is better →")
	return c.finish(p.Frame)
}

func (p Scores) row(q plot, r Score, y float64) {
	q.line("grid", q.area.x0, y, q.area.x1, y)
	if !r.Score.known() {
		return
	}
	words := r.Name + ": " + number(r.Score.Value, 3) + ", " + p.within(r.Interval, func(x float64) string { return number(x, 3) })
	q.mark(words, func() {
		x := q.x.at(r.Score.Value)
		if r.Interval.known() {
			x0, x1 := seen(q.x.at(r.Interval.Low), q.x.at(r.Interval.High), q.area.x0, q.area.x1)
			q.line("line-1 thick", x0, y, x1, y)
		}
		switch {
		case r.Chosen && r.Interval.known():
			q.shape("fill-2 edge", diamond, x, y, 9)
		case r.Chosen:
			q.shape("open line-2", diamond, x, y, 8)
		case r.Interval.known():
			q.circle("fill-1 edge", x, y, 6.5)
		default:
			q.circle("open line-1", x, y, 5.5)
		}
	})
}

package chart

// ByAge sets quantities of the same ages one below the other, each on a scale of its own
// from zero, every bar with its interval.
type ByAge struct {
	Frame
	Ages     []int // in rising order
	Panels   []AgePanel
	Standing string // what the figures are and are not, at the foot; may be empty
}

// AgePanel is one quantity; Values and Intervals follow Ages. An unknown value has no bar.
type AgePanel struct {
	Name, Unit string
	Values     []Amount
	Intervals  []Interval
}

// Draw answers the picture. Panics when the values of a panel don't follow Ages.
func (p ByAge) Draw() SVG {
	const panel, gap = 150.0, 68
	n := max(len(p.Panels), 1)
	w, h := p.size(float64(n)*panel + float64(n-1)*gap + 70 + underTicks + underName)
	c := &canvas{width: w, height: h}
	known, unknown := false, false
	for _, s := range p.Panels {
		if len(s.Values) != len(p.Ages) || len(s.Intervals) != len(p.Ages) {
			panic("chart: a panel needs one value and one interval an age")
		}
		for i, a := range s.Values {
			known = known || a.known() && s.Intervals[i].known()
			unknown = unknown || a.known() && !s.Intervals[i].known()
		}
	}
	var entries []note
	if known {
		entries = []note{{"estimate and " + p.interval(), estimateGlyph}}
	}
	top := c.notes(append(entries, unknownNote(unknown)...), 0) + 46
	tall := (h - top - underTicks - underName - float64(n-1)*gap) / float64(n)
	names := make([]string, len(p.Ages))
	for i, age := range p.Ages {
		names[i] = ageLabel(age, age, false)
	}
	left := 0.0
	for _, s := range p.Panels {
		_, _, ticks := s.extent().round(3)
		left = max(left, leftRoom(tickLabels(ticks)))
	}
	for _, s := range p.Panels {
		low, high, ticks := s.extent().round(3)
		area := box{left, top, w - 8, top + tall}
		q := plot{c, area, bands(len(p.Ages), area.x0, area.x1), scale{low, high, area.y1, area.y0}}
		q.yAxis(ticks, tickLabels(ticks), "")
		c.text("strong", 4, top-17, shorten(s.Name, textSize, w-20-textWidth(s.Unit, smallSize)))
		c.text("small muted end", w-8, top-17, s.Unit)
		c.inside(area, func() { q.pillars(p.bars(s, names)) })
		q.zero()
		q.xBands(names)
		top += tall + gap
	}
	c.standing(h, p.Standing)
	c.text("small muted end", w-8, h-6, "age (years)")
	return c.finish(p.Frame)
}

// extent is what the scale of a panel holds: zero, the values, their intervals.
func (s AgePanel) extent() span {
	extent := span{seen: true}
	for i, a := range s.Values {
		if a.known() {
			extent.see(a.Value)
			extent.seeInterval(s.Intervals[i])
		}
	}
	return extent
}

func (p ByAge) bars(s AgePanel, names []string) []pillar {
	bars := make([]pillar, len(p.Ages))
	for i, a := range s.Values {
		if !a.known() {
			bars[i].value = 2 * beyond // no bar
			continue
		}
		bars[i] = pillar{a.Value, s.Intervals[i], s.Name + ", age " + names[i] + ": " + value(a.Value) + " " + s.Unit + ", " + p.within(s.Intervals[i], value)}
	}
	return bars
}

// standing writes at the foot of a picture what its figures are and are not, so that it is
// there where the picture stands alone.
func (c *canvas) standing(h float64, words string) {
	if words != "" {
		c.text("small muted", 4, h-6, shorten(words, smallSize, c.width/2-8))
	}
}

package chart

// PerRecruit draws what a recruit yields, and what it leaves to spawn, over fishing
// mortality. Places on the curve at which people look stand above it with their names and
// intervals, each with its own shape and a line down to the curve.
type PerRecruit struct {
	Frame
	YieldUnit string
	Standing  string         // what the figures are and are not, at the foot; may be empty
	Curve     []RecruitPoint // in rising order of F
	Marks     []RecruitMark
}

// RecruitPoint is the curve at one fishing mortality; Spawning is the share of what an
// unfished recruit leaves.
type RecruitPoint struct {
	F, Yield float64
	Spawning Amount
}

// RecruitMark is a fishing mortality with a name.
type RecruitMark struct {
	Name     string
	F        float64
	Interval Interval
}

// Draw answers the picture.
func (p PerRecruit) Draw() SVG {
	const lane, panel, gap = 26.0, 190.0, 58.0
	marks := p.marks()
	spawning := false
	fs, yields := span{seen: true}, span{seen: true}
	for _, d := range p.Curve {
		if drawable(d.F) && d.F >= 0 {
			fs.see(d.F)
			yields.see(d.Yield) // which leaves out what can't be drawn
			spawning = spawning || d.Spawning.known()
		}
	}
	for _, m := range marks {
		fs.see(m.F)
	}
	lanes := lane*float64(len(marks)) + 6
	tall := lanes + panel
	if spawning {
		tall += gap + panel*0.7
	}
	w, h := p.size(tall + 70 + underTicks + underName)
	c := &canvas{width: w, height: h}
	c.standing(h, p.Standing)
	low, high, ticks := fs.round(6)
	bottom, top, heights := yields.round(4)
	labels := tickLabels(heights)
	left := leftRoom(append(labels, "100"+thin+"%"))
	y := c.notes(p.notes(marks), 0) + lanes + 36
	foot := h - underTicks - underName
	split := foot
	if spawning {
		split = y + (foot-y-gap)*0.6
	}
	q := plot{c, box{left, y, w - 14, split}, scale{low, high, left + 7, w - 21}, scale{bottom, top, split, y}}
	q.yAxis(heights, labels, "")
	c.text("small muted", 4, 20+y-lanes-36, shorten("yield ("+p.YieldUnit+" a recruit)", smallSize, w-8))
	c.inside(box{q.area.x0, y - lanes, q.area.x1, q.area.y1}, func() {
		p.curve(q, func(d RecruitPoint) (float64, bool) { return d.Yield, drawable(d.Yield) })
		for i, m := range marks {
			p.mark(q, m, i, y-lanes+lane*float64(i)+lane/2)
		}
	})
	for i, m := range marks {
		p.name(q, m, y-lanes+lane*float64(i)+lane/2)
	}
	if spawning {
		s := plot{c, box{left, split + gap, w - 14, foot}, q.x, scale{0, 1, foot, split + gap}}
		s.yAxis([]float64{0, 0.5, 1}, []string{"0", "50" + thin + "%", "100" + thin + "%"}, shorten("left to spawn, of an unfished recruit's", smallSize, w-8))
		c.inside(s.area, func() {
			p.curve(s, func(d RecruitPoint) (float64, bool) { return min(max(d.Spawning.Value, 0), 1), d.Spawning.known() })
			for _, m := range marks {
				s.line("rule", s.x.at(m.F), s.area.y0, s.x.at(m.F), s.area.y1)
			}
		})
		s.xAxis(ticks, tickLabels(ticks))
		s.xName("fishing mortality (a year)")
		return c.finish(p.Frame)
	}
	q.xAxis(ticks, tickLabels(ticks))
	q.xName("fishing mortality (a year)")
	return c.finish(p.Frame)
}

// mostMarks is how many places fit above a curve.
const mostMarks = shapes

// marks are those that can be drawn.
func (p PerRecruit) marks() (all []RecruitMark) {
	for _, m := range p.Marks {
		if drawable(m.F) && m.F >= 0 && len(all) < mostMarks {
			all = append(all, m)
		}
	}
	return all
}

// curve joins the points of a quantity, broken where it is unknown.
func (p PerRecruit) curve(q plot, of func(RecruitPoint) (float64, bool)) {
	var points []float64
	last := -1.0
	for _, d := range p.Curve {
		y, ok := of(d)
		if !ok || !drawable(d.F) || d.F < 0 || d.F <= last {
			q.path("line-1", false, points...)
			points = nil
			continue
		}
		points, last = append(points, q.x.at(d.F), q.y.clip(y)), d.F
	}
	q.path("line-1", false, points...)
}

// yieldAt is the height of the curve at a fishing mortality, between its points.
func (p PerRecruit) yieldAt(f float64) (float64, bool) {
	for i := 1; i < len(p.Curve); i++ {
		a, b := p.Curve[i-1], p.Curve[i]
		if a.F <= f && f <= b.F && b.F > a.F && drawable(a.Yield) && drawable(b.Yield) && drawable(a.F) && drawable(b.F) {
			return a.Yield + (b.Yield-a.Yield)*(f-a.F)/(b.F-a.F), true
		}
	}
	return 0, false
}

func (p PerRecruit) mark(q plot, m RecruitMark, i int, y float64) {
	q.mark(m.Name+": "+value(m.F)+" a year, "+p.within(m.Interval, value), func() {
		x := q.x.at(m.F)
		if foot, ok := p.yieldAt(m.F); ok && q.y.clip(foot) > y {
			at := min(max(q.y.clip(foot), q.area.y0+5), q.area.y1-5)
			q.line("rule", x, y, x, at)
			q.shape("fill-2", i, x, at, 5)
		}
		if m.Interval.known() {
			q.line("line-2 thick", q.x.clip(m.Interval.Low), y, max(q.x.clip(m.Interval.High), q.x.clip(m.Interval.Low)+2), y)
			q.shape("fill-paper line-0 fine", i, x, y, 5)
			return
		}
		q.shape("open line-2", i, x, y, 5)
	})
}

// name writes the name beside the interval, to the right of it where there is room.
func (p PerRecruit) name(q plot, m RecruitMark, y float64) {
	low, high := q.x.at(m.F), q.x.at(m.F)
	if m.Interval.known() {
		low, high = min(low, q.x.clip(m.Interval.Low)), max(high, q.x.clip(m.Interval.High))
	}
	words := m.Name + " " + value(m.F)
	if room := q.width - high - 14; room >= textWidth(words, smallSize) || room >= low-14 {
		q.text("small halo", high+10, y+4.5, shorten(words, smallSize, room))
		return
	}
	q.text("small end halo", low-10, y+4.5, shorten(words, smallSize, low-14))
}

func (p PerRecruit) notes(marks []RecruitMark) []note {
	var out []note
	for _, m := range marks {
		if m.Interval.known() {
			out = append(out, note{"estimate and " + p.interval(), func(c *canvas, x, y float64) {
				c.line("line-2 thick", x-9, y, x+9, y)
				c.shape("fill-paper line-0 fine", round, x, y, 5)
			}})
			break
		}
	}
	return out
}

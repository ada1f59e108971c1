package chart

// Compositions draws the share of each nursery in each group with its interval,
// a named line a nursery. Intervals of groups with few fish are hollow, and the
// group says so; a share without an interval is an open circle.
type Compositions struct {
	Frame
	Nurseries []string
	Groups    []CompositionGroup
	Few       int // fewer fish than that: drawn hollow; 0 means 10
}

// CompositionGroup is one group, an area or an age say; Shares follows Nurseries.
type CompositionGroup struct {
	Name   string
	Fish   int // that it rests on
	Shares []CompositionShare
}

// CompositionShare is the share of a nursery.
type CompositionShare struct {
	Share    Amount
	Interval Interval
}

// Draw answers the picture. Panics when a group has not one share a nursery.
func (p Compositions) Draw() SVG {
	const head, line = 34, 21
	k := len(p.Nurseries)
	w, h := p.size(float64(len(p.Groups))*(head+float64(k)*line) + 34 + underTicks + underName + 22)
	c := &canvas{width: w, height: h}
	unknown, few := false, false
	for _, g := range p.Groups {
		if len(g.Shares) != k {
			panic("chart: a group needs one share a nursery")
		}
		few = few || p.few(g)
		for _, s := range g.Shares {
			unknown = unknown || s.Share.known() && !s.Interval.known()
		}
	}
	name := 0.0
	for _, n := range p.Nurseries {
		name = max(name, textWidth(n, smallSize))
	}
	name = min(name, w*0.3)
	top := c.notes(append(p.notes(few), unknownNote(unknown)...), 0) + 8
	area := box{name + 14, top, w - 62, h - underTicks - underName}
	q := plot{c, area, scale{0, 1, area.x0 + 8, area.x1 - 8}, scale{}}
	each := (area.y1 - area.y0) / float64(max(len(p.Groups), 1))
	c.inside(area, func() {
		for i, g := range p.Groups {
			y := area.y0 + float64(i)*each + head
			for _, t := range []float64{0, 0.25, 0.5, 0.75, 1} {
				q.line("grid", q.x.at(t), y-8, q.x.at(t), y+float64(k-1)*line+8)
			}
			for j, s := range g.Shares {
				p.share(q, g, j, s, y+float64(j)*line)
			}
		}
	})
	for i, g := range p.Groups {
		p.words(q, g, area.y0+float64(i)*each+head, line)
	}
	q.xAxis([]float64{0, 0.25, 0.5, 0.75, 1}, []string{"0", "25", "50", "75", "100" + thin + "%"})
	q.xName("share of the nursery")
	return c.finish(p.Frame)
}

func (p Compositions) few(g CompositionGroup) bool {
	least := p.Few
	if least <= 0 {
		least = 10
	}
	return g.Fish < least
}

func (p Compositions) notes(few bool) []note {
	out := []note{{"share and " + p.interval(), func(c *canvas, x, y float64) {
		c.lying("1", x-9, x+9, x, y, true)
	}}}
	if few {
		out = append(out, note{"few fish", func(c *canvas, x, y float64) {
			c.lying("1", x-9, x+9, x, y, false)
		}})
	}
	return out
}

// share draws one line: the interval, and the share as a stroke across it.
func (p Compositions) share(q plot, g CompositionGroup, j int, s CompositionShare, y float64) {
	q.line("grid", q.area.x0, y, q.area.x1, y)
	if !s.Share.known() {
		return
	}
	words := g.Name + ", " + p.Nurseries[j] + ": " + percent(s.Share.Value) + ", " + p.within(s.Interval, percent) + ", " + count(max(g.Fish, 0), "fish")
	few := p.few(g)
	q.mark(words, func() {
		x := q.x.clip(s.Share.Value)
		if s.Interval.known() {
			x0, x1 := seen(q.x.clip(s.Interval.Low), q.x.clip(s.Interval.High), q.area.x0, q.area.x1)
			q.lying(hue(j), x0, x1, x, y, !few)
			return
		}
		q.circle("open line-"+hue(j), x, y, 4.5)
	})
}

// words writes the group, its nurseries and their shares.
func (p Compositions) words(q plot, g CompositionGroup, y, line float64) {
	said := count(max(g.Fish, 0), "fish")
	if p.few(g) {
		said += ", few"
	}
	q.text("strong halo", 4, y-17, shorten(g.Name, textSize, q.width-textWidth(said, smallSize)-16))
	q.text("small muted end", q.width-4, y-17, said)
	for j, s := range g.Shares {
		at := y + float64(j)*line + 4.5
		q.text("small muted", 4, at, shorten(p.Nurseries[j], smallSize, q.area.x0-12))
		said := "–"
		if s.Share.known() {
			said = percent(min(max(s.Share.Value, -10), 10))
		}
		q.text("small end", q.width-4, at, said)
	}
}

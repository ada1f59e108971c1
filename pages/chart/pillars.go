package chart

import "strconv"

// pillar is a bar from zero with its interval.
type pillar struct {
	value    float64
	interval Interval
	words    string
}

// pillars draws bars at 0, 1, 2 ...: each from zero, its top a firm line, the
// interval a thick stroke, an unknown one an open circle.
func (p plot) pillars(bars []pillar) {
	half := min(p.x.at(0.36)-p.x.at(0), 26)
	for i, b := range bars {
		if !drawable(b.value) {
			continue
		}
		x, y := p.x.at(float64(i)), p.y.clip(b.value)
		p.mark(b.words, func() {
			p.rect("soft-1", box{x - half, y, x + half, p.y.at(0)})
			p.line("line-1", x-half, y, x+half, y)
			if b.interval.known() {
				p.whisker("line-1 thick", x, b.interval)
				return
			}
			r := min(5, half)
			p.circle("open line-1", x, min(max(y, p.area.y0+r), p.area.y1-r), r)
		})
	}
}

// CatchParts draws the catch at age of each part of it, a nursery or a bank, a
// panel each on one scale, every bar with its interval; the catch of all parts is
// the fine outline behind each. Share draws shares at each age instead.
type CatchParts struct {
	Frame
	Ages    []int // in rising order
	Plus    bool  // the last age also holds all that are older
	Unit    string
	Share   bool
	Parts   []CatchPart
	All     []Amount // of all parts by age; nil: no outline
	AllName string   // what the outline is called: "all nurseries"
	Fish    []int    // beneath, by age; nil: not said
}

// CatchPart is one part; Numbers and Intervals follow Ages. An unknown
// number has no bar.
type CatchPart struct {
	Name      string
	Numbers   []Amount
	Intervals []Interval
}

// Draw answers the picture. Panics when a part's numbers don't follow Ages.
func (p CatchParts) Draw() SVG {
	const gap = 68
	n := max(len(p.Parts), 1)
	panel := 150.0
	if n > 3 { // lower ones, so that all are seen together
		panel = 96
	}
	under := float64(underTicks + underName)
	if p.Fish != nil {
		under += 20
	}
	w, h := p.size(float64(n)*panel + float64(n-1)*gap + 70 + under)
	c := &canvas{width: w, height: h}
	extent := span{seen: true}
	unknown, known := false, false
	for _, s := range p.Parts {
		if len(s.Numbers) != len(p.Ages) || len(s.Intervals) != len(p.Ages) {
			panic("chart: a part needs one number and one interval an age")
		}
		for i, a := range s.Numbers {
			if a.known() {
				extent.see(a.Value)
				extent.seeInterval(s.Intervals[i])
				known = known || s.Intervals[i].known()
				unknown = unknown || !s.Intervals[i].known()
			}
		}
	}
	for _, a := range p.All {
		if a.known() {
			extent.see(a.Value)
		}
	}
	low, high, ticks := extent.round(3)
	if p.Share {
		low, high, ticks = 0, 1, []float64{0, 0.5, 1}
	}
	top := c.notes(p.notes(known, unknown), 0) + 46
	tall := (h - top - under - float64(n-1)*gap) / float64(n)
	labels := tickLabels(ticks)
	if p.Share {
		labels = []string{"0", "50" + thin + "%", "100" + thin + "%"}
	}
	names := make([]string, len(p.Ages))
	for i, age := range p.Ages {
		names[i] = ageLabel(age, p.Ages[len(p.Ages)-1], p.Plus)
	}
	for _, s := range p.Parts {
		area := box{leftRoom(labels), top, w - 8, top + tall}
		q := plot{c, area, bands(len(p.Ages), area.x0, area.x1), scale{low, high, area.y1, area.y0}}
		q.yAxis(ticks, labels, "")
		c.text("strong", 4, top-17, shorten(s.Name, textSize, w*0.6))
		if !p.Share {
			c.text("small muted end", w-8, top-17, p.Unit)
		}
		c.inside(area, func() {
			p.outline(q)
			q.pillars(p.bars(s, names))
		})
		q.zero()
		q.xBands(names)
		top += tall + gap
	}
	c.text("small muted end", w-8, h-6, "age (years)")
	p.fish(c, h-underName-4, box{leftRoom(labels), 0, w - 8, 0})
	return c.finish(p.Frame)
}

func (p CatchParts) notes(known, unknown bool) []note {
	var out []note
	if known {
		out = append(out, note{"estimate and " + p.interval(), estimateGlyph})
	}
	if p.All != nil {
		out = append(out, note{p.AllName, func(c *canvas, x, y float64) { c.path("outline", false, x-9, y+6, x-9, y-4, x+9, y-4, x+9, y+6) }})
	}
	return append(out, unknownNote(unknown)...)
}

func (p CatchParts) bars(s CatchPart, names []string) []pillar {
	bars := make([]pillar, len(p.Ages))
	write := func(x float64) string { return value(x) + " " + p.Unit }
	ends := value
	if p.Share {
		write, ends = percent, percent
	}
	for i, a := range s.Numbers {
		if !a.known() {
			bars[i].value = 2 * beyond // no bar
			continue
		}
		bars[i] = pillar{a.Value, s.Intervals[i], s.Name + ", age " + names[i] + ": " + write(a.Value) + ", " + p.within(s.Intervals[i], ends)}
	}
	return bars
}

// outline draws the catch of all parts as steps, broken where it is unknown.
func (p CatchParts) outline(q plot) {
	var points []float64
	for i, a := range p.All {
		if i >= len(p.Ages) || !a.known() {
			q.path("outline", false, points...)
			points = nil
			continue
		}
		y := q.y.clip(a.Value)
		points = append(points, q.x.at(float64(i)-0.5), y, q.x.at(float64(i)+0.5), y)
	}
	q.path("outline", false, points...)
}

// fish writes beneath the last panel how many fish each age rests on.
func (p CatchParts) fish(c *canvas, y float64, area box) {
	if p.Fish == nil {
		return
	}
	x := bands(len(p.Ages), area.x0, area.x1)
	c.text("small muted", 4, y, "fish")
	for i := range p.Ages {
		if i < len(p.Fish) {
			c.text("small muted middle", x.at(float64(i)), y, strconv.Itoa(min(max(p.Fish[i], 0), 99999)))
		}
	}
}

// Series follows a quantity over the years, a panel a place on one scale: a
// mark a year with its interval, joined where years follow each other. An
// unknown interval is an open mark.
type Series struct {
	Frame
	Unit   string
	Panels []SeriesPanel
}

// SeriesPanel is one place, a bank say; Points are in rising order of year.
type SeriesPanel struct {
	Name   string
	Points []SeriesPoint
}

// SeriesPoint is one year.
type SeriesPoint struct {
	Year     int
	Value    float64
	Interval Interval
}

func (d SeriesPoint) drawn() bool { return drawable(d.Value) && d.Year >= 1800 && d.Year <= 2200 }

// Draw answers the picture.
func (p Series) Draw() SVG {
	const panel, gap = 120, 68
	n := max(len(p.Panels), 1)
	w, h := p.size(float64(n)*panel + float64(n-1)*gap + 70 + underTicks + underName)
	c := &canvas{width: w, height: h}
	var years span
	extent := span{seen: true}
	unknown, known := false, false
	for _, s := range p.Panels {
		for _, d := range s.Points {
			if d.drawn() {
				years.see(float64(d.Year))
				extent.see(d.Value)
				extent.seeInterval(d.Interval)
				known = known || d.Interval.known()
				unknown = unknown || !d.Interval.known()
			}
		}
	}
	if !years.seen {
		years.see(0)
	}
	low, high, ticks := extent.round(3)
	labels := tickLabels(ticks)
	names := make([]string, int(years.high-years.low)+1)
	for i := range names {
		names[i] = strconv.Itoa(int(years.low) + i)
	}
	var entries []note
	if known {
		entries = []note{{"estimate and " + p.interval(), estimateGlyph}}
	}
	top := c.notes(append(entries, unknownNote(unknown)...), 0) + 46
	tall := (h - top - underTicks - underName - float64(n-1)*gap) / float64(n)
	for _, s := range p.Panels {
		area := box{leftRoom(labels), top, w - 12, top + tall}
		q := plot{c, area, scale{years.low - 0.5, years.high + 0.5, area.x0, area.x1}, scale{low, high, area.y1, area.y0}}
		q.yAxis(ticks, labels, "")
		c.text("strong", 4, top-17, shorten(s.Name, textSize, w*0.6))
		c.text("small muted end", w-12, top-17, p.Unit)
		c.inside(area, func() { p.points(q, s) })
		q.zero()
		b := q
		b.x = bands(len(names), area.x0, area.x1)
		b.xBands(names)
		top += tall + gap
	}
	c.text("small muted end", w-12, h-6, "year")
	return c.finish(p.Frame)
}

func (p Series) points(q plot, s SeriesPanel) {
	var line []float64
	last := 0
	for _, d := range s.Points {
		if !d.drawn() {
			continue
		}
		if d.Year != last+1 {
			q.path("outline", false, line...)
			line = nil
		}
		line, last = append(line, q.x.at(float64(d.Year)), q.y.at(d.Value)), d.Year
	}
	q.path("outline", false, line...)
	half := min(9, q.x.at(0.4)-q.x.at(0))
	for _, d := range s.Points {
		if !d.drawn() {
			continue
		}
		x, y := q.x.at(float64(d.Year)), q.y.at(d.Value)
		q.mark(s.Name+", "+strconv.Itoa(d.Year)+": "+value(d.Value)+" "+p.Unit+", "+p.within(d.Interval, value), func() {
			if !d.Interval.known() {
				q.circle("open line-1", x, y, min(4.5, half))
				return
			}
			q.whisker("line-1 thick", x, d.Interval)
			q.line("line-1", x-half, y, x+half, y)
		})
	}
}

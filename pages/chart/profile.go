package chart

import "math"

// Profile draws how far the log-likelihood falls below its highest when one
// parameter is held at other values: the curve, the cut at which the interval
// ends, and the interval itself. An end that the data do not give is said in
// words and drawn as no end.
type Profile struct {
	Frame
	Name      string // of the parameter, with its unit: "largest length (cm)"
	Points    []ProfilePoint
	Cut       float64 // fall at the ends of the interval: half of χ² at the level
	Estimate  Amount
	Low, High Amount // of the interval
}

// ProfilePoint is the fall of the log-likelihood at one value, in rising order.
type ProfilePoint struct{ Value, Fall float64 }

// Draw answers the picture.
func (p Profile) Draw() SVG {
	w, h := p.size(300)
	c := &canvas{width: w, height: h}
	cut := atLeast(p.Cut, 0)
	deepest := 2.5 * cut
	if cut == 0 {
		deepest = 5
	}
	var values span
	for _, d := range p.Points {
		if drawable(d.Value) && drawable(d.Fall) && d.Fall <= deepest {
			values.see(d.Value)
		}
	}
	for _, a := range []Amount{p.Estimate, p.Low, p.High} {
		if a.known() {
			values.see(a.Value)
		}
	}
	low, high, ticks := values.round(7)
	_, down, falls := span{low: 0, high: deepest, seen: true}.round(4)
	labels := tickLabels(falls)
	for i, f := range falls {
		if f > 0 {
			labels[i] = "−" + labels[i]
		}
	}
	area := box{leftRoom(labels), 60, w - 14, h - underTicks - underName}
	q := plot{c, area, scale{low, high, area.x0, area.x1}, scale{0, down, area.y0, area.y1}}
	q.yAxis(falls, labels, "log-likelihood, from its highest")
	c.inside(area, func() {
		p.interval(q)
		p.curve(q, down)
		if cut > 0 {
			q.line("rule", area.x0, q.y.at(cut), area.x1, q.y.at(cut))
		}
		if p.Estimate.known() {
			q.mark("estimate "+value(p.Estimate.Value), func() { q.shape("fill-2 edge", diamond, q.x.at(p.Estimate.Value), q.y.at(0), 5) })
		}
	})
	c.text("small", 4, 18, shorten(p.words(), smallSize, w-8))
	q.xAxis(ticks, tickLabels(ticks))
	q.xName(p.Name)
	return c.finish(p.Frame)
}

// interval shades the values within it, to the edge of the plot where an end is
// unknown.
func (p Profile) interval(q plot) {
	if !p.Low.known() && !p.High.known() {
		return
	}
	x0, x1 := q.area.x0, q.area.x1
	if p.Low.known() {
		x0 = q.x.at(p.Low.Value)
	}
	if p.High.known() {
		x1 = q.x.at(p.High.Value)
	}
	if x1 < x0 {
		return
	}
	q.mark(p.words(), func() { q.rect("soft-1", box{x0, q.area.y0, x1, q.area.y1}) })
	for _, end := range []struct {
		at Amount
		x  float64
	}{{p.Low, x0}, {p.High, x1}} {
		if end.at.known() {
			q.line("line-1", end.x, q.area.y0, end.x, q.area.y1)
		}
	}
}

// words says the interval: 218 (205 to 239), or which end is not there.
func (p Profile) words() string {
	said := p.Frame.interval() + " "
	switch {
	case p.Low.known() && p.High.known():
		said += value(p.Low.Value) + " to " + value(p.High.Value)
	case p.Low.known():
		said += "from " + value(p.Low.Value) + ", without an upper end"
	case p.High.known():
		said += "up to " + value(p.High.Value) + ", without a lower end"
	default:
		said += "unknown"
	}
	if p.Estimate.known() {
		return "estimate " + value(p.Estimate.Value) + ", " + said
	}
	return said
}

// curve draws the fall as far as the plot reaches.
func (p Profile) curve(q plot, down float64) {
	var points []float64
	flush := func() {
		q.path("line-0", false, points...)
		points = nil
	}
	for _, d := range p.Points {
		if !drawable(d.Value) || !drawable(d.Fall) || d.Value < q.x.low || d.Value > q.x.high || d.Fall > down {
			flush()
			continue
		}
		points = append(points, q.x.at(d.Value), q.y.at(math.Max(d.Fall, 0)))
	}
	flush()
}

// Draws draws how an estimate fell out in the replicates: their distribution as
// steps, the interval shaded over it, the estimate a diamond on the axis.
type Draws struct {
	Frame
	Name     string // of the quantity, with its unit
	Values   []float64
	Estimate Amount
	Interval Interval
}

// Draw answers the picture. Up to one in a hundred of the values on either side
// may lie beyond the picture; it says how many.
func (p Draws) Draw() SVG {
	w, h := p.size(300)
	c := &canvas{width: w, height: h}
	kept, beyond := p.middle()
	var values span
	values.see(kept...)
	if p.Estimate.known() {
		values.see(p.Estimate.Value)
	}
	values.seeInterval(p.Interval)
	low, high, ticks := values.round(7)
	heights := make([]float64, 32)
	most := span{seen: true}
	for _, x := range kept {
		at := min(int((x-low)/(high-low)*float64(len(heights))), len(heights)-1)
		heights[at]++
		most.see(heights[at])
	}
	_, up, counts := most.round(4)
	labels := tickLabels(whole(counts))
	area := box{leftRoom(labels), 60, w - 14, h - underTicks - underName}
	q := plot{c, area, scale{low, high, area.x0, area.x1}, scale{0, up, area.y1, area.y0}}
	said := p.words()
	if beyond > 0 {
		said += "; " + number(float64(beyond), 0) + " beyond the picture"
	}
	c.text("small", 4, 18, shorten(said, smallSize, w-8))
	q.yAxis(whole(counts), labels, "replicates")
	c.inside(area, func() { p.steps(q, heights) })
	q.zero()
	q.xAxis(ticks, tickLabels(ticks))
	q.xName(p.Name)
	return c.finish(p.Frame)
}

// middle are the values to draw, and how many lie too far out.
func (p Draws) middle() (kept []float64, beyond int) {
	sorted := drawables(p.Values)
	cut := len(sorted) / 100
	from, to := 0, len(sorted)
	spread := 0.0
	if len(sorted) > 0 {
		spread = sorted[len(sorted)-1-cut] - sorted[cut]
	}
	for from < cut && sorted[from] < sorted[cut]-spread/2 {
		from++
	}
	for to > len(sorted)-cut && sorted[to-1] > sorted[len(sorted)-1-cut]+spread/2 {
		to--
	}
	return sorted[from:to], from + len(sorted) - to
}

func (p Draws) words() string {
	said := p.within(p.Interval, value)
	if p.Estimate.known() {
		said = "estimate " + value(p.Estimate.Value) + ", " + said
	}
	return said
}

func (p Draws) steps(q plot, heights []float64) {
	if p.Interval.known() {
		x0, x1 := q.x.at(p.Interval.Low), q.x.at(p.Interval.High)
		q.mark(p.words(), func() { q.rect("soft-1", box{x0, q.area.y0, x1, q.area.y1}) })
		q.line("line-1", x0, q.area.y0, x0, q.area.y1)
		q.line("line-1", x1, q.area.y0, x1, q.area.y1)
	}
	wide := (q.x.high - q.x.low) / float64(len(heights))
	points := []float64{q.area.x0, q.y.at(0)}
	for i, n := range heights {
		x0, x1 := q.x.at(q.x.low+float64(i)*wide), q.x.at(q.x.low+float64(i+1)*wide)
		points = append(points, x0, q.y.at(n), x1, q.y.at(n))
	}
	points = append(points, q.area.x1, q.y.at(0))
	q.path("band-ink fill-0", true, points...)
	q.path("line-0 fine", false, points...)
	if p.Estimate.known() {
		q.mark("estimate "+value(p.Estimate.Value), func() { q.shape("fill-2 edge", diamond, q.x.at(p.Estimate.Value), q.y.at(0), 5) })
	}
}

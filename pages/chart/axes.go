package chart

// plot is a canvas with one plot area and its two scales.
type plot struct {
	*canvas
	area box
	x, y scale
}

// room beneath a plot area for tick labels and the name of the axis.
const (
	underTicks = 24
	underName  = 22
)

// note is one entry of the line of explanations above a plot: only what the
// picture really shows is explained.
type note struct {
	words string
	glyph func(c *canvas, x, y float64) // draws within 18 by 14 pixels around x, y
}

// notes writes the entries from left to right, breaking lines as needed, and
// answers the y beneath them.
func (c *canvas) notes(entries []note, top float64) float64 {
	const glyphRoom, gap, lineHeight = 24, 20, 24
	x, y := 4.0, top+lineHeight/2
	for _, n := range entries {
		w := glyphRoom + textWidth(n.words, smallSize)
		if x > 4 && x+w > c.width-4 {
			x, y = 4, y+lineHeight
		}
		n.glyph(c, x+9, y)
		c.text("small muted", x+glyphRoom, y+4.5, n.words)
		x += w + gap
	}
	if len(entries) == 0 {
		return top
	}
	return y + lineHeight/2 + 4
}

// leftRoom is the width that the labels of a left axis take.
func leftRoom(labels []string) float64 {
	widest := 0.0
	for _, l := range labels {
		widest = max(widest, textWidth(l, smallSize))
	}
	return widest + 14
}

// yAxis draws hairlines at the ticks, their labels, and the name of the axis
// with its unit above them, lying flat.
func (p plot) yAxis(ticks []float64, labels []string, name string) {
	for i, t := range ticks {
		y := p.y.at(t)
		p.line("grid", p.area.x0, y, p.area.x1, y)
		p.text("small muted end", p.area.x0-8, y+4.5, labels[i])
	}
	if name != "" {
		p.text("small muted", 4, p.area.y0-15, name)
	}
}

// zero draws the line that lengths of bars are measured from.
func (p plot) zero() {
	if p.y.low <= 0 && p.y.high >= 0 {
		p.line("zero", p.area.x0, p.y.at(0), p.area.x1, p.y.at(0))
	}
}

// xName writes the name of the bottom axis, flush right under the tick labels.
func (p plot) xName(name string) {
	p.text("small muted end", p.area.x1, p.area.y1+underTicks+underName-6, name)
}

// xAxis draws ticks and labels of a continuous bottom axis.
func (p plot) xAxis(ticks []float64, labels []string) {
	for i, t := range ticks {
		x := p.x.at(t)
		p.line("axis", x, p.area.y1, x, p.area.y1+5)
		p.text("small muted middle", x, p.area.y1+19, labels[i])
	}
	p.line("axis", p.area.x0, p.area.y1, p.area.x1, p.area.y1)
}

// xBands labels one band each at positions 0, 1, 2 ..., leaving out labels that
// would touch; the last is always there.
func (p plot) xBands(labels []string) {
	n := len(labels)
	widest := 0.0
	for _, l := range labels {
		widest = max(widest, textWidth(l, smallSize))
	}
	band := (p.area.x1 - p.area.x0) / float64(max(n, 1))
	every := 1
	for float64(every)*band < widest+6 && every < n {
		every++
	}
	for i, l := range labels {
		if (n-1-i)%every == 0 {
			p.text("small muted middle", p.x.at(float64(i)), p.area.y1+19, l)
		}
	}
}

// bands is the scale of n bands between two edges: band i is centred at i.
func bands(n int, from, to float64) scale {
	return scale{-0.5, float64(max(n, 1)) - 0.5, from, to}
}

// whisker draws an interval as a thick upright stroke; one too short to be seen
// is drawn 4 pixels long.
func (p plot) whisker(class string, x float64, i Interval) {
	y0, y1 := seen(p.y.clip(i.High), p.y.clip(i.Low), p.area.y0, p.area.y1)
	p.line(class, x, y0, x, y1)
}

// seen is a stretch within bounds, 4 pixels long where it was too short to be seen.
func seen(low, high, from, to float64) (float64, float64) {
	if high-low >= 4 {
		return low, high
	}
	mid := min(max((low+high)/2, from+2), to-2)
	return mid - 2, mid + 2
}

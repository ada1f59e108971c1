package chart

import "strconv"

// AgeBias draws reader B's mean age at each age of reader A, with its interval,
// over the line of equal ages. The number of fish stands above each age. A mean
// without an interval (one fish) is an open circle. Bars end at age 0, where few fish
// have an interval that goes beyond.
type AgeBias struct {
	Frame
	ReaderA, ReaderB string
	Points           []BiasPoint // in rising order of age
}

// BiasPoint is the fish to which reader A gave one age.
type BiasPoint struct {
	Age      int
	Mean     float64 // reader B's mean age of them
	Interval Interval
	Fish     int
}

// Draw answers the picture.
func (p AgeBias) Draw() SVG {
	w, h := p.size(470)
	c := &canvas{width: w, height: h}
	var extent span
	for _, d := range p.Points {
		extent.see(float64(d.Age), d.Mean)
		extent.seeInterval(fromBirth(d.Interval))
	}
	low, high, ticks := extent.round(8)
	labels := tickLabels(ticks)
	unknown := false
	for _, d := range p.Points {
		unknown = unknown || !d.Interval.known()
	}
	top := c.notes(append([]note{{"mean and " + p.interval(), estimateGlyph}}, unknownNote(unknown)...), 0)
	const pad = 12
	area := box{leftRoom(labels), top + 62, w - 14, h - underTicks - underName}
	widest := p.widest()
	flat := (area.x1-area.x0-2*pad)/(high-low) > widest+4
	if !flat {
		area.y0 += widest - smallSize
	}
	q := plot{c, area, scale{low, high, area.x0 + pad, area.x1 - pad}, scale{low, high, area.y1 - pad, area.y0 + pad}}
	c.text("small muted", 4, top+18, shorten("age by "+p.ReaderB+" (years)", smallSize, w-8))
	q.yAxis(ticks, labels, "")
	q.xAxis(ticks, labels)
	q.xName(shorten("age by "+p.ReaderA+" (years)", smallSize, area.x1-area.x0))
	c.inside(area, func() {
		q.line("rule", q.x.at(low), q.y.at(low), q.x.at(high), q.y.at(high))
		for _, d := range p.Points {
			p.point(q, d)
		}
	})
	c.text("small muted end halo", q.x.at(high)-14, q.y.at(high)+14, "equal ages")
	p.fish(q, flat)
	return c.finish(p.Frame)
}

func (p AgeBias) point(q plot, d BiasPoint) {
	if !drawable(d.Mean) {
		return
	}
	x, y := q.x.at(float64(d.Age)), q.y.at(d.Mean)
	words := p.ReaderA + " " + strconv.Itoa(d.Age) + ": " + p.ReaderB + " " + value(d.Mean) + ", " + p.within(d.Interval, value) + ", " + count(d.Fish, "fish")
	q.mark(words, func() {
		if !d.Interval.known() {
			q.circle("open line-1", x, y, 4.5)
			return
		}
		q.whisker("line-1 thick", x, fromBirth(d.Interval))
		q.line("line-1", x-8, y, x+8, y)
	})
}

// fromBirth is the part of an interval where there are ages.
func fromBirth(i Interval) Interval {
	i.Low, i.High = max(i.Low, 0), max(i.High, 0)
	return i
}

// widest is the room that the longest number of fish takes.
func (p AgeBias) widest() float64 {
	widest := 0.0
	for _, d := range p.Points {
		widest = max(widest, textWidth(number(float64(d.Fish), 0), smallSize))
	}
	return widest
}

// fish writes how many there are above each age, upright where ages are close.
func (p AgeBias) fish(q plot, flat bool) {
	q.text("small muted", 4, q.area.y0-12, "fish")
	for _, d := range p.Points {
		x := q.x.at(float64(d.Age))
		if flat {
			q.text("small muted middle", x, q.area.y0-12, number(float64(d.Fish), 0))
		} else {
			q.upright("small muted", x+4.5, q.area.y0-8, number(float64(d.Fish), 0))
		}
	}
}

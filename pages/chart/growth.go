package chart

import "strconv"

// Growth draws length at age: fish as dots, the fitted curve as a firm line with
// its interval as a band, and the largest length as a dashed line where it lies
// near the fish.
type Growth struct {
	Frame
	Unit      string // of length
	Fish      []Spot // X decimal age in years, Y length
	Curve     []CurvePoint
	Asymptote Amount // the largest length
}

// CurvePoint is the curve at one age, in rising order of age.
type CurvePoint struct {
	Age, Length float64
	Interval    Interval
}

// Draw answers the picture.
func (p Growth) Draw() SVG {
	w, h := p.size(420)
	c := &canvas{width: w, height: h}
	var ages span
	lengths := span{seen: true}
	seeSpots(&ages, &lengths, p.Fish)
	line := p.line()
	for _, d := range line.spots {
		ages.see(d.age)
		lengths.see(d.value)
		lengths.seeInterval(d.interval)
	}
	near := p.Asymptote.known() && p.Asymptote.Value > 0 && p.Asymptote.Value <= 1.3*lengths.high
	if near {
		lengths.see(p.Asymptote.Value)
	}
	aLow, aHigh, aTicks := ages.round(8)
	low, high, ticks := lengths.round(6)
	labels := tickLabels(ticks)
	area := box{leftRoom(labels), 96, w - 12, h - underTicks - underName}
	q := plot{c, area, scale{aLow, aHigh, area.x0, area.x1}, scale{low, high, area.y1, area.y0}}
	p.explain(&q)
	q.yAxis(ticks, labels, shorten("length ("+p.Unit+")", smallSize, w-8))
	c.inside(q.area, func() {
		q.cloud(p.Fish)
		line.bandIn(q, "band-ink fill-0")
		q.mark(line.words, func() { line.drawIn(q, "line-0") })
		p.points(q, line)
		if near {
			q.line("rule", q.area.x0, q.y.at(p.Asymptote.Value), q.area.x1, q.y.at(p.Asymptote.Value))
		}
	})
	p.nameAsymptote(q, near)
	q.xAxis(aTicks, tickLabels(aTicks))
	q.xName("age (years)")
	return c.finish(p.Frame)
}

// explain writes the notes and moves the top of the plot beneath them.
func (p Growth) explain(q *plot) {
	entries := cloudNotes(q.largestDot(p.Fish))
	if len(p.Curve) > 0 {
		entries = append(entries, note{"curve and " + p.interval(), func(c *canvas, x, y float64) {
			c.rect("band-ink fill-0", box{x - 9, y - 6, x + 9, y + 6})
			c.line("line-0", x-9, y, x+9, y)
		}})
	}
	q.area.y0 = q.notes(entries, 0) + 36
	q.y.to = q.area.y0
}

// line is the curve as it is drawn.
func (p Growth) line() curve {
	k := curve{words: "the fitted curve"}
	for _, d := range p.Curve {
		if drawable(d.Age) && drawable(d.Length) {
			k.spots = append(k.spots, spot{d.Age, d.Length, d.Interval})
		}
	}
	return k
}

// points lays an unseen box over the curve at about ten ages, which carries its
// words.
func (p Growth) points(q plot, line curve) {
	every := max(1, len(line.spots)/10)
	for i := 0; i < len(line.spots); i += every {
		d := line.spots[i]
		x, y := q.x.at(d.age), q.y.at(d.value)
		r := box{max(x-6, q.area.x0), max(y-10, q.area.y0), min(x+6, q.area.x1), min(y+10, q.area.y1)}
		q.mark("age "+value(d.age)+": "+value(d.value)+" "+p.Unit+", "+p.within(d.interval, value), func() { q.rect("unseen", r) })
	}
}

// nameAsymptote names the largest length, beside its line or, where it lies
// beyond the picture, at the top with an arrow.
func (p Growth) nameAsymptote(q plot, near bool) {
	if !p.Asymptote.known() {
		return
	}
	words := "largest length " + value(p.Asymptote.Value) + " " + p.Unit
	if near {
		y := q.y.at(p.Asymptote.Value) - 6
		if y < q.area.y0+10 {
			y += 22
		}
		q.text("small halo", q.area.x0+6, y, words)
		return
	}
	q.text("small halo end", q.area.x1-6, q.area.y0+14, words+", beyond the picture")
}

// bandIn fills between the ends of the intervals in one class, broken where one is unknown.
func (k curve) bandIn(q plot, class string) {
	var upper, lower []float64
	flush := func() {
		for j := len(lower) - 2; j >= 0; j -= 2 {
			upper = append(upper, lower[j], lower[j+1])
		}
		q.path(class, true, upper...)
		upper, lower = nil, nil
	}
	for _, d := range k.spots {
		if !d.interval.known() {
			flush()
			continue
		}
		upper = append(upper, q.x.at(d.age), q.y.at(d.interval.High))
		lower = append(lower, q.x.at(d.age), q.y.at(d.interval.Low))
	}
	flush()
}

// drawIn draws the line of the curve in one class.
func (k curve) drawIn(q plot, class string) {
	var points []float64
	for _, d := range k.spots {
		points = append(points, q.x.at(d.age), q.y.at(d.value))
	}
	q.path(class, false, points...)
}

// Residuals draws by how much each fish is longer or shorter than the curve at
// its age: fish as dots, the mean of each age with its interval, and the line of
// no difference. A mean without an interval is an open mark.
type Residuals struct {
	Frame
	Unit  string
	Fish  []Spot // X decimal age in years, Y length less that of the curve
	Means []ResidualMean
}

// ResidualMean is the mean of the fish of one age class; At is where it stands
// on the axis of decimal age.
type ResidualMean struct {
	At, Mean float64
	Interval Interval
	Fish     int
}

// Draw answers the picture.
func (p Residuals) Draw() SVG {
	w, h := p.size(330)
	c := &canvas{width: w, height: h}
	var ages, gaps span
	seeSpots(&ages, &gaps, p.Fish)
	unknown := false
	for _, m := range p.Means {
		if drawable(m.At) && drawable(m.Mean) {
			ages.see(m.At)
			gaps.see(m.Mean)
			gaps.seeInterval(m.Interval)
			unknown = unknown || !m.Interval.known()
		}
	}
	gaps.see(0)
	aLow, aHigh, aTicks := ages.round(8)
	low, high, ticks := gaps.round(5)
	labels := signedLabels(ticks)
	area := box{leftRoom(labels), 96, w - 12, h - underTicks - underName}
	q := plot{c, area, scale{aLow, aHigh, area.x0, area.x1}, scale{low, high, area.y1, area.y0}}
	entries := cloudNotes(q.largestDot(p.Fish))
	if len(p.Means) > 0 {
		entries = append(entries, note{"mean and " + p.interval(), inkGlyph})
	}
	q.area.y0 = c.notes(append(entries, unknownNote(unknown)...), 0) + 36
	q.y.to = q.area.y0
	q.yAxis(ticks, labels, shorten("longer (+) or shorter (−) than the curve ("+p.Unit+")", smallSize, w-8))
	c.inside(q.area, func() {
		q.cloud(p.Fish)
		for _, m := range p.Means {
			p.mean(q, m)
		}
	})
	q.zero()
	q.xAxis(aTicks, tickLabels(aTicks))
	q.xName("age (years)")
	return c.finish(p.Frame)
}

func (p Residuals) mean(q plot, m ResidualMean) {
	if !drawable(m.At) || !drawable(m.Mean) {
		return
	}
	x, y := q.x.at(m.At), q.y.at(m.Mean)
	x0, x1 := max(x-7, q.area.x0), min(x+7, q.area.x1)
	words := "age " + value(m.At) + ": mean " + value(m.Mean) + " " + p.Unit + ", " + p.within(m.Interval, value) + ", " + count(max(m.Fish, 0), "fish")
	q.mark(words, func() {
		if !m.Interval.known() {
			q.circle("open line-0", x, y, 4.5)
			return
		}
		q.whisker("line-0 thick", x, m.Interval)
		q.line("line-0", x0, y, x1, y)
	})
}

func inkGlyph(c *canvas, x, y float64) {
	c.line("line-0", x-9, y, x+9, y)
	c.line("line-0 thick", x, y-8, x, y+8)
}

// signedLabels writes ticks with their sign: −0.5, 0, +0.5.
func signedLabels(ticks []float64) []string {
	labels := tickLabels(ticks)
	for i, t := range ticks {
		if t > 0 {
			labels[i] = "+" + labels[i]
		}
	}
	return labels
}

// ordinal writes a place in a row: 1st, 2nd, 3rd, 4th.
func ordinal(n int) string {
	switch {
	case n%100 >= 11 && n%100 <= 13:
	case n%10 == 1:
		return strconv.Itoa(n) + "st"
	case n%10 == 2:
		return strconv.Itoa(n) + "nd"
	case n%10 == 3:
		return strconv.Itoa(n) + "rd"
	}
	return strconv.Itoa(n) + "th"
}

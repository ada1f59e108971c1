package chart

import "strconv"

// ErrorCurve draws the spread (SD) of each reader's counts against true age, and
// beneath it the bias where any reader has one. A band is the interval; readers
// differ in line pattern and shape of mark and carry their names. A point whose
// interval is unknown is an open mark on the line.
type ErrorCurve struct {
	Frame
	Readers []ReaderError
}

// ReaderError is one reader; Points are in rising order of age.
type ReaderError struct {
	Name     string
	Points   []ErrorPoint
	Unbiased bool // held to be unbiased: a bare line at zero, whatever Bias says
}

// ErrorPoint is a reader at one true age, in years. An unknown Bias is not drawn.
type ErrorPoint struct {
	Age          float64
	SD           float64
	SDInterval   Interval
	Bias         Amount
	BiasInterval Interval
}

// curve is what one reader shows in one panel.
type curve struct {
	name, words string
	spots       []spot
	bare        bool // a line by assumption, without marks or band
}

// spot is one point of a curve.
type spot struct {
	age, value float64
	interval   Interval
}

// Draw answers the picture.
func (p ErrorCurve) Draw() SVG {
	spreads, biases := p.spreads(), p.biases()
	least := 320.0
	if biases != nil {
		least = 520
	}
	w, h := p.size(least)
	c := &canvas{width: w, height: h}
	top := c.notes(unknownNote(p.unknown(spreads) || p.unknown(biases)), 0) + 36
	name := 0.0
	var ages span
	for _, r := range p.Readers {
		name = max(name, textWidth(r.Name, smallSize))
		for _, d := range r.Points {
			ages.see(d.Age)
		}
	}
	name = min(name, w/3)
	area := box{52, top, w - name - 22, h - underTicks - underName}
	if biases != nil {
		area.y1 = top + (area.y1-top-50)*0.55
	}
	low, high, ticks := ages.round(7)
	x := scale{low, high, area.x0 + 8, area.x1 - 8}
	p.panel(c, area, x, "SD of a count (years), band: "+p.interval(), spreads)
	if biases != nil {
		area.y0, area.y1 = area.y1+50, h-underTicks-underName
		p.panel(c, area, x, "bias (years): below zero reads too young", biases)
	}
	q := plot{c, area, x, scale{}}
	q.xAxis(ticks, tickLabels(ticks))
	q.xName("true age (years)")
	return c.finish(p.Frame)
}

// unknown says whether a mark is drawn whose interval is unknown.
func (p ErrorCurve) unknown(curves []curve) bool {
	for _, k := range curves {
		for _, d := range k.spots {
			if !k.bare && !d.interval.known() {
				return true
			}
		}
	}
	return false
}

func (p ErrorCurve) spreads() []curve {
	var out []curve
	for _, r := range p.Readers {
		k := curve{name: r.Name, words: r.Name}
		for _, d := range r.Points {
			if drawable(d.Age) && drawable(d.SD) {
				k.spots = append(k.spots, spot{d.Age, d.SD, d.SDInterval})
			}
		}
		out = append(out, k)
	}
	return out
}

// biases answers nil when no reader has a bias to show.
func (p ErrorCurve) biases() []curve {
	var out []curve
	shown := false
	for _, r := range p.Readers {
		k := curve{name: r.Name, words: r.Name, bare: r.Unbiased}
		if r.Unbiased {
			k.words += ", held to be unbiased"
		}
		for _, d := range r.Points {
			switch {
			case !drawable(d.Age):
			case r.Unbiased:
				k.spots = append(k.spots, spot{age: d.Age})
			case d.Bias.known():
				k.spots = append(k.spots, spot{d.Age, d.Bias.Value, d.BiasInterval})
				shown = true
			}
		}
		out = append(out, k)
	}
	if !shown {
		return nil
	}
	return out
}

// panel draws one panel: bands first, so that no line lies under one.
func (p ErrorCurve) panel(c *canvas, area box, x scale, name string, curves []curve) {
	extent := span{seen: true}
	for _, k := range curves {
		for _, d := range k.spots {
			extent.see(d.value)
			extent.seeInterval(d.interval)
		}
	}
	low, high, ticks := extent.round(4)
	q := plot{c, area, x, scale{low, high, area.y1, area.y0}}
	q.yAxis(ticks, tickLabels(ticks), name)
	q.zero()
	c.inside(area, func() {
		for i, k := range curves {
			k.band(q, i)
		}
		for i, k := range curves {
			p.line(q, k, i)
		}
	})
	nameCurves(q, curves)
}

// nameCurves writes each name at the end of its line, moved apart where lines
// end close together.
func nameCurves(q plot, curves []curve) {
	var named []int
	var ends []float64
	for i, k := range curves {
		if n := len(k.spots); n > 0 {
			named = append(named, i)
			ends = append(ends, q.y.at(k.spots[n-1].value))
		}
	}
	for j, y := range spread(ends, smallSize+3, q.area.y0+4, q.area.y1) {
		i := named[j]
		last := curves[i].spots[len(curves[i].spots)-1]
		q.line("leader", q.x.at(last.age)+5, ends[j], q.area.x1+11, y)
		q.text("small strong text-"+hue(i), q.area.x1+14, y+4.5, shorten(curves[i].name, smallSize, q.width-q.area.x1-16))
	}
}

// hue is the colour of series i, starting with the accent.
func hue(i int) string { return strconv.Itoa(i%4 + 1) }

func (k curve) band(q plot, i int) { k.bandIn(q, "band fill-"+hue(i)) }

func (p ErrorCurve) line(q plot, k curve, i int) {
	q.mark(k.words, func() { k.drawIn(q, "line-"+hue(i)+" dash-"+strconv.Itoa(i%4)) })
	if k.bare {
		return
	}
	for _, d := range k.spots {
		class := "fill-" + hue(i)
		if !d.interval.known() {
			class = "open fine line-" + hue(i)
		}
		q.mark(k.name+", age "+value(d.age)+": "+value(d.value)+" years, "+p.within(d.interval, value), func() {
			q.shape(class, i, q.x.at(d.age), q.y.at(d.value), 3.2)
		})
	}
}

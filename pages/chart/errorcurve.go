package chart

import (
	"strconv"
)

// ErrorCurve draws the spread (SD) of each reader's counts against true age, and
// beneath it the bias where any reader has one. A band is the interval; readers
// differ in line pattern and carry their names. A point whose interval is
// unknown is an open mark on the line.
type ErrorCurve struct {
	Frame
	Readers []ReaderError
}

// ReaderError is one reader; Points are in rising order of age.
type ReaderError struct {
	Name   string
	Points []ErrorPoint
}

// ErrorPoint is a reader at one true age, in years. An unknown Bias is not
// drawn; a reader held to be unbiased has Bias Of(0).
type ErrorPoint struct {
	Age          float64
	SD           float64
	SDInterval   Interval
	Bias         Amount
	BiasInterval Interval
}

// Draw answers the picture.
func (p ErrorCurve) Draw() SVG {
	biased := p.biased()
	least := 300.0
	if biased {
		least = 500
	}
	w, h := p.size(least)
	c := &canvas{width: w, height: h}
	name := 0.0
	var ages span
	for _, r := range p.Readers {
		name = max(name, textWidth(r.Name, smallSize))
		for _, d := range r.Points {
			ages.see(d.Age)
		}
	}
	name = min(name, w/4)
	area := box{52, 34, w - name - 22, h - underTicks - underName}
	if biased {
		area.y1 = 34 + (area.y1-34-46)*0.55
	}
	low, high, ticks := ages.round(7)
	x := scale{low, high, area.x0, area.x1}
	p.panel(c, area, x, "SD of a count (years)", spreadOf)
	if biased {
		area.y0, area.y1 = area.y1+46, h-underTicks-underName
		p.panel(c, area, x, "bias (years); below zero reads too young", biasOf)
	}
	q := plot{c, area, x, scale{}}
	q.xAxis(ticks, tickLabels(ticks))
	q.xName("true age (years)")
	return c.finish(p.Frame)
}

func spreadOf(d ErrorPoint) (Amount, Interval) { return Of(d.SD), d.SDInterval }
func biasOf(d ErrorPoint) (Amount, Interval)   { return d.Bias, d.BiasInterval }

func (p ErrorCurve) biased() bool {
	for _, r := range p.Readers {
		for _, d := range r.Points {
			if d.Bias.known() && d.Bias.Value != 0 {
				return true
			}
		}
	}
	return false
}

func (p ErrorCurve) panel(c *canvas, area box, x scale, name string, of func(ErrorPoint) (Amount, Interval)) {
	extent := span{seen: true}
	for _, r := range p.Readers {
		for _, d := range r.Points {
			if a, i := of(d); a.known() {
				extent.see(a.Value)
				extent.seeInterval(i)
			}
		}
	}
	low, high, ticks := extent.round(4)
	q := plot{c, area, x, scale{low, high, area.y1, area.y0}}
	q.yAxis(ticks, tickLabels(ticks), name)
	q.zero()
	ends := make([]float64, len(p.Readers))
	c.inside(area, func() {
		for k := range p.Readers {
			p.band(q, k, of)
		}
		for k := range p.Readers {
			ends[k] = p.curve(q, k, of)
		}
	})
	for k, y := range spread(ends, smallSize+3, area.y0+4, area.y1) {
		c.line("leader", area.x1+2, ends[k], area.x1+11, y)
		c.text("small strong text-"+hue(k), area.x1+14, y+4.5, shorten(p.Readers[k].Name, smallSize, c.width-area.x1-16))
	}
}

// hue is the colour of series k, starting with the accent.
func hue(k int) string { return strconv.Itoa(k%4 + 1) }

func (p ErrorCurve) band(q plot, k int, of func(ErrorPoint) (Amount, Interval)) {
	var upper, lower []float64
	flush := func() {
		for i := len(lower) - 2; i >= 0; i -= 2 {
			upper = append(upper, lower[i], lower[i+1])
		}
		q.path("band fill-"+hue(k), true, upper...)
		upper, lower = nil, nil
	}
	for _, d := range p.Readers[k].Points {
		a, i := of(d)
		if !a.known() || !i.known() || !drawable(d.Age) {
			flush()
			continue
		}
		upper = append(upper, q.x.at(d.Age), q.y.at(i.High))
		lower = append(lower, q.x.at(d.Age), q.y.at(i.Low))
	}
	flush()
}

// curve draws one reader's line and answers the height at which it ends.
func (p ErrorCurve) curve(q plot, k int, of func(ErrorPoint) (Amount, Interval)) float64 {
	r := p.Readers[k]
	var points []float64
	end := q.area.y1
	for _, d := range r.Points {
		if a, _ := of(d); a.known() && drawable(d.Age) {
			points = append(points, q.x.at(d.Age), q.y.at(a.Value))
			end = q.y.at(a.Value)
		}
	}
	q.mark(r.Name, func() { q.path("line-"+hue(k)+" dash-"+strconv.Itoa(k%4), false, points...) })
	for _, d := range r.Points {
		a, i := of(d)
		if !a.known() || !drawable(d.Age) {
			continue
		}
		words := r.Name + ", age " + value(d.Age) + ": " + value(a.Value) + " years, " + within(i, value)
		q.mark(words, func() {
			class := "fill-" + hue(k)
			if !i.known() {
				class = "open line-" + hue(k)
			}
			q.shape(class, k, q.x.at(d.Age), q.y.at(a.Value), 3)
		})
	}
	return end
}

package chart

import "math"

// TwoErrors sets the standard error from the formula beside the one from
// resampling, age by age: two marks joined by a line. Ages where they differ by
// more than Gap of the resampled one are joined firmly and carry the
// difference.
type TwoErrors struct {
	Frame
	Ages []TwoError
	Plus bool
	Unit string
	Gap  float64 // share above which a difference is shown; 0 means 0.2
}

// TwoError is one age.
type TwoError struct {
	Age                 int
	Analytic, Resampled Amount
}

// Draw answers the picture.
func (p TwoErrors) Draw() SVG {
	w, h := p.size(300)
	c := &canvas{width: w, height: h}
	top := c.notes([]note{
		{"resampled", func(c *canvas, x, y float64) { c.circle("fill-1", x, y, 5) }},
		{"from the formula", func(c *canvas, x, y float64) { c.shape("open line-2", square, x, y, 5.5) }},
	}, 0)
	extent := span{seen: true}
	for _, d := range p.Ages {
		for _, a := range []Amount{d.Analytic, d.Resampled} {
			if a.known() {
				extent.see(a.Value)
			}
		}
	}
	low, high, ticks := extent.round(5)
	labels := tickLabels(ticks)
	area := box{leftRoom(labels), top + 30, w - 8, h - underTicks - underName}
	q := plot{c, area, bands(len(p.Ages), area.x0, area.x1), scale{low, high, area.y1, area.y0}}
	q.yAxis(ticks, labels, "standard error ("+p.Unit+")")
	q.zero()
	names := make([]string, len(p.Ages))
	for i, d := range p.Ages {
		names[i] = ageLabel(d.Age, p.Ages[len(p.Ages)-1].Age, p.Plus)
	}
	c.inside(area, func() {
		for i, d := range p.Ages {
			p.pair(q, i, names[i], d)
		}
	})
	q.xBands(names)
	q.xName("age (years)")
	return c.finish(p.Frame)
}

func (p TwoErrors) pair(q plot, i int, name string, d TwoError) {
	x := q.x.at(float64(i))
	gap := p.Gap
	if !(gap > 0) {
		gap = 0.2
	}
	words := "age " + name
	if d.Resampled.known() {
		words += ", resampled " + value(d.Resampled.Value)
	}
	if d.Analytic.known() {
		words += ", from the formula " + value(d.Analytic.Value)
	}
	q.mark(words, func() {
		if d.Resampled.known() && d.Analytic.known() {
			class := "leader"
			if math.Abs(d.Analytic.Value-d.Resampled.Value) > gap*d.Resampled.Value {
				class = "line-2"
			}
			q.line(class, x, q.y.at(d.Resampled.Value), x, q.y.at(d.Analytic.Value))
		}
		if d.Resampled.known() {
			q.circle("fill-1", x, q.y.at(d.Resampled.Value), 5)
		}
		if d.Analytic.known() {
			q.shape("open line-2", square, x, q.y.at(d.Analytic.Value), 5.5)
		}
	})
	if d.Resampled.known() && d.Analytic.known() && d.Resampled.Value > 0 {
		over := d.Analytic.Value/d.Resampled.Value - 1
		if math.Abs(over) > gap && math.Abs(over) < 100 {
			sign := ""
			if over > 0 {
				sign = "+"
			}
			y := min(q.y.at(d.Resampled.Value), q.y.at(d.Analytic.Value)) - 11
			q.text("small middle halo text-2", x, y, sign+percent(over))
		}
	}
}

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
	area := box{leftRoom(labels), top + 34, w - 8, h - underTicks - underName}
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
		for i := range p.Ages {
			p.gap(q, i)
		}
	})
	q.xBands(names)
	q.xName("age (years)")
	return c.finish(p.Frame)
}

func (p TwoErrors) pair(q plot, i int, name string, d TwoError) {
	x, aside := q.x.at(float64(i)), min(6, (q.x.at(0.3)-q.x.at(0)))
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
			if _, apart := p.apart(d); apart {
				class = "line-2"
			}
			q.line(class, x-aside, q.y.at(d.Resampled.Value), x+aside, q.y.at(d.Analytic.Value))
		}
		if d.Resampled.known() {
			q.circle("fill-1", x-aside, q.y.at(d.Resampled.Value), min(5, aside))
		}
		if d.Analytic.known() {
			q.shape("open line-2", square, x+aside, q.y.at(d.Analytic.Value), min(5.5, aside))
		}
	})
}

// apart answers by what share the formula is over (or under) resampling, and
// whether that is enough to be shown.
func (p TwoErrors) apart(d TwoError) (float64, bool) {
	if !d.Resampled.known() || !d.Analytic.known() || !(d.Resampled.Value > 0) {
		return 0, false
	}
	gap := p.Gap
	if !(gap > 0) {
		gap = 0.2
	}
	over := d.Analytic.Value/d.Resampled.Value - 1
	return over, math.Abs(over) > gap
}

// gap writes the difference of age i above its marks, or beneath them, or
// further up: where no mark of a neighbour is in its way.
func (p TwoErrors) gap(q plot, i int) {
	over, apart := p.apart(p.Ages[i])
	if !apart || math.Abs(over) > 100 {
		return
	}
	words := percent(over)
	if over > 0 {
		words = "+" + words
	}
	a, b := q.y.at(p.Ages[i].Analytic.Value), q.y.at(p.Ages[i].Resampled.Value)
	places := []float64{min(a, b) - 11, max(a, b) + 22}
	for up := min(a, b) - 23; up > q.area.y0; up -= 12 {
		places = append(places, up)
	}
	for k, y := range places {
		if y < q.area.y1-4 && p.free(q, i, y) {
			if k > 1 {
				q.line("leader", q.x.at(float64(i)), y+4, q.x.at(float64(i)), min(a, b)-8)
			}
			q.text("small strong middle halo text-2", q.x.at(float64(i)), y, words)
			return
		}
	}
}

// free says whether words at height y, above age i, keep clear of the marks of
// the ages beside it.
func (p TwoErrors) free(q plot, i int, y float64) bool {
	for _, j := range []int{i - 1, i + 1} {
		if j < 0 || j >= len(p.Ages) {
			continue
		}
		for _, a := range []Amount{p.Ages[j].Analytic, p.Ages[j].Resampled} {
			if m := q.y.at(a.Value); a.known() && m > y-18 && m < y+8 {
				return false
			}
		}
	}
	return true
}

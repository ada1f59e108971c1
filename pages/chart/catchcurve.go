package chart

import (
	"math"
	"strconv"
)

// CatchCurve draws the catch at age on a scale of powers, on which a steady
// mortality is a straight line: the intervals of ages that the estimate uses are
// full, the others hollow, and each method's line runs over its ages. An end of
// an interval at or below nothing runs to the foot of the picture; a catch
// without an interval is an open circle.
type CatchCurve struct {
	Frame
	Unit  string
	Ages  []CurveAge // in rising order
	Plus  bool       // the last age also holds all that are older
	Lines []CurveLine
}

// CurveAge is the catch of one age; Used says that the estimate rests on it.
type CurveAge struct {
	Age      int
	Number   float64
	Interval Interval
	Used     bool
}

// CurveLine is the line of one method from age to age.
type CurveLine struct {
	Name                 string
	From, To             int
	NumberFrom, NumberTo float64
}

// Draw answers the picture.
func (p CatchCurve) Draw() SVG {
	w, h := p.size(380)
	c := &canvas{width: w, height: h}
	var ages, logs span
	see := func(x float64) {
		if drawable(x) && x > 1e-9 {
			logs.see(math.Log10(x))
		}
	}
	for _, a := range p.Ages {
		if !possible(a.Age) {
			continue
		}
		ages.see(float64(a.Age))
		see(a.Number)
		if a.Interval.known() {
			see(a.Interval.High)
			see(max(a.Interval.Low, a.Number/50))
		}
	}
	for _, l := range p.Lines {
		if l.drawn() {
			ages.see(float64(l.From), float64(l.To))
			see(l.NumberFrom)
			see(l.NumberTo)
		}
	}
	if !ages.seen {
		ages.see(0)
	}
	low, high, ticks := powers(logs)
	labels := make([]string, len(ticks))
	for i, t := range ticks {
		labels[i] = value(math.Pow(10, t))
	}
	area := box{leftRoom(labels), c.notes(p.notes(), 0) + 36, w - 12, h - underTicks - underName}
	q := plot{c, area, scale{ages.low - 0.5, ages.high + 0.5, area.x0, area.x1}, scale{low, high, area.y1, area.y0}}
	q.yAxis(ticks, labels, shorten(p.Unit+", on a scale of powers", smallSize, w-8))
	c.inside(area, func() {
		for _, a := range p.Ages {
			p.age(q, a)
		}
		for i, l := range p.Lines {
			p.line(q, i, l)
		}
	})
	names := make([]string, int(ages.high-ages.low)+1)
	for i := range names {
		names[i] = ageLabel(int(ages.low)+i, int(ages.high), p.Plus)
	}
	b := q
	b.x = bands(len(names), area.x0, area.x1)
	b.xBands(names)
	q.line("axis", area.x0, area.y1, area.x1, area.y1)
	q.xName("age (years)")
	return c.finish(p.Frame)
}

// powers are ticks at 1, 2 and 5 times powers of ten, or at fewer of them where
// the powers are many, as logarithms.
func powers(logs span) (low, high float64, ticks []float64) {
	if !logs.seen {
		logs.see(0, 1)
	}
	low, high = logs.low-0.08, logs.high+0.08
	parts, every := []float64{0, math.Log10(2), math.Log10(5)}, 1.0
	if high-low > 2.2 {
		parts = parts[:1]
		every = math.Ceil((high - low) / 8)
	}
	for k := math.Floor(low); k <= high; k++ {
		for _, part := range parts {
			if t := k + part; t >= low && t <= high && math.Mod(k, every) == 0 {
				ticks = append(ticks, t)
			}
		}
	}
	return low, high, ticks
}

func (l CurveLine) drawn() bool {
	return possible(l.From) && possible(l.To) && drawable(l.NumberFrom) && drawable(l.NumberTo) && l.NumberFrom > 1e-9 && l.NumberTo > 1e-9
}

func (p CatchCurve) age(q plot, a CurveAge) {
	if !possible(a.Age) || !drawable(a.Number) || !(a.Number > 1e-9) {
		return
	}
	x, y := q.x.at(float64(a.Age)), q.y.clip(math.Log10(a.Number))
	words := "age " + ageLabel(a.Age, p.Ages[len(p.Ages)-1].Age, p.Plus) + ": " + value(a.Number) + " " + p.Unit + ", " + p.within(a.Interval, value)
	if !a.Used {
		words += ", not used"
	}
	q.mark(words, func() {
		if a.Interval.known() && a.Interval.High > 1e-9 {
			foot := q.y.low
			if a.Interval.Low > 1e-9 {
				foot = max(foot, math.Log10(a.Interval.Low))
			}
			q.standing(x, y, Between(foot, max(foot, math.Log10(a.Interval.High))), a.Used)
			return
		}
		q.circle("open line-1", x, y, min(4.5, q.x.at(0.4)-q.x.at(0)))
	})
}

// standing draws an upright interval with its value across it, hollow where it
// does not count.
func (p plot) standing(x, y float64, i Interval, full bool) {
	half := min(8, p.x.at(0.42)-p.x.at(0))
	if full {
		p.whisker("line-1 thick", x, i)
	} else {
		y0, y1 := p.y.clip(i.High), p.y.clip(i.Low)
		wide := min(3, half)
		p.rect("open fine line-1", box{x - wide, y0, x + wide, max(y1, y0+2)})
	}
	p.line("line-1", x-half, y, x+half, y)
}

func (p CatchCurve) line(q plot, i int, l CurveLine) {
	if !l.drawn() {
		return
	}
	q.mark(l.Name+", ages "+strconv.Itoa(l.From)+" to "+strconv.Itoa(l.To), func() {
		q.path("line-"+lineHue(i)+" dash-"+strconv.Itoa(i%4), false,
			q.x.at(float64(l.From)), q.y.clip(math.Log10(l.NumberFrom)), q.x.at(float64(l.To)), q.y.clip(math.Log10(l.NumberTo)))
	})
}

// lineHue is the colour of method i; the first accent is that of the marks.
func lineHue(i int) string { return hue(i%3 + 1) }

func (p CatchCurve) notes() []note {
	out := []note{{"catch and " + p.interval(), func(c *canvas, x, y float64) {
		c.line("line-1 thick", x, y-8, x, y+8)
		c.line("line-1", x-8, y, x+8, y)
	}}}
	for _, a := range p.Ages {
		if !a.Used {
			out = append(out, note{"not used", func(c *canvas, x, y float64) {
				c.rect("open fine line-1", box{x - 3, y - 8, x + 3, y + 8})
				c.line("line-1", x-8, y, x+8, y)
			}})
			break
		}
	}
	for i, l := range p.Lines {
		if l.drawn() {
			out = append(out, note{shorten(l.Name, smallSize, 200), func(c *canvas, x, y float64) {
				c.path("line-"+lineHue(i)+" dash-"+strconv.Itoa(i%4), false, x-9, y-4, x+9, y+4)
			}})
		}
	}
	return out
}

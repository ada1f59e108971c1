package chart

import "math"

// Ahead follows quantities over the next years, a panel each on a scale of its own from
// zero, and sets side by side how sure they would be with less, with today's and with more
// sampling: the interval of less is hollow, that of today is thick, that of more is thin,
// and each has its name beneath.
type Ahead struct {
	Frame
	Less, Today, More string // names of the three: ½, 1 and 2
	Sampling          string // what they are of, for the axis
	Standing          string // what the figures are and are not, at the foot; may be empty
	Years             []string
	Panels            []AheadPanel
}

// AheadPanel is one quantity; Points follow Years.
type AheadPanel struct {
	Name, Unit string
	Points     []AheadPoint
}

// AheadPoint is one year.
type AheadPoint struct {
	Value             Amount
	Less, Today, More Interval
}

// Draw answers the picture. Panics when the points of a panel don't follow Years.
func (p Ahead) Draw() SVG {
	const panel, gap = 130.0, 88
	n := max(len(p.Panels), 1)
	w, h := p.size(float64(n)*panel + float64(n-1)*gap + 60 + underTicks + 20 + underName)
	c := &canvas{width: w, height: h}
	left := 0.0
	for _, s := range p.Panels {
		if len(s.Points) != len(p.Years) {
			panic("chart: a panel needs one point a year")
		}
		_, _, ticks := s.extent().round(3)
		left = max(left, leftRoom(tickLabels(ticks)))
	}
	top := c.notes([]note{{"estimate and " + p.interval(), estimateGlyph}}, 0) + 40
	tall := (h - top - underTicks - 20 - underName - float64(n-1)*gap) / float64(n)
	for _, s := range p.Panels {
		low, high, ticks := s.extent().round(3)
		area := box{left, top, w - 8, top + tall}
		q := plot{c, area, bands(len(p.Years), area.x0, area.x1), scale{low, high, area.y1, area.y0}}
		q.yAxis(ticks, tickLabels(ticks), "")
		c.text("strong", 4, top-17, shorten(s.Name, textSize, w-20-textWidth(s.Unit, smallSize)))
		c.text("small muted end", w-8, top-17, s.Unit)
		c.inside(area, func() { p.points(q, s) })
		q.zero()
		p.beneath(q)
		top += tall + gap
	}
	c.standing(h, p.Standing)
	c.text("small muted end", w-8, h-6, shorten(p.Sampling, smallSize, w/2-12))
	return c.finish(p.Frame)
}

func (s AheadPanel) extent() span {
	extent := span{seen: true}
	for _, d := range s.Points {
		if d.Value.known() {
			extent.see(d.Value.Value)
			for _, i := range []Interval{d.Less, d.Today, d.More} {
				extent.seeInterval(i)
			}
		}
	}
	return extent
}

// beside is how far the three stand from the middle of their year, as a share of its room.
var beside = [...]float64{-0.32, 0, 0.32}

func (p Ahead) points(q plot, s AheadPanel) {
	half := min(9, q.x.at(0.09)-q.x.at(0))
	for year, d := range s.Points {
		if !d.Value.known() {
			continue
		}
		for i, interval := range []Interval{d.Less, d.Today, d.More} {
			x, y := q.x.at(float64(year)+beside[i]), q.y.clip(d.Value.Value)
			q.mark(s.Name+", "+p.Years[year]+", "+[]string{p.Less, p.Today, p.More}[i]+": "+value(d.Value.Value)+" "+s.Unit+", "+p.within(interval, value), func() {
				switch {
				case !interval.known():
					q.circle("open line-1", x, min(max(y, q.area.y0+half), q.area.y1-half), min(4.5, half))
					return
				case i == 0:
					y0, y1 := q.y.clip(interval.High), q.y.clip(interval.Low)
					q.rect("open fine line-1", box{x - 3, y0, x + 3, math.Max(y1, y0+2)})
				case i == 1:
					q.whisker("line-1 thick", x, interval)
				default:
					q.whisker("line-1", x, interval)
				}
				q.line("line-1", x-half, y, x+half, y)
			})
		}
	}
}

// beneath writes the three names under their marks, and the year under these.
func (p Ahead) beneath(q plot) {
	room := q.x.at(beside[2]) - q.x.at(0)
	for year, name := range p.Years {
		for i, word := range []string{p.Less, p.Today, p.More} {
			q.text("small muted middle", q.x.at(float64(year)+beside[i]), q.area.y1+18, shorten(word, smallSize, room))
		}
		q.text("small middle", q.x.at(float64(year)), q.area.y1+39, shorten(name, smallSize, q.x.at(1)-q.x.at(0)-6))
	}
}

package chart

import "math"

// Tracers draws two tracers against each other: an ellipse for each nursery,
// which holds Level of its fish, and the fish of the catch on it. A fish has the
// shape of the nursery that it is called to, an open circle where no nursery is
// likely enough, and a cross where it is unlike all of them.
type Tracers struct {
	Frame
	X, Y      string // the tracers with their units
	Nurseries []NurseryArea
	Fish      []TracerFish
}

// NurseryArea is a nursery's mean and covariance in the two tracers.
type NurseryArea struct {
	Name             string
	MeanX, MeanY     float64
	VarX, VarY, CoXY float64
}

// TracerFish is one fish; Call is the index of a nursery, or CalledUnclear, or
// CalledOutside.
type TracerFish struct {
	X, Y float64
	Call int
}

// Calls that name no nursery.
const (
	CalledUnclear = -1
	CalledOutside = -2
)

// mostFish is how many fish of one call are drawn singly: of more, every second,
// third ... is.
const mostFish = 350

// Draw answers the picture.
func (p Tracers) Draw() SVG {
	w, h := p.size(470)
	c := &canvas{width: w, height: h}
	rings := make([][]float64, len(p.Nurseries))
	var across, up span
	for i, n := range p.Nurseries {
		rings[i] = n.ring(p.level())
		for j := 0; j+1 < len(rings[i]); j += 2 {
			across.see(rings[i][j])
			up.see(rings[i][j+1])
		}
	}
	for _, f := range p.Fish {
		if p.drawn(f) {
			across.see(f.X)
			up.see(f.Y)
		}
	}
	xLow, xHigh, xTicks := across.round(6)
	low, high, ticks := up.round(6)
	labels := tickLabels(ticks)
	top := c.notes(p.notes(), 0) + 36
	area := box{leftRoom(labels), top, w - 14, h - underTicks - underName}
	q := plot{c, area, scale{xLow, xHigh, area.x0 + 7, area.x1 - 7}, scale{low, high, area.y1 - 7, area.y0 + 7}}
	q.yAxis(ticks, labels, p.Y)
	c.inside(area, func() {
		p.fish(q)
		for i, ring := range rings {
			p.ellipse(q, i, ring)
		}
	})
	for i, ring := range rings {
		p.nameRing(q, i, ring)
	}
	q.xAxis(xTicks, tickLabels(xTicks))
	q.xName(p.X)
	return c.finish(p.Frame)
}

// level is how much of a nursery its ellipse holds.
func (p Tracers) level() float64 {
	if p.Level > 0 && p.Level < 1 {
		return p.Level
	}
	return 0.95
}

func (p Tracers) drawn(f TracerFish) bool {
	return drawable(f.X) && drawable(f.Y) && f.Call >= CalledOutside && f.Call < len(p.Nurseries)
}

// ring is the ellipse (x − m)ᵀ V⁻¹ (x − m) = −2 ln(1 − level), which holds that
// share of a normal in two dimensions, as points; nil where the covariance is
// none.
func (n NurseryArea) ring(level float64) []float64 {
	for _, x := range []float64{n.MeanX, n.MeanY, n.VarX, n.VarY, n.CoXY} {
		if !drawable(x) {
			return nil
		}
	}
	rest := n.VarY - n.CoXY/n.VarX*n.CoXY
	if !(n.VarX > 0) || !(rest >= 0) || !drawable(rest) {
		return nil
	}
	radius := math.Sqrt(-2 * math.Log(1-level))
	a, b, d := math.Sqrt(n.VarX), n.CoXY/math.Sqrt(n.VarX), math.Sqrt(rest)
	const parts = 60
	var points []float64
	for i := range parts {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / parts)
		x, y := n.MeanX+radius*a*cos, n.MeanY+radius*(b*cos+d*sin)
		if !drawable(x) || !drawable(y) {
			return nil
		}
		points = append(points, x, y)
	}
	return points
}

func (p Tracers) ellipse(q plot, i int, ring []float64) {
	var points []float64
	for j := 0; j+1 < len(ring); j += 2 {
		points = append(points, q.x.at(ring[j]), q.y.at(ring[j+1]))
	}
	n := p.Nurseries[i]
	q.mark(n.Name+": holds "+percent(p.level())+" of its fish", func() {
		q.path("line-"+hue(i)+" dash-"+number(float64(i%4), 0), true, points...)
	})
}

// nameRing writes the nursery at the top of its ellipse.
func (p Tracers) nameRing(q plot, i int, ring []float64) {
	if len(ring) == 0 {
		return
	}
	best := 0
	for j := 0; j+1 < len(ring); j += 2 {
		if ring[j+1] > ring[best+1] {
			best = j
		}
	}
	words := shorten(p.Nurseries[i].Name, smallSize, q.width/3)
	half := textWidth(words, smallSize) / 2
	x := min(max(q.x.at(ring[best]), q.area.x0+half), q.area.x1-half)
	q.text("strong halo middle text-"+hue(i), x, max(q.y.at(ring[best+1])-8, q.area.y0+6), words)
}

// fish draws each call in turn, the sure ones first, so that the odd ones lie on
// top.
func (p Tracers) fish(q plot) {
	for call := len(p.Nurseries) - 1; call >= CalledOutside; call-- {
		every, seen := p.every(call), 0
		for _, f := range p.Fish {
			if f.Call != call || !p.drawn(f) {
				continue
			}
			if seen++; (seen-1)%every == 0 {
				p.one(q.canvas, call, q.x.at(f.X), q.y.at(f.Y))
			}
		}
		if seen > 0 {
			q.b.WriteString("\n")
		}
	}
}

// every is how many fish of a call go to one mark; those outside all are drawn.
func (p Tracers) every(call int) int {
	n := 0
	for _, f := range p.Fish {
		if f.Call == call && p.drawn(f) {
			n++
		}
	}
	if call == CalledOutside {
		return 1
	}
	return max(1, (n+mostFish-1)/mostFish)
}

func (p Tracers) one(c *canvas, call int, x, y float64) {
	switch call {
	case CalledOutside:
		c.path("line-0", false, x-4, y-4, x+4, y+4)
		c.path("line-0", false, x-4, y+4, x+4, y-4)
	case CalledUnclear:
		c.circle("open line-0 fine", x, y, 3)
	default:
		c.shape("dot fill-"+hue(call), call, x, y, 3.2)
	}
}

func (p Tracers) notes() []note {
	var out []note
	add := func(call int, words string) {
		for _, f := range p.Fish {
			if f.Call == call && p.drawn(f) {
				if every := p.every(call); every > 1 {
					words += ", every " + ordinal(every)
				}
				out = append(out, note{words, func(c *canvas, x, y float64) { p.one(c, call, x, y) }})
				return
			}
		}
	}
	for i, n := range p.Nurseries {
		add(i, "called "+shorten(n.Name, smallSize, 130))
	}
	add(CalledUnclear, "unclear")
	add(CalledOutside, "unlike all")
	return out
}

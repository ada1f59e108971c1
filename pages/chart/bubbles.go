package chart

import (
	"math"
	"strconv"
)

// Differences draws reader B's age less reader A's against reader A's age: one
// bubble a pair of values, its area the number of fish, nothing jittered.
type Differences struct {
	Frame
	ReaderA, ReaderB string
	Points           []DifferencePoint
}

// DifferencePoint is the fish of one age by reader A and one difference b − a.
type DifferencePoint struct {
	Age, Difference, Fish int
}

func (d DifferencePoint) drawn() bool {
	return d.Fish > 0 && possible(d.Age) && d.Difference >= -150 && d.Difference <= 150
}

// Draw answers the picture.
func (p Differences) Draw() SVG {
	var ages, gaps span
	most := 0
	for _, d := range p.Points {
		if !d.drawn() {
			continue
		}
		ages.see(float64(d.Age))
		gaps.see(float64(d.Difference))
		most = max(most, d.Fish)
	}
	gaps.see(-1, 1)
	low, high, xTicks := ages.round(8)
	yLow, yHigh := gaps.low-0.6, gaps.high+0.6
	w, h := p.size(max(280, 110+34*(yHigh-yLow)))
	c := &canvas{width: w, height: h}
	top := c.notes(sizeNotes(most), 0)
	var ticks []float64
	for t := math.Ceil(yLow); t <= yHigh; t += max(1, math.Ceil((yHigh-yLow)/9)) {
		ticks = append(ticks, t)
	}
	labels := signed(ticks)
	area := box{leftRoom(labels), top + 34, w - 8, h - underTicks - underName}
	q := plot{c, area, scale{low - 0.6, high + 0.6, area.x0, area.x1}, scale{yLow, yHigh, area.y1, area.y0}}
	q.yAxis(ticks, labels, shorten(p.ReaderB+" less "+p.ReaderA+" (years)", smallSize, w-8))
	q.xAxis(whole(xTicks), tickLabels(whole(xTicks)))
	q.xName(shorten("age by "+p.ReaderA+" (years)", smallSize, area.x1-area.x0))
	q.zero()
	largest := min((q.x.at(1)-q.x.at(0))*0.49, (q.y.at(0)-q.y.at(1))*0.49, 17)
	c.inside(area, func() {
		for _, d := range p.Points {
			if !d.drawn() {
				continue
			}
			class := "fill-2"
			if d.Difference == 0 {
				class = "fill-1"
			}
			words := p.ReaderA + " " + strconv.Itoa(d.Age) + ", " + p.ReaderB + " " + strconv.Itoa(d.Age+d.Difference) + ": " + count(d.Fish, "fish")
			q.mark(words, func() {
				q.circle(class, q.x.at(float64(d.Age)), q.y.at(float64(d.Difference)), areaRadius(d.Fish, most, largest))
			})
		}
	})
	return c.finish(p.Frame)
}

// areaRadius is the radius at which area is in proportion to n; one fish among
// very many stays visible at 1.5 pixels.
func areaRadius(n, most int, largest float64) float64 {
	if most <= 0 {
		return 0
	}
	return max(largest*math.Sqrt(float64(n)/float64(most)), min(1.5, largest))
}

// whole keeps the ticks that are whole numbers: ages have no others.
func whole(ticks []float64) []float64 {
	var out []float64
	for _, t := range ticks {
		if t == math.Round(t) {
			out = append(out, t)
		}
	}
	return out
}

// signed writes whole differences with their sign: −1, 0, +1.
func signed(ticks []float64) []string {
	labels := make([]string, len(ticks))
	for i, t := range ticks {
		labels[i] = number(t, 0)
		if t > 0 {
			labels[i] = "+" + labels[i]
		}
	}
	return labels
}

// sizeNotes shows what areas mean: the largest count and a rounder small one.
func sizeNotes(most int) []note {
	if most <= 0 {
		return nil
	}
	sizes := []int{most}
	if small := int(step(float64(most), 4)); small >= 1 && small < most {
		sizes = []int{small, most}
	}
	var out []note
	for _, n := range sizes {
		out = append(out, note{count(n, "fish"), func(c *canvas, x, y float64) {
			c.circle("fill-0", x, y, areaRadius(n, most, 9))
		}})
	}
	return out
}

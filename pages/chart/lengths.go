package chart

// Lengths draws what was measured above the line and what was aged below it:
// upwards the length distribution as steps, downwards the stones of each bin as
// bars on a scale of their own, so that bins with many fish and few stones show
// at once. One panel a group of strata, all on one length axis.
type Lengths struct {
	Frame
	Unit   string // of length
	Share  bool   // Number is a share (0 to 1) and not a count of fish
	Panels []LengthPanel
}

// LengthPanel is one group of strata; Bins are in rising order of length.
type LengthPanel struct {
	Name string
	Bins []LengthBin
}

// LengthBin is one length bin: the fish in it, and how many of them were aged.
type LengthBin struct {
	From, To float64
	Number   float64
	Stones   int
}

// Draw answers the picture.
func (p Lengths) Draw() SVG {
	const panel, gap = 190, 54
	n := max(len(p.Panels), 1)
	w, h := p.size(float64(n)*panel + float64(n-1)*gap + 40 + 38 + 46)
	c := &canvas{width: w, height: h}
	up := "fish measured"
	if p.Share {
		up = "share of fish"
	}
	top := c.notes([]note{
		{up + ", upwards", func(c *canvas, x, y float64) {
			c.rect("soft-1", box{x - 9, y - 5, x + 9, y + 7})
			c.line("line-1", x-9, y-5, x+9, y-5)
		}},
		{"stones aged, downwards", func(c *canvas, x, y float64) {
			r := box{x - 7, y - 7, x + 7, y + 7}
			c.hatch("hatch hatch-2", r)
			c.rect("line-2 fine", r)
		}},
	}, 0) + 38
	tall := (h - top - underTicks - underName - float64(n-1)*gap) / float64(n)
	var lengths, numbers, stones span
	for _, s := range p.Panels {
		for _, b := range s.Bins {
			lengths.see(b.From, b.To)
			numbers.see(0, atLeast(b.Number, 0))
			stones.see(0, float64(max(b.Stones, 0)))
		}
	}
	low, high, ticks := lengths.round(7)
	for i, s := range p.Panels {
		area := box{56, top, w - 12, top + tall}
		q := plot{c, area, scale{low, high, area.x0, area.x1}, scale{}}
		p.panel(q, s, numbers, stones)
		top += tall + gap
		if i == len(p.Panels)-1 {
			q.xAxis(ticks, tickLabels(ticks))
			q.xName("length (" + p.Unit + ")")
		}
	}
	return c.finish(p.Frame)
}

// panel draws one group: two thirds of the height for fish, one for stones.
func (p Lengths) panel(q plot, s LengthPanel, numbers, stones span) {
	zero := q.area.y0 + (q.area.y1-q.area.y0)*0.64
	_, most, upTicks := numbers.round(3)
	_, mostStones, downTicks := stones.round(2)
	fish := plot{q.canvas, box{q.area.x0, q.area.y0, q.area.x1, zero}, q.x, scale{0, most, zero, q.area.y0}}
	aged := plot{q.canvas, box{q.area.x0, zero, q.area.x1, q.area.y1}, q.x, scale{0, mostStones, zero, q.area.y1 - 6}}
	labels := tickLabels(upTicks)
	if p.Share {
		for i, t := range upTicks {
			labels[i] = percent(t)
		}
	}
	q.text("strong", 4, q.area.y0-17, shorten(s.Name, textSize, q.area.x1-190))
	q.text("small muted end", q.area.x1, q.area.y0-17, p.total(s))
	fish.yAxis(upTicks, labels, "")
	aged.yAxis(downTicks[1:], tickLabels(downTicks)[1:], "")
	fish.inside(fish.area, func() { p.steps(fish, s.Bins) })
	aged.inside(aged.area, func() { p.stones(aged, s.Bins) })
	fish.zero()
}

func (p Lengths) total(s LengthPanel) string {
	stones, fish := 0, 0.0
	for _, b := range s.Bins {
		stones += max(b.Stones, 0)
		fish += atLeast(b.Number, 0)
	}
	if p.Share {
		return count(stones, "stones")
	}
	return number(fish, 0) + " fish, " + count(stones, "stones")
}

// steps draws one outline for each run of bins that touch, so that no seam shows
// between them, and over it an unseen box a bin that carries its words.
func (p Lengths) steps(q plot, bins []LengthBin) {
	var top []float64
	flush := func() {
		if n := len(top); n > 0 {
			q.path("soft-1", true, append([]float64{top[0], q.y.at(0)}, append(top, top[n-2], q.y.at(0))...)...)
			q.path("line-1", false, top...)
		}
		top = nil
	}
	for i, b := range bins {
		if !p.drawable(b) || i > 0 && bins[i-1].To != b.From {
			flush()
		}
		if p.drawable(b) {
			top = append(top, q.x.at(b.From), q.y.at(b.Number), q.x.at(b.To), q.y.at(b.Number))
		}
	}
	flush()
	for _, b := range bins {
		if !p.drawable(b) {
			continue
		}
		words := p.where(b) + ": " + value(b.Number) + " fish"
		if p.Share {
			words = p.where(b) + ": " + percent(b.Number) + " of fish"
		}
		q.mark(words, func() { q.rect("unseen", box{q.x.at(b.From), q.y.at(b.Number), q.x.at(b.To), q.y.at(0)}) })
	}
}

func (p Lengths) stones(q plot, bins []LengthBin) {
	for _, b := range bins {
		if b.Stones <= 0 || !p.drawable(b) {
			continue
		}
		x0, x1 := q.x.at(b.From), q.x.at(b.To)
		air := min(1, (x1-x0)/4)
		r := box{x0 + air, q.y.at(0), x1 - air, q.y.at(float64(b.Stones))}
		q.mark(p.where(b)+": "+count(b.Stones, "stones aged"), func() {
			q.hatch("hatch hatch-2", r)
			q.rect("line-2 fine", r)
		})
	}
}

func (p Lengths) drawable(b LengthBin) bool {
	return drawable(b.From) && drawable(b.To) && drawable(b.Number) && b.Number >= 0 && b.From < b.To
}

func (p Lengths) where(b LengthBin) string {
	return number(b.From, places(b.From)) + "–" + number(b.To, places(b.To)) + " " + p.Unit
}

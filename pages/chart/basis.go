package chart

// Basis is the strip that says what the catch at age rests on: one bar, its
// parts in the order given, each labelled with its share.
type Basis struct {
	Frame
	Parts []Part
}

// Part is one part of the whole. Shares are made to fill the bar, so they may
// be counts as well.
type Part struct {
	Name  string
	Share float64
	Look  Look
}

// Look is how a part is drawn, which says how sure its ground is.
type Look int

// From the firmest ground to none.
const (
	Sampled Look = iota // solid: lengths and ages of its own
	Lent                // soft: the key was borrowed
	Filled              // hatched: the stratum was filled from others
	NotAged             // open: fish without any key
)

// Draw answers the picture.
func (p Basis) Draw() SVG {
	const bar, row = 34, 24
	total := 0.0
	for _, d := range p.Parts {
		total += atLeast(d.Share, 0)
	}
	w, _ := p.size(0)
	type label struct {
		x, from float64
		level   int
		words   string
	}
	var labels []label
	area := box{4, 4, w - 4, 4 + bar}
	body := &canvas{width: w}
	levels := 0
	body.inside(area, func() {
		x := area.x0
		for _, d := range p.Parts {
			if total <= 0 || !(atLeast(d.Share, 0) > 0) {
				continue
			}
			share := d.Share / total
			r := box{x, area.y0, x + share*(area.x1-area.x0), area.y1}
			body.mark(d.Name+": "+percent(share), func() { d.draw(body, r) })
			labels = append(labels, label{x: (r.x0 + r.x1) / 2, words: percent(share) + " " + d.Name})
			x = r.x1
		}
	})
	// Labels are set from the right, each on the first row where it is free.
	var taken []float64
	for i := len(labels) - 1; i >= 0; i-- {
		l := &labels[i]
		width := textWidth(l.words, smallSize)
		l.from = max(4, min(l.x-6, w-4-width))
		for l.level = 0; l.level < len(taken) && l.from+width+14 > taken[l.level]; l.level++ {
		}
		if l.level == len(taken) {
			taken = append(taken, w)
		}
		taken[l.level] = l.from
		levels = max(levels, l.level+1)
	}
	for _, l := range labels {
		y := area.y1 + 20 + float64(l.level)*row
		body.line("leader", l.x, area.y1+2, l.x, y-11)
		body.text("small halo", l.from, y, l.words)
	}
	_, body.height = p.size(area.y1 + 12 + float64(levels)*row)
	return body.finish(p.Frame)
}

func (d Part) draw(c *canvas, r box) {
	switch d.Look {
	case Sampled:
		c.rect("fill-1", r)
	case Lent:
		c.rect("soft-1", r)
		c.rect("line-1 fine", r)
	case Filled:
		c.hatch("hatch hatch-1", r)
		c.rect("line-1 fine", r)
	default:
		c.rect("open line-1 fine", r)
	}
}

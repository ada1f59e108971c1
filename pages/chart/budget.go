package chart

import "math"

// Budget draws whose variance it is: a bar a quantity, each as long as its whole variance,
// cut into the shares of the sources. Every part carries its name, its share and the
// standard error of that; what is left is done by sources together and is open. A share
// below nothing, which chance of the evaluations can give, has no part.
type Budget struct {
	Frame
	Together string // what the rest is called
	Bars     []BudgetBar
}

// BudgetBar is one quantity; Note stands at the right of its name.
type BudgetBar struct {
	Name, Note string
	Parts      []BudgetPart
}

// BudgetPart is what one source has of the variance. Look tells sources apart and is the
// same for a source in every bar.
type BudgetPart struct {
	Source    string
	Look      int
	Share, SE float64
}

// leastPart is the share below which a part is too thin to be told from its edges.
const leastPart = 0.005

// Draw answers the picture.
func (p Budget) Draw() SVG {
	const head, bar, rowHeight, between = 24, 26, 22, 20
	w, _ := p.size(0)
	c := &canvas{width: w}
	y := c.notes([]note{{"standard error of the share", func(c *canvas, x, y float64) { c.text("small middle", x, y+4.5, "±") }}}, 0) + 4
	for _, b := range p.Bars {
		parts, whole := p.parts(b)
		c.text("strong", 4, y+16, shorten(b.Name, textSize, w-16-textWidth(b.Note, smallSize)))
		c.text("small muted end", w-4, y+16, b.Note)
		area := box{4, y + head, w - 4, y + head + bar}
		var at []float64
		var words []string
		c.inside(area, func() { at, words = p.bar(c, area, b.Name, parts, whole) })
		p.inner(c, area, parts, whole)
		rows := c.drawTags(c.lead(at, words), area.y1, rowHeight)
		y = area.y1 + between
		if rows > 0 {
			y += 10 + float64(rows)*rowHeight
		}
	}
	_, c.height = p.size(max(y, 60))
	return c.finish(p.Frame)
}

// parts are those that can be drawn, with the rest as the last of them; whole is what the
// bar stands for: 1, or their sum where that is more.
func (p Budget) parts(b BudgetBar) (parts []BudgetPart, whole float64) {
	sum := 0.0
	for _, d := range b.Parts {
		if drawable(d.Share) && d.Share >= leastPart {
			d.Share = min(d.Share, 1)
			parts, sum = append(parts, d), sum+min(d.Share, 1)
		}
	}
	if rest := 1 - sum; rest >= leastPart {
		parts = append(parts, BudgetPart{Source: p.Together, Look: together, Share: rest, SE: math.NaN()})
	}
	return parts, max(sum, 1)
}

// said is a part in words: trips 62 ± 4 %.
func (d BudgetPart) said() string {
	decimals := 0
	if d.Share < 0.0995 {
		decimals = 1
	}
	words := d.Source + " " + number(100*d.Share, decimals)
	if drawable(d.SE) && d.SE >= 0 && d.Look != together {
		words += " ± " + number(100*d.SE, decimals)
	}
	return words + thin + "%"
}

// bar draws the parts and answers the places and words of those that hold no words.
func (p Budget) bar(c *canvas, area box, name string, parts []BudgetPart, whole float64) (at []float64, words []string) {
	each(area, parts, whole, func(d BudgetPart, r box) {
		c.mark(name+", "+d.said(), func() { d.draw(c, r) })
		if !d.holds(r) {
			at, words = append(at, (r.x0+r.x1)/2), append(words, d.said())
		}
	})
	return at, words
}

// inner writes into the parts that are wide enough.
func (p Budget) inner(c *canvas, area box, parts []BudgetPart, whole float64) {
	each(area, parts, whole, func(d BudgetPart, r box) {
		if !d.holds(r) {
			return
		}
		class := "small middle"
		switch d.look() {
		case solid:
			class += " on"
		case hatched:
			class += " halo"
		}
		c.text(class, (r.x0+r.x1)/2, (r.y0+r.y1)/2+4.5, d.said())
	})
}

func each(area box, parts []BudgetPart, whole float64, visit func(d BudgetPart, r box)) {
	x := area.x0
	for _, d := range parts {
		r := box{x, area.y0, x + d.Share/whole*(area.x1-area.x0), area.y1}
		x = r.x1
		visit(d, r)
	}
}

// holds tells whether the words of a part fit into it.
func (d BudgetPart) holds(r box) bool { return textWidth(d.said(), smallSize)+12 <= r.x1-r.x0 }

// The surfaces, which follow one another so that neighbours differ without their colour.
const (
	solid = iota
	hatched
	pale
	surfaces

	together = -1
	looks    = 7 // that differ
)

func (d BudgetPart) look() int {
	if d.Look < 0 {
		return together
	}
	return d.Look % looks % surfaces
}

func (d BudgetPart) draw(c *canvas, r box) {
	colour := hue(max(d.Look, 0) % looks / surfaces)
	switch d.look() {
	case together:
		c.rect("open fine line-0", r)
		return
	case solid:
		c.rect("fill-"+colour+" edge", r)
		return
	case hatched:
		c.hatch("hatch hatch-"+colour, r)
	case pale:
		c.rect("soft-"+colour, r)
	}
	c.rect("line-"+colour+" fine", r)
}

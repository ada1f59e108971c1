package chart

import "slices"

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

// tag is the label of one part: a leader down from the bar at x, and words on
// one of the rows beneath, from left to right.
type tag struct {
	x, left, right float64
	row            int
	words          string
	before         bool // the words end at the leader instead of starting there
}

// Draw answers the picture.
func (p Basis) Draw() SVG {
	const bar, rowHeight = 36, 24
	w, _ := p.size(0)
	c := &canvas{width: w}
	area := box{4, 4, w - 4, 4 + bar}
	var tags []tag
	c.inside(area, func() { tags = p.bar(c, area) })
	rows := c.drawTags(tags, area.y1, rowHeight)
	_, c.height = p.size(area.y1 + 14 + float64(rows)*rowHeight)
	return c.finish(p.Frame)
}

// bar draws the parts and answers their labels, each with its place.
func (p Basis) bar(c *canvas, area box) []tag {
	total := 0.0
	for _, d := range p.Parts {
		total += atLeast(d.Share, 0)
	}
	var at []float64
	var words []string
	x := area.x0
	for _, d := range p.Parts {
		if atLeast(d.Share, 0) == 0 {
			continue
		}
		share := d.Share / total
		r := box{x, area.y0, x + share*(area.x1-area.x0), area.y1}
		x = r.x1
		c.mark(d.Name+": "+percent(share), func() { d.draw(c, r) })
		at, words = append(at, (r.x0+r.x1)/2), append(words, percent(share)+" "+d.Name)
	}
	return c.lead(at, words)
}

// lead makes the labels of parts that stand at x, from left to right.
func (c *canvas) lead(at []float64, words []string) []tag {
	var starting, ending []tag
	for i, x := range at {
		t := tag{x: x}
		t.before = t.x > c.width/2
		room := c.width - t.x - 10
		if t.before {
			room = t.x - 10
		}
		t.words = shorten(words[i], smallSize, room)
		t.left, t.right = t.x+6, t.x+6+textWidth(t.words, smallSize)
		if t.before {
			t.left, t.right = t.x-6-textWidth(t.words, smallSize), t.x-6
			ending = append(ending, t)
		} else {
			starting = append([]tag{t}, starting...)
		}
	}
	return settle(append(starting, ending...))
}

// drawTags draws labels beneath a bar that ends at bottom, and answers how many rows they
// take.
func (c *canvas) drawTags(tags []tag, bottom, rowHeight float64) (rows int) {
	for _, t := range tags {
		c.line("leader", t.x, bottom+2, t.x, bottom+20+float64(t.row)*rowHeight)
	}
	for _, t := range tags {
		y := bottom + 20 + float64(t.row)*rowHeight
		if t.before {
			c.text("small end halo", t.right, y, t.words)
		} else {
			c.text("small halo", t.left, y, t.words)
		}
		rows = max(rows, t.row+1)
	}
	return rows
}

// settle gives each label the first row on which it touches no other and its
// leader crosses no words. Labels come so that a leader never has to cross those
// before it: from the middle to the left, then from the middle to the right.
func settle(tags []tag) []tag {
	const gap = 10
	clash := func(t, other tag) bool {
		switch {
		case t.row == other.row:
			return min(t.left, t.x) < max(other.right, other.x)+gap && min(other.left, other.x) < max(t.right, t.x)+gap
		case t.row > other.row: // the leader of t passes the words of other
			return t.x > other.left-3 && t.x < other.right+3
		}
		return other.x > t.left-3 && other.x < t.right+3
	}
	for i := range tags {
		for tags[i].row = 0; tags[i].row < len(tags); tags[i].row++ {
			free := true
			for _, other := range tags[:i] {
				free = free && !clash(tags[i], other)
			}
			if free {
				break
			}
		}
		if tags[i].row == len(tags) { // no way is free of words: a leader crosses some
			for tags[i].row = 0; slices.ContainsFunc(tags[:i], func(other tag) bool { return other.row == tags[i].row && clash(tags[i], other) }); {
				tags[i].row++
			}
		}
	}
	return tags
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

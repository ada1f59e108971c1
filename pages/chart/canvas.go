package chart

import (
	"math"
	"strconv"
	"strings"
)

// canvas collects the elements of one picture. Coordinates are CSS pixels, y
// pointing down; they are written with two decimals at most.
type canvas struct {
	b             strings.Builder
	width, height float64
}

// box is a rectangle between two corners, left and top first.
type box struct{ x0, y0, x1, y1 float64 }

// finish wraps what was drawn in the <svg> element.
func (c *canvas) finish(f Frame) SVG {
	var s strings.Builder
	w, h := num(c.width), num(c.height)
	s.WriteString(`<svg xmlns="http://www.w3.org/2000/svg" class="chart" role="img" width="` + w + `" height="` + h +
		`" viewBox="0 0 ` + w + ` ` + h + `">` + "\n")
	s.WriteString("<title>" + escape(f.Title) + "</title>\n<desc>" + escape(f.Alt) + "</desc>\n")
	s.WriteString(c.b.String())
	s.WriteString("</svg>\n")
	return SVG(s.String())
}

// num writes a coordinate. What isn't finite would be our own mistake: numbers
// are held against drawable where they come in.
func num(x float64) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		panic("chart: a coordinate is not finite")
	}
	s := strconv.FormatFloat(math.Round(x*100)/100, 'f', -1, 64)
	if s == "-0" {
		return "0"
	}
	return s
}

// escape makes text safe inside an element; characters that XML cannot hold
// become the replacement character.
func escape(text string) string {
	var b strings.Builder
	for _, r := range text {
		switch {
		case r == '&':
			b.WriteString("&amp;")
		case r == '<':
			b.WriteString("&lt;")
		case r == '>':
			b.WriteString("&gt;")
		case r == '"':
			b.WriteString("&#34;")
		case r == '\'':
			b.WriteString("&#39;")
		case r < ' ' && r != '\t' && r != '\n', r == 0xfffe, r == 0xffff:
			b.WriteRune('\uFFFD')
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// inside groups the marks of one plot area and records its edges, which a test
// holds every mark against.
func (c *canvas) inside(area box, draw func()) {
	c.b.WriteString(`<g class="marks" data-area="` + num(area.x0) + " " + num(area.y0) + " " + num(area.x1) + " " + num(area.y1) + "\">\n")
	draw()
	c.b.WriteString("</g>\n")
}

// mark groups the parts of one mark under the words shown on pointing at it.
func (c *canvas) mark(words string, draw func()) {
	c.b.WriteString("<g><title>" + escape(words) + "</title>")
	draw()
	c.b.WriteString("</g>\n")
}

func (c *canvas) rect(class string, r box) {
	if r.x1 < r.x0 {
		r.x0, r.x1 = r.x1, r.x0
	}
	if r.y1 < r.y0 {
		r.y0, r.y1 = r.y1, r.y0
	}
	c.b.WriteString(`<rect class="` + class + `" x="` + num(r.x0) + `" y="` + num(r.y0) + `" width="` + num(r.x1-r.x0) + `" height="` + num(r.y1-r.y0) + `"/>`)
}

func (c *canvas) line(class string, x0, y0, x1, y1 float64) {
	c.b.WriteString(`<line class="` + class + `" x1="` + num(x0) + `" y1="` + num(y0) + `" x2="` + num(x1) + `" y2="` + num(y1) + `"/>`)
}

func (c *canvas) circle(class string, x, y, r float64) {
	c.b.WriteString(`<circle class="` + class + `" cx="` + num(x) + `" cy="` + num(y) + `" r="` + num(r) + `"/>`)
}

// path joins points, two numbers each, with straight lines; closed joins the
// last to the first.
func (c *canvas) path(class string, closed bool, points ...float64) {
	if len(points) < 4 {
		return
	}
	c.b.WriteString(`<path class="` + class + `" d="`)
	for i := 0; i+1 < len(points); i += 2 {
		command := "L"
		if i == 0 {
			command = "M"
		}
		c.b.WriteString(command + num(points[i]) + " " + num(points[i+1]))
	}
	if closed {
		c.b.WriteString("Z")
	}
	c.b.WriteString(`"/>`)
}

func (c *canvas) text(class string, x, y float64, words string) {
	c.b.WriteString(`<text class="` + class + `" x="` + num(x) + `" y="` + num(y) + `">` + escape(words) + "</text>\n")
}

// upright writes a text from bottom to top, its baseline to the right of it.
func (c *canvas) upright(class string, x, y float64, words string) {
	c.b.WriteString(`<text class="` + class + `" transform="translate(` + num(x) + " " + num(y) + `) rotate(-90)">` + escape(words) + "</text>\n")
}

// hatch fills a box with slanting lines. They are drawn one by one rather than
// by a pattern, which would need a name that is unique on the page.
func (c *canvas) hatch(class string, r box) {
	const step = 6
	if r.x1 <= r.x0 || r.y1 <= r.y0 {
		return
	}
	var d strings.Builder
	// A line is x + y = k; lines of neighbouring boxes fall on one another.
	for k := math.Ceil((r.x0+r.y0)/step) * step; k < r.x1+r.y1; k += step {
		xa := max(r.x0, k-r.y1)
		xb := min(r.x1, k-r.y0)
		if xb-xa > 0.05 {
			d.WriteString("M" + num(xa) + " " + num(k-xa) + "L" + num(xb) + " " + num(k-xb))
		}
	}
	if d.Len() > 0 {
		c.b.WriteString(`<path class="` + class + `" d="` + d.String() + `"/>`)
	}
}

// The four shapes that tell series apart without colour.
const (
	round = iota
	square
	triangle
	diamond
	shapes
)

// shape draws mark number which (counted round) with half-width r.
func (c *canvas) shape(class string, which int, x, y, r float64) {
	switch which % shapes {
	case round:
		c.circle(class, x, y, r)
	case square:
		s := r * 0.9
		c.rect(class, box{x - s, y - s, x + s, y + s})
	case triangle:
		c.path(class, true, x, y-r, x+r, y+r, x-r, y+r)
	case diamond:
		c.path(class, true, x, y-r, x+r, y, x, y+r, x-r, y)
	}
}

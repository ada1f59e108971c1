package chart

import (
	"encoding/xml"
	"math"
	"strconv"
	"strings"
	"testing"
)

// element is one element of a parsed picture.
type element struct {
	name     string
	attr     map[string]string
	text     string
	children []*element
}

// parse reads a picture as XML and stops the test when it isn't well formed.
func parse(t fataler, s SVG) *element {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(string(s)))
	root := &element{}
	open := []*element{root}
	for {
		token, err := d.Token()
		if token == nil {
			break
		}
		if err != nil {
			t.Fatalf("the picture is not well formed: %v", err)
		}
		top := open[len(open)-1]
		switch token := token.(type) {
		case xml.StartElement:
			e := &element{name: token.Name.Local, attr: map[string]string{}}
			for _, a := range token.Attr {
				e.attr[a.Name.Local] = a.Value
			}
			top.children = append(top.children, e)
			open = append(open, e)
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			top.text += string(token)
		}
	}
	if len(open) != 1 || len(root.children) != 1 {
		t.Fatalf("the picture has %d roots, %d elements left open; want one root and none open", len(root.children), len(open)-1)
	}
	return root.children[0]
}

// fataler is what testing.TB and rapid's T share.
type fataler interface {
	Helper()
	Fatalf(format string, args ...any)
	Errorf(format string, args ...any)
}

// walk calls visit for e and all that it holds.
func (e *element) walk(visit func(*element)) {
	visit(e)
	for _, c := range e.children {
		c.walk(visit)
	}
}

func (e *element) has(class string) bool {
	return strings.Contains(" "+e.attr["class"]+" ", " "+class+" ")
}

func (e *element) number(t fataler, name string) float64 {
	x, err := strconv.ParseFloat(e.attr[name], 64)
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
		t.Fatalf("%s of <%s> is %q, not a number", name, e.name, e.attr[name])
	}
	return x
}

// extent is the box around an element's geometry, its stroke left out.
func (e *element) extent(t fataler) (box, bool) {
	switch e.name {
	case "rect":
		x, y := e.number(t, "x"), e.number(t, "y")
		return box{x, y, x + e.number(t, "width"), y + e.number(t, "height")}, true
	case "circle":
		x, y, r := e.number(t, "cx"), e.number(t, "cy"), e.number(t, "r")
		return box{x - r, y - r, x + r, y + r}, true
	case "line":
		x0, y0, x1, y1 := e.number(t, "x1"), e.number(t, "y1"), e.number(t, "x2"), e.number(t, "y2")
		return box{min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)}, true
	case "path":
		b := box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
		numbers := strings.FieldsFunc(e.attr["d"], func(r rune) bool { return strings.ContainsRune("MLZ ", r) })
		for i := 0; i+1 < len(numbers); i += 2 {
			x, errX := strconv.ParseFloat(numbers[i], 64)
			y, errY := strconv.ParseFloat(numbers[i+1], 64)
			if errX != nil || errY != nil {
				t.Fatalf("a path holds %q %q", numbers[i], numbers[i+1])
			}
			b = box{min(b.x0, x), min(b.y0, y), max(b.x1, x), max(b.y1, y)}
		}
		return b, true
	}
	return box{}, false
}

// within reports by how much b sticks out of a; 0 or less when it doesn't.
func (a box) sticksOut(b box) float64 {
	return max(a.x0-b.x0, a.y0-b.y0, b.x1-a.x1, b.y1-a.y1)
}

// checkPicture holds a picture against what is promised of all of them.
func checkPicture(t fataler, s SVG) {
	t.Helper()
	for _, word := range []string{"NaN", "Inf"} {
		if strings.Contains(string(s), word) {
			t.Errorf("the picture says %s", word)
		}
	}
	root := parse(t, s)
	if root.name != "svg" || root.attr["role"] != "img" || len(root.children) < 2 || root.children[0].name != "title" || root.children[1].name != "desc" {
		t.Fatalf("the picture is no <svg role=\"img\"> that opens with <title> and <desc>")
	}
	sheet := box{0, 0, root.number(t, "width"), root.number(t, "height")}
	root.walk(func(e *element) {
		if area, ok := e.attr["data-area"]; ok {
			checkInside(t, e, area)
		}
		if b, ok := e.extent(t); ok {
			if out := sheet.sticksOut(b); out > 0.011 {
				t.Errorf("<%s class=%q> sticks %.2f out of the sheet", e.name, e.attr["class"], out)
			}
			if e.name == "line" && b.x0 == b.x1 && b.y0 == b.y1 {
				t.Errorf("<line class=%q> at %v, %v has no length", e.attr["class"], b.x0, b.y0)
			}
		}
		if e.name == "text" {
			checkText(t, e, sheet)
		}
	})
}

// checkInside holds the marks of one plot area: nothing sticks out of it by more
// than half the width of a mark, and bars, bubbles and lines not at all.
func checkInside(t fataler, group *element, area string) {
	var edges box
	f := strings.Fields(area)
	for i, p := range []*float64{&edges.x0, &edges.y0, &edges.x1, &edges.y1} {
		*p, _ = strconv.ParseFloat(f[i], 64)
	}
	group.walk(func(e *element) {
		b, ok := e.extent(t)
		if !ok {
			return
		}
		slack := 0.011
		if e.name == "path" || e.has("open") || e.has("edge") {
			slack = 9
		}
		if e.has("fill-0") || e.has("fill-1") || e.has("fill-2") || e.has("fill-3") || e.has("fill-4") {
			slack = 5.6
		}
		if out := edges.sticksOut(b); out > slack {
			t.Errorf("<%s class=%q> %v sticks %.2f out of its plot area %v", e.name, e.attr["class"], b, out, edges)
		}
	})
}

// checkText holds a text within the sheet, by the widths of a wide sans serif.
func checkText(t fataler, e *element, sheet box) {
	if e.attr["transform"] != "" {
		return // upright numbers of fish, placed by the ages
	}
	width := textWidth(e.text, smallSize)
	x, y := e.number(t, "x"), e.number(t, "y")
	switch {
	case e.has("middle"):
		x -= width / 2
	case e.has("end"):
		x -= width
	}
	if x < -12 || x+width > sheet.x1+12 || y < 8 || y > sheet.y1 {
		t.Errorf("the words %q at %.0f, %.0f to %.0f leave the sheet %v", e.text, x, y, x+width, sheet)
	}
}

func TestPictures(t *testing.T) {
	for _, s := range samples() {
		t.Run(s.name, func(t *testing.T) { checkPicture(t, s.Draw()) })
	}
}

func TestSameBytes(t *testing.T) {
	for _, s := range samples() {
		first := s.Draw()
		for range 5 {
			if s.Draw() != first {
				t.Fatalf("%s gave other bytes for the same input", s.name)
			}
		}
	}
}

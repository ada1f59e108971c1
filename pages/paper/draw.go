package paper

import (
	"strconv"
	"strings"
)

// Stroke is how a line is drawn. The zero Colour is black; Dash is lengths of line and
// gap in mm.
type Stroke struct {
	Width  float64 // mm
	Colour Colour
	Dash   []float64
}

func (d *Doc) stroke(s Stroke) {
	d.pdf.SetLineWidth(s.Width)
	d.pdf.SetDrawColor(int(s.Colour[0]), int(s.Colour[1]), int(s.Colour[2]))
	dash := s.Dash
	if dash == nil {
		dash = []float64{}
	}
	d.pdf.SetDashPattern(dash, 0)
	d.pdf.SetLineCapStyle("round")
	d.pdf.SetLineJoinStyle("round")
}

func (d *Doc) fill(c Colour) { d.pdf.SetFillColor(int(c[0]), int(c[1]), int(c[2])) }

// Line draws a line.
func (d *Doc) Line(x0, y0, x1, y1 float64, s Stroke) {
	d.stroke(s)
	d.pdf.Line(x0, y0, x1, y1)
}

// Box fills a rectangle.
func (d *Doc) Box(x, y, w, h float64, c Colour) {
	if c == Black && d.filled != nil {
		d.filled(d.Pages()-1, x, y, w, h)
	}
	d.fill(c)
	d.pdf.Rect(x, y, w, h, "F")
}

// Frame draws the outline of a rectangle with rounded corners.
func (d *Doc) Frame(x, y, w, h, corner float64, s Stroke) {
	d.stroke(s)
	if corner > 0 {
		d.pdf.RoundedRect(x, y, w, h, corner, "1234", "D")
		return
	}
	d.pdf.Rect(x, y, w, h, "D")
}

// Disc fills a circle.
func (d *Doc) Disc(x, y, radius float64, c Colour) {
	d.fill(c)
	d.pdf.Circle(x, y, radius, "F")
}

// Figure draws paths in units of its own, placed on the page.
type Figure struct {
	d     *Doc
	x, y  float64 // of its origin on the page, mm
	scale float64 // mm a unit
}

// Figure is a figure with its origin at x, y.
func (d *Doc) Figure(x, y, scale float64) *Figure { return &Figure{d: d, x: x, y: y, scale: scale} }

// At is where a point of the figure lies on the page.
func (f *Figure) At(x, y float64) (float64, float64) {
	return f.x + x*f.scale, f.y + y*f.scale
}

// Path draws a path: M x y moves, L x y … draws lines, C x1 y1 x2 y2 x y … curves, Z
// closes. fill and stroke may be nil. It panics on a path that can't be read.
func (f *Figure) Path(path string, fill *Colour, stroke *Stroke) {
	style := ""
	if fill != nil {
		f.d.fill(*fill)
		style += "F"
	}
	if stroke != nil {
		f.d.stroke(*stroke)
		style = "D" + style
	}
	words := strings.Fields(path)
	next := func() (float64, float64) {
		x, errX := strconv.ParseFloat(words[0], 64)
		y, errY := strconv.ParseFloat(words[1], 64)
		if errX != nil || errY != nil {
			panic("paper: no path: " + path)
		}
		words = words[2:]
		return f.At(x, y)
	}
	for do := ""; len(words) > 0; {
		if strings.Contains("MLCZ", words[0]) {
			do, words = words[0], words[1:]
		}
		switch do {
		case "M":
			x, y := next()
			f.d.pdf.MoveTo(x, y)
		case "L":
			x, y := next()
			f.d.pdf.LineTo(x, y)
		case "C":
			x1, y1 := next()
			x2, y2 := next()
			x, y := next()
			f.d.pdf.CurveBezierCubicTo(x1, y1, x2, y2, x, y)
		case "Z":
			f.d.pdf.ClosePath()
			do = ""
		default:
			panic("paper: no path: " + path)
		}
	}
	f.d.pdf.DrawPath(style)
}

// Disc fills a circle, outlined when stroke is not nil.
func (f *Figure) Disc(x, y, radius float64, fill *Colour, stroke *Stroke) {
	style := ""
	if fill != nil {
		f.d.fill(*fill)
		style = "F"
	}
	if stroke != nil {
		f.d.stroke(*stroke)
		style += "D"
	}
	px, py := f.At(x, y)
	f.d.pdf.Circle(px, py, radius*f.scale, style)
}

// Turned draws what do draws, turned by degrees against the clock about a point of the page.
func (d *Doc) Turned(degrees, x, y float64, do func()) {
	d.pdf.TransformBegin()
	d.pdf.TransformRotate(degrees, x, y)
	do()
	d.pdf.TransformEnd()
}

package paper

import (
	"strconv"
	"strings"

	"earstone/pages/words"
	"earstone/programme/label"
)

// Guide is the leaflet on taking out ear stones: one sheet, both sides, folded once.
type Guide struct {
	Sheet Size // the sheet; the leaflet is half of it
	Name  string
	Areas []string   // general areas as they may be printed
	Code  label.Code // shown on vial and card
	Words *words.Printed
	About About
}

// Document draws the leaflet: the outside first, then the inside; print on both sides,
// turned over the short edge.
func (g Guide) Document() *Doc { return g.draw(New(g.Sheet.Turned(), g.About)) }

func (g Guide) draw(d *Doc) *Doc {
	side := d.Size()
	w, h := side.Width/2, side.Height
	at := func(panel float64) *guide {
		return &guide{Guide: g, d: d, x: panel*w + 11, y: 12, w: w - 22, bottom: h - 10}
	}
	d.Page()
	at(0).careful()
	at(1).cover()
	d.Page()
	at(0).where()
	at(1).how()
	return d
}

// guide is one panel in the drawing.
type guide struct {
	Guide
	d               *Doc
	x, y, w, bottom float64
}

// step writes a number, a heading and a text; the text is w wide.
func (g *guide) step(x, y, w float64, n int, heading, text string) float64 {
	d := g.d
	if n > 0 {
		d.Disc(x+2.6, y-1.5, 2.7, Sea)
		d.Face(SemiBold, 9.5)
		d.Colour(White)
		d.Centre(x+2.6, y-0.35, strconv.Itoa(n))
		d.Colour(Ink)
		d.Face(SemiBold, 12)
		d.Text(x+7, y, g.say(heading))
	} else {
		d.Colour(Ink)
		d.Face(SemiBold, 12)
		d.Text(x, y, g.say(heading))
	}
	d.Face(Regular, 9)
	return d.Para(x, y+5.2, w, g.say(text))
}

func (g *guide) list(x, y, w float64, key string, pt float64, mark Colour) float64 {
	for item := range strings.SplitSeq(g.say(key), "\n") {
		g.d.Face(Regular, pt)
		g.d.Colour(Ink)
		g.d.Disc(x+0.9, y-pt*0.11, 0.55, mark)
		y = g.d.Para(x+3.4, y, w-3.4, item) + 0.7
	}
	return y
}

func (g *guide) cover() {
	d := g.d
	d.Face(SemiBold, 8.5)
	d.Colour(Sea)
	d.Text(g.x, g.y+2, g.Name)
	d.Line(g.x, g.y+4.6, g.x+g.w, g.y+4.6, Stroke{Width: 0.5, Colour: Sea})
	d.Colour(Ink)
	d.Text(g.x, g.y+19, d.Fit(SemiBold, 30, 16, g.w, g.say("title")))
	d.Colour(Muted)
	d.Text(g.x, g.y+26.5, d.Fit(Italic, 13, 9, g.w, g.say("sub")))
	f := d.Figure(g.x+1, g.y+58, g.w/106)
	f.drawFish(0.5)
	f.Path("M 24.6 -16 L 24.6 16", nil, &Stroke{Width: 0.6, Colour: Rust, Dash: []float64{1.8, 1.3}})
	f.Disc(16, -4.4, 1.1, &Rust, nil)
	f.Path("M 16 -4.4 L 16 -19", nil, &Stroke{Width: 0.3, Colour: Rust})
	f.note(16, -20.4, 0, Rust, g.say("stone"))
	y := g.y + 90
	d.Face(Regular, 11)
	d.Colour(Ink)
	y = d.Para(g.x, y, g.w, g.say("lead")) + 5
	d.Face(SemiBold, 12)
	d.Text(g.x, y, g.say("need"))
	g.toolsFigure(g.x+g.w*0.66, y+1, g.w*0.33/134)
	y = g.list(g.x, y+6.5, g.w*0.62, "needs", 10, Sea)
	d.Face(Italic, 8)
	d.Colour(Muted)
	lines := d.Lines(g.say("practice"), g.w)
	y = max(y+3, g.bottom-float64(len(lines)-1)*d.Leading())
	d.Para(g.x, y, g.w, g.say("practice"))
}

// where is the first inside panel: measure, take the head, find the line.
func (g *guide) where() {
	d, y := g.d, g.y+2
	y = g.step(g.x, y, g.w, 1, "measure", "measure_text")
	scale := g.w * 0.8 / 112
	g.measureFigure(g.x+g.w*0.07, y+22*scale-15.5, scale*112)
	y += 22*scale + 27
	g.step(g.x, y, g.w*0.42, 2, "head", "head_text")
	g.headFigure(g.x+g.w*0.58, y+1, g.w*0.40/138)
	y += 56
	text := g.step(g.x, y, g.w, 3, "where", "where_text")
	d.Face(Regular, 9)
	d.Colour(Ink)
	y = d.Para(g.x, text, g.w, g.say("behind"))
	g.lineFigure(g.x+4, y+1, g.w*0.37/138)
	g.behindFigure(g.x+g.w*0.71, y+1+60*0.33, 0.33)
	d.Face(Italic, 8)
	d.Colour(Muted)
	d.Text(g.x, g.bottom, g.say("common"))
}

// how is the second inside panel: saw, follow, lift, keep.
func (g *guide) how() {
	d, y := g.d, g.y+2
	y = g.step(g.x, y, g.w, 4, "saw", "saw_text")
	scale := g.w * 0.31 / 138
	g.sawFigure(g.x+1, y+9, scale)
	g.leverFigure(g.x+g.w*0.55, y+11, scale)
	y += 50
	text := g.step(g.x, y, g.w*0.42, 5, "find", "find_text")
	g.openFigure(g.x+g.w*0.56, y+19, g.w*0.43/138)
	y = max(text+4, y+43.5)
	text = g.step(g.x, y, g.w*0.52, 6, "lift", "lift_text")
	g.liftFigure(g.x+g.w*0.72, y+21, 0.26)
	y = max(text+4, y+35.5)
	y = g.step(g.x, y, g.w, 7, "card", "card_text")
	d.Face(Regular, 9)
	g.list(g.x, y+0.6, g.w*0.53, "card_list", 9, Sea)
	g.vialFigure(g.x+g.w*0.58, y-1)
}

// careful is the back: cautions, law, areas.
func (g *guide) careful() {
	d, y := g.d, g.y+2
	d.Colour(Rust)
	d.Face(SemiBold, 16)
	d.Text(g.x, y+2, g.say("careful"))
	y = g.list(g.x, y+10.5, g.w, "cautions", 10, Rust) + 2.5
	d.Face(SemiBold, 9.5)
	lines := d.Lines(g.say("law"), g.w-8)
	high := float64(len(lines))*d.Leading() + 5
	d.Box(g.x, y-2, g.w, high, Sand)
	d.Box(g.x, y-2, 1.2, high, Rust)
	d.Colour(Ink)
	y = d.Para(g.x+5, y+3.6, g.w-8, g.say("law")) + 11
	y = g.step(g.x, y, g.w, 0, "areas", "areas_text") + 3.4
	d.Face(SemiBold, 10)
	d.Colour(Sea)
	at := g.x
	for _, area := range g.Areas {
		w := d.Width(area)
		if at > g.x && at+w+6 > g.x+g.w {
			at, y = g.x, y+8
		}
		if y > g.bottom {
			break
		}
		d.Frame(at, y-4.4, w+6, 6.4, 3.2, Stroke{Width: 0.35, Colour: Sea})
		d.Text(at+3, y, area)
		at += w + 9
	}
	for _, key := range []string{"rules", "send"} {
		y += 13
		d.Face(SemiBold, 12)
		d.Colour(Ink)
		d.Text(g.x, y, g.say(key))
		for range 2 {
			y += 8
			d.Line(g.x, y, g.x+g.w, y, Stroke{Width: 0.2, Colour: Muted})
		}
	}
}

package paper

import (
	"earstone/pages/words"
	"earstone/programme/label"
)

// Cards is a run of data cards to print, four a sheet, each with its code.
type Cards struct {
	Sheet  Size
	Codes  []label.Code
	Name   string   // of the programme
	Areas  []string // general areas to tick; none: a line to write on
	Inches bool     // the inch stands before the centimetre
	Pounds bool
	Words  *words.Printed
	About  About
}

const cardsASheet = 4

// Document draws the cards, with lines to cut along.
func (c Cards) Document() *Doc { return c.draw(New(c.Sheet, c.About)) }

func (c Cards) draw(d *Doc) *Doc {
	w, h := c.Sheet.Width/2, c.Sheet.Height/2
	for i, code := range c.Codes {
		at := i % cardsASheet
		if at == 0 {
			d.Page()
			hair := Stroke{Width: 0.1, Colour: Rule, Dash: []float64{1, 1}}
			d.Line(w, 0, w, c.Sheet.Height, hair)
			d.Line(0, h, c.Sheet.Width, h, hair)
		}
		one := card{Cards: c, d: d, x: float64(at%2)*w + 8, y: float64(at/2)*h + 8, w: w - 16, h: h - 16}
		one.draw(code)
	}
	return d
}

// card is one card in the drawing; y moves down with each field.
type card struct {
	Cards
	d          *Doc
	x, y, w, h float64
}

func (c *card) draw(code label.Code) {
	bottom := c.y + c.h
	c.head(code)
	c.length()
	c.date()
	c.areas()
	c.pair()
	c.weight()
	c.line(c.x, c.w, "card.who")
	c.tickLine("card.consent_contact", "card.consent_publish")
	top := c.cautions(bottom)
	c.y += 2.4
	for c.caption(c.x, "card.remark"); c.y+7 < top-3; c.y += 7 {
		c.d.Line(c.x, c.y+7, c.x+c.w, c.y+7, Stroke{Width: 0.15, Colour: Muted})
	}
}

// pair is the gear beside the sex.
func (c *card) pair() {
	const gear = 36
	at := c.y
	c.line(c.x, gear, "card.gear")
	below := c.y
	c.y = at
	c.ticks(c.x+gear+5, c.w-gear-5, "card.sex", "card.female", "card.male", "card.unknown")
	c.y = max(c.y, below)
}

// head is symbol, code and the names of what lies in the vial.
func (c *card) head(code label.Code) {
	d, side := c.d, 17.0
	d.Symbol(c.x-1.6, c.y-1.6, side, code)
	d.Colour(Black)
	left := c.x + side + 1
	text := d.Fit(SemiBold, 23, 12, c.x+c.w-left, code.String())
	d.Text(left, c.y+6.2, text)
	d.Colour(Muted)
	d.Text(left, c.y+10.4, d.Fit(Regular, 8, 6, c.x+c.w-left, c.Name))
	d.Text(left, c.y+13.8, d.Fit(Italic, 7.5, 5.5, c.x+c.w-left, c.Words.Say("card.stones")))
	c.y += side + 1.4
}

// caption writes the small heading of a field.
func (c *card) caption(x float64, key string) {
	c.d.Face(SemiBold, 7.5)
	c.d.Colour(Sea)
	c.d.Text(x, c.y, c.Words.Say(key))
}

var writeOn = Stroke{Width: 0.25, Colour: Ink}

// line is a caption with a line to write on.
func (c *card) line(x, w float64, key string) {
	c.caption(x, key)
	c.d.Line(x, c.y+7.2, x+w, c.y+7.2, writeOn)
	c.y += 11.6
}

// tick is a box to tick with its word; it returns where the next begins.
func (c *card) tick(x, y float64, text string) float64 {
	c.d.Frame(x, y-2.3, 2.6, 2.6, 0.3, Stroke{Width: 0.25, Colour: Ink})
	c.d.Face(Regular, 8)
	c.d.Colour(Ink)
	c.d.Text(x+3.6, y, text)
	return x + 3.6 + c.d.Width(text) + 3.2
}

func (c *card) ticks(x, w float64, caption string, keys ...string) {
	c.caption(x, caption)
	c.y += 4.8
	at := x
	for _, key := range keys {
		text := c.Words.Say(key)
		c.d.Face(Regular, 8)
		if at > x && at+3.6+c.d.Width(text) > x+w+0.5 {
			at, c.y = x, c.y+4
		}
		at = c.tick(at, c.y, text)
	}
	c.y += 6
}

func (c *card) tickLine(keys ...string) {
	at := c.x
	for i, key := range keys {
		text := c.Words.Say(key)
		c.d.Face(Regular, 8)
		if i > 0 && at+3.6+c.d.Width(text) > c.x+c.w {
			at, c.y = c.x, c.y+4.2
		}
		at = c.tick(at, c.y, text)
	}
	c.y += 4
}

// length is the field that matters most: boxed, with the fish and the tape over it.
func (c *card) length() {
	d := c.d
	d.Box(c.x-2, c.y-0.6, c.w+4, 16.4, Wash)
	c.y += 3.4
	c.caption(c.x, "card.length")
	d.Line(c.x, c.y+8.2, c.x+30, c.y+8.2, writeOn)
	c.units(c.x+33, c.y+7.6, "cm", "in", c.Inches)
	smallFish(d, c.x+c.w-15, c.y+6.4, 0.27)
	c.y += 16.4
}

// units are two boxes to tick, the other unit first when the card is turned to it.
func (c *card) units(at, y float64, usual, other string, turned bool) {
	if turned {
		usual, other = other, usual
	}
	c.tick(c.tick(at, y, usual), y, other)
}

func (c *card) date() {
	c.caption(c.x, "card.date")
	d, at := c.d, c.x
	for _, part := range []struct {
		key string
		w   float64
	}{{"card.day", 14}, {"card.month", 20}, {"card.year", 20}} {
		d.Line(at, c.y+6.6, at+part.w, c.y+6.6, writeOn)
		d.Face(Regular, 6.5)
		d.Colour(Muted)
		d.Text(at+part.w+1, c.y+6.6, c.Words.Say(part.key))
		at += part.w + 1 + d.Width(c.Words.Say(part.key)) + 3
	}
	c.y += 11.4
}

// most areas that a card can hold as boxes to tick.
const mostTicks = 9

func (c *card) areas() {
	if len(c.Areas) == 0 || len(c.Areas) > mostTicks {
		c.line(c.x, c.w, "card.area")
		return
	}
	c.caption(c.x, "card.area")
	c.y += 4.6
	at := c.x
	for _, area := range c.Areas {
		text := c.d.Fit(Regular, 8, 8, c.w-4, area)
		if at > c.x && at+3.6+c.d.Width(text) > c.x+c.w {
			at, c.y = c.x, c.y+4
		}
		at = c.tick(at, c.y, text)
	}
	c.y += 6.2
}

func (c *card) weight() {
	c.caption(c.x, "card.weight")
	d := c.d
	d.Line(c.x, c.y+6.6, c.x+22, c.y+6.6, writeOn)
	c.units(c.x+24, c.y+6.2, "kg", "lb", c.Pounds)
	c.y += 11.2
	c.tickLine("card.round", "card.gilled_gutted", "card.headed_gutted", "card.dressed")
	c.y += 2.4
}

// cautions stand at the foot of every card; it returns where they begin.
func (c *card) cautions(bottom float64) (top float64) {
	d, text := c.d, c.Words.Say("card.cautions")
	for pt := 6.2; pt >= 4.6; pt -= 0.1 {
		d.Face(Regular, pt)
		lines := d.Lines(text, c.w)
		top = bottom - float64(len(lines)-1)*d.Leading()*0.92
		if top < c.y+5 && pt > 4.7 {
			continue
		}
		d.Line(c.x, top-3.1, c.x+c.w, top-3.1, Stroke{Width: 0.35, Colour: Rust})
		d.Colour(Ink)
		for i, line := range lines {
			d.Text(c.x, top+float64(i)*d.Leading()*0.92, line)
		}
		return top - 3.1
	}
	return top
}

package paper

import (
	"earstone/programme/label"
)

// Labels is a run of labels to print.
type Labels struct {
	Stock  Stock
	Codes  []label.Code // in the order of printing, a code as often as it stands here
	Begin  int          // labels of the first sheet that are gone already
	NudgeX float64      // mm to the right, for a printer that prints askew
	NudgeY float64      // mm down
	Name   string       // of the programme, on each label
	About  About
}

// Document draws the sheets.
func (l Labels) Document() *Doc { return l.draw(New(l.Stock.Sheet, l.About)) }

func (l Labels) draw(d *Doc) *Doc {
	for i, code := range l.Codes {
		at := (l.Begin + i) % l.Stock.Count()
		if i == 0 || at == 0 {
			d.Page()
			if l.Stock.Cut {
				l.cutLines(d)
			}
		}
		x, y := l.Stock.Place(at)
		d.label(x+l.NudgeX, y+l.NudgeY, l.Stock.Width, l.Stock.Height, code, l.Name)
	}
	return d
}

// label draws the symbol on the left, the code as large as it fits, the programme below.
func (d *Doc) label(x, y, w, h float64, code label.Code, name string) {
	const margin = 1.2
	side := min(h-2*margin, 0.42*w, 18)
	d.Symbol(x+margin, y+(h-side)/2, side, code)
	left := x + margin + side + 0.8
	room := x + w - margin - left
	d.Colour(Black)
	text := d.Fit(SemiBold, 17, 4.5, room, code.String())
	pt := d.pt
	high := pt * 0.66 * 25.4 / 72 // of a capital
	small := h < 14 || name == ""
	base := y + (h+high)/2
	if small {
		d.Text(left, base, text)
		return
	}
	d.Face(Regular, 6.5)
	lines := d.Lines(name, room)
	most := 2
	if h >= 19 {
		most = 3
	}
	lines, more := lines[:min(len(lines), most)], len(lines) > most
	d.Face(SemiBold, pt)
	base -= 1.2 + 1.2*float64(len(lines))
	d.Text(left, base, text)
	d.Colour(Muted)
	for i, line := range lines {
		if more && i == len(lines)-1 {
			line += "…"
		}
		d.Text(left, base+3.8+float64(i)*2.8, d.Fit(Regular, 6.5, 5, room, line))
	}
}

// cutLines are hairlines along the edges of the labels, drawn through to the margins.
func (l Labels) cutLines(d *Doc) {
	s, hair := l.Stock, Stroke{Width: 0.1, Colour: Rule, Dash: []float64{1, 1}}
	right, bottom := s.Left+float64(s.Columns)*s.Across, s.Top+float64(s.Rows)*s.Down
	for i := range s.Columns + 1 {
		x := s.Left + float64(i)*s.Across + l.NudgeX
		d.Line(x, s.Top-4+l.NudgeY, x, bottom+4+l.NudgeY, hair)
	}
	for i := range s.Rows + 1 {
		y := s.Top + float64(i)*s.Down + l.NudgeY
		d.Line(s.Left-4+l.NudgeX, y, right+4+l.NudgeX, y, hair)
	}
}

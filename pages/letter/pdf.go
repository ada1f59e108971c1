package letter

import (
	"strings"
	"time"

	"earstone/pages/paper"
	"earstone/pages/words"
	"earstone/programme/date"
)

// The margins of a letter, and where its address shows in the window of an envelope, mm.
const (
	side    = 22.0
	top     = 24.0
	foot    = 20.0
	address = 48.0
)

// Printable tells whether a letter can be set with the embedded faces: its language is
// written from left to right in Latin script, and so are names and places.
func (s *Season) Printable(l Letter, to To, on date.Day) bool {
	t := s.say(l, to, on)
	return t.Direction == "ltr" && paper.Lacks(t.all()) == ""
}

// all is all that a letter says.
func (t text) all() string {
	parts := append([]string{t.Title, t.Season, t.Date, t.Dear, t.Thanks, t.Why, t.Privacy, t.Wrong, t.Yours, t.Programme}, t.Address...)
	for _, f := range t.Fish {
		parts = append(append(parts, f.Label, f.Head), f.Says...)
		for _, x := range f.Facts {
			parts = append(parts, x.Name, x.Value)
		}
	}
	return strings.Join(parts, "\n")
}

// PDF is a letter for the post; it must be Printable.
func (s *Season) PDF(l Letter, to To, on date.Day, size paper.Size, made time.Time) *paper.Doc {
	t := s.say(l, to, on)
	d := paper.New(size, paper.About{Title: t.Title, Language: t.Language, Made: made})
	p, _ := words.PrintedIn(l.Language)
	set(d, t, p)
	return d
}

// block is a part of a letter that stays on one page.
type block struct {
	height float64
	draw   func(y float64)
}

// sheet is a letter in the setting.
type sheet struct {
	d     *paper.Doc
	t     text
	w     float64
	boxes []block
}

func set(d *paper.Doc, t text, p *words.Printed) {
	s := &sheet{d: d, t: t, w: d.Size().Width - 2*side}
	d.Page()
	s.head()
	s.para(10.5, paper.Regular, t.Dear, 1.5)
	s.para(10.5, paper.Regular, t.Thanks, 4)
	for _, f := range t.Fish {
		s.fish(f)
	}
	s.para(10.5, paper.Regular, t.Why, 2)
	s.para(10.5, paper.Regular, t.Privacy+" "+t.Wrong, 6)
	s.para(10.5, paper.Regular, t.Yours, 0.5)
	s.para(10.5, paper.SemiBold, t.Programme, 0)
	y := s.start() + 12
	var breaks []int
	for i, b := range s.boxes {
		if y+b.height > d.Size().Height-foot {
			breaks, y = append(breaks, i), top
		}
		y += b.height
	}
	s.put(breaks, p)
}

// put draws the blocks, on a new page where there is a break.
func (s *sheet) put(breaks []int, p *words.Printed) {
	y, page := s.start()+12, 1
	number := func() {
		if len(breaks) == 0 {
			return
		}
		s.d.Face(paper.Regular, 8.5)
		s.d.Colour(paper.Muted)
		s.d.Right(side+s.w, s.d.Size().Height-foot+9, p.Say("letter.page", "n", p.Number(float64(page), 0), "of", p.Number(float64(len(breaks)+1), 0)))
	}
	number()
	for i, b := range s.boxes {
		if page <= len(breaks) && breaks[page-1] == i {
			s.d.Page()
			page++
			number()
			y = top
		}
		b.draw(y)
		y += b.height
	}
}

// start is where the season stands: below the address.
func (s *sheet) start() float64 { return max(address+float64(len(s.t.Address))*5.2+14, 66) }

// head is the programme, the date, the address and the title.
func (s *sheet) head() {
	d, t := s.d, s.t
	d.Colour(paper.Sea)
	d.Text(side, top, d.Fit(paper.SemiBold, 12, 8, s.w*0.7, t.Programme))
	d.Face(paper.Regular, 10)
	d.Colour(paper.Muted)
	d.Right(side+s.w, top, t.Date)
	d.Line(side, top+3, side+s.w, top+3, paper.Stroke{Width: 0.7, Colour: paper.Sea})
	d.Colour(paper.Ink)
	for i, line := range t.Address {
		d.Text(side, address+float64(i)*5.2, d.Fit(paper.Regular, 11, 7, 85, line))
	}
	y := s.start() - 8
	d.Face(paper.SemiBold, 10)
	d.Colour(paper.Muted)
	d.Text(side, y, t.Season)
	d.Colour(paper.Ink)
	d.Text(side, y+9, d.Fit(paper.SemiBold, 22, 13, s.w, t.Title))
}

// para is a paragraph of text with space after it.
func (s *sheet) para(pt float64, face paper.Face, text string, after float64) {
	s.d.Face(face, pt)
	lines, lead := s.d.Lines(text, s.w), s.d.Leading()
	s.boxes = append(s.boxes, block{float64(len(lines))*lead + after, func(y float64) {
		s.d.Face(face, pt)
		s.d.Colour(paper.Ink)
		for i, line := range lines {
			s.d.Text(side, y+lead*0.78+float64(i)*lead, line)
		}
	}})
}

// fish is the box of one fish.
func (s *sheet) fish(f said) {
	d, inner := s.d, s.w-12
	d.Face(paper.SemiBold, 13)
	head, headLead := d.Lines(f.Head, inner), d.Leading()
	d.Face(paper.Regular, 10)
	var says []string
	for _, sentence := range f.Says {
		says = append(says, d.Lines(sentence, inner)...)
	}
	lead := d.Leading()
	facts := s.factRows(f.Facts, inner)
	height := 5 + 5 + float64(len(facts))*10 + float64(len(head))*headLead + 1 + float64(len(says))*lead + 3
	s.boxes = append(s.boxes, block{height + 4, func(y float64) {
		d.Box(side, y, s.w, height, paper.Wash)
		d.Box(side, y, 1.2, height, paper.Sea)
		x := side + 7
		d.Colour(paper.Sea)
		d.Text(x, y+6.6, d.Fit(paper.SemiBold, 11.5, 7, inner, f.Label))
		y += 12
		for _, row := range facts {
			at := x
			for _, one := range row {
				d.Face(paper.Regular, 7.5)
				d.Colour(paper.Muted)
				d.Text(at, y, one.Name)
				d.Face(paper.Regular, 10)
				d.Colour(paper.Ink)
				d.Text(at, y+4.2, one.Value)
				at += s.width(one) + 8
			}
			y += 10
		}
		d.Face(paper.SemiBold, 13)
		for i, line := range head {
			d.Text(x, y+1.5+float64(i)*headLead, line)
		}
		y += float64(len(head))*headLead + 1
		d.Face(paper.Regular, 10)
		for i, line := range says {
			d.Text(x, y+1.5+float64(i)*lead, line)
		}
	}})
}

func (s *sheet) width(f fact) float64 {
	s.d.Face(paper.Regular, 7.5)
	name := s.d.Width(f.Name)
	s.d.Face(paper.Regular, 10)
	return max(name, s.d.Width(f.Value))
}

// factRows lays facts side by side as far as they fit; one that is too wide is cut.
func (s *sheet) factRows(facts []fact, w float64) (rows [][]fact) {
	used := w + 1
	for _, f := range facts {
		f.Value = s.d.Fit(paper.Regular, 10, 10, w, f.Value)
		wide := s.width(f)
		if used+wide > w {
			rows, used = append(rows, nil), 0
		}
		last := len(rows) - 1
		rows[last] = append(rows[last], f)
		used += wide + 8
	}
	return rows
}

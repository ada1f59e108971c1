package letter

import (
	"strconv"
	"strings"
	"time"

	"earstone/pages/paper"
	"earstone/programme/date"
)

// NoticePrintable tells whether the notice can be set with the embedded faces.
func (s *Season) NoticePrintable(language string, names map[string]string, on date.Day) bool {
	n := s.sayNotice(language, names, on)
	parts := append([]string{n.Title, n.Programme, n.Date, n.AgesTitle, n.Axis, n.AgesSays, n.OriginTitle, n.OriginSays, n.Thanks, n.Named, n.Next, n.Small}, n.Counts...)
	for _, b := range n.Origins {
		parts = append(parts, b.Name, b.Range)
	}
	return n.Direction == "ltr" && paper.Lacks(strings.Join(parts, "")) == ""
}

// NoticePDF is the season on one page for a dock notice board; it must be
// NoticePrintable.
func (s *Season) NoticePDF(language string, names map[string]string, on date.Day, size paper.Size, made time.Time) *paper.Doc {
	n := s.sayNotice(language, names, on)
	d := paper.New(size, paper.About{Title: n.Title, Language: n.Language, Made: made})
	d.Page()
	setNotice(d, n)
	return d
}

// board is the notice in the setting; y moves down the page.
type board struct {
	d       *paper.Doc
	n       notice
	x, y, w float64
}

// setNotice draws the page; it returns where the bars end and where the foot begins.
func setNotice(d *paper.Doc, n notice) (end, below float64) {
	b := &board{d: d, n: n, x: 20, y: 24, w: d.Size().Width - 40}
	b.title()
	below = b.foot()
	b.ages(below)
	b.origins()
	return b.y, below
}

func (b *board) title() {
	d, n := b.d, b.n
	d.Colour(paper.Sea)
	d.Text(b.x, b.y, d.Fit(paper.SemiBold, 14, 9, b.w, n.Programme))
	d.Line(b.x, b.y+3.4, b.x+b.w, b.y+3.4, paper.Stroke{Width: 0.9, Colour: paper.Sea})
	d.Colour(paper.Ink)
	d.Text(b.x, b.y+22, d.Fit(paper.SemiBold, 46, 24, b.w, n.Title))
	d.Text(b.x, b.y+32, d.Fit(paper.SemiBold, 15, 9, b.w, strings.Join(n.Counts, "  ·  ")))
	b.y += 46
}

// foot is set first, from the bottom of the page up; it returns where it begins.
func (b *board) foot() float64 {
	d, n := b.d, b.n
	d.Face(paper.Regular, 8.5)
	small := d.Lines(n.Small+" "+n.Date, b.w)
	y := d.Size().Height - 16 - float64(len(small)-1)*d.Leading()
	d.Colour(paper.Muted)
	for i, line := range small {
		d.Text(b.x, y+float64(i)*d.Leading(), line)
	}
	y -= 9
	d.Colour(paper.Rust)
	d.Text(b.x, y, d.Fit(paper.SemiBold, 19, 11, b.w, n.Next))
	y -= 11
	pt := 12.0
	var lines []string
	for d.Face(paper.Regular, pt); ; d.Face(paper.Regular, pt) {
		if lines = d.Lines(n.Named, b.w); len(lines) <= 8 || pt <= 7.5 {
			break
		}
		pt -= 0.5
	}
	y -= float64(len(lines)-1) * d.Leading()
	d.Colour(paper.Ink)
	for i, line := range lines {
		d.Text(b.x, y+float64(i)*d.Leading(), line)
	}
	y -= 8.4
	d.Face(paper.SemiBold, 17)
	d.Text(b.x, y, n.Thanks)
	y -= 9
	d.Line(b.x, y, b.x+b.w, y, paper.Stroke{Width: 0.3, Colour: paper.Rule})
	return y - 4
}

func (b *board) heading(title, says string) {
	b.d.Colour(paper.Ink)
	b.d.Face(paper.SemiBold, 17)
	b.d.Text(b.x, b.y, title)
	b.d.Face(paper.Regular, 11)
	b.y = b.d.Para(b.x, b.y+7, b.w, says)
}

// ages are upright bars; they take the height that the rest leaves.
func (b *board) ages(below float64) {
	n, d := b.n, b.d
	if len(n.Ages) == 0 {
		return
	}
	b.heading(n.AgesTitle, n.AgesSays)
	rest := 0.0
	if len(n.Origins) > 0 {
		rest = 22 + 9.5*float64(len(n.Origins))
	}
	high := min(max(below-rest-b.y-20, 22), 78)
	base := b.y + high + 4
	step := b.w / float64(len(n.Ages))
	wide := min(step*0.78, 14)
	for i, x := range n.Ages {
		mid := b.x + (float64(i)+0.5)*step
		if x.Count > 0 {
			d.Box(mid-wide/2, base-high*x.Share, wide, high*x.Share, paper.Sea)
			d.Face(paper.Regular, 8)
			d.Colour(paper.Muted)
			d.Centre(mid, base-high*x.Share-1.2, strconv.Itoa(x.Count))
		}
		d.Face(paper.SemiBold, 9.5)
		d.Colour(paper.Ink)
		d.Centre(mid, base+4.6, x.Name)
	}
	d.Line(b.x, base, b.x+b.w, base, paper.Stroke{Width: 0.4, Colour: paper.Ink})
	d.Face(paper.Regular, 8.5)
	d.Colour(paper.Muted)
	d.Text(b.x, base+9.4, n.Axis)
	b.y = base + 21
}

// origins are bars that lie, with their intervals said beside them.
func (b *board) origins() {
	n, d := b.n, b.d
	if len(n.Origins) == 0 {
		return
	}
	b.heading(n.OriginTitle, n.OriginSays)
	d.Face(paper.SemiBold, 11)
	names := 0.0
	for _, x := range n.Origins {
		names = max(names, d.Width(x.Name))
	}
	names = min(names, b.w*0.35)
	left, long := b.x+names+4, b.w-names-4-52
	for _, x := range n.Origins {
		b.y += 2
		d.Colour(paper.Ink)
		d.Text(b.x, b.y+3.2, d.Fit(paper.SemiBold, 11, 7, names, x.Name))
		d.Box(left, b.y-1, long, 6, paper.SeaDim)
		d.Box(left, b.y-1, max(long*x.Share, 0.4), 6, paper.Sea)
		d.Colour(paper.Ink)
		d.Face(paper.SemiBold, 14)
		d.Text(left+long+3, b.y+3.8, x.Said)
		after := left + long + 3 + d.Width(x.Said) + 2.5
		if x.Range != "" {
			d.Colour(paper.Muted)
			d.Text(after, b.y+3.6, d.Fit(paper.Regular, 9.5, 7, b.x+b.w-after, x.Range))
		}
		b.y += 7.5
	}
}

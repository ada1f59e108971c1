package chart

import (
	"math"
	"strconv"
)

// KeySurface draws an age–length key, q(age | length): the share of each age
// among the fish of a length bin. One panel a stratum of the key, all on one
// length axis so that shifts between strata can be seen. Curves carry their age
// where they are highest; Stacked draws the ages one on top of another instead.
//
// A strip under each panel says what a bin rests on: nothing under bins with
// aged fish of their own, an open bar under borrowed ones, and a hatched column
// where fish stay unaged.
type KeySurface struct {
	Frame
	Ages    []int // in rising order; Shares follow it
	Plus    bool  // the last age also holds all that are older
	Unit    string
	Panels  []KeyPanel
	Stacked bool
}

// KeyPanel is one stratum of the key; Bins are in rising order of length.
type KeyPanel struct {
	Name string
	Bins []KeyBin
}

// KeyBin is one length bin. Shares has one entry an age and is ignored when the
// bin is Unaged; Fish is how many aged fish it rests on.
type KeyBin struct {
	From, To float64
	Shares   []float64
	Fish     int
	Basis    KeyBasis
}

// KeyBasis says where the shares of a bin come from.
type KeyBasis int

// The three answers; the zero value is the usual one.
const (
	Own      KeyBasis = iota // fish aged in this very bin and stratum
	Borrowed                 // taken along the ladder
	Unaged                   // no rung gave any: its fish stay unaged
)

// Draw answers the picture. Panics when a bin's shares don't follow Ages.
func (p KeySurface) Draw() SVG {
	const panel, gap = 150, 58
	n := max(len(p.Panels), 1)
	w, h := p.size(float64(n)*panel + float64(n-1)*gap + 40 + 36 + 50)
	c := &canvas{width: w, height: h}
	top := c.notes(p.notes(), 0) + 32
	tall := (h - top - underTicks - underName - 14 - float64(n-1)*gap) / float64(n)
	var lengths span
	for _, s := range p.Panels {
		for _, b := range s.Bins {
			lengths.see(b.From, b.To)
		}
	}
	low, high, ticks := lengths.round(7)
	for i, s := range p.Panels {
		area := box{52, top, w - 12, top + tall}
		q := plot{c, area, scale{low, high, area.x0, area.x1}, scale{0, 1, area.y1, area.y0 + p.headroom()}}
		p.panel(q, s)
		top += tall + gap
		if i == len(p.Panels)-1 {
			q.area.y1 += 14
			q.xAxis(ticks, tickLabels(ticks))
			q.xName("length (" + p.Unit + ")")
		}
	}
	return c.finish(p.Frame)
}

// headroom is the space above 100 % in which curves carry their labels.
func (p KeySurface) headroom() float64 {
	if p.Stacked {
		return 0
	}
	return 16
}

func (p KeySurface) panel(q plot, s KeyPanel) {
	q.text("strong", 4, q.area.y0-12, shorten(s.Name, textSize, q.width-8))
	q.yAxis([]float64{0, 0.5, 1}, []string{"0", "50" + thin + "%", "100" + thin + "%"}, "")
	under := q.area
	under.y1 += 13
	q.inside(under, func() {
		for _, b := range s.Bins {
			p.basis(q, b)
		}
		for _, run := range aged(s.Bins) {
			if p.Stacked {
				p.stack(q, run)
			} else {
				p.curves(q, run)
			}
		}
	})
	q.zero()
}

// aged cuts bins into runs of neighbours that all have shares.
func aged(bins []KeyBin) [][]KeyBin {
	var runs [][]KeyBin
	joined := false
	for _, b := range bins {
		if b.Basis == Unaged || !drawable(b.From) || !drawable(b.To) {
			joined = false
			continue
		}
		if !joined {
			runs = append(runs, nil)
		}
		runs[len(runs)-1] = append(runs[len(runs)-1], b)
		joined = true
	}
	return runs
}

// basis draws what a bin rests on.
func (p KeySurface) basis(q plot, b KeyBin) {
	if !drawable(b.From) || !drawable(b.To) {
		return
	}
	x0, x1 := q.x.at(b.From), q.x.at(b.To)
	where := number(b.From, places(b.From)) + "–" + number(b.To, places(b.To)) + " " + p.Unit
	switch b.Basis {
	case Unaged:
		q.mark(where+": no key, fish stay unaged", func() { q.hatch("hatch hatch-0", box{x0, q.area.y0, x1, q.area.y1}) })
	case Borrowed:
		q.mark(where+": borrowed, rests on "+count(b.Fish, "aged fish"), func() {
			air := min(1, (x1-x0)/4)
			q.rect("open line-2 fine", box{x0 + air, q.area.y1 + 5, x1 - air, q.area.y1 + 11})
		})
	}
}

// share answers the share of age a in a bin, unknown shares as none.
func (p KeySurface) share(b KeyBin, a int) float64 {
	if len(b.Shares) != len(p.Ages) {
		panic("chart: a key bin needs one share an age")
	}
	return min(atLeast(b.Shares[a], 0), 1)
}

// ageName is the label of one age, where its share is largest.
type ageName struct {
	class, words string
	x, y         float64
}

// names writes labels that keep clear of one another: the oldest age first, then
// from the youngest up. An age without room still has its words on pointing.
func (p KeySurface) names(q plot, names []ageName) {
	if n := len(names); n > 0 {
		names = append(names[n-1:n:n], names[:n-1]...)
	}
	for i, a := range names {
		free := true
		for _, b := range names[:i] {
			apart := (textWidth(a.words, smallSize)+textWidth(b.words, smallSize))/2 + 2
			free = free && (b.words == "" || math.Abs(a.x-b.x) >= apart || math.Abs(a.y-b.y) >= smallSize)
		}
		if free {
			q.text(a.class, a.x, a.y, a.words)
		} else {
			names[i].words = ""
		}
	}
}

func (p KeySurface) curves(q plot, run []KeyBin) {
	var names []ageName
	for a, age := range p.Ages {
		points := make([]float64, 0, 2*len(run))
		best, bestX := 0.0, 0.0
		for _, b := range run {
			x, share := q.x.at((b.From+b.To)/2), p.share(b, a)
			points = append(points, x, q.y.at(share))
			if share > best {
				best, bestX = share, x
			}
		}
		if best == 0 {
			continue
		}
		label := ageLabel(age, p.Ages[len(p.Ages)-1], p.Plus)
		hue := strconv.Itoa(a % 3)
		class := "line-" + hue + " dash-" + strconv.Itoa(a%4)
		q.mark("age "+label+": at most "+percent(best), func() {
			if len(points) == 2 {
				q.circle("fill-"+hue, points[0], points[1], 3)
			}
			q.path(class, false, points...)
		})
		if best > 0.12 {
			names = append(names, ageName{"small strong middle halo text-" + hue, label, bestX, q.y.at(best) - 5})
		}
	}
	p.names(q, names)
}

func (p KeySurface) stack(q plot, run []KeyBin) {
	var names []ageName
	below := make([]float64, len(run))
	for a, age := range p.Ages {
		var upper, lower []float64
		thickest, at := 0.0, 0
		for i, b := range run {
			share := min(p.share(b, a), 1-below[i])
			y0, y1 := q.y.at(below[i]), q.y.at(below[i]+share)
			upper = append(upper, q.x.at(b.From), y1, q.x.at(b.To), y1)
			lower = append(lower, q.x.at(b.To), y0, q.x.at(b.From), y0)
			if share > thickest {
				thickest, at = share, i
			}
			below[i] += share
		}
		if thickest == 0 {
			continue
		}
		outline := upper
		for i := len(run) - 1; i >= 0; i-- {
			outline = append(outline, lower[4*i:4*i+4]...)
		}
		label := ageLabel(age, p.Ages[len(p.Ages)-1], p.Plus)
		q.mark("age "+label+": at most "+percent(thickest), func() {
			q.path([]string{"soft-1", "soft-2", "soft-0"}[a%3]+" edge", true, outline...)
		})
		if height := q.y.at(0) - q.y.at(thickest); height > 16 {
			b := run[at]
			mid := q.y.at(below[at] - thickest/2)
			names = append(names, ageName{"small strong middle", label, q.x.at((b.From + b.To) / 2), mid + 4.5})
		}
	}
	p.names(q, names)
}

func (p KeySurface) notes() []note {
	var borrowed, unaged bool
	for _, s := range p.Panels {
		for _, b := range s.Bins {
			borrowed = borrowed || b.Basis == Borrowed
			unaged = unaged || b.Basis == Unaged
		}
	}
	out := []note{{"share of each age, ages numbered", func(c *canvas, x, y float64) {
		c.text("small strong middle text-1", x, y+4.5, "5")
	}}}
	if borrowed {
		out = append(out, note{"borrowed bin", func(c *canvas, x, y float64) {
			c.rect("open line-2 fine", box{x - 9, y - 3, x + 9, y + 3})
		}})
	}
	if unaged {
		out = append(out, note{"no key: fish stay unaged", func(c *canvas, x, y float64) {
			c.hatch("hatch hatch-0", box{x - 9, y - 7, x + 9, y + 7})
		}})
	}
	return out
}

// places is how many decimals a bin edge needs.
func places(x float64) int {
	if x == float64(int64(x)) {
		return 0
	}
	return 1
}

// count writes how many of what.
func count(n int, what string) string { return number(float64(n), 0) + " " + what }

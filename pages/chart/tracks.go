package chart

// Tracks draws lengths that were calculated back from the annuli of each stone:
// a fine line a fish, and over them the mean at each annulus with its interval.
// Of many fish every second, third ... is drawn, and the picture says so; the
// means are of all.
type Tracks struct {
	Frame
	Unit  string
	Fish  []Track
	Means []TrackMean
}

// Track is one fish: its lengths at annulus 1, 2, 3 ...
type Track struct {
	Name    string
	Lengths []Amount
}

// TrackMean is the mean length of fish at one annulus.
type TrackMean struct {
	Annulus  int
	Length   float64
	Interval Interval
	Fish     int
}

// mostTracks is how many lines can be told apart.
const mostTracks = 90

// Draw answers the picture.
func (p Tracks) Draw() SVG {
	w, h := p.size(380)
	c := &canvas{width: w, height: h}
	lengths := span{seen: true}
	last := 1
	for _, f := range p.Fish {
		last = max(last, min(len(f.Lengths), 150))
		for _, a := range f.Lengths {
			if a.known() {
				lengths.see(a.Value)
			}
		}
	}
	unknown := false
	for _, m := range p.Means {
		if m.drawn() {
			last = max(last, m.Annulus)
			lengths.see(m.Length)
			lengths.seeInterval(m.Interval)
			unknown = unknown || !m.Interval.known()
		}
	}
	low, high, ticks := lengths.round(6)
	labels := tickLabels(ticks)
	every := (len(p.Fish) + mostTracks - 1) / mostTracks
	top := c.notes(append(p.notes(every), unknownNote(unknown)...), 0) + 36
	area := box{leftRoom(labels), top, w - 12, h - underTicks - underName}
	q := plot{c, area, scale{0.5, float64(last) + 0.5, area.x0, area.x1}, scale{low, high, area.y1, area.y0}}
	q.yAxis(ticks, labels, "length ("+p.Unit+")")
	c.inside(area, func() {
		for i := 0; i < len(p.Fish); i += max(every, 1) {
			p.track(q, p.Fish[i])
		}
		for _, m := range p.Means {
			p.mean(q, m)
		}
	})
	names := make([]string, last)
	for i := range names {
		names[i] = number(float64(i+1), 0)
	}
	q.zero()
	b := q
	b.x = bands(last, area.x0, area.x1)
	b.xBands(names)
	q.xName("annulus")
	return c.finish(p.Frame)
}

func (m TrackMean) drawn() bool {
	return m.Annulus > 0 && possible(m.Annulus) && drawable(m.Length)
}

func (p Tracks) notes(every int) []note {
	var out []note
	if len(p.Fish) > 0 {
		words := "a fish"
		if every > 1 {
			words = "a fish; every " + ordinal(every) + " is drawn"
		}
		out = append(out, note{words, func(c *canvas, x, y float64) { c.path("thread", false, x-9, y+5, x-3, y-1, x+9, y-5) }})
	}
	if len(p.Means) > 0 {
		out = append(out, note{"mean of all and " + p.interval(), inkGlyph})
	}
	return out
}

// track draws the line of one fish, broken where a length is unknown.
func (p Tracks) track(q plot, f Track) {
	var points []float64
	q.mark(f.Name, func() {
		for i, a := range f.Lengths {
			if !a.known() || !possible(i+1) {
				q.path("thread", false, points...)
				points = nil
				continue
			}
			points = append(points, q.x.at(float64(i+1)), q.y.at(a.Value))
		}
		q.path("thread", false, points...)
	})
}

func (p Tracks) mean(q plot, m TrackMean) {
	if !m.drawn() {
		return
	}
	x, y := q.x.at(float64(m.Annulus)), q.y.at(m.Length)
	half := min(8, q.x.at(0.4)-q.x.at(0))
	words := "annulus " + number(float64(m.Annulus), 0) + ": mean " + value(m.Length) + " " + p.Unit + ", " + p.within(m.Interval, value) + ", " + count(max(m.Fish, 0), "fish")
	q.mark(words, func() {
		if !m.Interval.known() {
			q.circle("open line-0", x, y, min(4.5, half))
			return
		}
		q.whisker("line-0 thick", x, m.Interval)
		q.line("line-0", x-half, y, x+half, y)
	})
}

package run

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"earstone/estimate/growth"
	"earstone/programme/date"
	"earstone/programme/record"
	"earstone/statistics/dist"
)

// BackFound are lengths that fish had at their annuli, calculated back from marked
// readings.
type BackFound struct {
	Rules    []growth.Rule
	Chosen   int // of Rules: the one that is reported
	Relation growth.Relation
	Fish     []BackFish
	Means    []BackMeans // by rule
	Unlike   int         // fish of which no marked reading has as many annuli as were agreed
	Lacking  int         // fish with marks that lack a distance, an edge or a length
}

// BackFish is a fish with the lengths at its annuli.
type BackFish struct {
	Fish    *record.Fish
	Reading string
	Length  float64 // at capture, in the bins' unit and kind
	EdgeUm  float64
	RadiiUm []float64
	Lengths [][]float64 // rules × annuli; one that is not above 0 is none
}

// BackMeans are mean lengths at annuli by one rule.
type BackMeans struct {
	growth.Means
	Trouble error
	Points  []Estimate // by annulus
}

var errNoLength = errors.New("the rule gives no fish a length at the first annulus")

// ErrNoMarks is why no length is calculated back where no annulus was marked.
var ErrNoMarks = errors.New("no reading has marked annuli with their distances from the core")

// backRules are the rules that need nothing but the fish themselves; the first is
// reported. Francis (1990) sets the two proportional ones side by side (from memory).
var backRules = []growth.Rule{growth.ScaleProportional, growth.BodyProportional, growth.FraserLee, growth.DahlLea}

// backCalculate looks for marked readings and calculates lengths at annuli.
func (c *chain) backCalculate(s *Species) {
	found := &BackFound{Rules: backRules}
	radii := c.radii()
	if len(radii) == 0 {
		s.NoBack = ErrNoMarks
		return
	}
	of := map[record.FishID][]*record.Reading{}
	for i := range c.book.Readings {
		if r := &c.book.Readings[i]; radii[r.Reading] != nil {
			of[r.Fish] = append(of[r.Fish], r)
		}
	}
	var length, edge []float64
	for i := range s.Ages {
		f := &s.Ages[i]
		if len(of[f.Fish.Fish]) == 0 {
			continue
		}
		fish, ok := found.take(f, of[f.Fish.Fish], radii)
		if !ok {
			continue
		}
		x, _, known := c.convert.Length(s.Species, f.Fish.Length, c.book.Settings.LengthBin)
		if !known || !(x > 0) {
			found.Lacking++
			continue
		}
		fish.Length = x
		found.Fish = append(found.Fish, fish)
		length, edge = append(length, x), append(edge, fish.EdgeUm)
	}
	if len(found.Fish) == 0 {
		s.NoBack = ErrNoMarks
		if found.Unlike+found.Lacking > 0 {
			s.Back = found
		}
		return
	}
	relation, err := growth.Relate(length, edge)
	if err != nil {
		s.NoBack = err
		return
	}
	found.Relation = relation
	s.Back = found
	found.calculate(c.options.Level)
}

// stoneRadii are the annuli and the edge of a marked reading, in µm from the core; edge 0:
// something is lacking.
type stoneRadii struct {
	annuli []float64
	edge   float64
}

// radii reads the marks, by reading. A distance is the one that was written down, or runs
// along the marks in the picture at its scale; it counts from the core, where one is
// marked.
func (c *chain) radii() map[string]*stoneRadii {
	marks := map[string][]*record.Mark{}
	for i := range c.book.Marks {
		m := &c.book.Marks[i]
		marks[m.Reading] = append(marks[m.Reading], m)
	}
	if len(marks) == 0 {
		return nil
	}
	scale := map[string]float64{}
	for i := range c.book.Images {
		if im := &c.book.Images[i]; im.UmPerPixel.Known && im.UmPerPixel.X > 0 {
			scale[im.Image] = im.UmPerPixel.X
		}
	}
	out := map[string]*stoneRadii{}
	for i := range c.book.Readings {
		r := &c.book.Readings[i]
		of := marks[r.Reading]
		if !slices.ContainsFunc(of, func(m *record.Mark) bool { return m.Kind == "annulus" }) {
			continue
		}
		slices.SortStableFunc(of, func(a, b *record.Mark) int { return cmp.Compare(a.Order, b.Order) })
		out[r.Reading] = radiiOf(of, scale[r.Image])
	}
	return out
}

// radiiOf are the radii of marks in their order; an edge of 0 says that they can't be had.
func radiiOf(marks []*record.Mark, scale float64) *stoneRadii {
	at, ok := distances(marks, scale)
	out := &stoneRadii{}
	if !ok {
		return out
	}
	core, last := 0.0, 0.0
	for i, m := range marks {
		switch m.Kind {
		case "core":
			core = at[i]
		case "annulus":
			out.annuli = append(out.annuli, at[i]-core)
		case "edge":
			out.edge = at[i] - core
		}
	}
	for _, r := range out.annuli {
		if !(r > last) {
			return &stoneRadii{}
		}
		last = r
	}
	if !(out.edge >= last) {
		return &stoneRadii{}
	}
	return out
}

// distances are those of the marks along their axis, in µm.
func distances(marks []*record.Mark, scale float64) (at []float64, ok bool) {
	written, drawn := true, scale > 0 && marks[0].Kind == "core"
	for _, m := range marks {
		written = written && (m.DistanceUm.Known || m.Kind == "core")
		drawn = drawn && m.XPx.Known && m.YPx.Known
	}
	along := 0.0
	for i, m := range marks {
		switch {
		case written:
			along = m.DistanceUm.X
		case !drawn:
			return nil, false
		case i > 0:
			along += scale * math.Hypot(m.XPx.X-marks[i-1].XPx.X, m.YPx.X-marks[i-1].YPx.X)
		}
		at = append(at, along)
	}
	return at, true
}

// take chooses the reading of a fish: one with as many annuli as were agreed, the last of
// them.
func (b *BackFound) take(f *FishAge, readings []*record.Reading, radii map[string]*stoneRadii) (BackFish, bool) {
	slices.SortStableFunc(readings, func(x, y *record.Reading) int {
		return cmp.Or(cmp.Compare(lastDay(x.ReadAt), lastDay(y.ReadAt)), cmp.Compare(x.Reading, y.Reading))
	})
	usable := false
	for _, r := range slices.Backward(readings) {
		at := radii[r.Reading]
		if at.edge == 0 {
			continue
		}
		usable = true
		if f.Annuli.Known && float64(len(at.annuli)) == f.Annuli.X {
			return BackFish{Fish: f.Fish, Reading: r.Reading, EdgeUm: at.edge, RadiiUm: at.annuli}, true
		}
	}
	if usable {
		b.Unlike++
	} else {
		b.Lacking++
	}
	return BackFish{}, false
}

// lastDay is a day's number; 0 for one that is not known.
func lastDay(d date.Day) int {
	if !d.Known() {
		return 0
	}
	return d.Last().Serial()
}

// calculate fills in the lengths by every rule and their means.
func (b *BackFound) calculate(level float64) {
	for i := range b.Fish {
		f := &b.Fish[i]
		for _, rule := range b.Rules {
			lengths := make([]float64, len(f.RadiiUm))
			growth.BackCalculate(lengths, rule, f.Length, f.EdgeUm, f.RadiiUm, b.Relation)
			f.Lengths = append(f.Lengths, lengths)
		}
	}
	for r := range b.Rules {
		b.Means = append(b.Means, b.means(r, level))
	}
}

// means are those of rule r.
func (b *BackFound) means(r int, level float64) BackMeans {
	var fish, annulus []int
	var length []float64
	for i := range b.Fish {
		for j, x := range b.Fish[i].Lengths[r] {
			if x > 0 && !math.IsInf(x, 0) {
				fish, annulus, length = append(fish, i), append(annulus, j+1), append(length, x)
			}
		}
	}
	if !slices.Contains(annulus, 1) { // who has the tenth has the ninth, but the rule may give no length there
		return BackMeans{Trouble: errNoLength}
	}
	m, err := growth.MeansAtAnnuli(fish, annulus, length)
	if err != nil {
		return BackMeans{Trouble: err}
	}
	out := BackMeans{Means: m}
	for _, at := range m.Annuli {
		e := Estimate{}
		e.Value, e.Stones = record.Some(at.Mean), at.Fish
		if at.SE > 0 { // lengths that do not scatter have none
			e.SE = record.Some(at.SE)
		}
		if at.Fish > 1 && e.SE.Known {
			half := dist.TQuantile((1+level)/2, float64(at.Fish-1)) * at.SE
			e.Low, e.High, e.Level, e.Method = record.Some(at.Mean-half), record.Some(at.Mean+half), level, ByStudent
		}
		out.Points = append(out.Points, e)
	}
	return out
}

package chart

import (
	"math"
	"slices"
	"strconv"
)

// Cohorts follows year classes through the years: a mark for each year and age,
// its area the catch. A strong cohort is a diagonal of large marks; the
// strongest are joined and labelled with their year of birth (year less age).
// One year alone has no diagonals, and the picture says so.
type Cohorts struct {
	Frame
	Marks []CohortMark
	Plus  int    // the age that also holds all that are older; 0 for none
	Unit  string // what is counted: "fish"
	Named []int  // years of birth to follow; none given means the three strongest
}

// CohortMark is the catch of one age in one year.
type CohortMark struct {
	Year, Age int
	Number    float64
}

func (m CohortMark) drawn() bool {
	return drawable(m.Number) && m.Number > 0 && possible(m.Age) && m.Year >= 1800 && m.Year <= 2200
}

// Draw answers the picture.
func (p Cohorts) Draw() SVG {
	var years, ages span
	most := 0.0
	for _, m := range p.Marks {
		if !m.drawn() {
			continue
		}
		years.see(float64(m.Year))
		ages.see(float64(m.Age))
		most = max(most, atLeast(m.Number, 0))
	}
	if !years.seen {
		years.see(0)
		ages.see(0)
	}
	across, up := int(years.high-years.low)+1, int(ages.high-ages.low)+1
	w, h := p.size(max(300, min(110+30*float64(up), 560)))
	c := &canvas{width: w, height: h}
	labels := p.ageLabels(int(ages.low), up)
	top := 34.0
	if across == 1 {
		top = 58
	}
	area := box{leftRoom(labels), top, w - 92, h - underTicks - underName}
	q := plot{c, area, scale{years.low - 0.5, years.high + 0.5, area.x0, area.x1}, scale{ages.low - 0.5, ages.high + 0.5, area.y1, area.y0}}
	q.text("small muted", 4, 16, shorten("age (years); area of a mark: "+p.Unit+" caught, largest "+value(most), smallSize, w-8))
	p.axes(q, labels, int(ages.low), int(years.low), across)
	named := p.named()
	if across == 1 {
		q.text("small muted", 4, 36, shorten("one year so far: a second will show cohorts as diagonals", smallSize, w-8))
		named = nil
	}
	largest := min((q.x.at(1)-q.x.at(0))*0.48, (q.y.at(0)-q.y.at(1))*0.48, 22)
	c.inside(area, func() {
		p.lines(q, named)
		for _, m := range p.Marks {
			p.mark(q, m, most, largest, slices.Contains(named, m.Year-m.Age) && !p.plus(m))
		}
	})
	if across == 1 {
		p.numbers(q, largest)
	}
	p.names(q, named, most, largest)
	return c.finish(p.Frame)
}

func (p Cohorts) plus(m CohortMark) bool { return p.Plus > 0 && m.Age >= p.Plus }

func (p Cohorts) ageLabels(first, n int) []string {
	labels := make([]string, n)
	for i := range labels {
		labels[i] = ageLabel(first+i, p.Plus, p.Plus > 0)
	}
	return labels
}

func (p Cohorts) axes(q plot, labels []string, firstAge, firstYear, across int) {
	every := int(math.Ceil((smallSize + 4) / (q.y.at(0) - q.y.at(1))))
	for i, l := range labels {
		y := q.y.at(float64(firstAge + i))
		q.line("grid", q.area.x0, y, q.area.x1, y)
		if i%every == 0 || i == len(labels)-1 && every == 1 {
			q.text("small muted end", q.area.x0-8, y+4.5, l)
		}
	}
	years := make([]string, across)
	for i := range years {
		years[i] = strconv.Itoa(firstYear + i)
	}
	b := q
	b.x = bands(across, q.area.x0, q.area.x1)
	b.xBands(years)
	q.line("axis", q.area.x0, q.area.y1, q.area.x1, q.area.y1)
	q.xName("year of catch")
}

// named answers the cohorts to follow: those asked for, or the three with the
// largest catch in total among those seen in two years or more.
func (p Cohorts) named() []int {
	if len(p.Named) > 0 {
		return p.Named
	}
	var births []int
	for _, m := range p.Marks {
		if b := m.Year - m.Age; !p.plus(m) && !slices.Contains(births, b) {
			births = append(births, b)
		}
	}
	slices.Sort(births)
	var kept []int
	totals := map[int]float64{}
	for _, b := range births {
		if seen := p.of(b); len(seen) > 1 {
			kept = append(kept, b)
			for _, m := range seen {
				totals[b] += atLeast(m.Number, 0)
			}
		}
	}
	slices.SortStableFunc(kept, func(a, b int) int {
		switch {
		case totals[a] > totals[b]:
			return -1
		case totals[a] < totals[b]:
			return 1
		}
		return 0
	})
	return kept[:min(3, len(kept))]
}

// of answers the marks of one cohort in order of year, the plus group left out.
func (p Cohorts) of(birth int) []CohortMark {
	var seen []CohortMark
	for _, m := range p.Marks {
		if m.Year-m.Age == birth && !p.plus(m) && m.drawn() {
			seen = append(seen, m)
		}
	}
	slices.SortStableFunc(seen, func(a, b CohortMark) int { return a.Year - b.Year })
	return seen
}

func (p Cohorts) lines(q plot, named []int) {
	for _, birth := range named {
		var points []float64
		for _, m := range p.of(birth) {
			points = append(points, q.x.at(float64(m.Year)), q.y.at(float64(m.Age)))
		}
		q.path("line-2 fine", false, points...)
	}
}

func (p Cohorts) mark(q plot, m CohortMark, most, largest float64, named bool) {
	if !m.drawn() {
		return
	}
	class := "soft-1 line-1 fine"
	if named {
		class = "fill-2"
	}
	r := cohortRadius(m.Number, most, largest)
	label := ageLabel(m.Age, p.Plus, p.Plus > 0)
	q.mark(strconv.Itoa(m.Year)+", age "+label+" (born "+strconv.Itoa(m.Year-m.Age)+"): "+value(m.Number)+" "+p.Unit, func() {
		q.circle(class, q.x.at(float64(m.Year)), q.y.at(float64(m.Age)), r)
	})
}

// names writes the year of birth where a followed cohort was last seen.
func (p Cohorts) names(q plot, named []int, most, largest float64) {
	for _, birth := range named {
		seen := p.of(birth)
		if len(seen) == 0 {
			continue
		}
		last := seen[len(seen)-1]
		x, y := q.x.at(float64(last.Year)), q.y.at(float64(last.Age))
		r := cohortRadius(last.Number, most, largest)
		if float64(last.Year)+1 < q.x.high { // others follow to the right: above them
			y -= r + 3
		}
		q.text("small strong halo text-2", x+r+5, y+4.5, "born "+strconv.Itoa(birth))
	}
}

// numbers writes the catch beside each mark of a single year.
func (p Cohorts) numbers(q plot, largest float64) {
	for _, m := range p.Marks {
		if m.drawn() {
			q.text("small halo", q.x.at(float64(m.Year))+largest+8, q.y.at(float64(m.Age))+4.5, value(m.Number))
		}
	}
}

// cohortRadius makes area follow the catch; a small catch stays visible.
func cohortRadius(n, most, largest float64) float64 {
	return max(largest*math.Sqrt(n/most), min(1.5, largest))
}

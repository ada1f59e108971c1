package report

import (
	"html/template"
	"strconv"

	"earstone/estimate/run"
	"earstone/pages/chart"
	"earstone/pages/words"
	"earstone/programme/outline"
	"earstone/programme/strata"
)

// mostParts is how many parts of a year are drawn beside each other.
const mostParts = 8

// columnsOfSums are the columns by which a year is divided, in the order in which they
// are told.
var columnsOfSums = []strata.Set{strata.Area, strata.Gear, strata.Quarter, strata.Month}

// places is the catch of the parts of each year: areas, gears and quarters.
func (k *told) places() section {
	if k.s.Catch == nil || len(k.s.Catch.Sums) == 0 {
		return section{}
	}
	c := k.section("places", say("places.heading"))
	year := k.lastYear()
	if f, ok := k.areaMap(year); ok {
		c.Sets = append(c.Sets, set{Figures: []figure{f}})
	}
	folded := set{Folded: say("places.folded")}
	for _, column := range columnsOfSums {
		parts := k.partsOf(year, column)
		if len(parts) < 2 {
			continue
		}
		f := k.partsFigure(year, column, parts)
		if column == strata.Area {
			c.Sets = append(c.Sets, set{Figures: []figure{f}})
			if g, ok := k.throughYears(column); ok {
				c.Sets = append(c.Sets, set{Figures: []figure{g}})
			}
			continue
		}
		folded.Figures = append(folded.Figures, f)
		if g, ok := k.throughYears(column); ok {
			folded.Figures = append(folded.Figures, g)
		}
	}
	if len(folded.Figures) > 0 {
		c.Sets = append(c.Sets, folded)
	}
	if len(c.Sets) == 0 {
		return section{}
	}
	c.Says = []string{say("places.says", "year", strconv.Itoa(year))}
	return c
}

func (k *told) lastYear() int {
	years := k.s.Catch.Years
	if len(years) == 0 {
		return 0
	}
	return int(years[len(years)-1].Cell.Year)
}

// partsOf are the sums of a year by one column.
func (k *told) partsOf(year int, column strata.Set) (parts []*run.Place) {
	for i := range k.s.Catch.Sums {
		if p := &k.s.Catch.Sums[i]; int(p.Cell.Year) == year && p.Cell.Known() == strata.Year|column {
			parts = append(parts, p)
		}
	}
	return parts
}

// placeName is a cell without its year, as a person reads it.
func (k *told) placeName(c strata.Cell) string {
	c.Year = 0
	if c.Known() == strata.Area {
		return k.areaName(c.Area)
	}
	if c.Known() == strata.Quarter {
		return say("places.quarter", "n", strconv.Itoa(int(c.Quarter)))
	}
	return c.String()
}

// areaName is the public name of an area, or its name, or its code.
func (k *told) areaName(code string) string {
	for i := range k.about.Areas {
		if a := &k.about.Areas[i]; a.Area == code {
			return orElse(a.PublicName, orElse(a.Name, code))
		}
	}
	return code
}

// partsFigure draws the catch at age of the parts of a year.
func (k *told) partsFigure(year int, column strata.Set, parts []*run.Place) figure {
	by := columnName(column)
	says := k.partsSay(parts)
	pic := chart.CatchParts{Frame: chart.Frame{Title: say("places.parts.title", "by", by, "year", strconv.Itoa(year)), Alt: says, Level: k.o.Options.Level}, Unit: say("unit.fish"), Plus: k.plus()}
	first := k.firstAge(parts)
	for a := first; a < len(k.s.Catch.Ages); a++ {
		pic.Ages = append(pic.Ages, a)
	}
	of := &table{Summary: say("places.parts.summary", "by", by, "year", strconv.Itoa(year)), File: "catch_at_age.csv", Caption: say("places.parts.caption", "level", level(k.o.Options.Level)),
		Head: append(text(capital(by), say("column.age")), figures(say("column.fish"), say("column.from"), say("column.to"), say("column.meanlength"))...)}
	for i, p := range parts {
		part := chart.CatchPart{Name: k.placeName(p.Cell)}
		for a := first; a < len(p.Number); a++ {
			e := p.Number[a]
			part.Numbers, part.Intervals = append(part.Numbers, amount(e.Value)), append(part.Intervals, between(e))
			low, high := ends(e)
			of.Rows = append(of.Rows, []string{part.Name, k.s.Catch.Ages[a], value(e), low, high, meanSize(p.MeanLength[a], e)})
		}
		if i < mostParts {
			pic.Parts = append(pic.Parts, part)
		}
	}
	title := say("places.parts.head", "by", by, "year", strconv.Itoa(year))
	if len(parts) > mostParts {
		says = join(says, say("places.most", "n", words.Count(mostParts), "of", words.Count(len(parts))))
	}
	return k.figure(figure{Title: title, Says: says, Picture: template.HTML(pic.Draw()), Table: of})
}

// columnName is a column of the strata in a word.
func columnName(column strata.Set) string { return say("places.by." + column.Names()[0]) }

// firstAge is the youngest age of which a part has a whole fish.
func (k *told) firstAge(parts []*run.Place) int {
	first := len(k.s.Catch.Ages) - 1
	for _, p := range parts {
		for a, e := range p.Number {
			if e.Value.X >= 0.5 {
				first = min(first, a)
				break
			}
		}
	}
	return max(first, 0)
}

// partsSay names the part with most fish and how the commonest ages differ.
func (k *told) partsSay(parts []*run.Place) string {
	best, total := parts[0], 0.0
	for _, p := range parts {
		total += p.Total.Value.X
		if p.Total.Value.X > best.Total.Value.X {
			best = p
		}
	}
	if !(total > 0) {
		return say("places.nothing")
	}
	says := say("places.parts.says", "part", k.placeName(best.Cell), "share", percent(best.Total.Value.X/total))
	var ages []string
	same := true
	for _, p := range parts[:min(len(parts), mostParts)] {
		a := commonestOf(p)
		if a < 0 {
			continue
		}
		ages = append(ages, say("places.parts.age", "age", k.s.Catch.Ages[a], "part", k.placeName(p.Cell)))
		same = same && a == commonestOf(best)
	}
	if same {
		return join(says, say("places.parts.same", "age", k.s.Catch.Ages[max(commonestOf(best), 0)]))
	}
	return join(says, say("places.parts.ages", "ages", list(ages)))
}

// commonestOf is the age with most fish; −1 where there are none.
func commonestOf(p *run.Place) int {
	best := -1
	for a, e := range p.Number {
		if e.Value.X > 0 && (best < 0 || e.Value.X > p.Number[best].Value.X) {
			best = a
		}
	}
	return best
}

// throughYears follows the catch of the parts over the years; not ok with one year.
func (k *told) throughYears(column strata.Set) (figure, bool) {
	var panels []chart.SeriesPanel
	by := columnName(column)
	of := &table{Summary: say("places.years.summary", "by", by), File: "catch_at_age.csv", Paper: true, Caption: say("places.years.caption", "level", level(k.o.Options.Level))}
	at := map[strata.Cell]int{}
	longest := 0
	followed, age := k.followed(column)
	for i := range k.s.Catch.Sums {
		p := &k.s.Catch.Sums[i]
		if p.Cell.Known() != strata.Year|column {
			continue
		}
		cell := p.Cell
		cell.Year = 0
		if _, seen := at[cell]; !seen {
			at[cell] = len(panels)
			panels = append(panels, chart.SeriesPanel{Name: k.placeName(p.Cell)})
		}
		panel := &panels[at[cell]]
		e := followed(p)
		if e.Value.Known {
			panel.Points = append(panel.Points, chart.SeriesPoint{Year: int(p.Cell.Year), Value: e.Value.X, Interval: between(e)})
		}
		longest = max(longest, len(panel.Points))
		low, high := ends(e)
		of.Rows = append(of.Rows, []string{panel.Name, strconv.Itoa(int(p.Cell.Year)), value(p.Total), value(e), low, high, words.Count(p.Trips)})
	}
	of.Head = append(text(capital(by), say("column.year")), figures(say("column.fish"), say("places.years.of", "age", age), say("column.from"), say("column.to"), say("column.trips"))...)
	if longest < 2 || len(panels) > 2*mostParts {
		return figure{}, false
	}
	says := k.yearsSay(panels)
	if age != say("places.years.all") {
		says = join(says, say("places.years.known"))
	}
	pic := chart.Series{Frame: chart.Frame{Title: say("places.years.title", "by", by, "age", age), Alt: says, Level: k.o.Options.Level}, Unit: say("unit.fish"), Panels: panels}
	return k.figure(figure{Title: say("places.years.head", "by", by, "age", age), Says: says, Picture: template.HTML(pic.Draw()), Table: of}), true
}

// followed is what is followed over the years, with its name: the catch of all ages, or,
// where those are told as numbers without an error, that of the commonest age.
func (k *told) followed(column strata.Set) (of func(*run.Place) run.Estimate, name string) {
	sums := make([]float64, len(k.s.Catch.Ages))
	for i := range k.s.Catch.Sums {
		p := &k.s.Catch.Sums[i]
		if p.Cell.Known() != strata.Year|column {
			continue
		}
		if has(p.Total) {
			return func(p *run.Place) run.Estimate { return p.Total }, say("places.years.all")
		}
		for a, e := range p.Number {
			sums[a] += e.Value.X
		}
	}
	best := 0
	for a, n := range sums {
		if n > sums[best] {
			best = a
		}
	}
	return func(p *run.Place) run.Estimate { return p.Number[best] }, say("places.years.one", "age", k.s.Catch.Ages[best])
}

// yearsSay tells the catch of each part in its first and last year.
func (k *told) yearsSay(panels []chart.SeriesPanel) string {
	var said []string
	for _, s := range panels[:min(len(panels), 3)] {
		if n := len(s.Points); n > 1 && s.Points[0].Value > 0 {
			said = append(said, say("places.years.part", "part", s.Name, "change", signed(s.Points[n-1].Value/s.Points[0].Value-1), "first", strconv.Itoa(s.Points[0].Year), "last", strconv.Itoa(s.Points[n-1].Year)))
		}
	}
	if said == nil {
		return say("places.years.nothing")
	}
	return say("places.years.says", "parts", list(said))
}

// areaMap draws the areas with the catch of a year; not ok without an outline.
func (k *told) areaMap(year int) (figure, bool) {
	pic := chart.AreaMap{Unit: say("unit.fish")}
	by := map[string]*run.Place{}
	parts := k.partsOf(year, strata.Area)
	for _, p := range parts {
		by[p.Cell.Area] = p
	}
	of := &table{Summary: say("places.map.summary", "year", strconv.Itoa(year)), File: "catch_at_age.csv", Caption: say("places.map.caption", "level", level(k.o.Options.Level)),
		Head: append(text(capital(columnName(strata.Area))), figures(say("column.fish"), say("column.from"), say("column.to"), say("column.trips"), say("column.aged"))...)}
	drawn := 0
	for i := range k.about.Areas {
		a := &k.about.Areas[i]
		rings, err := outline.Read(a.Geometry)
		p := by[a.Area]
		if err != nil {
			continue
		}
		one := chart.MapArea{Name: k.areaName(a.Area)}
		for _, ring := range rings {
			one.Rings = append(one.Rings, ring)
		}
		row := []string{one.Name, none, none, none, none, none}
		if p != nil {
			one.Value, drawn = amount(p.Total.Value), drawn+1
			one.Words = say("places.map.area", "fish", value(p.Total))
			low, high := ends(p.Total)
			row = []string{one.Name, value(p.Total), low, high, words.Count(p.Trips), words.Count(p.Stones)}
		}
		pic.Areas = append(pic.Areas, one)
		of.Rows = append(of.Rows, row)
	}
	if drawn == 0 {
		return figure{}, false
	}
	says := say("places.map.says", "year", strconv.Itoa(year), "areas", counted("areas", drawn), "parts", k.partsSay(parts))
	pic.Frame = chart.Frame{Title: say("places.map.title", "year", strconv.Itoa(year)), Alt: says}
	return k.figure(figure{Title: say("places.map.head", "year", strconv.Itoa(year)), Says: says, Picture: template.HTML(pic.Draw()), Table: of}), true
}

package report

import (
	"html/template"
	"math"
	"strconv"

	"earstone/estimate/change"
	"earstone/estimate/run"
	"earstone/pages/chart"
	"earstone/pages/words"
	"earstone/programme/record"
	"earstone/programme/strata"
)

// changes is what differs between years, and between the parts of the last one.
func (k *told) changes() section {
	if k.s.Catch == nil {
		return section{}
	}
	shown := k.shownChanges()
	if len(shown) == 0 {
		return section{}
	}
	c := k.section("changes", say("changes.heading"))
	c.Says = []string{join(say("changes.says"), k.wholeSays(shown))}
	c.Tables = []table{*k.table(k.wholeTable(shown))}
	c.Sets = append(c.Sets, set{Figures: []figure{k.meanLengths(shown)}})
	folded := map[strata.Set]*set{}
	for _, one := range shown {
		f := k.shares(one)
		column := betweenColumn(one)
		if column == strata.Year {
			c.Sets = append(c.Sets, set{Figures: []figure{f}})
			continue
		}
		if folded[column] == nil {
			folded[column] = &set{Folded: say("changes.folded", "by", columnName(column)), OffPaper: say("changes.offpaper", "by", columnName(column))}
		}
		folded[column].Figures = append(folded[column].Figures, f)
	}
	for _, column := range columnsOfSums {
		if s := folded[column]; s != nil {
			s.Abreast = len(s.Figures) > 1
			c.Sets = append(c.Sets, *s)
		}
	}
	return c
}

// betweenColumn is the column in which the two sides of a change differ.
func betweenColumn(c *run.Change) strata.Set { return between2(c.A, c.B) }

func between2(a, b strata.Cell) strata.Set {
	if a.Year != b.Year {
		return strata.Year
	}
	return a.Known() &^ strata.Year
}

// shownChanges are those between the last years, the newest first, and those within the
// last one.
func (k *told) shownChanges() (shown []*run.Change) {
	last := int16(k.lastYear())
	all := k.s.Catch.Changes
	for i := len(all) - 1; i >= 0; i-- {
		if betweenColumn(&all[i]) == strata.Year && all[i].B.Year > last-mostYears {
			shown = append(shown, &all[i])
		}
	}
	for _, column := range columnsOfSums {
		for i := range all {
			if betweenColumn(&all[i]) == column && all[i].A.Year == last {
				shown = append(shown, &all[i])
			}
		}
	}
	return shown
}

// sides names the two sides of a difference.
func (k *told) sides(a, b strata.Cell) (string, string) {
	if a.Year != b.Year {
		return strconv.Itoa(int(a.Year)), strconv.Itoa(int(b.Year))
	}
	return k.shortName(a), k.shortName(b)
}

// shortName is a cell without its year, an area by its code.
func (k *told) shortName(c strata.Cell) string {
	if c.Known()&^strata.Year == strata.Area {
		return c.Area
	}
	return k.placeName(c)
}

func (k *told) pairOf(a, b strata.Cell) string {
	x, y := k.sides(a, b)
	if a.Year != b.Year {
		return say("changes.years", "a", x, "b", y)
	}
	return say("changes.places", "a", x, "b", y)
}

// clear tells whether the interval of a difference keeps clear of zero.
func clear(d change.Difference) bool {
	return d.Low.Known && d.High.Known && (d.Low.X > 0 || d.High.X < 0)
}

// sureP is below which a whole comparison is told as a difference.
const sureP = 0.05

func (k *told) wholeSays(shown []*run.Change) string {
	var differ []string
	compared := 0
	for _, c := range shown {
		if !c.Compared {
			continue
		}
		compared++
		if c.Whole.P < sureP {
			differ = append(differ, k.pairOf(c.A, c.B))
		}
	}
	switch {
	case compared == 0:
		return say("changes.whole.unknown")
	case len(differ) == 0:
		return say("changes.whole.none", "pairs", counted("pairs", compared))
	case len(differ) == compared:
		return say("changes.whole.all", "pairs", counted("pairs", compared))
	}
	return say("changes.whole.some", "n", words.Count(len(differ)), "of", counted("pairs", compared), "which", list(differ[:min(len(differ), 6)]))
}

func (k *told) wholeTable(shown []*run.Change) *table {
	of := &table{Summary: say("changes.whole.summary"), Paper: true, File: "changes.csv", Caption: say("changes.whole.caption"),
		Head: append(text(say("column.between")), figures(say("column.distance"), "p", say("column.parts"))...)}
	for _, c := range shown {
		row := []string{k.pairOf(c.A, c.B), none, none, none}
		if c.Compared {
			row = []string{row[0], words.Figure(c.Whole.Distance, 2), p(record.Some(c.Whole.P)), words.Count(c.Whole.Parts)}
		}
		of.Rows = append(of.Rows, row)
	}
	return of
}

// difference is a row of a picture; by scales its value, 100 for shares.
func difference(group, name string, d change.Difference, by float64) chart.Range {
	r := chart.Range{Group: group, Name: name}
	if d.Value.Known && finite(d.Value.X) {
		r.Value = chart.Of(by * d.Value.X)
	}
	if d.Low.Known && d.High.Known && d.Low.X < d.High.X {
		r.Interval = chart.Between(by*d.Low.X, by*d.High.X)
	}
	if !r.Value.Known {
		r.Why = say("changes.unknown")
	}
	return r
}

// meanLengths are the differences of mean length of all pairs side by side.
func (k *told) meanLengths(shown []*run.Change) figure {
	says := k.meanLengthsSay(shown)
	pic := chart.Ranges{Frame: chart.Frame{Title: say("changes.length.title"), Alt: says, Level: k.o.Options.Level}, Unit: say("changes.length.unit", "unit", k.unit()), Zero: true,
		Fewer: say("changes.shorter"), More: say("changes.longer")}
	of := k.differencesTable(say("changes.length.summary"), say("changes.length.caption", "unit", k.unit(), "level", level(k.o.Options.Level)), say("column.between"))
	for _, c := range shown {
		group := say("changes.group.years")
		if column := betweenColumn(c); column != strata.Year {
			group = say("changes.group.places", "by", columnName(column), "year", strconv.Itoa(int(c.A.Year)))
		}
		pic.Rows = append(pic.Rows, difference(group, k.pairOf(c.A, c.B), c.MeanLength, 1))
		of.Rows = append(of.Rows, differenceRow(k.pairOf(c.A, c.B), c.MeanLength, 1))
	}
	return k.figure(figure{Title: say("changes.length.head"), Says: says, Picture: template.HTML(pic.Draw()), Table: of})
}

func (k *told) meanLengthsSay(shown []*run.Change) string {
	var worst *run.Change
	n, sure := 0, 0
	for _, c := range shown {
		if !c.MeanLength.Value.Known {
			continue
		}
		n++
		if clear(c.MeanLength) {
			sure++
		}
		if worst == nil || math.Abs(c.MeanLength.Value.X) > math.Abs(worst.MeanLength.Value.X) {
			worst = c
		}
	}
	if worst == nil {
		return say("changes.length.none")
	}
	a, b := k.sides(worst.A, worst.B)
	if worst.MeanLength.Value.X < 0 {
		a, b = b, a
	}
	return say("changes.length.says", "sure", numberOrNone(sure), "of", counted("differences", n), "a", a, "b", b, "length", words.Figure(math.Abs(worst.MeanLength.Value.X), 1), "unit", k.unit())
}

func (k *told) differencesTable(summary, caption, first string) *table {
	return &table{Summary: summary, File: "changes.csv", Caption: caption,
		Head: append(text(first), figures(say("column.difference"), say("column.se"), say("column.from"), say("column.to"), say("column.against"))...)}
}

func differenceRow(name string, d change.Difference, by float64) []string {
	write := func(n record.Number) string {
		if !n.Known || !finite(n.X) {
			return none
		}
		return words.Figure(by*n.X, 1)
	}
	against := none
	if d.Against.Known {
		against = percent(d.Against.X)
	}
	return []string{name, write(d.Value), write(d.SE), write(d.Low), write(d.High), against}
}

// shares are the differences of the share of each age between two sides.
func (k *told) shares(c *run.Change) figure {
	a, b := k.sides(c.A, c.B)
	pair := k.pairOf(c.A, c.B)
	says := k.sharesSay(c, a, b)
	pic := chart.Ranges{Frame: chart.Frame{Title: say("changes.share.title", "pair", pair), Alt: says, Level: k.o.Options.Level}, Unit: say("changes.share.unit"), Zero: true,
		Fewer: say("changes.fewer", "b", b), More: say("changes.more", "b", b)}
	of := k.differencesTable(say("changes.share.summary"), say("changes.share.caption", "a", a, "b", b, "level", level(k.o.Options.Level)), say("column.age"))
	for age, d := range c.Shares {
		if !d.Value.Known || d.Value.X == 0 && d.SE.X == 0 {
			continue
		}
		pic.Rows = append(pic.Rows, difference("", say("changes.age", "age", k.s.Catch.Ages[age]), d, 100))
		of.Rows = append(of.Rows, differenceRow(k.s.Catch.Ages[age], d, 100))
	}
	return k.figure(figure{Title: say("changes.share.head", "pair", pair), Says: says, Picture: template.HTML(pic.Draw()), Table: of})
}

// sharesSay names the ages whose share differs for sure, the largest difference first.
func (k *told) sharesSay(c *run.Change, a, b string) string {
	worst, sure, n := -1, 0, 0
	for age, d := range c.Shares {
		if !d.Value.Known || d.Value.X == 0 && d.SE.X == 0 {
			continue
		}
		n++
		if !clear(d) {
			continue
		}
		sure++
		if worst < 0 || math.Abs(d.Value.X) > math.Abs(c.Shares[worst].Value.X) {
			worst = age
		}
	}
	whole := ""
	if c.Compared {
		whole = say("changes.share.whole", "p", p(record.Some(c.Whole.P)))
	}
	if worst < 0 {
		return join(say("changes.share.none", "n", counted("ages", n)), whole)
	}
	more := b
	if c.Shares[worst].Value.X < 0 {
		more = a
	}
	return join(say("changes.share.says", "n", counted("agesAre", sure), "age", k.s.Catch.Ages[worst], "points", words.Figure(100*math.Abs(c.Shares[worst].Value.X), 1), "more", more), whole)
}

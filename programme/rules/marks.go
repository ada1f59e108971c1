package rules

import (
	"cmp"
	"slices"
	"strconv"

	"earstone/programme/finding"
	"earstone/programme/record"
)

// markTable asks whether the marks of a reading go outwards, from the core to the edge,
// and whether there are as many annuli as the reader counted.
func (c *check) markTable() {
	of := map[string][]record.Mark{}
	var order []string
	for _, m := range c.book.Marks {
		refer(c, c.readings, readingsFile, marksFile, m.Row, "reading", m.Reading,
			func(i int) string { return c.book.Readings[i].Reading }, len(c.book.Readings))
		if of[m.Reading] == nil {
			order = append(order, m.Reading)
		}
		of[m.Reading] = append(of[m.Reading], m)
	}
	for _, reading := range order {
		c.marksOf(reading, of[reading])
	}
}

func (c *check) marksOf(reading string, marks []record.Mark) {
	slices.SortStableFunc(marks, func(a, b record.Mark) int { return cmp.Compare(a.Order, b.Order) })
	annuli, last := 0, record.Mark{}
	for i, m := range marks {
		if m.Kind == "annulus" {
			annuli++
		}
		before := strconv.Itoa(last.Order)
		switch {
		case i > 0 && m.Order == last.Order:
			c.add(finding.TwiceID, marksFile, m.Row, "order", before, strconv.Itoa(last.Row))
		case i > 0 && m.Kind == "core", last.Kind == "edge":
			c.add(finding.MarkOrder, marksFile, m.Row, "kind", m.Kind, before, last.Kind)
		case m.DistanceUm.Known && last.DistanceUm.Known && m.DistanceUm.X < last.DistanceUm.X:
			c.add(finding.MarkOrder, marksFile, m.Row, "distance_um", text(m.DistanceUm.X), before, text(last.DistanceUm.X))
		}
		last = m
	}
	at, known := c.readings[reading]
	if known && annuli > 0 && c.book.Readings[at.at].Annuli >= 0 && c.book.Readings[at.at].Annuli != annuli {
		c.add(finding.Contradiction, readingsFile, at.row, "annuli", strconv.Itoa(c.book.Readings[at.at].Annuli), marksFile, strconv.Itoa(annuli))
	}
}

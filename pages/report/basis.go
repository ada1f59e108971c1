package report

import (
	"fmt"
	"html/template"
	"strconv"
	"strings"

	"earstone/pages/chart"
	"earstone/pages/words"
)

// ground is the catch in fish by what it rests on.
type ground struct{ sampled, lent, filled, unaged float64 }

func (g ground) total() float64 { return g.sampled + g.lent + g.filled + g.unaged }

// ground weighs every row of the key by the catch of its length: fish without a key are
// unaged, those of strata without a sample are filled, the others have a key of their own
// stratum or a borrowed one.
func (k *told) ground(year int) ground {
	d := &k.s.Counts.Design
	var g ground
	p := make([]float64, d.Bins)
	for i := range d.Strata {
		if year != 0 && int(k.s.Counts.Cells[i].Year) != year {
			continue
		}
		heard := d.LengthShares(p, i, nil)
		number := d.Number(i, p)
		if !heard {
			g.unaged += number
			continue
		}
		for l, share := range p {
			switch from := k.s.Key.From[d.Strata[i].Key*d.Bins+l]; {
			case from.Rung() < 0:
				g.unaged += number * share
			case d.Strata[i].Filled:
				g.filled += number * share
			case from.Own():
				g.sampled += number * share
			default:
				g.lent += number * share
			}
		}
	}
	return g
}

// basis is the strip of what the catch rests on.
func (k *told) basis() figure {
	g := k.ground(0)
	says := g.says()
	pic := chart.Basis{Frame: chart.Frame{Title: fmt.Sprintf("What the catch at age of %s rests on", k.s.Species), Alt: says},
		Parts: []chart.Part{
			{Name: "sampled", Share: g.sampled, Look: chart.Sampled}, {Name: "borrowed ages", Share: g.lent, Look: chart.Lent},
			{Name: "filled strata", Share: g.filled, Look: chart.Filled}, {Name: "unaged", Share: g.unaged, Look: chart.NotAged},
		}}
	return k.figure(figure{Title: "What these numbers rest on.", Says: says, Picture: template.HTML(pic.Draw()), Table: k.basisTable()})
}

// says divides the catch in a sentence.
func (g ground) says() string {
	return divided(g.total(), []part{
		{g.sampled, "rests on lengths and ages of its own strata"}, {g.lent, "borrows its ages from a wider set of strata"},
		{g.filled, "lies in strata without a sample, filled from others"}, {g.unaged, "lies at lengths without a key and stays unaged"},
	})
}

// part of a catch in fish, and what is to be said of it.
type part struct {
	fish float64
	says string
}

// divided says of each part that is not empty which share of the catch it is.
func divided(total float64, parts []part) string {
	if !(total > 0) {
		return "There is no catch to divide."
	}
	var said []string
	for _, p := range parts {
		if p.fish > 0 {
			said = append(said, percent(p.fish/total)+" "+p.says)
		}
	}
	if len(said) == 1 {
		return "All of the catch" + strings.TrimPrefix(said[0], percent(1)) + "."
	}
	return "Of the catch " + list(said) + "."
}

func (k *told) basisTable() *table {
	of := &table{Summary: "What each year rests on", Paper: true, Caption: "Shares of the catch by what they rest on.",
		Head: append(text("Year"), figures("Catch", "Sampled", "Borrowed ages", "Filled strata", "Unaged", "Trips", "Aged fish")...)}
	for i := range k.s.Catch.Years {
		p := &k.s.Catch.Years[i]
		g := k.ground(int(p.Cell.Year))
		total := g.total()
		row := []string{strconv.Itoa(int(p.Cell.Year)), count(total)}
		for _, part := range []float64{g.sampled, g.lent, g.filled, g.unaged} {
			if total > 0 {
				row = append(row, percent(part/total))
			} else {
				row = append(row, none)
			}
		}
		of.Rows = append(of.Rows, append(row, words.Count(p.Trips), words.Count(p.Stones)))
	}
	return of
}

package report

import (
	"fmt"
	"html/template"

	"earstone/pages/chart"
	"earstone/pages/words"
)

// sampled are the fish of a stratum of the key by length bin.
type sampled struct {
	measured []float64
	aged     []float64
}

// samples are measured and aged fish by stratum of the key.
func (k *told) samples() []sampled {
	c := k.s.Counts
	all := make([]sampled, len(c.KeyCells))
	for at := range all {
		all[at] = sampled{make([]float64, c.Bins.N), make([]float64, c.Bins.N)}
	}
	for t := range c.Trips {
		s := c.Trips[t].Stratum
		if s < 0 {
			continue
		}
		trip, at := &c.Design.Trips[t], c.Design.Strata[s].Key
		for l := trip.Low; l < trip.High; l++ {
			all[at].measured[l] += c.Trips[t].Measured * c.Design.Lengths[t*c.Design.Bins+l]
		}
	}
	grid := &c.Key.Grid
	for _, e := range c.Key.Entries {
		if e.Bin < 0 || e.Age < 0 || len(grid.Rungs) == 0 {
			continue
		}
		group := grid.Rungs[0][e.Origin]
		for at, path := range grid.Path {
			if group >= 0 && path[0] == group {
				all[at].aged[e.Bin] += e.Fish
			}
		}
	}
	return all
}

func (k *told) lengths() section {
	c := k.s.Counts
	if c == nil || c.Measured == 0 || len(c.KeyCells) == 0 {
		return section{}
	}
	all := k.samples()
	s := k.section("lengths", "Lengths, and the fish that were aged")
	if only := k.drawnOnly(); only != "" {
		s.Says = []string{only}
	}
	if says := k.derivedSay(); says != "" {
		s.Says = append(s.Says, says)
	}
	first, last := k.panels()
	for ; first < last; first += panelsAPicture {
		s.Sets = append(s.Sets, set{Figures: []figure{k.lengthFigure(all, first, min(first+panelsAPicture, last))}})
	}
	return s
}

func (k *told) lengthFigure(all []sampled, first, last int) figure {
	c := k.s.Counts
	says := k.lengthsSay(all, first, last)
	pic := chart.Lengths{Frame: chart.Frame{Title: fmt.Sprintf("Lengths and aged fish of %s", k.s.Species), Alt: says}, Unit: c.Bins.Unit}
	of := &table{Summary: "Fish by length bin", Caption: "Measured and aged fish by stratum of the key and length bin in " + c.Bins.Unit + ".",
		File: "lengths.csv and fish.csv of the programme", Head: append(text("Stratum", "Length"), figures("Measured", "Aged")...)}
	for at := first; at < last; at++ {
		panel := chart.LengthPanel{Name: k.cell(at)}
		for l, n := range all[at].measured {
			aged := int(all[at].aged[l] + 0.5)
			if n == 0 && aged == 0 {
				continue
			}
			panel.Bins = append(panel.Bins, chart.LengthBin{From: c.Bins.Lower(l), To: c.Bins.Lower(l + 1), Number: n, Stones: aged})
			of.Rows = append(of.Rows, []string{k.cell(at), k.bin(l), count(n), words.Count(aged)})
		}
		pic.Panels = append(pic.Panels, panel)
	}
	return k.figure(figure{Title: "Lengths measured and fish aged, " + k.cells(first, last) + ".", Says: says, Picture: template.HTML(pic.Draw()), Table: of})
}

// lengthsSay names the commonest length, and the measured fish that no aged fish of
// their stratum stands for.
func (k *told) lengthsSay(all []sampled, first, last int) string {
	best, bestAt, total, bare := -1, 0, 0.0, 0.0
	most := 0.0
	for at := first; at < last; at++ {
		for l, n := range all[at].measured {
			total += n
			if all[at].aged[l] == 0 {
				bare += n
			}
			if n > most {
				best, bestAt, most = l, at, n
			}
		}
	}
	if best < 0 {
		return "No measured fish belongs to these strata."
	}
	rest := "Wherever fish were measured, some of that length and stratum were aged."
	if bare > 0 {
		rest = fmt.Sprintf("%s of measured fish are of a length at which no fish of their stratum was aged.", capital(percent(bare/total)))
	}
	return fmt.Sprintf("Most fish were measured at %s %s in %s: %s. %s", k.bin(best), k.s.Counts.Bins.Unit, k.cell(bestAt), count(most), rest)
}

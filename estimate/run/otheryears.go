package run

import (
	"slices"
	"strconv"

	"earstone/estimate/catch"
	"earstone/estimate/key"
	"earstone/estimate/resample"
	"earstone/estimate/tally"
	"earstone/programme/finding"
	"earstone/programme/strata"
)

// years tells the key strata apart by year, with the lengths of their catch.
func years(c *tally.Counts) key.Years {
	d := &c.Design
	y := key.Years{Fish: make([]float64, d.KeyStrata*d.Bins), Measured: make([]float64, d.KeyStrata)}
	var places []strata.Cell
	for _, cell := range c.KeyCells {
		y.Year = append(y.Year, int(cell.Year))
		cell.Year = 0
		at := slices.Index(places, cell)
		if at < 0 {
			at, places = len(places), append(places, cell)
		}
		y.Place = append(y.Place, int32(at))
	}
	for _, rung := range c.Ladder {
		y.Holds = append(y.Holds, rung.Has(strata.Year))
	}
	resample.Fish(y.Fish, make([]float64, d.Bins), d, catch.Draw{})
	for _, s := range d.Strata {
		for _, t := range s.Trips {
			y.Measured[s.Key] += c.Trips[t].Measured
		}
	}
	return y
}

// rebuilt keeps what a key made of the years without ages, and tells what it assumes there.
func (c *chain) rebuilt(s *Species, worker key.Worker) {
	from, ok := worker.(interface{ Rebuilt() []key.Rebuilt })
	if !ok {
		return
	}
	s.Key.Rebuilt = from.Rebuilt()
	var told []string
	for _, r := range s.Key.Rebuilt {
		year, donor := s.Key.yearOf(s.Counts, r.Stratum), ""
		if r.Donor >= 0 {
			donor = s.Key.yearOf(s.Counts, r.Donor)
		}
		if !slices.Contains(told, year+donor) {
			told = append(told, year+donor)
			c.outcome.Found.Add(finding.GrowthAssumed, finding.Place{File: "fish.csv"}, year, string(s.Species), donor)
		}
	}
}

func (k *KeyFound) yearOf(c *tally.Counts, stratum int) string {
	return strconv.Itoa(int(c.KeyCells[stratum].Year))
}

// borrowedFrom says where row at of the key comes from; empty: its own cell.
func (k *KeyFound) borrowedFrom(c *tally.Counts, at int) string {
	from, said := k.From[at], ""
	switch {
	case from.Iterated():
		i := slices.IndexFunc(k.Rebuilt, func(r key.Rebuilt) bool { return r.Stratum == at/c.Bins.N })
		said = "iterated from " + k.yearOf(c, k.Rebuilt[i].Donor)
	case from.Combined():
		said = "all years together"
	case from.Rung() > 0:
		said = c.Ladder[from.Rung()].String()
	}
	if from.Edge() {
		said = join(said, "edge bin")
	}
	return said
}

func join(said, more string) string {
	if said == "" {
		return more
	}
	return said + ", " + more
}

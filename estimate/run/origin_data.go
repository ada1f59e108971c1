package run

import (
	"cmp"
	"slices"
	"strings"

	"earstone/estimate/origin"
	"earstone/programme/record"
	"earstone/programme/strata"
)

// traced gathers the baseline and the assayed fish of the catch of a species into a
// problem, each in the order of their names; nil without a baseline.
//
// A baseline fish that stands in fish.csv as another species is left out; one that does
// not stand there is taken for this species. Of several values of one tracer in one fish
// (both stones, or an assay made twice) the mean is taken.
func (c *chain) traced(s *Species) (*OriginFound, *origin.Problem) {
	found := &OriginFound{}
	known := c.knownFish(s, found)
	if len(known) == 0 {
		return nil, nil
	}
	measured := c.measuredCores(found)
	found.chooseTracers(measured, known)
	places := placesOf(s)
	for _, f := range known {
		x, lacks, _ := found.vector(measured[f.Fish])
		nursery, _ := slices.BinarySearch(found.Nurseries, f.Nursery)
		found.Known = append(found.Known, KnownFish{f.Fish, nursery, f.YearClass, x, lacks})
	}
	for _, f := range c.caughtFish(s, known) {
		x, lacks, any := found.vector(measured[f.Fish.Fish])
		if !any {
			continue
		}
		t := TracedFish{Fish: f.Fish, X: x, Lacks: lacks, Age: -1}
		if f.Class.Known() {
			t.Cohort = f.Cohort
			if out := s.Counts.Design.Out(); int(f.Class) < s.Counts.Design.Ages {
				t.Age = min(int(f.Class), out-1)
			}
		}
		t.Place = places.of(s, f.Fish)
		found.Fish = append(found.Fish, t)
	}
	found.Places = places.cells
	return found, found.problem()
}

// knownFish are the rows of the baseline that are of the species, and gives found its
// nurseries.
func (c *chain) knownFish(s *Species, found *OriginFound) []record.Baseline {
	of := map[record.FishID]record.Species{}
	for i := range c.book.Fish {
		of[c.book.Fish[i].Fish] = c.book.Fish[i].Species
	}
	var known []record.Baseline
	for _, b := range c.book.Baseline {
		if species, there := of[b.Fish]; there && species != s.Species {
			continue
		}
		known = append(known, b)
		found.Nurseries = append(found.Nurseries, b.Nursery)
	}
	slices.Sort(found.Nurseries)
	found.Nurseries = slices.Compact(found.Nurseries)
	slices.SortStableFunc(known, func(a, b record.Baseline) int { return cmp.Compare(a.Fish, b.Fish) })
	return known
}

// caughtFish are the fish of the species that are not of the baseline.
func (c *chain) caughtFish(s *Species, known []record.Baseline) []*FishAge {
	var caught []*FishAge
	for i := range s.Ages {
		id := s.Ages[i].Fish.Fish
		_, ofBaseline := slices.BinarySearchFunc(known, id, func(b record.Baseline, id record.FishID) int { return cmp.Compare(b.Fish, id) })
		if !ofBaseline {
			caught = append(caught, &s.Ages[i])
		}
	}
	slices.SortStableFunc(caught, func(a, b *FishAge) int { return cmp.Compare(a.Fish.Fish, b.Fish.Fish) })
	return caught
}

// core is the mean of what was measured of a tracer in the core of a fish.
type core struct {
	tracer, unit string
	value        float64
	n            float64
}

// measuredCores are the usable values by fish: of the core, of runs that are not held
// out, isotopes on VPDB, in the unit that most values of a tracer have.
func (c *chain) measuredCores(found *OriginFound) map[record.FishID][]core {
	held := map[origin.Held]bool{}
	for _, h := range c.outcome.Assays.Held {
		held[h] = true
	}
	usual := c.usualUnits()
	at := map[record.FishID][]core{}
	for _, a := range c.book.Assays {
		if !a.Value.Known {
			continue
		}
		x, onScale := toVPDB(a)
		switch {
		case a.Region != "" && a.Region != "core":
			found.Unused.Region++
		case held[origin.Held{Run: a.Run, Tracer: a.Tracer}]:
			found.Unused.Held++
		case !onScale:
			found.Unused.Scale++
		case a.Unit != usual[a.Tracer]:
			found.Unused.Unit++
		default:
			at[a.Fish] = addCore(at[a.Fish], a, x)
		}
	}
	return at
}

func addCore(all []core, a record.Assay, x float64) []core {
	for i := range all {
		if all[i].tracer == a.Tracer {
			all[i].n++
			all[i].value += (x - all[i].value) / all[i].n
			return all
		}
	}
	return append(all, core{a.Tracer, a.Unit, x, 1})
}

// toVPDB is the value on the VPDB scale, on which isotopes are compared; ok is false for
// a tracer other than δ18O on VSMOW. No scale given: as it is.
func toVPDB(a record.Assay) (x float64, ok bool) {
	switch {
	case a.Scale != "VSMOW":
		return a.Value.X, true
	case a.Tracer == "d18O":
		return origin.ToVPDB(a.Value.X), true
	}
	return 0, false
}

// usualUnits is the unit that most values of each tracer have, of equally many the first
// by name.
func (c *chain) usualUnits() map[string]string {
	type pair struct{ tracer, unit string }
	count := map[pair]int{}
	var pairs []pair
	for _, a := range c.book.Assays {
		p := pair{a.Tracer, a.Unit}
		if count[p] == 0 {
			pairs = append(pairs, p)
		}
		count[p]++
	}
	slices.SortFunc(pairs, func(a, b pair) int {
		return cmp.Or(cmp.Compare(a.tracer, b.tracer), count[b]-count[a], cmp.Compare(a.unit, b.unit))
	})
	usual := map[string]string{}
	for _, p := range pairs {
		if _, there := usual[p.tracer]; !there {
			usual[p.tracer] = p.unit
		}
	}
	return usual
}

// chooseTracers keeps the tracers that at least half of the baseline's assayed fish have,
// in the order of their names: a baseline fish that lacks one can't enter the densities.
func (o *OriginFound) chooseTracers(measured map[record.FishID][]core, known []record.Baseline) {
	count, units, assayed := map[string]int{}, map[string]string{}, 0
	for _, b := range known {
		if len(measured[b.Fish]) > 0 {
			assayed++
		}
		for _, m := range measured[b.Fish] {
			count[m.tracer]++
			units[m.tracer] = m.unit
		}
	}
	var names []string
	for name := range count {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		if 2*count[name] < assayed {
			o.Unused.Tracers = append(o.Unused.Tracers, name)
			continue
		}
		o.Tracers = append(o.Tracers, TracerFound{origin.Tracer{Name: name, Log: isRatio(units[name])}, units[name]})
	}
}

// isRatio tells a ratio of elements, whose logarithm is taken, from an isotope's δ in ‰,
// which may be negative.
func isRatio(unit string) bool { return strings.Contains(unit, "/") || unit == "ppm" }

// vector is the values of a fish by tracer; any is false where it has none.
func (o *OriginFound) vector(measured []core) (x []float64, lacks origin.Lacking, any bool) {
	x = make([]float64, len(o.Tracers))
	for j, tracer := range o.Tracers {
		at := slices.IndexFunc(measured, func(m core) bool { return m.tracer == tracer.Name })
		if at < 0 {
			lacks = lacks.With(j)
			continue
		}
		x[j], any = measured[at].value, true
	}
	return x, lacks, any
}

// problem is what the densities are fitted to. Weights and trips come later.
func (o *OriginFound) problem() *origin.Problem {
	p := &origin.Problem{Nurseries: o.Nurseries}
	for _, t := range o.Tracers {
		p.Tracers = append(p.Tracers, t.Tracer)
	}
	for _, f := range o.Known {
		p.Baseline = append(p.Baseline, origin.Baseline{Nursery: f.Nursery, YearClass: f.YearClass, X: f.X, Lacks: f.Lacks})
	}
	for _, f := range o.Fish {
		p.Mixed = append(p.Mixed, origin.Mixed{X: f.X, Lacks: f.Lacks, Group: f.Place, Age: f.Age, Cohort: f.Cohort})
	}
	return p
}

// places are where compositions are made: year and area, as far as the strata of the
// catch have them, those with a catch first.
type places struct {
	set   strata.Set
	cells []strata.Cell
	trips map[record.TripID]int
}

func placesOf(s *Species) *places {
	p := &places{set: s.Counts.Columns & (strata.Year | strata.Area), trips: map[record.TripID]int{}}
	for _, cell := range s.Counts.Cells {
		p.at(cell)
	}
	for t := range s.Counts.Trips {
		p.trips[s.Counts.Trips[t].ID] = t
	}
	return p
}

// at is the number of a cell's place.
func (p *places) at(cell strata.Cell) int {
	place := cell.Keep(p.set)
	i := slices.Index(p.cells, place)
	if i < 0 {
		i, p.cells = len(p.cells), append(p.cells, place)
	}
	return i
}

// of is the place of a fish: that of its trip, or where its card says.
func (p *places) of(s *Species, f *record.Fish) int {
	if t, ok := p.trips[f.Trip]; ok {
		return p.at(s.Counts.Trips[t].Cell)
	}
	return p.at(strata.At(f.CaughtOn, f.Area, f.Gear))
}

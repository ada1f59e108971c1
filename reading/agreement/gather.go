package agreement

import (
	"slices"

	"earstone/programme/date"
	"earstone/programme/record"
	"earstone/reading/age"
)

// gathered are the readings of one species, sorted out.
type gathered struct {
	counts       []int       // fish × readers: the last reading by each
	first, again [][]int     // by reader: counts of fish read on two days
	controls     [][]Control // by reader: re-readings of the reference collection
	seen         []Seen
}

func gather(species record.Species, panel age.Panel, fish []record.Fish, readings []record.Reading) gathered {
	n := len(panel.Readers)
	g := gathered{first: make([][]int, n), again: make([][]int, n), controls: make([][]Control, n)}
	caught := make(map[record.FishID]date.Day, len(fish))
	for i := range fish {
		if fish[i].Species == species {
			caught[fish[i].Fish] = fish[i].CaughtOn
		}
	}
	last := make([]int, n)
	ids, of := age.ByFish(readings)
	for i, id := range ids {
		day, mine := caught[id]
		if !mine {
			continue
		}
		own := slices.DeleteFunc(of[i], func(k int) bool {
			return readings[k].Annuli < 0 || readings[k].Annuli > age.Oldest || sighted(&readings[k])
		})
		panel.Latest(last, readings, own)
		for _, k := range last {
			if k < 0 {
				g.counts = append(g.counts, NotRead)
			} else {
				g.counts = append(g.counts, readings[k].Annuli)
			}
		}
		slices.SortStableFunc(own, func(a, b int) int { return age.InTime(&readings[a], &readings[b]) })
		g.see(day, readings, own)
		for r, reader := range panel.Readers {
			g.twice(r, readings, slices.DeleteFunc(slices.Clone(own), func(k int) bool { return readings[k].Reader != reader }))
		}
	}
	for r := range g.controls {
		slices.SortStableFunc(g.controls[r], func(a, b Control) int { return a.On.Last().Serial() - b.On.Last().Serial() })
	}
	return g
}

// sighted tells a reading that was made with other counts in sight: it agrees with them
// because it knew them. A reading that says nothing of it counts as blind, but for a
// joint one.
func sighted(r *record.Reading) bool { return r.Blind == record.No || r.Reader == record.Joint }

// see keeps one edge a fish: the last that was judged, controls apart. More than one
// would count a fish twice and make the intervals too narrow.
func (g *gathered) see(caught date.Day, readings []record.Reading, own []int) {
	if caught.Month() == 0 {
		return
	}
	for _, k := range slices.Backward(own) {
		e := readings[k].Edge
		if judged := e == record.Narrow || e == record.Partial || e == record.Wide; judged && readings[k].Control != record.Yes {
			g.seen = append(g.seen, Seen{caught.Month(), e})
			return
		}
	}
}

// twice takes the readings of one fish by one reader, in time.
func (g *gathered) twice(r int, readings []record.Reading, own []int) {
	if len(own) < 2 {
		return
	}
	first, last := &readings[own[0]], &readings[own[len(own)-1]]
	if later(first, last) {
		g.first[r], g.again[r] = append(g.first[r], first.Annuli), append(g.again[r], last.Annuli)
	}
	for _, k := range own[1:] {
		if again := &readings[k]; again.Control == record.Yes && later(first, again) {
			g.controls[r] = append(g.controls[r], Control{again.ReadAt, first.Annuli, again.Annuli})
		}
	}
}

// later tells whether the second reading was certainly made on a later day.
func later(first, second *record.Reading) bool {
	return first.ReadAt.Known() && second.ReadAt.Known() &&
		first.ReadAt.Last().Serial() < second.ReadAt.First().Serial()
}

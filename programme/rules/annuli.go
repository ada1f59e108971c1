package rules

import (
	"cmp"
	"math"
	"slices"
	"strconv"

	"earstone/programme/finding"
	"earstone/programme/record"
)

// How far, in robust SDs, a stone's mass may lie from what its annuli lead one to expect.
// Counts are made with error, so that even sound stones lie farther out than a normal's.
const (
	doubtedAtCount = 4
	fitsCount      = 1.5
)

// annuliMasses holds each stone against the annuli that were counted on its fish, among
// fish of one species: logarithm of mass about a robust line through the stones of the
// same count and its neighbours, which bends as the masses do. The correction that is
// offered is the count whose own stones are most alike.
func (c *check) annuliMasses() {
	counts := c.medianCounts()
	groups, order := map[record.Species][]pair{}, []record.Species(nil)
	for i, s := range c.book.Stones {
		annuli, counted := counts[s.Fish]
		at, known := c.fish[s.Fish]
		if !known || !counted || !weighedWhole(s) {
			continue
		}
		species := c.book.Fish[at.at].Species
		if groups[species] == nil {
			order = append(order, species)
		}
		groups[species] = append(groups[species], pair{x: float64(annuli), y: math.Log(s.MassMg.X), at: i})
	}
	for _, species := range order {
		pairs := groups[species]
		lines := byCount(pairs)
		for _, p := range pairs {
			if l, known := lines[int(p.x)]; known {
				c.offCount(l, lines, p)
			}
		}
	}
}

// medianCounts are the annuli of each fish, the lower middle one of all its counts.
func (c *check) medianCounts() map[record.FishID]int {
	all := map[record.FishID][]int{}
	for _, r := range c.book.Readings {
		if r.Annuli >= 0 {
			all[r.Fish] = append(all[r.Fish], r.Annuli)
		}
	}
	out := map[record.FishID]int{}
	for fish, counts := range all {
		slices.Sort(counts)
		out[fish] = counts[(len(counts)-1)/2]
	}
	return out
}

// widest is how many counts to either side a line may reach.
const widest = 3

// byCount are the robust lines at each count, none where too few stones lie near.
func byCount(pairs []pair) map[int]line {
	sorted := slices.Clone(pairs)
	slices.SortStableFunc(sorted, func(a, b pair) int { return cmp.Compare(a.x, b.x) })
	below := func(x float64) int {
		at, _ := slices.BinarySearchFunc(sorted, x, func(p pair, x float64) int { return cmp.Compare(p.x, x) })
		return at
	}
	lines := map[int]line{}
	for i, p := range sorted {
		if i > 0 && sorted[i-1].x == p.x {
			continue
		}
		for reach := 1.0; reach <= widest; reach++ {
			if l, ok := throughMiddle(sorted[below(p.x-reach):below(p.x+reach+1)]); ok {
				lines[int(p.x)] = l
				break
			}
		}
	}
	return lines
}

// offCount finds a stone that lies off the line of its count, and names the count whose
// line it lies nearest to, where it fits there.
func (c *check) offCount(l line, lines map[int]line, p pair) {
	z := l.z(p)
	if !(math.Abs(z) > doubtedAtCount) {
		return
	}
	counts := make([]int, 0, len(lines))
	for n := range lines {
		counts = append(counts, n)
	}
	slices.Sort(counts)
	fits, best := "", math.Inf(1)
	for _, n := range counts {
		other := lines[n]
		if off := math.Abs(other.z(pair{x: float64(n), y: p.y})); off < best {
			best, fits = off, strconv.Itoa(n)
		}
	}
	if best > fitsCount {
		fits = ""
	}
	s := c.book.Stones[p.at]
	c.add(finding.Implausible, stonesFile, s.Row, "mass_mg", text(s.MassMg.X), "annuli", rounded(z), strconv.Itoa(int(p.x)), fits)
}

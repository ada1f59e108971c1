package key

import (
	"cmp"
	"slices"
)

// gathered joins entries that no rung can tell apart: same groups on every rung, same
// bin, same value (agreed age, or pattern of readings).
//
// Weights of the entries are summed over a cell first and spread over the rungs once.
type gathered struct {
	order []int32   // entries, cell after cell
	ends  []int32   // ends[c]: one past the last entry of cell c in order
	class []int32   // class of groups, by cell
	bin   []int32   // by cell
	value []int32   // by cell
	rungs [][]int32 // rungs[class][r]: group on rung r
	out   []int32   // entries left out
}

// gather sorts the entries into cells. value is the entry's age or pattern, -1 keeps
// it out.
func (s Sample) gather(value func(Entry) int32) *gathered {
	classes, rungs := s.Grid.classes()
	c := &gathered{rungs: rungs}
	for i, e := range s.Entries {
		if value(e) < 0 || e.Bin < 0 {
			c.out = append(c.out, int32(i))
			continue
		}
		if int(e.Bin) >= s.Grid.Bins || int(e.Age) >= s.Grid.Ages || int(e.Pattern) >= len(s.Patterns) ||
			int(e.Origin) >= len(classes) || e.Origin < 0 {
			panic("key: an entry beyond the bins, ages, patterns or origins of its sample")
		}
		c.order = append(c.order, int32(i))
	}
	compare := func(i, j int32) int {
		a, b := s.Entries[i], s.Entries[j]
		return cmp.Or(cmp.Compare(classes[a.Origin], classes[b.Origin]), cmp.Compare(a.Bin, b.Bin), cmp.Compare(value(a), value(b)))
	}
	slices.SortStableFunc(c.order, compare)
	for at, i := range c.order {
		if at == 0 || compare(c.order[at-1], i) != 0 {
			e := s.Entries[i]
			c.class, c.bin, c.value = append(c.class, classes[e.Origin]), append(c.bin, e.Bin), append(c.value, value(e))
			c.ends = append(c.ends, 0)
		}
		c.ends[len(c.ends)-1] = int32(at + 1)
	}
	return c
}

// classes numbers the origins by their groups on all rungs together.
func (g Grid) classes() (class []int32, rungs [][]int32) {
	known := map[string]int32{}
	class = make([]int32, len(g.Rungs[0]))
	for o := range class {
		path, name := make([]int32, len(g.Rungs)), make([]byte, 0, 4*len(g.Rungs))
		for r := range g.Rungs {
			v := g.Rungs[r][o]
			path[r], name = v, append(name, byte(v), byte(v>>8), byte(v>>16), byte(v>>24))
		}
		number, ok := known[string(name)]
		if !ok {
			number = int32(len(rungs))
			known[string(name)], rungs = number, append(rungs, path)
		}
		class[o] = number
	}
	return class, rungs
}

// sums fills n with the weight of each cell and returns that of the entries left out.
func (c *gathered) sums(n, weight []float64) (leftOut float64) {
	at := int32(0)
	for cell, end := range c.ends {
		total := 0.0
		for _, i := range c.order[at:end] {
			total += weight[i]
		}
		n[cell], at = total, end
	}
	for _, i := range c.out {
		leftOut += weight[i]
	}
	return leftOut
}

// group is the group of cell c on rung 0.
func (c *gathered) group(cell int) int { return int(c.rungs[c.class[cell]][0]) }

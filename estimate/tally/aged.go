package tally

import (
	"cmp"
	"slices"
	"strings"

	"earstone/estimate/key"
	"earstone/programme/record"
	"earstone/programme/strata"
)

// row is an entry before its indices are known.
type row struct {
	key.Entry
	fish   record.FishID
	spread int // 0: alone; else the number of the fish whose length is spread
}

// cutKey makes the sample of the key: entries sorted by trip, origin, bin, age and
// readings, so that the order of rows in the tables can't matter.
func (b *builder) cutKey(aged []AgedFish) {
	c := b.counts
	used := c.Columns // what the key pools, but a test of one key for all tells apart
	for _, set := range c.Ladder {
		used |= set
	}
	tripAt := map[record.TripID]int32{}
	for t := range c.Trips {
		tripAt[c.Trips[t].ID] = int32(t)
	}
	origins, patterns := map[strata.Cell]int32{}, map[string]int32{}
	var rows []row
	for i, fish := range aged {
		trip, cell := int32(-1), strata.At(fish.Fish.CaughtOn, fish.Fish.Area, fish.Fish.Gear)
		if t, ok := tripAt[fish.Fish.Trip]; ok {
			trip, cell = t, c.Trips[t].Cell
		}
		portions := b.lengths.portions(fish.Fish.Length, 1, fishFile)
		b.countFish(fish, portions, trip)
		origin := index(origins, cell.Keep(used))
		for _, v := range fish.Variants {
			pattern := b.pattern(patterns, v.Classes)
			if v.Class < 0 && pattern < 0 {
				continue
			}
			c.Oldest = max(c.Oldest, v.Class)
			for _, p := range portions {
				e := key.Entry{Trip: trip, Origin: origin, Bin: int32(p.bin) - int32(c.Bins.First/c.Bins.Width+0.5),
					Age: int32(v.Class), Pattern: pattern, Fish: v.Share * p.share}
				r := row{Entry: e, fish: fish.Fish.Fish}
				if len(portions) > 1 {
					r.spread = i + 1
				}
				rows = append(rows, r)
			}
		}
	}
	b.sortOrigins(rows, origins)
	b.sortPatterns(rows)
	b.layRows(rows)
	b.layGrid()
}

func (b *builder) countFish(fish AgedFish, portions []portion, trip int32) {
	c := b.counts
	settled := len(fish.Variants) > 0
	for _, v := range fish.Variants {
		settled = settled && v.Class >= 0
	}
	switch {
	case settled && portions != nil:
		c.Aged++
		if trip >= 0 {
			c.Trips[trip].Aged++
		}
	case !settled && len(fish.Variants) > 0:
		c.Unsettled++
	}
}

// pattern numbers the vector of classes by reader; −1 when nobody read the fish.
func (b *builder) pattern(known map[string]int32, classes []int16) int32 {
	name, read := make([]byte, 0, 2*len(classes)), false
	for _, class := range classes {
		read = read || class >= 0
		b.counts.Oldest = max(b.counts.Oldest, int(class))
		name = append(name, byte(class), byte(class>>8))
	}
	if !read {
		return -1
	}
	p, ok := known[string(name)]
	if !ok {
		p = int32(len(b.counts.Key.Patterns))
		known[string(name)] = p
		b.counts.Key.Patterns = append(b.counts.Key.Patterns, slices.Clone(classes))
	}
	return p
}

// sortOrigins numbers the origins in the order of their cells.
func (b *builder) sortOrigins(rows []row, origins map[strata.Cell]int32) {
	c := b.counts
	old := make([]int32, len(origins))
	for cell := range origins {
		c.Origins = append(c.Origins, cell)
	}
	slices.SortFunc(c.Origins, strata.Compare)
	for at, cell := range c.Origins {
		old[origins[cell]] = int32(at)
	}
	for i := range rows {
		rows[i].Origin = old[rows[i].Origin]
	}
}

// sortPatterns numbers the patterns in the order of their classes.
func (b *builder) sortPatterns(rows []row) {
	patterns := b.counts.Key.Patterns
	order := make([]int32, len(patterns))
	for i := range order {
		order[i] = int32(i)
	}
	slices.SortFunc(order, func(x, y int32) int { return slices.Compare(patterns[x], patterns[y]) })
	sorted, now := make([][]int16, len(patterns)), make([]int32, len(patterns))
	for at, p := range order {
		sorted[at], now[p] = patterns[p], int32(at)
	}
	b.counts.Key.Patterns = sorted
	for i := range rows {
		if rows[i].Pattern >= 0 {
			rows[i].Pattern = now[rows[i].Pattern]
		}
	}
}

// layRows sorts the rows and merges those of one trip that are alike. A fish of no trip
// is drawn again on its own, and a fish whose length is spread stays together: neither
// is merged.
func (b *builder) layRows(rows []row) {
	slices.SortFunc(rows, func(x, y row) int {
		return cmp.Or(cmp.Compare(x.Trip, y.Trip), cmp.Compare(min(x.spread, 1), min(y.spread, 1)), compareSpread(x, y),
			cmp.Compare(x.Origin, y.Origin), cmp.Compare(x.Bin, y.Bin), cmp.Compare(x.Age, y.Age),
			cmp.Compare(x.Pattern, y.Pattern), strings.Compare(string(x.fish), string(y.fish)), cmp.Compare(x.Entry.Fish, y.Entry.Fish))
	})
	c := b.counts
	for i, r := range rows {
		if n := len(c.Key.Entries); i > 0 && r.Trip >= 0 && r.spread == 0 && rows[i-1].spread == 0 && alike(c.Key.Entries[n-1], r.Entry) {
			c.Key.Entries[n-1].Fish += r.Fish
			continue
		}
		at := int32(len(c.Key.Entries))
		if r.spread > 0 {
			if i > 0 && rows[i-1].spread == r.spread && rows[i-1].Age == r.Age && rows[i-1].Pattern == r.Pattern {
				c.Spread[len(c.Spread)-1].Len++
			} else {
				c.Spread = append(c.Spread, Spread{at, 1})
			}
		}
		c.Key.Entries = append(c.Key.Entries, r.Entry)
		c.Fish = append(c.Fish, Fish{r.fish})
	}
	c.Loose = b.loose()
}

// loose gathers the entries of each fish of no trip, by origin and in the order in which
// the fish first come.
func (b *builder) loose() [][]Stone {
	c := b.counts
	stones, at := make([][]Stone, len(c.Origins)), map[record.FishID]int{}
	for i, e := range c.Key.Entries {
		if e.Trip >= 0 {
			continue
		}
		stone, seen := at[c.Fish[i].ID]
		if !seen {
			stone = len(stones[e.Origin])
			at[c.Fish[i].ID] = stone
			stones[e.Origin] = append(stones[e.Origin], nil)
		}
		stones[e.Origin][stone] = append(stones[e.Origin][stone], int32(i))
	}
	return stones
}

// compareSpread keeps the entries of one spread fish side by side, variant by variant.
func compareSpread(x, y row) int {
	if x.spread == 0 {
		return 0
	}
	return cmp.Or(strings.Compare(string(x.fish), string(y.fish)), cmp.Compare(x.Age, y.Age), cmp.Compare(x.Pattern, y.Pattern))
}

func alike(x, y key.Entry) bool {
	x.Fish, y.Fish = 0, 0
	return x == y
}

// layGrid numbers the groups of every rung over origins and catch strata together.
func (b *builder) layGrid() {
	c := b.counts
	g := &c.Key.Grid
	g.Bins, g.Mid, g.Ages = c.Bins.N, c.Design.Mid, c.Oldest+1
	c.Design.Ages = g.Ages
	c.Key.Readers = len(c.Readers)
	used := strata.Set(0)
	for _, set := range c.Ladder {
		used |= set
	}
	keyAt := map[strata.Cell]int{}
	for s, cell := range c.Cells {
		kept := cell.Keep(used)
		k, ok := keyAt[kept]
		if !ok {
			k = len(c.KeyCells)
			keyAt[kept] = k
			c.KeyCells = append(c.KeyCells, kept)
		}
		c.Design.Strata[s].Key = k
	}
	c.Design.KeyStrata = len(c.KeyCells)
	g.Path = make([][]int32, len(c.KeyCells))
	for _, set := range c.Ladder {
		groups := map[strata.Cell]int32{}
		for k, cell := range c.KeyCells {
			g.Path[k] = append(g.Path[k], group(groups, cell, set))
		}
		rung := make([]int32, len(c.Origins))
		for o, cell := range c.Origins {
			rung[o] = group(groups, cell, set)
		}
		g.Rungs, g.Groups = append(g.Rungs, rung), append(g.Groups, len(groups))
	}
}

func group(groups map[strata.Cell]int32, cell strata.Cell, set strata.Set) int32 {
	if !cell.Known().Has(set) {
		return -1
	}
	return index(groups, cell.Keep(set))
}

// index numbers cells in the order in which they come.
func index(known map[strata.Cell]int32, cell strata.Cell) int32 {
	at, ok := known[cell]
	if !ok {
		at = int32(len(known))
		known[cell] = at
	}
	return at
}

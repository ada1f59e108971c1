package ageerror

import (
	"fmt"
	"math"
	"slices"
)

// Data are the readings of a species: how many fish were read in which way.
//
// True ages run First ... First + Ages − 1, counts 0 ... Oldest. Of names the reader
// (0 ... Readers − 1) of each column of Counts; nil means that column r is reader r.
// A reader who read a stone twice has two columns.
type Data struct {
	First, Ages int
	Oldest      int
	Readers     int
	Of          []int
	Patterns    []Pattern
}

// Pattern is N fish that were read alike. Equal patterns may be listed more than once.
type Pattern struct {
	Counts []int16 // by column; −1 where the stone was not read
	N      float64 // fish
	Known  int     // their true age; −1 where nobody knows
}

// of is the reader of each column.
func (d Data) of() []int {
	if d.Of != nil {
		return d.Of
	}
	of := make([]int, d.Readers)
	for r := range of {
		of[r] = r
	}
	return of
}

// check finds what Estimate can't read.
func (d Data) check() error {
	of := d.of()
	if d.Ages < 2 {
		return &Trouble{Reason: OneAge}
	}
	for _, r := range of {
		if r < 0 || r >= d.Readers {
			return &Trouble{Reason: OutOfRange, Detail: fmt.Sprintf("a column belongs to reader %d of %d", r, d.Readers)}
		}
	}
	for i, p := range d.Patterns {
		if complaint := d.complaint(p, len(of)); complaint != "" {
			return &Trouble{Reason: OutOfRange, Detail: fmt.Sprintf("pattern %d has %s", i, complaint)}
		}
	}
	return nil
}

func (d Data) complaint(p Pattern, columns int) string {
	switch {
	case len(p.Counts) != columns:
		return fmt.Sprintf("%d counts for %d columns", len(p.Counts), columns)
	case !(p.N >= 0) || math.IsInf(p.N, 1):
		return fmt.Sprintf("%v fish", p.N)
	case p.Known != -1 && (p.Known < d.First || p.Known >= d.First+d.Ages):
		return fmt.Sprintf("known age %d, outside %d to %d", p.Known, d.First, d.First+d.Ages-1)
	}
	for _, c := range p.Counts {
		if c < -1 || int(c) > d.Oldest {
			return fmt.Sprintf("count %d, outside 0 to %d", c, d.Oldest)
		}
	}
	return ""
}

// distinct are the patterns of fish that were read at all, sorted, each once: the fit
// does not depend on the order of fish, and its cost goes with these.
func (d Data) distinct() []Pattern {
	kept := make([]Pattern, 0, len(d.Patterns))
	for _, p := range d.Patterns {
		if p.N > 0 && p.readings() > 0 {
			kept = append(kept, p)
		}
	}
	slices.SortStableFunc(kept, byCounts)
	joined := kept[:0]
	for _, p := range kept {
		if n := len(joined); n > 0 && byCounts(joined[n-1], p) == 0 {
			joined[n-1].N += p.N
			continue
		}
		joined = append(joined, p)
	}
	return joined
}

func byCounts(a, b Pattern) int {
	if a.Known != b.Known {
		return a.Known - b.Known
	}
	return slices.Compare(a.Counts, b.Counts)
}

func (p Pattern) readings() int {
	n := 0
	for _, c := range p.Counts {
		if c >= 0 {
			n++
		}
	}
	return n
}

// alike says whether every reading of the fish, and its age where known, is the same.
func (p Pattern) alike() bool {
	first := p.Known
	for _, c := range p.Counts {
		switch {
		case c < 0:
		case first < 0:
			first = int(c)
		case int(c) != first:
			return false
		}
	}
	return true
}

package label

import (
	"fmt"
	"slices"
)

// Range is the codes of one prefix from First to Last, both included. The zero value
// holds none.
type Range struct{ First, Last Code }

// Count is the number of codes in the range.
func (r Range) Count() int {
	if !r.First.Known() || r.First.prefix != r.Last.prefix || r.Last.number < r.First.number {
		return 0
	}
	return int(r.Last.number-r.First.number) + 1
}

// At is the i-th code of the range, from 0; it panics outside.
func (r Range) At(i int) Code {
	if i < 0 || i >= r.Count() {
		panic(fmt.Sprintf("label: no code %d in a range of %d", i, r.Count()))
	}
	return Code{r.First.prefix, r.First.number + int32(i)}
}

// Holds tells whether a code lies in the range.
func (r Range) Holds(c Code) bool {
	return r.Count() > 0 && c.prefix == r.First.prefix && r.First.number <= c.number && c.number <= r.Last.number
}

// Overlaps tells whether two ranges share a code.
func (r Range) Overlaps(other Range) bool {
	return r.Count() > 0 && other.Count() > 0 && (r.Holds(other.First) || other.Holds(r.First))
}

// Compare orders ranges by their first code, then by their last.
func (r Range) Compare(other Range) int {
	if order := r.First.Compare(other.First); order != 0 {
		return order
	}
	return r.Last.Compare(other.Last)
}

// Roll is every code that was ever given out: sent, used, or cancelled with its kit. A
// code on it is never given out again. The zero value is empty.
type Roll struct {
	last map[string]int // the largest number of a prefix
}

// Enter puts a code on the roll; an unknown one is passed over.
func (r *Roll) Enter(c Code) {
	if !c.Known() {
		return
	}
	if r.last == nil {
		r.last = map[string]int{}
	}
	r.last[c.prefix] = max(r.last[c.prefix], c.Number())
}

// Next is the range of the next n codes of a prefix, all larger than any on the roll. ok
// is false when the prefix is not good, n is not positive, or the numbers run out.
func (r *Roll) Next(prefix string, n int) (next Range, ok bool) {
	from := r.last[prefix] + 1
	first, okFirst := New(prefix, from)
	last, okLast := New(prefix, from+n-1)
	if n < 1 || !okFirst || !okLast {
		return Range{}, false
	}
	return Range{first, last}, true
}

// Twice are the pairs of kits that share a code, by their places in the list.
func Twice(kits []Kit) (pairs [][2]int) {
	order := make([]int, len(kits))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return kits[a].Codes.Compare(kits[b].Codes) })
	for i, a := range order {
		for _, b := range order[i+1:] {
			if !kits[a].Codes.Overlaps(kits[b].Codes) {
				break // sorted by first code: what comes later begins later still
			}
			pairs = append(pairs, [2]int{min(a, b), max(a, b)})
		}
	}
	return pairs
}

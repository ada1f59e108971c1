package stream

import (
	"fmt"
	"math"
)

// oneByOne is the number of draws a cell up to which drawing one by one costs
// less than a binomial a cell (BenchmarkRedraw).
const oneByOne = 45

// Picks fills times with how often each of len(times) boxes is picked in a number
// of draws with equal chances: the m − 1 of m trips of the rescaled bootstrap.
// Panics when draws is negative, or positive with no box.
//
// Rao & Wu (1988); methods, section 10.
func (s *Stream) Picks(times []int32, draws int) {
	checkDraws(len(times), draws)
	clear(times)
	if draws > oneByOne*len(times) {
		for i := range times {
			got := s.Binomial(draws, 1/float64(len(times)-i))
			times[i] = int32(got)
			draws -= got
		}
		return
	}
	if draws == 0 {
		return
	}
	r := *s // a copy stays in registers
	bound := uint64(len(times))
	least := -uint32(bound) % uint32(bound)
	for draws > 0 {
		word := r.Uint64()
		if p := word & math.MaxUint32 * bound; uint32(p) >= least {
			times[p>>32]++
			draws--
		}
		if q := word >> 32 * bound; uint32(q) >= least && draws > 0 {
			times[q>>32]++
			draws--
		}
	}
	*s = r
}

func checkDraws(boxes, draws int) {
	if draws < 0 || draws > 0 && boxes == 0 || int64(boxes) > 1<<31 || int64(draws) > 1<<31-1 {
		panic(fmt.Sprintf("stream: %d draws over %d boxes", draws, boxes))
	}
}

// Table is the observed counts of a trip prepared for Redraw: one entry a fish.
type Table struct {
	counts []int32
	bin    []uint16 // the bin of each fish
	total  int
}

// NewTable prepares counts, one a bin. Panics when a count is negative, when bins
// exceed 65,536 or the fish 2³¹ − 1.
func NewTable(counts []int32) Table {
	t := Table{counts: append([]int32(nil), counts...)}
	for _, c := range counts {
		if c < 0 {
			panic(fmt.Sprintf("stream: count %d", c))
		}
		t.total += int(c)
	}
	if len(counts) > 1<<16 || t.total > 1<<31-1 {
		panic(fmt.Sprintf("stream: %d fish in %d bins", t.total, len(counts)))
	}
	t.bin = make([]uint16, 0, t.total)
	for b, c := range counts {
		for range c {
			t.bin = append(t.bin, uint16(b))
		}
	}
	return t
}

// Bins is the number of bins.
func (t *Table) Bins() int { return len(t.counts) }

// Total is the number of fish counted.
func (t *Table) Total() int { return t.total }

// Redraw fills dst with a multinomial redraw of n fish in proportion to the
// counts of the table: one by one through the table, or by a binomial a bin where
// there are many. Panics when dst has another number of bins than the table, or
// fish are wanted of none.
//
// methods, section 10.
func (s *Stream) Redraw(dst []int32, t *Table, n int) { redraw(s, dst, t, n) }

// RedrawFloats is Redraw into numbers that are weighed afterwards; it draws the
// same counts from the same state.
func (s *Stream) RedrawFloats(dst []float64, t *Table, n int) { redraw(s, dst, t, n) }

func redraw[T int32 | float64](s *Stream, dst []T, t *Table, n int) {
	if len(dst) != len(t.counts) || n < 0 || n > 0 && t.total == 0 || int64(n) > 1<<31-1 {
		panic(fmt.Sprintf("stream: redrawing %d of %d fish in %d bins into %d", n, t.total, len(t.counts), len(dst)))
	}
	clear(dst)
	if n <= oneByOne*len(dst) {
		oneEach(s, dst, t.bin, n)
		return
	}
	left := t.total
	for i, c := range t.counts {
		got := s.part(n, c, &left)
		dst[i] = T(got)
		n -= got
	}
}

// oneEach draws n fish with replacement, two from a word; half a word that would
// make the first fish likelier is thrown away (Lemire 2019).
func oneEach[T int32 | float64](s *Stream, dst []T, bin []uint16, n int) {
	if n == 0 {
		return
	}
	r := *s // a copy stays in registers
	bound := uint64(len(bin))
	least := -uint32(bound) % uint32(bound)
	for n > 0 {
		word := r.Uint64()
		if p := word & math.MaxUint32 * bound; uint32(p) >= least {
			dst[bin[p>>32]]++
			n--
		}
		if q := word >> 32 * bound; uint32(q) >= least && n > 0 {
			dst[bin[q>>32]]++
			n--
		}
	}
	*s = r
}

// part draws how many of n fall to a bin of c among those left.
func (s *Stream) part(n int, c int32, left *int) int {
	if c == 0 || n == 0 {
		return 0
	}
	p := float64(c) / float64(*left)
	*left -= int(c)
	return s.Binomial(n, p)
}

// Multinomial fills dst with n things dealt over cells in proportion to weights
// that need not sum to 1, a binomial a cell. Panics when lengths differ, n is
// negative, a weight is negative or not a number, or n > 0 meets no weight.
func (s *Stream) Multinomial(dst []int32, weights []float64, n int) {
	if len(dst) != len(weights) {
		panic(fmt.Sprintf("stream: %d cells of %d weights", len(dst), len(weights)))
	}
	checkDraws(len(dst), n)
	left, last := 0.0, -1
	for i, w := range weights {
		if !(w >= 0) {
			panic(fmt.Sprintf("stream: weight %v", w))
		}
		if w > 0 {
			left, last = left+w, i
		}
	}
	clear(dst)
	if n == 0 {
		return
	}
	if last < 0 {
		panic("stream: every weight is 0")
	}
	for i, w := range weights[:last] {
		got := s.Binomial(n, min(w/left, 1))
		dst[i] = int32(got)
		n -= got
		if left -= w; n == 0 || left <= 0 {
			break
		}
	}
	dst[last] += int32(n)
}

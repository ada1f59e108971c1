package tables

import "encoding/binary"

// The bounds of what describes a Parquet file. The library makes room for as many items as
// a list says it has, so that a list is held against them before it is read.
const (
	mostItems   = 1 << 18 // in all lists of one description
	mostWithin  = 32      // structures within each other
	maxFooter   = 16 << 20
	valuesField = 1 // of the header of each kind of page: how many values
)

// compact walks a structure in the compact protocol of Thrift, in which Parquet describes
// itself (Apache Thrift, compact protocol encoding), without keeping any of it.
type compact struct {
	in    []byte
	at    int
	items int
	see   func(within, field int, value int64) // a whole number or truth of the structure, or of one right within it
}

// structure walks one structure to its end; false for one that breaks off or is past a
// bound. within is the field of the outermost structure that it stands in.
func (c *compact) structure(depth, within int) bool {
	field := 0
	for {
		head, ok := c.one()
		kind := head & 15
		switch {
		case !ok:
			return false
		case kind == 0:
			return true
		case head>>4 > 0:
			field += int(head >> 4)
		default:
			n, ok := c.whole()
			if !ok {
				return false
			}
			field = int(int16(n))
		}
		if depth == 1 && kind <= 2 {
			c.see(within, field, int64(2-kind)) // yes is 1, no is 2
		}
		if kind > 2 && !c.value(kind, depth, within, field) {
			return false
		}
	}
}

// value walks one value that is no truth.
func (c *compact) value(kind byte, depth, within, field int) bool {
	switch kind {
	case 3:
		return c.skip(1)
	case 4, 5, 6:
		n, ok := c.whole()
		if ok && depth <= 1 {
			c.see(within, field, n)
		}
		return ok
	case 7:
		return c.skip(8)
	case 8:
		n, ok := c.size()
		return ok && c.skip(n)
	case 9, 10:
		return c.list(depth)
	case 12:
		if depth == 0 {
			within = field
		}
		return depth < mostWithin && c.structure(depth+1, within)
	}
	return false // Parquet knows no maps
}

func (c *compact) list(depth int) bool {
	head, ok := c.one()
	n, kind := int(head>>4), head&15
	if n == 15 {
		n, ok = c.size()
	}
	if c.items += n; !ok || n > len(c.in)-c.at || c.items > mostItems {
		return false
	}
	for range n {
		if kind <= 2 {
			ok = c.skip(1)
		} else {
			ok = c.value(kind, max(depth, 1)+1, 0, 0)
		}
		if !ok {
			return false
		}
	}
	return true
}

func (c *compact) one() (b byte, ok bool) {
	if c.at >= len(c.in) {
		return 0, false
	}
	c.at++
	return c.in[c.at-1], true
}

func (c *compact) skip(n int) bool {
	if n < 0 || n > len(c.in)-c.at {
		return false
	}
	c.at += n
	return true
}

// whole is a whole number with its sign.
func (c *compact) whole() (n int64, ok bool) {
	n, width := binary.Varint(c.in[c.at:])
	return n, width > 0 && c.skip(width)
}

// size is that of what follows, at most all that is left.
func (c *compact) size() (n int, ok bool) {
	u, width := binary.Uvarint(c.in[c.at:])
	return int(min(u, 1<<31)), width > 0 && c.skip(width) && u <= uint64(len(c.in)-c.at)
}

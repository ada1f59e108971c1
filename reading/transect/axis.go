// Package transect reads the brightness of a section along the axis from its core to its edge.
//
// A reader sets the axis by two points or more; it may bend. The picture is read in
// a Band on both sides of it, rings that cross the axis aslant or bowed are brought
// into line (Lean), and the band is averaged into a profile.
package transect

import (
	"errors"
	"math"
	"sort"
)

// Point is a place in a picture, in pixels right of and below the centre of its top
// left pixel.
type Point struct{ X, Y float64 }

// Axis is a curve from core to edge. It is not changed after it was made; the zero
// Axis has no length.
type Axis struct {
	at    []Point   // fine steps along the curve
	along []float64 // distance of each from the core
}

// The reasons why points make no axis.
var (
	ErrTooFew   = errors.New("an axis wants its core and its edge: two points or more")
	ErrTogether = errors.New("two points of the axis that follow each other lie less than a pixel apart")
	ErrNowhere  = errors.New("a point of the axis lies nowhere: its place is not a number")
)

// Through is the axis through nodes, the core first and the edge last, in pixels.
//
// Two nodes give a straight line. More give a centripetal Catmull–Rom curve, which
// passes through each node and makes no loops between close ones; beyond its ends it
// is continued as if mirrored.
//
// Catmull & Rom (1974); knots by Yuksel, Schaefer & Keyser (2011), from memory.
func Through(nodes []Point) (Axis, error) {
	if len(nodes) < 2 {
		return Axis{}, ErrTooFew
	}
	for i, p := range nodes {
		if !(math.Abs(p.X) < 1e9) || !(math.Abs(p.Y) < 1e9) {
			return Axis{}, ErrNowhere
		}
		if i > 0 && apart(nodes[i-1], p) < 1 {
			return Axis{}, ErrTogether
		}
	}
	a := Axis{at: []Point{nodes[0]}, along: []float64{0}}
	last := len(nodes) - 1
	for i := range last {
		before, after := mirrored(nodes[i+1], nodes[i]), mirrored(nodes[i], nodes[i+1])
		if i > 0 {
			before = nodes[i-1]
		}
		if i+1 < last {
			after = nodes[i+2]
		}
		a.piece(before, nodes[i], nodes[i+1], after)
	}
	return a, nil
}

// mirrored is p seen from its other side of q.
func mirrored(p, q Point) Point { return Point{2*q.X - p.X, 2*q.Y - p.Y} }

func apart(p, q Point) float64 { return math.Hypot(p.X-q.X, p.Y-q.Y) }

// piece adds the curve from p to q, in steps of about four pixels.
func (a *Axis) piece(before, p, q, after Point) {
	t1 := math.Sqrt(apart(before, p))
	t2 := t1 + math.Sqrt(apart(p, q))
	t3 := t2 + math.Sqrt(apart(q, after))
	steps := max(int(apart(p, q)/4), 1)
	for i := 1; i <= steps; i++ {
		next := q
		if i < steps {
			t := t1 + (t2-t1)*float64(i)/float64(steps)
			first, second, third := blend(before, p, 0, t1, t), blend(p, q, t1, t2, t), blend(q, after, t2, t3, t)
			next = blend(blend(first, second, 0, t2, t), blend(second, third, t1, t3, t), t1, t2, t)
		}
		last := len(a.at) - 1
		a.along = append(a.along, a.along[last]+apart(a.at[last], next))
		a.at = append(a.at, next)
	}
}

// blend is p at knot low and q at knot high, and straight between and beyond.
func blend(p, q Point, low, high, t float64) Point {
	share := (t - low) / (high - low)
	return Point{p.X + float64(share*(q.X-p.X)), p.Y + float64(share*(q.Y-p.Y))}
}

// Length of the axis in pixels.
func (a Axis) Length() float64 {
	if len(a.along) == 0 {
		return 0
	}
	return a.along[len(a.along)-1]
}

// At is the place so many pixels from the core, and the direction of one pixel
// towards the edge there. Distances beyond an end run straight on. Panics on the
// zero Axis.
func (a Axis) At(distance float64) (place, ahead Point) {
	if len(a.at) < 2 {
		panic("transect: a place on an axis of no length")
	}
	i := sort.SearchFloat64s(a.along, distance)
	i = min(max(i, 1), len(a.at)-1)
	p, q := a.at[i-1], a.at[i]
	span := a.along[i] - a.along[i-1]
	ahead = Point{(q.X - p.X) / span, (q.Y - p.Y) / span}
	step := distance - a.along[i-1]
	return Point{p.X + float64(step*ahead.X), p.Y + float64(step*ahead.Y)}, ahead
}

// Nearest is where on the axis a place of the picture belongs: the distance from the
// core, between 0 and the length, and how far aside it lies, in pixels, to the right
// of one who looks from core to edge above 0. A mark set by hand is laid onto the
// axis by it. Panics on the zero Axis.
func (a Axis) Nearest(p Point) (distance, aside float64) {
	if len(a.at) < 2 {
		panic("transect: the nearest place on an axis of no length")
	}
	best := math.Inf(1)
	for i := 1; i < len(a.at); i++ {
		from, span := a.at[i-1], a.along[i]-a.along[i-1]
		dx, dy := (a.at[i].X-from.X)/span, (a.at[i].Y-from.Y)/span
		step := min(max(float64((p.X-from.X)*dx)+float64((p.Y-from.Y)*dy), 0), span)
		off := apart(p, Point{from.X + float64(step*dx), from.Y + float64(step*dy)})
		if off < best {
			best, distance = off, a.along[i-1]+step
			aside = math.Copysign(off, float64(dx*(p.Y-from.Y))-float64(dy*(p.X-from.X)))
		}
	}
	return distance, aside
}

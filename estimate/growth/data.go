package growth

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Data are aged fish, a row a fish or a row a cell of fish alike in everything.
// Slices have one entry a row; all but Age and Length may be nil.
type Data struct {
	Age    []float64 // decimal age in years
	Length []float64 // above 0, in any one unit
	Count  []float64 // fish of the row; nil: 1 each
	// Weight is the design weight of each fish of the row, 1/(inclusion
	// probability), in any one scale; nil, or all alike: every fish speaks for as
	// many.
	Weight []float64
	Group  []int // from 0; nil: all of one group
	// Cluster is what the fish of the row were drawn with, a trip say, from 0: fish of
	// one cluster are alike, and standard errors let them be. nil: each for itself.
	Cluster []int
}

// check panics on data that no reader of records can have let through.
func (d Data) check() {
	n := len(d.Age)
	if len(d.Length) != n || d.Count != nil && len(d.Count) != n || d.Weight != nil && len(d.Weight) != n || d.Group != nil && len(d.Group) != n || d.Cluster != nil && len(d.Cluster) != n {
		panic(fmt.Sprintf("growth: columns of %d, %d, %d, %d, %d and %d rows", n, len(d.Length), len(d.Count), len(d.Weight), len(d.Group), len(d.Cluster)))
	}
	for i := range n {
		if !(d.Length[i] > 0) || math.IsInf(d.Length[i], 0) || math.IsNaN(d.Age[i]) || math.IsInf(d.Age[i], 0) || !(d.count(i) >= 0) || !(d.weight(i) >= 0) || d.group(i) < 0 || d.cluster(i) < 0 {
			panic(fmt.Sprintf("growth: row %d has age %v, length %v, count %v, weight %v, group %d", i, d.Age[i], d.Length[i], d.count(i), d.weight(i), d.group(i)))
		}
	}
}

func (d Data) count(i int) float64  { return entry(d.Count, i) }
func (d Data) weight(i int) float64 { return entry(d.Weight, i) }

func entry(column []float64, i int) float64 {
	if column == nil {
		return 1
	}
	return column[i]
}

func (d Data) group(i int) int {
	if d.Group == nil {
		return 0
	}
	return d.Group[i]
}

func (d Data) cluster(i int) int {
	if d.Cluster == nil {
		return 0
	}
	return d.Cluster[i]
}

// groups is one more than the largest group.
func (d Data) groups() int {
	most := 1
	for _, g := range d.Group {
		most = max(most, g+1)
	}
	return most
}

// clusters is how many clusters have fish; 0 for one, or where none are told.
func (d Data) clusters() int {
	var seen []bool
	n := 0
	for i, c := range d.Cluster {
		for len(seen) <= c {
			seen = append(seen, false)
		}
		if !seen[c] && d.count(i) > 0 && d.weight(i) > 0 {
			seen[c] = true
			n++
		}
	}
	if n < 2 {
		return 0
	}
	return n
}

// designed says whether fish differ in design weight.
func (d Data) designed() bool {
	for _, w := range d.Weight {
		if w != d.Weight[0] {
			return true
		}
	}
	return false
}

// Cells are data drawn together: one row for all fish of one group, age, length,
// design weight and cluster.
type Cells struct {
	Data
	Of    []int32   // the cell of each row that went in
	count []float64 // fish of each row that went in
}

// Aggregate draws rows together whose ages and lengths agree after rounding to
// whole steps; a step of 0 asks for equal values. The rounded value stands for
// the cell: rounding to 0.01 year and 1 cm adds a variance of step²/12, nothing
// beside the scatter of lengths. Cells are in order of group, age, length,
// weight, cluster, so that the order of rows does not matter. Panics on a negative step
// and as Fit does.
func Aggregate(d Data, ageStep, lengthStep float64) Cells {
	d.check()
	if !(ageStep >= 0) || !(lengthStep >= 0) {
		panic(fmt.Sprintf("growth: cells of %v years by %v", ageStep, lengthStep))
	}
	n := len(d.Age)
	age, length, order := make([]float64, n), make([]float64, n), make([]int, n)
	c := Cells{Of: make([]int32, n), count: make([]float64, n)}
	for i := range n {
		age[i], length[i], order[i] = step(d.Age[i], ageStep), step(d.Length[i], lengthStep), i
		if length[i] == 0 { // shorter than half a step
			length[i] = d.Length[i]
		}
		c.count[i] = d.count(i)
	}
	compare := func(i, j int) int {
		return cmp.Or(cmp.Compare(d.group(i), d.group(j)), cmp.Compare(age[i], age[j]), cmp.Compare(length[i], length[j]), cmp.Compare(d.weight(i), d.weight(j)), cmp.Compare(d.cluster(i), d.cluster(j)))
	}
	slices.SortStableFunc(order, compare)
	for k, i := range order {
		if k == 0 || compare(order[k-1], i) != 0 {
			c.Age, c.Length, c.Count = append(c.Age, age[i]), append(c.Length, length[i]), append(c.Count, 0)
			c.Weight, c.Group = append(c.Weight, d.weight(i)), append(c.Group, d.group(i))
			if d.Cluster != nil {
				c.Cluster = append(c.Cluster, d.Cluster[i])
			}
		}
		last := len(c.Age) - 1
		c.Count[last] += c.count[i]
		c.Of[i] = int32(last)
	}
	return c
}

func step(x, size float64) float64 {
	if size == 0 {
		return x
	}
	return math.Round(x/size) * size
}

// Counts fills dst, one number a cell, with the fish of each cell when every row
// that went in is taken times[unit[row]] times: a replicate in which a trip, the
// unit of its rows, was drawn so many times. Give dst to Work.Refit. Allocates
// nothing. Panics on wrong shapes.
func (c Cells) Counts(dst, times []float64, unit []int32) {
	if len(dst) != len(c.Age) || len(unit) != len(c.Of) {
		panic(fmt.Sprintf("growth: %d numbers for %d cells, %d units for %d rows", len(dst), len(c.Age), len(unit), len(c.Of)))
	}
	clear(dst)
	for row, cell := range c.Of {
		dst[cell] += float64(times[unit[row]] * c.count[row])
	}
}

package key

// likely holds how likely each pattern of readings is at each true age,
// T_pa = Π_r P_r(c_pr | a), banded to the ages within reach.
//
// A reading that was not made, and a reader without a matrix, are left out of the
// product; a pattern without any reading that counts has no reach.
type likely struct {
	ages     int
	patterns [][]int16
	t        []float64 // patterns × ages
	lo, hi   []int32   // ages within reach by pattern; hi < lo none
	column   [][]float64
}

// within is how small T may be beside its largest at the ages kept.
const within = 1e-9

func newLikely(s Sample) *likely {
	y := &likely{ages: s.Grid.Ages, patterns: s.Patterns, t: make([]float64, len(s.Patterns)*s.Grid.Ages)}
	y.lo, y.hi = make([]int32, len(s.Patterns)), make([]int32, len(s.Patterns))
	for range s.Readers {
		y.column = append(y.column, nil)
	}
	return y
}

// room makes space to turn the readers' matrices over, which have as many counts as
// these; Fit then allocates nothing.
func (y *likely) room(readers [][]float64) {
	for r, matrix := range readers {
		if len(matrix) > len(y.column[r]) {
			y.column[r] = make([]float64, len(matrix))
		}
	}
}

// fill computes T from the readers' matrices, true ages × counts row by row. A count
// beyond the last is the last.
func (y *likely) fill(readers [][]float64) {
	if len(readers) != len(y.column) {
		panic("key: a key of true ages wants one error matrix a reader")
	}
	y.room(readers)
	for r, matrix := range readers {
		if len(matrix)%y.ages != 0 {
			panic("key: an error matrix wants a row for each true age")
		}
		counts := len(matrix) / y.ages
		for a := range y.ages {
			for c := range counts {
				y.column[r][c*y.ages+a] = matrix[a*counts+c]
			}
		}
	}
	for p, pattern := range y.patterns {
		y.product(p, pattern, readers)
	}
}

// product fills T of one pattern and its reach.
func (y *likely) product(p int, pattern []int16, readers [][]float64) {
	t, read := y.t[p*y.ages:(p+1)*y.ages], 0
	for r, reading := range pattern {
		counts := len(readers[r]) / y.ages
		if reading < 0 || counts == 0 {
			continue
		}
		at := min(int(reading), counts-1) * y.ages
		column := y.column[r][at : at+y.ages]
		if read++; read == 1 {
			copy(t, column)
			continue
		}
		for a, share := range column {
			t[a] *= share
		}
	}
	y.lo[p], y.hi[p] = 0, -1
	if read == 0 {
		return
	}
	most := 0.0
	for _, v := range t {
		most = max(most, v)
	}
	for a, v := range t {
		if v > 0 && v >= within*most {
			if y.hi[p] < 0 {
				y.lo[p] = int32(a)
			}
			y.hi[p] = int32(a)
		}
	}
}

// possible tells that some true age can give the pattern.
func (y *likely) possible(p int32) bool { return y.hi[p] >= y.lo[p] }

// best is the true age that makes the pattern likeliest.
func (y *likely) best(p int32) int {
	best := int(y.lo[p])
	for a := best; a <= int(y.hi[p]); a++ {
		if y.t[int(p)*y.ages+a] > y.t[int(p)*y.ages+best] {
			best = a
		}
	}
	return best
}

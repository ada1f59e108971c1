package agreement

import (
	"math"

	"earstone/programme/record"
	"earstone/statistics/dist"
)

// Test is a test of chi-square. With no degree of freedom nothing is tested and both
// numbers are unknown.
type Test struct {
	X2 record.Number
	DF int
	P  record.Number // upper tail
}

// Symmetry asks of a square table whether readings above the diagonal are as many as
// those below it.
type Symmetry struct {
	Bowker       Test
	EvansHoenig  Test
	Above, Below int // pairs in which b is the larger, the smaller
	McNemar      Test
	// Asymptotic is the p of McNemar's statistic by chi-square. McNemar.P is the same
	// from exactly 25 differing pairs up; below, it is the exact binomial p.
	Asymptotic record.Number
}

// exactBelow is the number of differing pairs below which McNemar's p is exact.
const exactBelow = 25

// SymmetryOf tests a square table of counts n, row by row: n[i*ages+j] fish had count
// i by reader a and j by reader b.
//
//	Bowker:       Σ_{i<j} (n_ij − n_ji)² / (n_ij + n_ji), one df for each pair of cells
//	Evans–Hoenig: Σ_d (p_d − q_d)² / (p_d + q_d), p_d and q_d the fish d above and d
//	              below the diagonal, one df for each d
//	McNemar:      (p − q)² / (p + q), p and q all above and all below; 1 df
//
// Pairs with no fish in either cell add no degree of freedom. No continuity correction.
// With fewer than 25 differing pairs McNemar's p is exact: twice the smaller tail of a
// binomial with p = ½, at most 1. Panics unless n is ages × ages.
//
// Bowker (1948); Evans & Hoenig (1998); McNemar (1947) (all from memory); methods,
// section 3.
func SymmetryOf(n []int, ages int) Symmetry {
	if ages < 0 || len(n) != ages*ages {
		panic("agreement: the table is not square")
	}
	var s Symmetry
	var bowker, byDistance sum
	for d := 1; d < ages; d++ {
		above, below := 0, 0
		for i := range ages - d {
			p, q := n[i*ages+i+d], n[(i+d)*ages+i]
			bowker.add(p, q)
			above += p
			below += q
		}
		byDistance.add(above, below)
		s.Above += above
		s.Below += below
	}
	var all sum
	all.add(s.Above, s.Below)
	s.Bowker, s.EvansHoenig, s.McNemar = bowker.test(), byDistance.test(), all.test()
	s.Asymptotic = s.McNemar.P
	if differ := s.Above + s.Below; differ > 0 && differ < exactBelow {
		s.McNemar.P = record.Some(exactP(min(s.Above, s.Below), differ))
	}
	return s
}

// sum gathers (p − q)²/(p + q) over pairs of cells.
type sum struct {
	x2 float64
	df int
}

func (s *sum) add(p, q int) {
	if p+q > 0 {
		s.x2 += float64((p-q)*(p-q)) / float64(p+q)
		s.df++
	}
}

func (s sum) test() Test {
	if s.df == 0 {
		return Test{}
	}
	return Test{record.Some(s.x2), s.df, record.Some(dist.ChiSquareUpper(s.x2, float64(s.df)))}
}

// exactP is min(1, 2 P(X ≤ least)) for X binomial (n, ½), n below 25: every term is a
// whole number over 2ⁿ and so exact.
func exactP(least, n int) float64 {
	term, tail := 1.0, 1.0
	for k := 1; k <= least; k++ {
		term = term * float64(n-k+1) / float64(k)
		tail += term
	}
	return min(1, 2*tail/math.Exp2(float64(n)))
}

// Package advice shows what a catch at age leads to: fish in the sea, yield a recruit, the next years.
//
// Nothing here is an assessment: no survey, no catch rate, no fit. Terminal mortality,
// natural mortality and maturity are given, not estimated, and the figures are the
// consequences of those and of the catch at age. They are there so that whoever samples
// sees what the sampling is for: run over the replicates of a catch at age they carry its
// spread. Everything is a kernel over slices and allocates nothing.
//
// Methods, section 9.
package advice

import (
	"fmt"
	"math"
)

// Equation ties a cohort's catch to its numbers.
type Equation int

// The equations. With F fishing and M natural mortality in a year, Z = F + M, N fish at
// its start and N' one year later:
//
//	Baranov  C = N F/Z (1 − e^−Z),  N = N' e^Z
//	Pope     N = N' e^M + C e^(M/2),  F = log(N/N') − M: the catch is taken at mid-year
//
// Baranov (1918); Pope (1972), ICNAF Research Bulletin 9:65-74 (citations from memory).
const (
	Baranov Equation = iota
	Pope
)

// String is the name that stands in tables.
func (e Equation) String() string {
	if e == Pope {
		return "pope"
	}
	return "exact"
}

// last is the number at the start of a year in which F is given. Pope's own form is
// N = C e^(M/2)/(1 − e^−F).
func (e Equation) last(c, m, f float64) float64 {
	if e == Pope {
		return c * math.Exp(m/2) / -math.Expm1(-f)
	}
	z := f + m
	return c * z / (f * -math.Expm1(-z))
}

// before is number and mortality of a year of which catch and survivors are known. With
// no survivors every fish was caught and F is infinite; with no catch F is 0.
func (e Equation) before(c, m, survivors float64) (n, f float64) {
	switch {
	case c == 0:
		return survivors * math.Exp(m), 0
	case survivors == 0 && e == Pope:
		return c * math.Exp(m/2), math.Inf(1)
	case survivors == 0:
		return c, math.Inf(1)
	}
	n = survivors*math.Exp(m) + c*math.Exp(m/2)
	f = math.Log(n/survivors) - m
	if e == Pope {
		return n, f
	}
	f = baranov(c/survivors, m, f)
	return survivors * math.Exp(f+m), f
}

// baranov solves F/(F+M)·(e^(F+M) − 1) = r for F, r the catch a survivor. The left side
// rises and is convex, so that Newton's steps come from above after the first.
func baranov(r, m, f float64) float64 {
	for range 100 {
		z := f + m
		grown := math.Expm1(z)
		left := f / z * grown
		slope := m/(z*z)*grown + f/z*(grown+1)
		step := (left - r) / slope
		f = math.Max(f-step, f/8)
		if math.Abs(step) <= 1e-15*f {
			break
		}
	}
	return f
}

// Cohort fills n and f, numbers at the start of each year and fishing mortality, of one
// cohort from its catch c at successive ages, natural mortality m at each, and the fishing
// mortality last of the oldest one. All have one entry an age, oldest at the end; numbers
// are in the unit of the catch, rates per year.
//
// An age with no catch has F = 0; where nobody is left after an age its F is infinite.
// Panics when shapes differ or last is not above 0.
//
// Methods, section 9.
func Cohort(e Equation, n, f, c, m []float64, last float64) {
	if len(n) != len(c) || len(f) != len(c) || len(m) != len(c) || len(c) == 0 {
		panic(fmt.Sprintf("advice: a cohort of %d catches, %d numbers, %d rates and %d natural mortalities", len(c), len(n), len(f), len(m)))
	}
	checkRate(last)
	a := len(c) - 1
	n[a], f[a] = e.last(c[a], m[a], last), last
	for a--; a >= 0; a-- {
		n[a], f[a] = e.before(c[a], m[a], n[a+1])
	}
}

// Terminal is what a table of catches cannot know: natural mortality at each age, fishing
// mortality at each age in the last year, and that of the oldest age in the years before.
type Terminal struct {
	Natural  []float64 // by age
	LastYear []float64 // by age
	Oldest   []float64 // by year but the last
}

// Cohorts fills n and f from the catch c, all ages × years row by row: each cohort runs
// down a diagonal from the last year or the oldest age, where F is given. The oldest age
// is a true age and no plus group. Panics when shapes differ or a given F is not above 0.
//
// Methods, section 9.
func Cohorts(e Equation, n, f, c []float64, t Terminal) {
	ages, years := len(t.Natural), len(t.Oldest)+1
	if len(t.LastYear) != ages || len(c) != ages*years || len(n) != len(c) || len(f) != len(c) || ages == 0 {
		panic(fmt.Sprintf("advice: %d catches for %d ages in %d years", len(c), ages, years))
	}
	for a := ages - 1; a >= 0; a-- {
		for y := years - 1; y >= 0; y-- {
			at := a*years + y
			switch {
			case y == years-1:
				f[at] = t.LastYear[a]
			case a == ages-1:
				f[at] = t.Oldest[y]
			default:
				n[at], f[at] = e.before(c[at], t.Natural[a], n[at+years+1])
				continue
			}
			checkRate(f[at])
			n[at] = e.last(c[at], t.Natural[a], f[at])
		}
	}
}

func checkRate(f float64) {
	if !(f > 0) || math.IsInf(f, 1) {
		panic(fmt.Sprintf("advice: a terminal fishing mortality of %v is not above 0", f))
	}
}

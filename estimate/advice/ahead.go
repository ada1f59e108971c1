package advice

import (
	"fmt"
	"math"
)

// Ahead are the rates of a short projection, one entry an age; the last age is a plus
// group.
type Ahead struct {
	Natural  []float64 // M, per year
	Fishing  []float64 // F at a multiplier of 1
	Caught   []float64 // weight in the catch, kg
	Spawning []float64 // weight at spawning, kg
	Mature   []float64
	When     float64 // of the year's mortality that comes before spawning
	Recruits float64 // fish of the first age each year
}

// Year fills catch with the fish of each age that are caught in a year that begins with n,
// and next with those that begin the one after it, under multiplier times the fishing
// mortality:
//
//	catch_a = F_a/Z_a (1 − e^−Z_a) N_a,  next_{a+1} = N_a e^−Z_a,
//
// the plus group keeping its own survivors, and Recruits at the first age. yield and
// spawning are in kg. next may be n. Allocates nothing; panics when shapes differ.
//
// Methods, section 9.
func (p *Ahead) Year(next, catch, n []float64, multiplier float64) (yield, spawning float64) {
	ages := len(p.Natural)
	if len(p.Fishing) != ages || len(p.Caught) != ages || len(p.Spawning) != ages || len(p.Mature) != ages {
		panic(fmt.Sprintf("advice: a projection of %d, %d, %d, %d and %d ages", ages, len(p.Fishing), len(p.Caught), len(p.Spawning), len(p.Mature)))
	}
	if ages == 0 || len(next) != ages || len(catch) != ages || len(n) != ages {
		panic(fmt.Sprintf("advice: %d ages meet %d numbers, %d catches and %d survivors", ages, len(n), len(catch), len(next)))
	}
	left := p.Recruits
	for a := range ages {
		f := multiplier * p.Fishing[a]
		z := p.Natural[a] + f
		share, _ := taken(f, 1, z)
		here := n[a]
		catch[a] = here * share
		yield += float64(p.Caught[a] * catch[a])
		spawning += p.Spawning[a] * p.Mature[a] * here * math.Exp(-p.When*z)
		next[a], left = left, here*math.Exp(-z)
	}
	next[ages-1] += left
	return yield, spawning
}

package advice

import (
	"fmt"
	"math"

	"earstone/programme/record"
)

// Schedule is the life of a recruit, one entry an age from that of recruitment on.
type Schedule struct {
	Natural     []float64 // M, per year
	Selectivity []float64 // of fishing mortality; F is that where it is 1
	Caught      []float64 // weight in the catch, kg
	Spawning    []float64 // weight at spawning, kg
	Mature      []float64 // share that spawns
	When        float64   // of the year's mortality that comes before spawning, 0 to 1
	Plus        bool      // the last age stands for all older ones too
}

// check panics on lengths that differ.
func (s *Schedule) check() {
	n := len(s.Natural)
	if n == 0 || len(s.Selectivity) != n || len(s.Caught) != n || len(s.Spawning) != n || len(s.Mature) != n {
		panic(fmt.Sprintf("advice: a schedule of %d, %d, %d, %d and %d ages", n, len(s.Selectivity), len(s.Caught), len(s.Spawning), len(s.Mature)))
	}
}

// At is what a recruit yields, how fast that rises with F, and what it leaves to spawn:
//
//	N_1 = 1, Z_a = M_a + F s_a, N_{a+1} = N_a e^−Z_a, in a plus group N/(1 − e^−Z)
//	yield    = Σ w_a F s_a/Z_a (1 − e^−Z_a) N_a
//	spawning = Σ v_a g_a N_a e^(−τ Z_a), w and v the weights, g the share mature
//
// in kg a recruit; slope is the analytic derivative of yield. Allocates nothing; panics
// when shapes differ. A plus group without any mortality has no end: Z must be above 0.
//
// Thompson & Bell (1934); Beverton & Holt (1957) (citations from memory). Methods,
// section 9.
func (s *Schedule) At(f float64) (yield, slope, spawning float64) {
	s.check()
	n, fell := 1.0, 0.0 // fell: −d log N/dF
	for a, m := range s.Natural {
		sel := s.Selectivity[a]
		z := m + f*sel
		here, drop := n, fell
		if s.Plus && a == len(s.Natural)-1 {
			dead := -math.Expm1(-z)
			here /= dead
			drop += sel * math.Exp(-z) / dead
		}
		taken, rising := taken(f, sel, z)
		yield += float64(s.Caught[a] * taken * here)
		slope += float64(s.Caught[a] * here * (rising - taken*drop))
		spawning += s.Spawning[a] * s.Mature[a] * here * math.Exp(-s.When*z)
		n *= math.Exp(-z)
		fell += sel
	}
	return yield, slope, spawning
}

// taken is the share F s/Z (1 − e^−Z) that is caught, and its derivative by F.
func taken(f, sel, z float64) (share, rising float64) {
	if z == 0 {
		return 0, sel
	}
	dead := -math.Expm1(-z)
	m := z - f*sel
	return f * sel / z * dead, sel*m/(z*z)*dead + f*sel/z*sel*math.Exp(-z)
}

// Points are the fishing mortalities at which people look. One that does not exist below
// Most is unknown.
type Points struct {
	F01, Max, F40                 record.Number // slope a tenth of that at 0; slope 0; spawning 40 % of that at 0
	YieldAt01, YieldAtMax         record.Number // kg a recruit
	SpawningAt01, SpawningAtMax   record.Number // share of that at F = 0
	Yield0Slope, SpawningUnfished float64
}

// Most is the fishing mortality beyond which nothing is looked for.
const Most = 10.0

// Points finds F0.1, Fmax and F at 40 % of the spawning of an unfished recruit. Where the
// yield rises all the way to Most there is no Fmax. Allocates nothing.
//
// Gulland & Boerema (1973) for F0.1; Clark (1991) for 40 % (citations from memory).
// Methods, section 9.
func (s *Schedule) Points() Points {
	_, steep, unfished := s.At(0)
	p := Points{Yield0Slope: steep, SpawningUnfished: unfished}
	slopeAbove := func(share float64) func(float64) float64 {
		return func(f float64) float64 { _, slope, _ := s.At(f); return slope - share*steep }
	}
	at := func(f record.Number) (yield, spawning record.Number) {
		if !f.Known || unfished <= 0 {
			return record.Number{}, record.Number{}
		}
		y, _, left := s.At(f.X)
		return record.Some(y), record.Some(left / unfished)
	}
	if steep > 0 {
		p.F01, p.Max = falls(slopeAbove(0.1)), falls(slopeAbove(0))
	}
	if unfished > 0 {
		p.F40 = falls(func(f float64) float64 { _, _, left := s.At(f); return left - 0.4*unfished })
	}
	p.YieldAt01, p.SpawningAt01 = at(p.F01)
	p.YieldAtMax, p.SpawningAtMax = at(p.Max)
	return p
}

// falls is where a function that is above 0 at 0 first falls to 0, to the last bits.
func falls(of func(float64) float64) record.Number {
	low, high := 0.0, 0.01
	for of(high) > 0 {
		if low, high = high, high*1.2; low > Most {
			return record.Number{}
		}
	}
	for range 80 {
		middle := low + (high-low)/2
		if middle <= low || middle >= high {
			break
		}
		if of(middle) > 0 {
			low = middle
		} else {
			high = middle
		}
	}
	return record.Some(low + (high-low)/2)
}

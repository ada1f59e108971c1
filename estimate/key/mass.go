package key

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Mass is the line of stone mass on length and age,
//
//	ln m = Intercept + ByLength ln l + ByAge ln(a + ½) + e,  e ~ N(0, SD²),
//
// m in mg, l in the unit of the lengths it was fitted to, a the age class.
type Mass struct {
	Intercept, ByLength, ByAge, SD float64
	Fish                           float64
}

// MassFish is a fish of known age class and stone mass; one whose age is shared out is
// several, each with its share.
type MassFish struct {
	Trip    int32 // −1: of no sampled trip
	Row     int32 // key stratum × bins + bin; −1: none
	Age     int32
	Length  float64 // above 0
	MassMg  float64 // above 0
	Portion float64 // of the fish
}

// Why stone mass can't be held against length.
var (
	ErrFewWeighed = errors.New("fewer than 30 aged fish have a weighed stone, or they do not differ in length and age")
	ErrOneTrip    = errors.New("aged fish with a weighed stone came off fewer than two trips")
)

// leastMassed is how many weighed and aged fish a line of mass needs.
const leastMassed = 30

// FitMass is the least-squares line of log mass, fish weighted by their portion. The
// error is ErrFewWeighed.
//
// Methods, section 5, "With stone mass". Source: the definition of least squares.
func FitMass(fish []MassFish) (Mass, error) {
	var m Mass
	var a [9]float64 // normal equations, 3 × 3
	var b [3]float64
	for _, f := range fish {
		x := f.regressors()
		y := math.Log(f.MassMg)
		m.Fish += f.Portion
		for i := range x {
			for j := range x {
				a[3*i+j] += float64(f.Portion * x[i] * x[j])
			}
			b[i] += float64(f.Portion * x[i] * y)
		}
	}
	if m.Fish < leastMassed || !solveThree(&a, &b) {
		return Mass{}, ErrFewWeighed
	}
	m.Intercept, m.ByLength, m.ByAge = b[0], b[1], b[2]
	squares := 0.0
	for _, f := range fish {
		e := math.Log(f.MassMg) - m.expected(math.Log(f.Length), float64(f.Age))
		squares += float64(f.Portion * e * e)
	}
	m.SD = math.Sqrt(squares / (m.Fish - 3))
	if !(m.SD > 1e-6) { // masses that lie on the line would settle every age
		return Mass{}, ErrFewWeighed
	}
	return m, nil
}

func (f MassFish) regressors() [3]float64 {
	if !(f.Length > 0) || !(f.MassMg > 0) || f.Age < 0 {
		panic(fmt.Sprintf("key: a stone of %v mg of a fish of %v at age %d", f.MassMg, f.Length, f.Age))
	}
	return [3]float64{1, math.Log(f.Length), math.Log(float64(f.Age) + 0.5)}
}

func (m *Mass) expected(logLength, age float64) float64 {
	return m.Intercept + float64(m.ByLength*logLength) + float64(m.ByAge*math.Log(age+0.5))
}

// Shares fills dst with the share of each age of a fish of a length and a stone mass,
//
//	P(a | l, m) = q(a | l) f(ln m | l, a) / Σ_b q(b | l) f(ln m | l, b),
//
// q its row of the key and f the normal density about the line. False, and dst is q, where
// q is empty or the mass lies beyond all ages. Panics when dst and q differ in length.
// Allocates nothing.
//
// Methods, section 5, "With stone mass". Source: Bayes' rule.
func (m *Mass) Shares(dst, q []float64, length, massMg float64) bool {
	if len(dst) != len(q) {
		panic(fmt.Sprintf("key: %d shares of %d ages", len(dst), len(q)))
	}
	l, y, total := math.Log(length), math.Log(massMg), 0.0
	for a := range q {
		z := (y - m.expected(l, float64(a))) / m.SD
		dst[a] = q[a] * math.Exp(-z*z/2)
		total += dst[a]
	}
	if !(total > 1e-300) {
		copy(dst, q)
		return false
	}
	for a := range dst {
		dst[a] /= total
	}
	return true
}

// MassScored is how well length alone and length with mass foretold the ages of the same
// weighed fish that neither had seen.
type MassScored struct {
	Alone, With float64 // mean over fish of log share, natural logarithm
	BetterSE    float64 // of With − Alone: fish of a trip count together
	Fish        float64
	Trips       int
	AloneFloored,
	WithFloored float64
}

// Wins says whether mass adds to length by more than chance: two standard errors.
func (s MassScored) Wins() bool { return s.With-s.Alone > 2*s.BetterSE }

// MassScores foretells the ages of each fold's weighed fish from the key w and the line of
// mass, both fitted to all other trips. Folds and floor are those of Scores; a fish of no
// sampled trip, or without a row, helps the line and is not scored. The error is
// ErrFewWeighed or ErrOneTrip.
//
// Methods, section 5, "With stone mass". Source: as Scores.
func MassScores(s Sample, w Worker, fish []MassFish, set Scoring) (MassScored, error) {
	set = set.filled()
	c := newContest(s, set)
	foldOf := func(trip int32) int32 {
		if set.Fold != nil {
			return set.Fold[trip]
		}
		return trip % int32(set.Folds)
	}
	var out MassScored
	var alone, with, count []float64 // by trip
	shares := make([]float64, s.Grid.Ages)
	for fold := range int32(set.Folds) {
		others := slices.DeleteFunc(slices.Clone(fish), func(f MassFish) bool { return f.Trip >= 0 && foldOf(f.Trip) == fold })
		line, err := FitMass(others)
		if err != nil {
			return MassScored{}, err
		}
		for i, e := range s.Entries {
			if c.weight[i] = e.Fish; c.fold[i] == fold {
				c.weight[i] = 0
			}
		}
		w.Fit(c.q, c.from, c.weight, nil)
		for _, f := range fish {
			if f.Trip < 0 || f.Row < 0 || foldOf(f.Trip) != fold {
				continue
			}
			for len(count) <= int(f.Trip) {
				alone, with, count = append(alone, 0), append(with, 0), append(count, 0)
			}
			q := c.q[int(f.Row)*s.Grid.Ages:][:s.Grid.Ages]
			line.Shares(shares, q, f.Length, f.MassMg)
			alone[f.Trip] += f.Portion * floored(q[f.Age], set.Floor, f.Portion, &out.AloneFloored)
			with[f.Trip] += f.Portion * floored(shares[f.Age], set.Floor, f.Portion, &out.WithFloored)
			count[f.Trip] += f.Portion
			out.Fish += f.Portion
		}
	}
	return out, out.sum(alone, with, count)
}

// floored is the logarithm of a share, of the floor where it lies below.
func floored(share, floor, fish float64, count *float64) float64 {
	if share < floor {
		*count += fish
		share = floor
	}
	return math.Log(share)
}

// sum takes the scores of trips together.
func (s *MassScored) sum(alone, with, count []float64) error {
	for t, n := range count {
		if n > 0 {
			s.Trips++
			s.Alone, s.With = s.Alone+alone[t], s.With+with[t]
		}
	}
	if s.Trips < 2 {
		return ErrOneTrip
	}
	s.Alone, s.With = s.Alone/s.Fish, s.With/s.Fish
	squares := 0.0
	for t, n := range count {
		rest := with[t] - alone[t] - float64((s.With-s.Alone)*n)
		squares += float64(rest * rest)
	}
	m := float64(s.Trips)
	s.BetterSE = math.Sqrt(m/(m-1)*squares) / s.Fish
	return nil
}

// solveThree solves three equations in place by elimination with pivots; false where they
// can't be told apart.
func solveThree(a *[9]float64, b *[3]float64) bool {
	largest := math.Max(a[0], math.Max(a[4], a[8]))
	for i := range 3 {
		pivot := i
		for r := i + 1; r < 3; r++ {
			if math.Abs(a[3*r+i]) > math.Abs(a[3*pivot+i]) {
				pivot = r
			}
		}
		if !(math.Abs(a[3*pivot+i]) > 1e-10*largest) {
			return false
		}
		for j := range 3 {
			a[3*i+j], a[3*pivot+j] = a[3*pivot+j], a[3*i+j]
		}
		b[i], b[pivot] = b[pivot], b[i]
		for r := range 3 {
			if r == i {
				continue
			}
			by := a[3*r+i] / a[3*i+i]
			for j := range 3 {
				a[3*r+j] -= float64(by * a[3*i+j])
			}
			b[r] -= float64(by * b[i])
		}
	}
	for i := range 3 {
		b[i] /= a[3*i+i]
	}
	return true
}

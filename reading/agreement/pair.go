package agreement

import (
	"math"

	"earstone/programme/record"
	"earstone/statistics/dist"
)

// Mean is a mean with its t interval of 95 %.
type Mean struct {
	N         int
	Mean      record.Number
	SE        record.Number // sd/√n
	Low, High record.Number // mean ± t(0.975; n − 1) · SE
}

// Bias is what reader b counts on the fish to which reader a gives one count.
type Bias struct {
	AgeA       int
	MeanB      float64
	Difference Mean // of b − a; its N is the number of fish
}

// Interval is the 95 % interval of the mean count of b, for the age-bias picture.
// ok is false for a single fish.
func (b Bias) Interval() (low, high float64, ok bool) {
	a := float64(b.AgeA)
	return b.Difference.Low.X + a, b.Difference.High.X + a, b.Difference.Low.Known
}

// Pair is two readers on the fish that both read, or one reader on the same fish
// twice.
type Pair struct {
	ReaderA, ReaderB record.ReaderID
	Summary
	Difference Mean   // b − a
	ByAge      []Bias // in order of AgeA; counts that a never gave have no row
	Ages       int    // the table is Ages × Ages: counts 0 to the largest
	Table      []int  // [i*Ages+j]: fish with count i by a, j by b
	Symmetry
}

// Compare sets two readings of each fish beside each other: a[i] and b[i] are counts
// of fish i. A fish with NotRead on either side is left out.
//
// The mean difference has the t interval with n − 1 degrees of freedom; of one fish it
// has none. Swapping a and b turns the sign of the difference and leaves the tests as
// they are. Panics when a and b differ in length.
//
// Methods, section 3.
func Compare(a, b []int) Pair {
	if len(a) != len(b) {
		panic("agreement: two readings of each fish are wanted")
	}
	both := make([]int, 0, 2*len(a))
	for i := range a {
		if a[i] >= 0 && b[i] >= 0 {
			both = append(both, a[i], b[i])
		}
	}
	p := Pair{Summary: Of(both, 2)}
	for _, count := range both {
		p.Ages = max(p.Ages, count+1)
	}
	p.Table = make([]int, p.Ages*p.Ages)
	for i := 0; i < len(both); i += 2 {
		p.Table[both[i]*p.Ages+both[i+1]]++
	}
	var all moments
	for age := range p.Ages {
		var of moments
		for j, n := range p.Table[age*p.Ages : (age+1)*p.Ages] {
			of.add(j-age, n)
			all.add(j-age, n)
		}
		if of.n > 0 {
			p.ByAge = append(p.ByAge, Bias{age, float64(age) + float64(of.sum)/float64(of.n), of.mean()})
		}
	}
	p.Difference = all.mean()
	p.Symmetry = SymmetryOf(p.Table, p.Ages)
	return p
}

// moments are whole sums, so that no order of the fish can reach the last digit.
type moments struct{ n, sum, squares int }

func (m *moments) add(difference, fish int) {
	m.n += fish
	m.sum += fish * difference
	m.squares += fish * difference * difference
}

func (m moments) mean() Mean {
	if m.n == 0 {
		return Mean{}
	}
	n := float64(m.n)
	mean := float64(m.sum) / n
	out := Mean{N: m.n, Mean: record.Some(mean)}
	if m.n > 1 {
		// n Σx² − (Σx)² is whole and not negative: no difference of near equals.
		sd := math.Sqrt(float64(m.n*m.squares-m.sum*m.sum) / n / (n - 1))
		se := sd / math.Sqrt(n)
		half := dist.TQuantile((1+level)/2, n-1) * se
		out.SE, out.Low, out.High = record.Some(se), record.Some(mean-half), record.Some(mean+half)
	}
	return out
}

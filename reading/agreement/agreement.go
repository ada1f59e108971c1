// Package agreement measures how far readers of the same stones agree: with each
// other, with themselves, and with the calendar.
//
// All of it speaks of counts of annuli as they were read, not of ages made from them.
// What is not defined (a mean of nothing, a test with no degree of freedom) is an
// unknown record.Number and never NaN.
package agreement

import (
	"math"

	"earstone/programme/record"
)

// level is the coverage of every interval of this package.
const level = 0.95

// NotRead stands in a matrix of counts where a reader did not read a fish.
const NotRead = -1

// Summary is the precision of a set of readings.
type Summary struct {
	N         int           // fish in APE and CV: two readings or more, mean above 0
	ZeroMean  int           // fish read twice or more, every reading 0: left out of both
	Single    int           // fish with one reading: left out of all
	APE, CV   record.Number // percent
	ReadTwice int           // fish in the percent agreement: N + ZeroMean
	Exact     record.Number // percent of these whose readings are all equal
	Within1   record.Number // percent whose largest and smallest reading differ by 1 at most
	Within2   record.Number
}

// Of is the precision of counts, fish × readers row by row with NotRead where there is
// no reading. For fish i with R readings x_ij of mean x̄_i, and N fish:
//
//	APE = 100/N Σ_i (1/R Σ_j |x_ij − x̄_i|) / x̄_i
//	CV  = 100/N Σ_i √(Σ_j (x_ij − x̄_i)² / (R − 1)) / x̄_i
//
// For two readings CV = √2 · APE. No fish leaves all of it unknown. Panics unless the
// length of x is a multiple of readers.
//
// Beamish & Fournier (1981) for APE, Chang (1982) for CV (both from memory); methods,
// section 3.
func Of(x []int, readers int) Summary {
	if readers < 1 || len(x)%readers != 0 {
		panic("agreement: counts are fish × readers")
	}
	var s Summary
	var ape, cv float64
	var within [3]int
	for ; len(x) > 0; x = x[readers:] {
		f := spread(x[:readers])
		if f.n < 2 {
			s.Single += f.n
			continue
		}
		s.ReadTwice++
		for d := f.largest - f.smallest; d < len(within); d++ {
			within[d]++
		}
		if f.mean == 0 {
			s.ZeroMean++
			continue
		}
		s.N++
		ape += f.absolute / float64(f.n) / f.mean
		cv += math.Sqrt(f.squared/float64(f.n-1)) / f.mean
	}
	s.APE, s.CV = percent(ape, s.N), percent(cv, s.N)
	s.Exact = percent(float64(within[0]), s.ReadTwice)
	s.Within1 = percent(float64(within[1]), s.ReadTwice)
	s.Within2 = percent(float64(within[2]), s.ReadTwice)
	return s
}

// readings of one fish, with the sums of deviations from their mean.
type readings struct {
	n                 int
	mean              float64
	absolute, squared float64
	smallest, largest int
}

func spread(row []int) (f readings) {
	sum := 0
	f.smallest = math.MaxInt
	for _, count := range row {
		if count >= 0 {
			f.n++
			sum += count
			f.smallest, f.largest = min(f.smallest, count), max(f.largest, count)
		}
	}
	if f.n == 0 {
		return f
	}
	f.mean = float64(sum) / float64(f.n)
	for _, count := range row {
		if count >= 0 {
			d := float64(count) - f.mean
			f.absolute += math.Abs(d)
			f.squared += float64(d * d)
		}
	}
	return f
}

func percent(sum float64, of int) record.Number {
	if of == 0 {
		return record.Number{}
	}
	return record.Some(100 * sum / float64(of))
}

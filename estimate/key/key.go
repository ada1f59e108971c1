// Package key holds age–length keys: the share of each age among the fish of a
// length bin, by key stratum.
//
// A key is q[(k*Bins+l)*Ages+a] = P(age a | length bin l, key stratum k). A row
// (k, l) sums to 1, or is all 0 where there is no key: its fish stay unaged and
// are told as such, they are not dropped.
//
// Every form is a Worker made once from a Sample and fitted again for each vector
// of entry weights: DirectWork, TrueWork, SmoothWork and TrueSmoothWork, and for
// years without ages IteratedWork and CombinedWork, which see the lengths as well.
//
// Methods, section 5; resampling, section 10.
package key

// Grid is where a key lives: the length bins, the ages, and the key strata with the
// ladder along which a cell may borrow.
type Grid struct {
	Bins int
	Mid  []float64 // midpoints of the length bins, in the programme's unit
	Ages int       // age classes 0 .. Ages-1; the plus group is folded later

	Rungs  [][]int32 // Rungs[r][o]: group of origin o on rung r, -1 when a column of that rung is unknown
	Groups []int     // number of groups on each rung
	Path   [][]int32 // Path[k][r]: group of key stratum k on rung r, -1 when it has none
}

// Entry is aged fish that are alike: same trip, origin, bin, agreed class and
// pattern of readings. An unknown (-1) bin keeps the fish out of every key.
type Entry struct {
	Trip    int32 // -1: of no trip
	Origin  int32
	Bin     int32
	Age     int32 // agreed class, -1 unresolved
	Pattern int32 // index into Sample.Patterns, -1 none
	Fish    float64
}

// Sample is everything that a key is made from.
type Sample struct {
	Grid     Grid
	Entries  []Entry
	Readers  int
	Patterns [][]int16 // Patterns[p][r]: age class that reader r gave, -1 not read
}

// Weights are the entries' own numbers of fish: what a point fit is made with.
func (s Sample) Weights() []float64 {
	w := make([]float64, len(s.Entries))
	for i, e := range s.Entries {
		w[i] = e.Fish
	}
	return w
}

// Source says what one row (k, l) of a key rests on: the rung used, whether the last
// rung was short of fish or the row is the edge bin's, and whether it comes from other
// years. -1 is no key; the zero value is the stratum's own cell.
type Source int16

// NoKey marks a row without a key.
const NoKey Source = -1

const (
	shortBit Source = 1 << (5 + iota)
	edgeBit
	iteratedBit
	combinedBit
	rungMask = shortBit - 1
)

// mostRungs is how many rungs a Source can tell apart.
const mostRungs = int(rungMask) + 1

// Rung is the rung of the ladder that served, 0 the stratum itself; -1 no key. Of an
// iterated row it is the rung that served its donor.
func (s Source) Rung() int {
	if s == NoKey {
		return -1
	}
	return int(s & rungMask)
}

// Short tells that no rung held enough fish and the last one served all the same.
func (s Source) Short() bool { return s.is(shortBit) }

// Edge tells that the bin lies beyond every aged length and took the edge bin's key.
func (s Source) Edge() bool { return s.is(edgeBit) }

// Iterated tells that the year has no aged fish, and the row comes from another year's
// lengths at age and the year's own lengths.
func (s Source) Iterated() bool { return s.is(iteratedBit) }

// Combined tells that the row comes from all years together.
func (s Source) Combined() bool { return s.is(combinedBit) }

// Own tells that the row rests on the stratum's own cell.
func (s Source) Own() bool { return s.Rung() == 0 && !s.Iterated() && !s.Combined() }

func (s Source) is(bit Source) bool { return s != NoKey && s&bit != 0 }

// Told is what a fit says of itself.
type Told struct {
	Iterations int     // sum over cells or stages; 0 where there is nothing to iterate
	Converged  bool    // every iteration came to its end
	Ages       int     // age classes that the fish in the fit have
	Fish       float64 // weight of the fish that entered
	LeftOut    float64 // weight of the fish that could not: no agreed age, no reading or no bin

	Borrowed int // rows (k, l) that came from a rung above the first, or from other years
	Short    int // rows that rest on fewer fish than the least
	Edge     int // rows that took the edge bin's key
	Empty    int // rows without a key
}

// Worker fits one form of key again and again, and allocates nothing while it does.
//
// Fit fills q (strata × bins × ages) and from (strata × bins) from one weight per
// entry (≥ 0, in fish). readers holds a row-major error matrix per reader, true ages
// × counts, and is looked at by keys of true ages only. It panics when a shape is
// wrong. A worker belongs to one goroutine.
type Worker interface {
	Fit(q []float64, from []Source, weight []float64, readers [][]float64) Told
	// Used fills n (strata × bins) with the fish that the rows of the last Fit rest on.
	Used(n []float64)
	// Cells fills ids (strata × bins) with the pool of aged fish beneath each row of the
	// last Fit, -1 where there is no key: rows of one pool have their error in common.
	Cells(ids []int32)
}

// Measurer is a Worker that looks at lengths beside ages. Measure takes the fish of the
// catch in each key stratum and bin, strata × bins, for the next Fit; the numbers are
// copied. It panics when the shape is wrong.
type Measurer interface {
	Worker
	Measure(fish []float64)
}

// Package catch turns length distributions and an age-length key into catch at age.
//
// It sees counts only: trips with the share of their fish in each length bin, strata
// with their catch, and a key q(age | bin). One evaluation costs some tens of
// microseconds and allocates nothing, so that resampling can ask for thousands.
package catch

// Design is the catch of one species and the samples that describe it.
//
// Bins run from 0, age classes from 0 to Ages-1 in the key; Out() classes are kept in
// the catch, the last of them the plus group when Plus is set.
type Design struct {
	Bins, Ages int
	Plus       int       // oldest class kept apart, older fish are folded into it; 0: none
	Mid        []float64 // midpoint of each bin, in the unit of the programme's bins
	Weight     []float64 // E[weight in kg | bin], a·l^b·exp(σ²/2) at the midpoint; nil: no equation
	Trips      []Trip
	Lengths    []float64 // trips × bins: p_t(l), the share of a trip's measured fish in each bin
	Strata     []Stratum
	Margins    []Margin
	KeyStrata  int // key strata that Stratum.Key counts
}

// Trip is what weights a trip and which bins it fills.
type Trip struct {
	Landed    float64 // M_t: fish landed; 1 for every trip of a stratum where none is known
	Low, High int     // bins [Low, High) hold its fish; equal when nothing was measured
	Group     int     // trips of one group are drawn again among each other
}

// Stratum is one stratum of the catch.
type Stratum struct {
	Number   float64 // total catch in fish; with ByWeight it follows from WeightKg
	WeightKg float64
	ByWeight bool
	Trips    []int32 // trips that give its lengths: its own, or its donors' when Filled
	Filled   bool    // has no sample of its own; lengths come along the ladder
	Key      int     // key stratum, 0 .. KeyStrata-1
	// Relative is R_a of methods section 6 for a stratum with one sampled trip: the
	// relative between-trip variance of its share at each kept age, pooled over its
	// donors, and RelativeDF the degrees of freedom of that pool. Nil elsewhere, and where
	// no donor has two trips.
	Relative   []float64
	RelativeDF float64
	// RelativeNumber is, where the catch is a weight, the relative variance of the mean
	// weight of a fish between trips, from the same donors; 0 elsewhere.
	RelativeNumber float64
	// Wobble is, where Relative is known, the variance of the factor by which a replicate
	// moves the share p_a of each kept age: R_a/(1 − p_a), at most 2R_a. Bringing the
	// shares back to their sum takes the rest away again: of those of a Dirichlet, whose
	// R_a is (1 − p_a)/(κp_a), just R_a is left.
	Wobble []float64
}

// Groups lists the trips of each group, group by group.
func (d *Design) Groups() [][]int32 {
	var groups [][]int32
	for t, trip := range d.Trips {
		for len(groups) <= trip.Group {
			groups = append(groups, nil)
		}
		groups[trip.Group] = append(groups[trip.Group], int32(t))
	}
	return groups
}

// Margin is a sum over strata, such as all strata of a year.
type Margin struct{ Strata []int32 }

// Out is the number of age classes that are kept.
func (d *Design) Out() int {
	if d.Plus > 0 {
		return min(d.Plus+1, d.Ages)
	}
	return d.Ages
}

// Fold is the kept class of an age class.
func (d *Design) Fold(a int) int { return min(a, d.Out()-1) }

// A Block is the part of an evaluation that belongs to one stratum or margin: numbers
// at age, sums of length at age, sums of weight at age, fish without an age, all fish.
type Block []float64

// BlockSize is the length of a Block.
func (d *Design) BlockSize() int { return 3*d.Out() + 2 }

// Size is the length of a whole evaluation: a Block a stratum, then one a margin.
func (d *Design) Size() int { return (len(d.Strata) + len(d.Margins)) * d.BlockSize() }

// Block cuts the block of stratum or margin i (margins follow the strata) out of an
// evaluation.
func (d *Design) Block(row []float64, i int) Block {
	size := d.BlockSize()
	return Block(row[i*size : (i+1)*size])
}

func (b Block) out() int { return (len(b) - 2) / 3 }

// Numbers is the catch at each age, in fish.
func (b Block) Numbers() []float64 { return b[:b.out()] }

// Lengths is the sum of lengths of the fish of each age.
func (b Block) Lengths() []float64 { return b[b.out() : 2*b.out()] }

// Weights is the sum of weights of the fish of each age, in kg.
func (b Block) Weights() []float64 { return b[2*b.out() : 3*b.out()] }

// Unaged is the number of fish for which there is no key.
func (b Block) Unaged() float64 { return b[len(b)-2] }

// Total is the number of all fish, aged or not.
func (b Block) Total() float64 { return b[len(b)-1] }

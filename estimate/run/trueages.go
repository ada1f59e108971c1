package run

import (
	"earstone/estimate/growth"
	"earstone/estimate/tally"
	"earstone/reading/age"
)

// trueAges shares each fish out over the true ages that it may be of,
//
//	P(a | readings, l, k) = q(a | l, k) Π_r P_r(c_r | a) / Σ_b q(b | l, k) Π_r P_r(c_r | b),
//
// q the key of true ages of the fish's stratum k and length bin l, P_r the error matrix of
// reader r: what stands beside the catch is then of true ages, as the catch is. A fish of
// known age, and every fish under a key of agreed ages, is of its one age.
//
// Methods, section 7. Source: Bayes' rule; the shares are those of the E step of the key.
type trueAges struct {
	ages, counts int       // of q, and columns of a matrix
	patterns     [][]int16 // classes by reader, −1 not read
	cell         []int32   // by fish: key stratum × bins + bin; −1 none
	pattern      []int32   // by fish; −1: the agreed age alone
	rows         []likelyAge
	ends         []int32 // by fish: one past its last row
}

// likelyAge is a fish at one of its ages.
type likelyAge struct{ fish, age int32 }

// leastShare is the share at the season's own fit below which an age is not looked at.
const leastShare = 0.002

// ageSharing holds the buffers of one worker.
type ageSharing struct {
	*trueAges
	chance []float64 // patterns × ages: Π_r P_r(c_r | a)
}

// newTrueAges lays out the rows. q and matrices are those of the season as it is; nil
// matrices take agreed ages. cell is each fish's place in the key.
func newTrueAges(fish []*FishAge, cell []int32, counts *tally.Counts, oldest int, q []float64, matrices [][]float64) *trueAges {
	t := &trueAges{ages: counts.Design.Ages, counts: oldest + 1, cell: cell}
	known := map[string]int32{}
	for _, f := range fish {
		p := int32(-1)
		if classes := classesOf(f); matrices != nil && classes != nil && f.Rule != age.KnownAgeRule {
			name := make([]byte, 0, 2*len(classes))
			for _, class := range classes {
				name = append(name, byte(class), byte(class>>8))
			}
			var seen bool
			if p, seen = known[string(name)]; !seen {
				p = int32(len(t.patterns))
				known[string(name)], t.patterns = p, append(t.patterns, classes)
			}
		}
		t.pattern = append(t.pattern, p)
	}
	sharing, share := t.worker(), make([]float64, t.ages)
	sharing.look(matrices)
	for i, f := range fish {
		if t.pattern[i] < 0 || sharing.of(share, i, q) == 0 {
			t.pattern[i] = -1
			t.rows = append(t.rows, likelyAge{int32(i), int32(f.Class)})
		} else {
			for a, s := range share {
				if s >= leastShare {
					t.rows = append(t.rows, likelyAge{int32(i), int32(a)})
				}
			}
		}
		t.ends = append(t.ends, int32(len(t.rows)))
	}
	return t
}

// classesOf is what each reader made of the fish on the days that its agreed age is of; nil
// where nobody read it.
func classesOf(f *FishAge) []int16 {
	for _, v := range f.Variants {
		if v.Agreed != f.Agreed {
			continue
		}
		read, classes := false, make([]int16, len(v.Classes))
		for r, class := range v.Classes {
			classes[r] = int16(max(class, -1))
			read = read || class >= 0
		}
		if read {
			return classes
		}
	}
	return nil
}

func (t *trueAges) worker() ageSharing {
	return ageSharing{t, make([]float64, len(t.patterns)*t.ages)}
}

// look takes the readers in.
func (t ageSharing) look(matrices [][]float64) {
	for p, classes := range t.patterns {
		chance := t.chance[p*t.ages : (p+1)*t.ages]
		for a := range chance {
			chance[a] = 1
		}
		for r, class := range classes {
			if class < 0 || int(class) >= t.counts {
				continue
			}
			for a := range chance {
				chance[a] *= matrices[r][a*t.counts+int(class)]
			}
		}
	}
}

// of fills share, one an age, with the shares of a fish that has a pattern, and returns
// what they summed to before. Where the key has no row for it its readings speak alone.
func (t ageSharing) of(share []float64, fish int, q []float64) float64 {
	chance := t.chance[int(t.pattern[fish])*t.ages:][:t.ages]
	var row []float64
	if cell := int(t.cell[fish]); cell >= 0 {
		row = q[cell*t.ages : (cell+1)*t.ages]
	}
	total := 0.0
	for a := range share {
		if share[a] = chance[a]; row != nil {
			share[a] *= row[a]
		}
		total += share[a]
	}
	if total == 0 {
		for a, x := range chance {
			share[a] = x
			total += x
		}
	}
	for a := range share {
		share[a] = over(share[a], total)
	}
	return total
}

// shares fills dst, one a row, so that the rows of a fish sum to 1. share is a buffer, one
// place an age. Allocates nothing.
func (t ageSharing) shares(dst, share, q []float64) {
	at := int32(0)
	for i, end := range t.ends {
		rows := t.rows[at:end]
		if len(rows) == 1 {
			dst[at] = 1
		} else {
			t.of(share, i, q)
			total := 0.0
			for _, r := range rows {
				total += share[r.age]
			}
			for j, r := range rows {
				dst[int(at)+j] = over(share[r.age], total)
			}
		}
		at = end
	}
}

// spread writes one row a fish out into one row an age of it: its decimal age moves by the
// whole years between that age and the agreed one.
func (t *trueAges) spread(d growth.Data, fish []*FishAge) growth.Data {
	var out growth.Data
	for _, r := range t.rows {
		out.Age = append(out.Age, d.Age[r.fish]+float64(int(r.age)-int(fish[r.fish].Class)))
		out.Length = append(out.Length, d.Length[r.fish])
	}
	return out
}

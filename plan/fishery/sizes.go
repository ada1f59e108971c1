package fishery

import (
	"math"

	"earstone/statistics/dist"
)

// sizes is the length of the caught fish of one age in one quarter, bank and gear, by
// whole cm: a count of 153 holds the fish from 153 to under 154.
type sizes struct {
	first  int       // cm of share[0]
	share  []float64 // P(cm | age, caught); sums to 1
	score  []float64 // Φ⁻¹ of the cumulated share at the upper edge of each cm; the last is +Inf
	guide  [guides]uint16
	caught float64 // share of the age that bank and gear select
	mean   float64 // cm
	weight float64 // mean round weight, kg
}

// guides cut the normal scores from −4 to 4, so that a search starts where it ends.
const guides = 64

// at is the cm of a normal score z: a fish at rank Φ(z) of its age.
func (d *sizes) at(z float64) int {
	g := min(max(int((z+4)*(guides/8)), 0), guides-1)
	i := int(d.guide[g])
	for d.score[i] <= z {
		i++
	}
	return d.first + i
}

// newSizes selects a normal of the fish in the sea, cut five SD from its mean, by
// length. The selection is read at the middle of a bin of the picking grid: within a
// bin all strata then select alike, and age given bin is one and the same in all of
// them, exactly.
func newSizes(s *Settings, mean float64, b Bank, g Gear) sizes {
	sd := s.LengthCV * mean
	first := max(int(mean-5*sd), 1)
	d := sizes{first: first, share: make([]float64, int(mean+5*sd)+1-first)}
	below := dist.NormalCDF((float64(first) - mean) / sd)
	whole := 0.0
	for i := range d.share {
		upper := dist.NormalCDF((float64(first+i+1) - mean) / sd)
		in := upper - below
		below = upper
		whole += in
		cm := first + i
		bin := float64(cm-cm%s.BinCm) + float64(s.BinCm)/2
		d.share[i] = in * b.availability(bin) * g.selection(bin)
		d.caught += d.share[i]
	}
	for i := range d.share {
		d.share[i] /= d.caught
		middle := float64(first+i) + 0.5
		d.mean += d.share[i] * middle
		d.weight += d.share[i] * s.weight(middle)
	}
	d.caught /= whole
	d.index()
	return d
}

// index fills score and guide.
func (d *sizes) index() {
	d.score = make([]float64, len(d.share))
	lower, upper := 0.0, 1.0
	for i, p := range d.share {
		lower += p
		upper -= p
		switch {
		case i == len(d.share)-1:
			d.score[i] = math.Inf(1)
		case lower < 0.5:
			d.score[i] = dist.NormalQuantile(lower)
		default:
			d.score[i] = -dist.NormalQuantile(max(upper, 0))
		}
	}
	i := 0
	for g := range d.guide {
		for g > 0 && d.score[i] <= float64(g)/(guides/8)-4 {
			i++
		}
		d.guide[g] = uint16(i)
	}
}

func (b Bank) availability(cm float64) float64 { return math.Exp(b.Tilt * (cm - 150) / 100) }

func (g Gear) selection(cm float64) float64 {
	kept := 1.0
	if g.RiseSlopeCm > 0 {
		kept /= 1 + math.Exp((g.RiseCm-cm)/g.RiseSlopeCm)
	}
	if g.FallSlopeCm > 0 {
		kept /= 1 + math.Exp((cm-g.FallCm)/g.FallSlopeCm)
	}
	return kept
}

// weight is the mean round weight in kg at a length: the equation gives the median.
func (s *Settings) weight(cm float64) float64 {
	return s.WeightA * math.Pow(cm, s.WeightB) * math.Exp(s.WeightSpread*s.WeightSpread/2)
}

// LengthAt is the mean straight fork length in cm of fish in the sea at an age in years,
// L∞(1 − e^(−K(age − t0))); AreaEffect comes on top of it.
func (s *Settings) LengthAt(age float64) float64 {
	return s.LargestCm * (1 - math.Exp(-s.GrowthRate*(age-s.AgeAtZeroLength)))
}

// lengthAt is the mean length in the sea of an age class in the middle of a quarter
// (0 to 3) at a bank.
func (s *Settings) lengthAt(age, quarter, bank int) float64 {
	mean := s.LengthAt(s.decimalAge(age, quarter))
	if len(s.Banks) > 1 {
		mean *= 1 + s.AreaEffect*(2*float64(bank)/float64(len(s.Banks)-1)-1)
	}
	return mean
}

// decimalAge is the age in years of an age class (1 January convention) in the middle
// of a quarter.
func (s *Settings) decimalAge(age, quarter int) float64 {
	birth := s.Calendar.BirthDay.In(s.FirstYear)
	start, days := quarterOf(s.FirstYear, quarter)
	return float64(age) + (float64(start)+float64(days)/2-float64(birth.Serial()))/365.25
}

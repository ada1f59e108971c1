package origin

import (
	"fmt"
	"math"
	"slices"
)

// Tracer is one thing measured in a stone.
type Tracer struct {
	Name string
	Log  bool // its natural logarithm is what is normal: ratios of elements, mostly
}

// value is what the densities see of a measured value.
func (t Tracer) value(x float64) float64 {
	if t.Log {
		return math.Log(x)
	}
	return x
}

// ToVPDB turns δ18O in ‰ on the VSMOW scale into ‰ on the VPDB scale,
// 0.97001 δ − 29.99.
//
// Brand, Coplen, Vogl, Rosner & Prohaska (2014), Pure Appl. Chem. 86:425-467 (read as
// cited by the commission on isotopic abundances). δ13C is on VPDB alone.
func ToVPDB(d18OVSMOW float64) float64 { return 0.97001*d18OVSMOW - 29.99 }

// ToVSMOW turns δ18O in ‰ on the VPDB scale into ‰ on the VSMOW scale,
// 1.03092 δ + 30.92. Source as of ToVPDB. The printed coefficients are rounded: there
// and back is within 0.01 ‰ for δ between −60 and 60.
func ToVSMOW(d18OVPDB float64) float64 { return 1.03092*d18OVPDB + 30.92 }

// check panics where the problem is not one.
func (p Problem) check() {
	for i, b := range p.Baseline {
		if len(b.X) != len(p.Tracers) || b.Nursery < 0 || b.Nursery >= len(p.Nurseries) {
			panic(fmt.Sprintf("origin: baseline fish %d has %d tracers of %d, nursery %d of %d", i, len(b.X), len(p.Tracers), b.Nursery, len(p.Nurseries)))
		}
	}
	for i, m := range p.Mixed {
		if len(m.X) != len(p.Tracers) || m.Group < 0 || m.Age < -1 {
			panic(fmt.Sprintf("origin: mixed fish %d has %d tracers of %d, group %d, age %d", i, len(m.X), len(p.Tracers), m.Group, m.Age))
		}
	}
}

// sound refuses numbers that no estimate could bear.
func (p Problem) sound() error {
	if len(p.Tracers) == 0 || len(p.Tracers) > 64 {
		return &Trouble{Reason: NoTracers}
	}
	if len(p.Nurseries) < 2 {
		return &Trouble{Reason: OneNursery}
	}
	for i, b := range p.Baseline {
		if reason, j := p.unsound(b.X, b.Lacks); reason != 0 {
			return &Trouble{Reason: reason, Nursery: p.Nurseries[b.Nursery], Tracer: p.Tracers[j].Name, Fish: []int{i}}
		}
	}
	for _, m := range p.Mixed {
		if reason, j := p.unsound(m.X, m.Lacks); reason != 0 {
			return &Trouble{Reason: reason, Tracer: p.Tracers[j].Name}
		}
		if !(m.Weight >= 0) || math.IsInf(m.Weight, 1) {
			return &Trouble{Reason: NotFinite}
		}
	}
	return p.unitMistake()
}

// unsound names the tracer of a vector that can't be taken.
func (p Problem) unsound(x []float64, lacks Lacking) (Reason, int) {
	for j, v := range x {
		switch {
		case lacks.Has(j):
		case math.IsNaN(v) || math.IsInf(v, 0):
			return NotFinite, j
		case p.Tracers[j].Log && v <= 0:
			return NotPositive, j
		}
	}
	return 0, 0
}

// unitMistake refuses a baseline in which fish lie a thousand times off their nursery:
// one of them is enough to make its covariance useless.
func (p Problem) unitMistake() error {
	for k, name := range p.Nurseries {
		for j, tracer := range p.Tracers {
			var values []float64
			var fish, off []int
			for i, b := range p.Baseline {
				if b.Nursery == k && !b.Lacks.Has(j) {
					values, fish = append(values, b.X[j]), append(fish, i)
				}
			}
			middle, spread := robust(values)
			for n, x := range values {
				if thousandfold(x, middle, spread) {
					off = append(off, fish[n])
				}
			}
			if len(off) > 0 {
				return &Trouble{Reason: UnitMistake, Nursery: name, Tracer: tracer.Name, Fish: off}
			}
		}
	}
	return nil
}

// unitDoubts points at mixed fish that lie a thousand times off the whole baseline.
func (p Problem) unitDoubts() (doubts []Doubt) {
	for j := range p.Tracers {
		var values []float64
		for _, b := range p.Baseline {
			if !b.Lacks.Has(j) {
				values = append(values, b.X[j])
			}
		}
		middle, spread := robust(values)
		d := Doubt{Reason: UnitMistake, Nursery: -1, Tracer: j}
		for i, m := range p.Mixed {
			if !m.Lacks.Has(j) && thousandfold(m.X[j], middle, spread) {
				d.Mixed = append(d.Mixed, i)
			}
		}
		if len(d.Mixed) > 0 {
			doubts = append(doubts, d)
		}
	}
	return doubts
}

// thousandfold says that a value lies over 6 spreads off, is a hundred times as large as
// values of the nursery are, or a hundredth of its middle, and lies within 3 spreads once
// divided or multiplied by a thousand. Where values lie around nothing a thousandth of one
// can't be told from any other, and isn't.
func thousandfold(x, middle, spread float64) bool {
	off := func(x float64) float64 { return math.Abs(x - middle) }
	if spread == 0 || off(x) <= 6*spread {
		return false
	}
	large := math.Abs(x) > 100*(math.Abs(middle)+spread) && off(x/1000) < 3*spread
	small := math.Abs(x) < 0.01*math.Abs(middle) && off(x*1000) < 3*spread
	return large || small
}

// robust is the median, and 1.4826 times the median distance from it, which is the SD
// of a normal. Fewer than five values have no spread: it is 0.
func robust(values []float64) (middle, spread float64) {
	if len(values) < 5 {
		return 0, 0
	}
	sorted := slices.Sorted(slices.Values(values))
	middle = median(sorted)
	for i, x := range sorted {
		sorted[i] = math.Abs(x - middle)
	}
	slices.Sort(sorted)
	return middle, 1.4826 * median(sorted)
}

func median(sorted []float64) float64 {
	n := len(sorted)
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}

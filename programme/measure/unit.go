// Package measure turns lengths and weights into other units, kinds and forms.
//
// Methods, section 1. A converted value is derived and never replaces what was written.
package measure

// size of a unit as a fraction, so that whole factors stay exact: 100 in × 254 / 10. By
// the international agreement of 1959 an inch is 25.4 mm and a pound 0.45359237 kg.
type size struct {
	dimension  byte // L in mm, W in g
	times, per float64
}

var sizes = map[string]size{
	"mm": {'L', 1, 1}, "cm": {'L', 10, 1}, "in": {'L', 254, 10},
	"g": {'W', 1, 1}, "kg": {'W', 1000, 1}, "lb": {'W', 45359237, 100000},
}

// InUnit is a value of one unit in another; ok is false when either is not known, or
// when one is of length and the other of weight.
func InUnit(value float64, from, to string) (converted float64, ok bool) {
	a, okA := sizes[from]
	b, okB := sizes[to]
	if !okA || !okB || a.dimension != b.dimension {
		return 0, false
	}
	if a == b {
		return value, true
	}
	return value * (a.times * b.per) / (a.per * b.times), true
}

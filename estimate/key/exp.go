package key

import "math"

// parts is into how many a doubling is cut.
const parts = 64

// powers are 2^(j/parts).
var powers = func() (p [parts]float64) {
	for j := range p {
		p[j] = math.Exp2(float64(j) / parts)
	}
	return p
}()

// Ln2/parts in two pieces, the first with zeros at its end so that its product with a
// whole number below 2²² is exact.
const (
	lnPart     = math.Ln2 / parts
	lnPartHigh = 0x1.62e42fe8p-7
	lnPartLow  = lnPart - lnPartHigh
)

// exp is e^x for |x| ≤ 700, within an ulp or two of math.Exp at less than half its cost: a
// table to 1/64 of a doubling, and the first terms of the series for what is left. A refit
// of a smoothed key takes some ten thousand of them.
func exp(x float64) float64 {
	n := math.Floor(x*(1/lnPart) + 0.5)
	r := float64(x-float64(n*lnPartHigh)) - float64(n*lnPartLow)
	k := int(n)
	series := r + float64(r*r*(0.5+float64(r*(1.0/6+float64(r*(1.0/24+float64(r*(1.0/120))))))))
	power := powers[k&(parts-1)]
	return (power + float64(power*series)) * math.Float64frombits(uint64(1023+k>>6)<<52)
}

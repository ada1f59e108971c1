package stream

import (
	"fmt"
	"math"
)

// Normal is a standard normal draw by the ziggurat of Marsaglia & Tsang (2000)
// with 256 layers and separate bits for layer, sign and place.
func (s *Stream) Normal() float64 {
	for {
		word := s.Uint64()
		layer := word & 255
		place := float64(word >> 11)
		x := place * normalStep[layer]
		if word>>11 < normalInside[layer] {
			return signed(x, word)
		}
		if layer == 0 {
			return signed(s.normalTail(), word)
		}
		high, low := normalDensity[layer+1], normalDensity[layer]
		if low+float64(s.Float64()*(high-low)) < exp(-0.5*float64(x*x)) {
			return signed(x, word)
		}
	}
}

// signed takes the sign from bit 8 of the word, which neither layer nor place uses.
func signed(x float64, word uint64) float64 {
	return math.Float64frombits(math.Float64bits(x) | word>>8&1<<63)
}

// normalTail is a normal draw above the last layer: Marsaglia (1964).
func (s *Stream) normalTail() float64 {
	for {
		x := s.Exponential() / normalEnd
		if float64(2*s.Exponential()) > float64(x*x) {
			return normalEnd + x
		}
	}
}

// Exponential is an exponential draw of mean 1, by a ziggurat of 256 layers.
func (s *Stream) Exponential() float64 {
	start := 0.0
	for {
		word := s.Uint64()
		layer := word & 255
		x := float64(float64(word>>11) * exponentialStep[layer])
		if word>>11 < exponentialInside[layer] {
			return start + x
		}
		if layer == 0 {
			start += exponentialEnd // the tail is the whole again
			continue
		}
		high, low := exponentialDensity[layer+1], exponentialDensity[layer]
		if low+float64(s.Float64()*(high-low)) < exp(-x) {
			return start + x
		}
	}
}

// Gamma is a gamma draw of a shape above 0, scale 1. A shape under about 0.002
// may give 0, where the draw is too small for a number. Panics on another shape.
//
// Marsaglia & Tsang (2000b), with G(α) = G(α + 1) e^{−E/α} below α = 1.
func (s *Stream) Gamma(shape float64) float64 {
	if !(shape > 0) || math.IsInf(shape, 1) {
		panic(fmt.Sprintf("stream: gamma of shape %v", shape))
	}
	if shape < 1 {
		g := s.gamma(shape + 1)
		return g * exp(-s.Exponential()/shape)
	}
	return s.gamma(shape)
}

// gamma is a draw of shape ≥ 1.
func (s *Stream) gamma(shape float64) float64 {
	d := shape - 1.0/3
	c := 1 / math.Sqrt(9*d)
	for {
		x := s.Normal()
		v := 1 + float64(c*x)
		if v <= 0 {
			continue
		}
		v = float64(v * v * v)
		u := s.Float64()
		x2 := x * x
		if u < 1-float64(0.0331*float64(x2*x2)) || log(u) < 0.5*x2+float64(d*(1-v+log(v))) {
			return d * v
		}
	}
}

// logGamma is the logarithm of a gamma draw, which stays a number where the draw
// itself would run under.
func (s *Stream) logGamma(shape float64) float64 {
	if !(shape > 0) || math.IsInf(shape, 1) {
		panic(fmt.Sprintf("stream: gamma of shape %v", shape))
	}
	if shape < 1 {
		g := s.gamma(shape + 1)
		return log(g) - s.Exponential()/shape
	}
	return log(s.gamma(shape))
}

// Beta is a beta draw of two shapes above 0, X/(X + Y) of two gammas. Tiny
// shapes give 0 or 1 where the draw is nearer to them than a number can be.
// Panics on other shapes.
func (s *Stream) Beta(a, b float64) float64 {
	if a < 1 || b < 1 {
		x := s.logGamma(a)
		y := s.logGamma(b)
		return 1 / (1 + exp(y-x))
	}
	x := s.Gamma(a)
	y := s.Gamma(b)
	return x / (x + y)
}

// Dirichlet fills dst with shares that sum to 1, drawn with concentration
// alpha: a share of concentration 0 is 0. Panics when the lengths differ, when a
// concentration is negative or not a number, or all are 0.
func (s *Stream) Dirichlet(dst, alpha []float64) {
	if len(dst) != len(alpha) {
		panic(fmt.Sprintf("stream: %d shares of %d concentrations", len(dst), len(alpha)))
	}
	largest := math.Inf(-1)
	for i, a := range alpha {
		dst[i] = math.Inf(-1)
		if a != 0 {
			dst[i] = s.logGamma(a)
		}
		largest = math.Max(largest, dst[i])
	}
	if math.IsInf(largest, -1) {
		panic("stream: every concentration is 0")
	}
	sum := 0.0
	for i, g := range dst {
		dst[i] = exp(g - largest)
		sum += dst[i]
	}
	for i := range dst {
		dst[i] /= sum
	}
}

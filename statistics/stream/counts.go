package stream

import (
	"fmt"
	"math"
)

// Poisson is a Poisson draw of a mean from 0 up, by inversion under 10 and by the
// transformed rejection of Hörmann (1993b) from there. Panics when the mean is
// negative, not a number or over 2⁵².
func (s *Stream) Poisson(mean float64) int {
	if !(mean >= 0) || mean > 1<<52 {
		panic(fmt.Sprintf("stream: Poisson of mean %v", mean))
	}
	if mean < 10 {
		return s.poissonByInversion(mean)
	}
	b := 0.931 + float64(2.53*math.Sqrt(mean))
	a := -0.059 + float64(0.02483*b)
	v0 := 0.9277 - 3.6224/(b-2)
	logMean, logAlpha := log(mean), log(1.1239+1.1328/(b-3.4))
	for {
		u := s.Float64() - 0.5
		v := s.Float64()
		us := 0.5 - math.Abs(u)
		k := math.Floor(float64((2*a/us+b)*u) + mean + 0.43)
		if us >= 0.07 && v <= v0 {
			return int(k)
		}
		if k < 0 || us < 0.013 && v > us {
			continue
		}
		if log(v)+logAlpha-log(a/float64(us*us)+b) <= float64(k*logMean)-mean-factorial(k) {
			return int(k)
		}
	}
}

func (s *Stream) poissonByInversion(mean float64) int {
	for {
		u := s.Float64()
		p := exp(-mean)
		for k := 0; k < 200; k++ { // P(K ≥ 200) is under 1e-170: only rounding gets there
			if u < p {
				return k
			}
			u -= p
			p = p * mean / float64(k+1)
		}
	}
}

// Binomial is the number of successes in n trials of chance p, by inversion where
// n·min(p, 1 − p) is under 10 and by BTRS of Hörmann (1993a) from there. Panics
// when n is negative or p is not between 0 and 1.
func (s *Stream) Binomial(n int, p float64) int {
	if n < 0 || !(p >= 0 && p <= 1) {
		panic(fmt.Sprintf("stream: binomial of %d trials, chance %v", n, p))
	}
	switch {
	case n == 0 || p == 0:
		return 0
	case p == 1:
		return n
	case p > 0.5:
		return n - s.smallBinomial(n, 1-p)
	}
	return s.smallBinomial(n, p)
}

// smallBinomial draws for p ≤ ½.
func (s *Stream) smallBinomial(n int, p float64) int {
	if float64(n)*p < 10 {
		return s.binomialByInversion(n, p)
	}
	size, q := float64(n), 1-p
	spread := math.Sqrt(size * p * q)
	b := 1.15 + float64(2.53*spread)
	a := -0.0873 + float64(0.0248*b) + float64(0.01*p)
	c := float64(size*p) + 0.5
	v0 := 0.92 - 4.2/b
	alpha := (2.83 + 5.1/b) * spread
	var logOdds, mode, atMode float64
	for ready := false; ; {
		u := s.Float64() - 0.5
		v := s.Float64()
		us := 0.5 - math.Abs(u)
		k := math.Floor(float64((2*a/us+b)*u) + c)
		if us >= 0.07 && v <= v0 {
			return int(k)
		}
		if k < 0 || k > size {
			continue
		}
		if !ready { // three draws in four never ask for these
			logOdds, mode = log(p/q), math.Floor((size+1)*p)
			atMode = factorial(mode) + factorial(size-mode)
			ready = true
		}
		if log(v*alpha/(a/float64(us*us)+b)) <= atMode-factorial(k)-factorial(size-k)+float64((k-mode)*logOdds) {
			return int(k)
		}
	}
}

func (s *Stream) binomialByInversion(n int, p float64) int {
	q := 1 - p
	odds := p / q
	start := exp(float64(n) * logLess(p))
	for {
		u := s.Float64()
		f := start
		for k := 0; k <= n && k < 250; k++ { // the mean is under 10: only rounding gets to 250
			if u < f {
				return k
			}
			u -= f
			f = f * odds * float64(n-k) / float64(k+1)
		}
	}
}

// logLess is ln(1 − p), by its series where 1 − p would lose p.
func logLess(p float64) float64 {
	if p > 1e-3 {
		return log(1 - p)
	}
	series := 0.25 + float64(p*0.2)
	series = 1.0/3 + float64(p*series)
	series = 0.5 + float64(p*series)
	return -p * (1 + float64(p*series))
}

// Choose is the number of one weight, drawn in proportion to the weights. Weights
// need not sum to 1. Panics when one is negative or not a number, or their sum is
// not above 0 and finite.
func (s *Stream) Choose(weights []float64) int {
	sum := 0.0
	for _, w := range weights {
		if !(w >= 0) {
			panic(fmt.Sprintf("stream: weight %v", w))
		}
		sum += w
	}
	if !(sum > 0) || math.IsInf(sum, 1) {
		panic(fmt.Sprintf("stream: weights sum to %v", sum))
	}
	u := float64(s.Float64() * sum)
	last := 0
	for i, w := range weights {
		if w == 0 {
			continue
		}
		if u < w {
			return i
		}
		u -= w
		last = i
	}
	return last // rounding left a little over
}

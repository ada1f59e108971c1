// Package dist holds distribution functions, their tails and their quantiles.
//
// Upper tails are computed as such, never as one minus the other side, so that
// a small chance keeps its digits. Functions return NaN where a parameter is
// outside its range or an argument is NaN.
package dist

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// NormalDensity is φ(x) = e^{−x²/2}/√(2π).
func NormalDensity(x float64) float64 { return math.Exp(-0.5*x*x) / math.Sqrt(2*math.Pi) }

// NormalCDF is Φ(x) = P(X ≤ x) of a standard normal.
func NormalCDF(x float64) float64 { return 0.5 * math.Erfc(-x/math.Sqrt2) }

// NormalUpper is 1 − Φ(x) = P(X > x).
func NormalUpper(x float64) float64 { return 0.5 * math.Erfc(x/math.Sqrt2) }

// NormalQuantile is Φ⁻¹(p); −Inf at 0, +Inf at 1.
func NormalQuantile(p float64) float64 {
	if !(p >= 0 && p <= 1) {
		return math.NaN()
	}
	return distuv.UnitNormal.Quantile(p)
}

// NormalLogCDF is ln Φ(x), exact far into the lower tail where Φ runs under: the
// continued fraction of Mills' ratio below −10.
//
// Abramowitz & Stegun (1964), 26.2.14.
func NormalLogCDF(x float64) float64 {
	switch {
	case x > 0:
		return math.Log1p(-NormalUpper(x))
	case x > -10:
		return math.Log(NormalCDF(x))
	}
	// Φ(x) = φ(x)/(t + 1/(t + 2/(t + 3/(t + ...)))), t = −x
	t := -x
	f := t
	for k := 60; k >= 1; k-- {
		f = t + float64(k)/f
	}
	return -0.5*x*x - 0.5*math.Log(2*math.Pi) - math.Log(f)
}

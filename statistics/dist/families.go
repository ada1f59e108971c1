package dist

import (
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// TCDF is P(T ≤ x) of Student's t on df degrees of freedom.
func TCDF(x, df float64) float64 {
	if x < 0 {
		return TUpper(-x, df)
	}
	return 1 - TUpper(x, df)
}

// TUpper is P(T > x) of Student's t on df degrees of freedom.
func TUpper(x, df float64) float64 {
	if !(df > 0) || math.IsNaN(x) {
		return math.NaN()
	}
	if x < 0 {
		return 1 - TUpper(-x, df)
	}
	return 0.5 * mathext.RegIncBeta(df/2, 0.5, df/(df+x*x))
}

// TQuantile is the x with P(T ≤ x) = p.
func TQuantile(p, df float64) float64 {
	if !(df > 0) || !(p >= 0 && p <= 1) {
		return math.NaN()
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile(p)
}

// ChiSquareCDF is P(X ≤ x) of χ² on df degrees of freedom.
func ChiSquareCDF(x, df float64) float64 { return GammaCDF(x/2, df/2) }

// ChiSquareUpper is P(X > x) of χ² on df degrees of freedom.
func ChiSquareUpper(x, df float64) float64 { return GammaUpper(x/2, df/2) }

// ChiSquareQuantile is the x with P(X ≤ x) = p.
func ChiSquareQuantile(p, df float64) float64 { return 2 * GammaQuantile(p, df/2) }

// GammaCDF is P(X ≤ x) of a gamma of a shape, scale 1.
func GammaCDF(x, shape float64) float64 {
	if !(shape > 0) || math.IsNaN(x) {
		return math.NaN()
	}
	if x <= 0 {
		return 0
	}
	return mathext.GammaIncReg(shape, x)
}

// GammaUpper is P(X > x) of a gamma of a shape, scale 1.
func GammaUpper(x, shape float64) float64 {
	if !(shape > 0) || math.IsNaN(x) {
		return math.NaN()
	}
	if x <= 0 {
		return 1
	}
	return mathext.GammaIncRegComp(shape, x)
}

// GammaQuantile is the x with P(X ≤ x) = p of a gamma of a shape, scale 1.
func GammaQuantile(p, shape float64) float64 {
	if !(shape > 0) || !(p >= 0 && p <= 1) {
		return math.NaN()
	}
	return mathext.GammaIncRegInv(shape, p)
}

// FCDF is P(X ≤ x) of F on d1 and d2 degrees of freedom.
func FCDF(x, d1, d2 float64) float64 {
	if x <= 0 {
		return 0
	}
	return BetaCDF(d1*x/(d1*x+d2), d1/2, d2/2)
}

// FUpper is P(X > x) of F on d1 and d2 degrees of freedom.
func FUpper(x, d1, d2 float64) float64 {
	if x <= 0 {
		return 1
	}
	return BetaCDF(d2/(d1*x+d2), d2/2, d1/2)
}

// FQuantile is the x with P(X ≤ x) = p of F on d1 and d2 degrees of freedom.
func FQuantile(p, d1, d2 float64) float64 {
	b := BetaQuantile(p, d1/2, d2/2)
	return d2 / d1 * b / (1 - b)
}

// BetaCDF is P(X ≤ x) of a beta of two shapes.
func BetaCDF(x, a, b float64) float64 {
	if !(a > 0) || !(b > 0) || math.IsNaN(x) {
		return math.NaN()
	}
	return mathext.RegIncBeta(a, b, math.Min(math.Max(x, 0), 1))
}

// BetaUpper is P(X > x) of a beta of two shapes.
func BetaUpper(x, a, b float64) float64 { return BetaCDF(1-x, b, a) }

// BetaQuantile is the x with P(X ≤ x) = p of a beta of two shapes.
func BetaQuantile(p, a, b float64) float64 {
	if !(a > 0) || !(b > 0) || !(p >= 0 && p <= 1) {
		return math.NaN()
	}
	return mathext.InvRegIncBeta(a, b, p)
}

// LogGamma is ln Γ(x) for x > 0; +Inf at 0.
func LogGamma(x float64) float64 {
	value, _ := math.Lgamma(x)
	return value
}

// Digamma is ψ(x) = d ln Γ(x)/dx.
func Digamma(x float64) float64 { return mathext.Digamma(x) }

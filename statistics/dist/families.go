package dist

import (
	"math"

	"gonum.org/v1/gonum/mathext"
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
	// Near 0 from the middle, where df/(df + x²) would lose x; far out from the end.
	if central := mathext.RegIncBeta(0.5, df/2, x*x/(df+x*x)); central < 0.5 {
		return 0.5 - 0.5*central
	}
	return 0.5 * mathext.RegIncBeta(df/2, 0.5, df/(df+x*x))
}

// TQuantile is the x with P(T ≤ x) = p; −Inf at 0, +Inf at 1.
func TQuantile(p, df float64) float64 {
	switch {
	case !(df > 0) || !(p >= 0 && p <= 1):
		return math.NaN()
	case df >= manyDF && p > 1e-6 && p < 1-1e-6:
		return nearNormal(NormalQuantile(p), df)
	case p < 0.5:
		return -1 / math.Sqrt(FQuantile(2*p, df, 1)) // by the tail, which 1 − p would lose
	}
	// T² is F on 1 and df, T²/df the odds of a beta: climbed to from the expansion, which is
	// near enough from a few degrees of freedom on to save most of the way.
	from := math.Log(1 / df)
	if z := NormalQuantile(p); df >= 3 && z > 0.1 && z < 4 {
		from = math.Log(square(nearNormal(z, df)) / df)
	}
	return math.Sqrt(df * math.Exp(betaLogitFrom(from, 2*p-1, 0.5, df/2)))
}

func square(x float64) float64 { return x * x }

// manyDF is from where t is read off its expansion about the normal, good to 1e-12 there
// and quick. The beta quantile loses digits at such sizes, and far out the way.
const manyDF = 2000

// nearNormal is the quantile of t that belongs to the normal quantile z, by the first
// terms of its expansion in 1/df. Abramowitz & Stegun (1964), 26.7.5 (from memory).
func nearNormal(z, df float64) float64 {
	x := z * z
	g1 := z * (x + 1) / 4
	g2 := z * ((5*x+16)*x + 3) / 96
	g3 := z * (((3*x+19)*x+17)*x - 15) / 384
	g4 := z * ((((79*x+776)*x+1482)*x-1920)*x - 945) / 92160
	return z + (g1+(g2+(g3+g4/df)/df)/df)/df
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

// GammaQuantile is the x with P(X ≤ x) = p of a gamma of a shape, scale 1; a
// quantile below the smallest number is 0.
func GammaQuantile(p, shape float64) float64 {
	if !(shape > 0) || !(p >= 0 && p <= 1) {
		return math.NaN()
	}
	if p == 0 || p == 1 {
		return p / (1 - p)
	}
	// Start at the quantile of Wilson & Hilferty (1931), or far down at P = x^shape/Γ(shape + 1).
	c := 1 / (9 * shape)
	u := 3*math.Log(math.Max(1-c+NormalQuantile(p)*math.Sqrt(c), 0.02)) + math.Log(shape)
	if low := (math.Log(p) + LogGamma(shape+1)) / shape; low < math.Log(shape)-2 {
		u = low
	}
	return math.Exp(climb(u, p, func(u float64) (cdf, upper, slope float64) {
		x := math.Exp(u)
		return GammaCDF(x, shape), GammaUpper(x, shape), math.Exp(shape*u - x - LogGamma(shape))
	}))
}

// climb finds the u at which a distribution reaches p, by Newton steps on the
// logarithm of the smaller tail, which is nearly straight in u far out.
func climb(u, p float64, at func(u float64) (cdf, upper, slope float64)) float64 {
	for range 200 {
		cdf, upper, slope := at(u)
		by := math.Log(p/cdf) * cdf / slope
		if p > 0.5 {
			by = -math.Log((1-p)/upper) * upper / slope
		}
		switch {
		case math.IsNaN(by) && cdf > 0.5: // beyond where the tail or the slope is a number
			by = -2
		case math.IsNaN(by):
			by = 2
		}
		by = math.Min(math.Max(by, -20), 20)
		u += by
		if math.Abs(by) <= 1e-14*math.Max(math.Abs(u), 1) {
			break
		}
	}
	return u
}

// FCDF is P(X ≤ x) of F on d1 and d2 degrees of freedom.
func FCDF(x, d1, d2 float64) float64 {
	x = math.Max(x, 0)
	return betaSides(d1*x/(d1*x+d2), d2/(d1*x+d2), d1/2, d2/2)
}

// FUpper is P(X > x) of F on d1 and d2 degrees of freedom.
func FUpper(x, d1, d2 float64) float64 {
	x = math.Max(x, 0)
	return betaSides(d2/(d1*x+d2), d1*x/(d1*x+d2), d2/2, d1/2)
}

// FQuantile is the x with P(X ≤ x) = p of F on d1 and d2 degrees of freedom.
func FQuantile(p, d1, d2 float64) float64 {
	return d2 / d1 * math.Exp(betaLogit(p, d1/2, d2/2))
}

// BetaCDF is P(X ≤ x) of a beta of two shapes.
func BetaCDF(x, a, b float64) float64 {
	x = math.Min(math.Max(x, 0), 1)
	return betaSides(x, 1-x, a, b)
}

// BetaUpper is P(X > x) of a beta of two shapes.
func BetaUpper(x, a, b float64) float64 {
	x = math.Min(math.Max(x, 0), 1)
	return betaSides(1-x, x, b, a)
}

// betaSides is P(X ≤ x) of a beta, with y = 1 − x given beside it so that neither
// loses its digits: the smaller of the two tails is the one computed.
func betaSides(x, y, a, b float64) float64 {
	if !(a > 0) || !(b > 0) || math.IsNaN(x) {
		return math.NaN()
	}
	if upper := mathext.RegIncBeta(b, a, y); upper < 0.5 {
		return 1 - upper
	}
	return mathext.RegIncBeta(a, b, x)
}

// betaBoth is P(X ≤ x) and P(X > x), each as betaSides has it, at half the cost.
func betaBoth(x, y, a, b float64) (lower, upper float64) {
	if upper = mathext.RegIncBeta(b, a, y); upper < 0.5 {
		return 1 - upper, upper
	}
	if lower = mathext.RegIncBeta(a, b, x); lower < 0.5 {
		return lower, 1 - lower
	}
	return lower, upper
}

// BetaQuantile is the x with P(X ≤ x) = p of a beta of two shapes.
func BetaQuantile(p, a, b float64) float64 {
	return 1 / (1 + math.Exp(-betaLogit(p, a, b)))
}

// betaLogit is ln(x/(1 − x)) of the quantile x of a beta.
func betaLogit(p, a, b float64) float64 {
	if !(a > 0) || !(b > 0) || !(p >= 0 && p <= 1) {
		return math.NaN()
	}
	return betaLogitFrom(math.Log(a/b), p, a, b)
}

// betaLogitFrom climbs there from a start; infinite at p = 0 and 1.
func betaLogitFrom(u, p, a, b float64) float64 {
	if p == 0 || p == 1 {
		return math.Inf(int(2*p) - 1)
	}
	logBeta := LogGamma(a) + LogGamma(b) - LogGamma(a+b)
	return climb(u, p, func(u float64) (cdf, upper, slope float64) {
		x, y := 1/(1+math.Exp(-u)), 1/(1+math.Exp(u))
		cdf, upper = betaBoth(x, y, a, b)
		return cdf, upper, math.Exp(a*math.Log(x) + b*math.Log(y) - logBeta)
	})
}

// LogGamma is ln Γ(x) for x > 0; +Inf at 0, NaN below.
func LogGamma(x float64) float64 {
	if x < 0 {
		return math.NaN()
	}
	value, _ := math.Lgamma(x)
	return value
}

// Digamma is ψ(x) = d ln Γ(x)/dx for x > 0; −Inf at 0, NaN below.
//
// Raised by ψ(x) = ψ(x + 1) − 1/x to 10, then the asymptotic series: Abramowitz &
// Stegun (1964), 6.3.5 and 6.3.18.
func Digamma(x float64) float64 {
	switch {
	case !(x >= 0):
		return math.NaN()
	case x == 0:
		return math.Inf(-1)
	}
	below := 0.0
	for ; x < 10; x++ {
		below += 1 / x
	}
	r := 1 / (x * x)
	series := r * (1.0/12 - r*(1.0/120-r*(1.0/252-r*(1.0/240-r*(1.0/132-r*(691.0/32760-r/12))))))
	return math.Log(x) - 0.5/x - series - below
}

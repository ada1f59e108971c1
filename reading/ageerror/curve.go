package ageerror

import "math"

// curve is h = (1 − e^{−xτ})/(1 − e^{−x}) with its first and second derivatives in
// x, smooth across x = 0, where h = τ. τ lies in [0, 1].
//
// With r(y) = 1/(e^y − 1) − 1/y, which has no pole, d log h/dx = τ r(xτ) − r(x):
// the two poles of 1/(e^y − 1) cancel on paper and are never computed.
func curve(x, tau float64) (h, first, second float64) {
	switch {
	case tau <= 0:
		return 0, 0, 0
	case tau >= 1:
		return 1, 0, 0
	case x == 0:
		h = tau
	default:
		h = math.Expm1(-x*tau) / math.Expm1(-x)
	}
	near, slopeNear := smooth(x * tau)
	far, slopeFar := smooth(x)
	d := float64(tau*near) - far
	dd := float64(tau*tau*slopeNear) - slopeFar
	return h, h * d, h * (float64(d*d) + dd)
}

// smooth is r(y) = 1/(e^y − 1) − 1/y and its derivative; below |y| = 0.3 by the
// Bernoulli series, whose next term is under 1e-16 there.
func smooth(y float64) (r, slope float64) {
	if math.Abs(y) < 0.3 {
		z := y * y
		r = -0.5 + y*(1./12-z*(1./720-z*(1./30240-z*(1./1209600-z*(1./47900160)))))
		slope = 1./12 - z*(3./720-z*(5./30240-z*(7./1209600-z*(9./47900160))))
		return r, slope
	}
	s := 2 * math.Sinh(y/2)
	return 1/math.Expm1(y) - 1/y, 1/(y*y) - 1/(s*s)
}

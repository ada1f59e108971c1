package growth

import (
	"fmt"
	"math"
)

// Curve is length at decimal age under a model.
type Curve struct {
	Model Model
	// Tau1 and Tau2 are the two ages of Schnute at which lengths are L1 and L2;
	// no other model uses them.
	Tau1, Tau2 float64
}

// Length is the length at decimal age t, in the unit of the parameters p:
//
//	von Bertalanffy  L∞ (1 − e^{−K(t − t0)})
//	Gompertz         L∞ exp(−e^{−K(t − ti)})
//	logistic         L∞ / (1 + e^{−K(t − ti)})
//	Richards         L∞ (1 + (m − 1) e^{−K(t − ti)})^{1/(1 − m)}
//	Schnute          [L1^b + (L2^b − L1^b) (1 − e^{−a(t − τ1)})/(1 − e^{−a(τ2 − τ1)})]^{1/b}
//	two-phase        L∞ {1 − e^{−k2(t − t0)} [(1 + e^{−β(t − t0 − α)})/(1 + e^{αβ})]^{−(k2 − k1)/β}}
//
// Richards is von Bertalanffy at m = 0, tends to Gompertz as m → 1 and is logistic
// at m = 2; Schnute with a → 0 or b → 0 takes its limits. The two-phase curve
// goes from rate k1 to rate k2 about α after t0, the quicker the larger β.
//
// NaN where the curve has no value: Richards with m < 1 and Schnute with b > 0
// before the age of length 0, an L∞, L1, L2 or β of 0 or less. Von Bertalanffy
// and the two-phase curve are below 0 before t0. Panics when p has another
// length than the model has parameters.
//
// Von Bertalanffy (1938); Gompertz (1825); Richards (1959), J. Exp. Bot. 10;
// Schnute (1981), Can. J. Fish. Aquat. Sci. 38, case 1; Laslett, Eveson &
// Polacheck (2002), same journal 59 (citations from memory). Methods, section 7.
func (c Curve) Length(t float64, p []float64) float64 { return c.Slope(nil, t, p) }

// Slope is Length, and fills slope with its derivatives by the parameters; a nil
// slope is left. Allocates nothing. Panics as Length does, and on a slope of
// another length.
func (c Curve) Slope(slope []float64, t float64, p []float64) float64 {
	n := len(c.Model.Parameters())
	if len(p) != n || slope != nil && len(slope) != n {
		panic(fmt.Sprintf("growth: %d parameters and %d slopes for %v", len(p), len(slope), c.Model))
	}
	switch c.Model {
	case VonBertalanffy:
		return vonBertalanffy(slope, t, p)
	case Gompertz:
		return gompertz(slope, t, p)
	case Logistic:
		return logistic(slope, t, p)
	case Richards:
		return richards(slope, t, p)
	case Schnute:
		return c.schnute(slope, t, p)
	}
	return twoPhase(slope, t, p)
}

func vonBertalanffy(slope []float64, t float64, p []float64) float64 {
	if !(p[0] > 0) {
		return math.NaN()
	}
	e := math.Exp(-p[1] * (t - p[2])) // not Expm1, four times as slow: a fish of no length needs no digits
	if slope != nil {
		slope[0], slope[1], slope[2] = 1-e, p[0]*(t-p[2])*e, -p[0]*p[1]*e
	}
	return p[0] * (1 - e)
}

func gompertz(slope []float64, t float64, p []float64) float64 {
	if !(p[0] > 0) {
		return math.NaN()
	}
	e := math.Exp(-p[1] * (t - p[2]))
	share := math.Exp(-e)
	if slope != nil {
		d := p[0] * share * e
		if share == 0 { // far before the bend, where e may be infinite
			d = 0
		}
		slope[0], slope[1], slope[2] = share, d*(t-p[2]), -d*p[1]
	}
	return p[0] * share
}

func logistic(slope []float64, t float64, p []float64) float64 {
	if !(p[0] > 0) {
		return math.NaN()
	}
	share := sigmoid(p[1] * (t - p[2]))
	if slope != nil {
		d := p[0] * share * sigmoid(-p[1]*(t-p[2]))
		slope[0], slope[1], slope[2] = share, d*(t-p[2]), -d*p[1]
	}
	return p[0] * share
}

// richards in δ = m − 1: L∞ exp(−log(1 + δe)/δ), e = e^{−K(t − ti)}, which runs
// into Gompertz as δ → 0 without losing digits.
func richards(slope []float64, t float64, p []float64) float64 {
	delta, e := p[3]-1, math.Exp(-p[1]*(t-p[2]))
	u := delta * e
	if !(p[0] > 0) || !(u > -1) || math.IsInf(e, 1) {
		return math.NaN()
	}
	power := e // log(1 + δe)/δ
	if u != 0 {
		power = math.Log1p(u) / delta
	}
	share := math.Exp(-power)
	if slope != nil {
		d := p[0] * share * e / (1 + u)
		slope[0], slope[1], slope[2] = share, d*(t-p[2]), -d*p[1]
		slope[3] = p[0] * share * e * e * bend(u)
	}
	return p[0] * share
}

// bend is (log(1 + u) − u/(1 + u))/u², ½ at 0.
func bend(u float64) float64 {
	if math.Abs(u) > 1e-3 {
		return (math.Log1p(u) - u/(1+u)) / (u * u)
	}
	return 1./2 - u*(2./3-u*(3./4-u*(4./5-u*(5./6))))
}

// schnute in q = log(L2/L1) and the share r of the way from τ1 to τ2:
// L1 exp(log(1 + (e^{bq} − 1) r)/b).
func (c Curve) schnute(slope []float64, t float64, p []float64) float64 {
	l1, l2, a, b := p[0], p[1], p[2], p[3]
	if !(l1 > 0) || !(l2 > 0) {
		return math.NaN()
	}
	r, dr := c.way(t, a)
	q := math.Log(l2 / l1)
	var f, byR, byQ, byB float64
	if math.Abs(b*q) < 1e-3 && math.Abs(b*q*r) < 1e-2 {
		// The cumulants of a share r that takes q: f = Σ κ_n b^{n−1}/n!.
		v := r * (1 - r)
		k2, k3, k4 := v*q*q, v*(1-2*r)*q*q*q, v*(1-6*v)*q*q*q*q
		f = r*q + b*(k2/2+b*(k3/6+b*k4/24))
		byB = k2/2 + b*(k3/3+b*k4/8)
	} else {
		h := math.Expm1(b * q)
		if !(h*r > -1) || math.IsInf(h*r, 1) {
			return math.NaN()
		}
		f = math.Log1p(h*r) / b
		byB = q*(h+1)*r/(b*(1+h*r)) - f/b
	}
	growth := math.Exp(b * q)
	inner := 1 + math.Expm1(b*q)*r
	byR, byQ = q/inner, growth*r/inner
	if b*q != 0 {
		byR = math.Expm1(b*q) / (b * inner)
	}
	length := l1 * math.Exp(f)
	if slope != nil {
		slope[0] = length / l1 * (1 - byQ)
		slope[1] = length / l2 * byQ
		slope[2] = length * byR * dr
		slope[3] = length * byB
	}
	return length
}

// way is r = (1 − e^{−a(t − τ1)})/(1 − e^{−a(τ2 − τ1)}) with its slope by a.
func (c Curve) way(t, a float64) (r, dr float64) {
	x, y := t-c.Tau1, c.Tau2-c.Tau1
	if math.Abs(a)*math.Max(math.Abs(x), math.Abs(y)) < 0.05 {
		// log r = log(x/y) − a(x − y)/2 + a²(x² − y²)/24 − a⁴(x⁴ − y⁴)/2880 + ...
		a2 := a * a
		r = x / y * math.Exp(-a*(x-y)/2+a2*(x*x-y*y)/24-a2*a2*(x*x*x*x-y*y*y*y)/2880)
		return r, r * (-(x-y)/2 + a*(x*x-y*y)/12 - a2*a*(x*x*x*x-y*y*y*y)/720)
	}
	top, bottom := -math.Expm1(-a*x), -math.Expm1(-a*y)
	r = top / bottom
	return r, (x*math.Exp(-a*x) - r*y*math.Exp(-a*y)) / bottom
}

func twoPhase(slope []float64, t float64, p []float64) float64 {
	k1, k2, u, alpha, beta := p[1], p[2], t-p[3], p[4], p[5]
	if !(p[0] > 0) || !(beta > 0) {
		return math.NaN()
	}
	turn := softplus(-beta*(u-alpha)) - softplus(alpha*beta)
	power := -k2*u - (k2-k1)/beta*turn
	if slope != nil {
		e := math.Exp(power)
		before, first := sigmoid(-beta*(u-alpha)), sigmoid(alpha*beta)
		slope[0] = -math.Expm1(power)
		slope[1] = -p[0] * e * turn / beta
		slope[2] = p[0] * e * (u + turn/beta)
		slope[3] = -p[0] * e * (k2 - (k2-k1)*before)
		slope[4] = p[0] * e * (k2 - k1) * (before - first)
		slope[5] = -p[0] * e * (k2 - k1) / beta * (turn/beta + (u-alpha)*before + alpha*first)
	}
	return -p[0] * math.Expm1(power)
}

func sigmoid(x float64) float64 {
	if x < 0 {
		e := math.Exp(x)
		return e / (1 + e)
	}
	return 1 / (1 + math.Exp(-x))
}

func softplus(x float64) float64 {
	return math.Max(x, 0) + math.Log1p(math.Exp(-math.Abs(x)))
}

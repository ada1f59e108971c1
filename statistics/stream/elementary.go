package stream

import "math"

// exp and log are those of FreeBSD's msun (fdlibm, Sun Microsystems 1993) with
// every product before a sum rounded, so that no processor fuses the two and
// the last bit is the same on all. Both are within 1 unit in the last place.

const (
	ln2High = 6.93147180369123816490e-01
	ln2Low  = 1.90821492927058770002e-10
)

// exp is e^x; 0 below −745.14, +Inf above 709.79, NaN of NaN.
func exp(x float64) float64 {
	switch {
	case x != x || x > 709.782712893384:
		return x * math.Inf(1)
	case x < -745.14:
		return 0
	}
	k := math.Floor(x/math.Ln2 + 0.5)
	high := float64(x) - float64(k*ln2High)
	low := float64(k * ln2Low)
	r := high - low
	t := r * r
	p := 4.13813679705723846039e-08
	p = -1.65339022054652515390e-06 + float64(t*p)
	p = 6.61375632143793436117e-05 + float64(t*p)
	p = -2.77777777770155933842e-03 + float64(t*p)
	p = 1.66666666666666019037e-01 + float64(t*p)
	c := r - float64(t*p)
	y := 1 - ((low - float64(r*c)/(2-c)) - high)
	return math.Ldexp(y, int(k))
}

// log is the natural logarithm; −Inf of 0, NaN of a negative number.
func log(x float64) float64 {
	switch {
	case x != x || x > math.MaxFloat64:
		return x
	case x < 0:
		return math.NaN()
	case x == 0:
		return math.Inf(-1)
	}
	f, e := math.Frexp(x)
	if f < math.Sqrt2/2 {
		f *= 2
		e--
	}
	f--
	k := float64(e)
	s := f / (2 + f)
	z := s * s
	w := z * z
	t1 := 2.222219843214978396e-01 + float64(w*1.531383769920937332e-01)
	t1 = float64(w * (3.999999999940941908e-01 + float64(w*t1)))
	t2 := 1.818357216161805012e-01 + float64(w*1.479819860511658591e-01)
	t2 = 2.857142874366239149e-01 + float64(w*t2)
	t2 = float64(z * (6.666666666666735130e-01 + float64(w*t2)))
	r := t1 + t2
	half := 0.5 * float64(f*f)
	return float64(k*ln2High) - ((half - (float64(s*(half+r)) + float64(k*ln2Low))) - f)
}

// factorial is ln k!, Stirling's series from 10 up.
func factorial(k float64) float64 {
	if k < float64(len(logFactorials)) {
		return logFactorials[int(k)]
	}
	x := k + 1
	const halfLog2Pi = 0.91893853320467274178
	return float64((x-0.5)*log(x)) - x + halfLog2Pi + tail(x)
}

// tail is what Stirling's formula for ln Γ(x) leaves over, x ≥ 10.
func tail(x float64) float64 {
	r := 1 / x
	r2 := r * r
	p := 1.0/1188 - float64(r2*691.0/360360)
	p = 1.0/1680 - float64(r2*p)
	p = 1.0/1260 - float64(r2*p)
	p = 1.0/360 - float64(r2*p)
	return float64(r * (1.0/12 - float64(r2*p)))
}

// ln 0! to ln 9!
var logFactorials = [...]float64{
	0, 0, 0.69314718055994530942, 1.7917594692280550008, 3.1780538303479456196, 4.7874917427820459942,
	6.5792512120101009951, 8.5251613610654143002, 10.604602902745250228, 12.801827480081469611,
}

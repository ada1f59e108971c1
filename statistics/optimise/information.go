package optimise

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// wide is the relative step of the four-point differences of Hessian.
const wide = 5e-4

// Hessian is the matrix of second derivatives of f at x, n × n row by row, made
// symmetric, by central differences of the gradient over four points,
//
//	(g(x − 2h) − 8 g(x − h) + 8 g(x + h) − g(x + 2h)) / 12h,
//
// whose error falls with h⁴.
//
// h is one step a parameter; nil takes 5e-4 |x_i|, 5e-4 where x_i is 0. Give
// 5e-4 · fit.Scale where a parameter may lie near 0. At the optimum of a negative
// log-likelihood it is the observed information. Bounds are not known here:
// x ± 2h must lie where f has values. Panics when h has another length than x.
//
// Abramowitz & Stegun (1964), table 25.2.
func Hessian(f Objective, x, h []float64) []float64 {
	n := len(x)
	if h != nil && len(h) != n {
		panic(fmt.Sprintf("optimise: %d steps for %d parameters", len(h), n))
	}
	out := make([]float64, n*n)
	at, grad := append([]float64(nil), x...), make([]float64, n)
	for i := range n {
		size := wide * math.Abs(x[i])
		if h != nil {
			size = h[i]
		} else if size == 0 {
			size = wide
		}
		for k, weight := range [...]float64{1, -8, 0, 8, -1} {
			if weight == 0 {
				continue
			}
			at[i] = x[i] + float64(k-2)*size
			f(at, grad)
			for j, g := range grad {
				out[i*n+j] += float64(weight*g) / (12 * size)
			}
		}
		at[i] = x[i]
	}
	symmetrise(out, n)
	return out
}

// Covariance is the inverse of a Hessian, n × n row by row: the covariance of
// maximum-likelihood estimates from the observed information.
//
// A Hessian that is not positive definite gives an *Error with Reason
// NotPositiveDefinite and the parameters that run away. Panics when the slice
// holds no square matrix.
func Covariance(hessian []float64) ([]float64, error) {
	n := int(math.Round(math.Sqrt(float64(len(hessian)))))
	if n == 0 || n*n != len(hessian) {
		panic(fmt.Sprintf("optimise: %d numbers are no square matrix", len(hessian)))
	}
	all := make([]int, n)
	for i := range n {
		all[i] = i
		if d := hessian[i*n+i]; !(d > 0) || math.IsInf(d, 1) {
			return nil, &Error{Reason: NotPositiveDefinite, Parameters: []int{i}}
		}
	}
	for i, v := range hessian {
		if !finite(v) {
			return nil, &Error{Reason: NotPositiveDefinite, Parameters: []int{i / n, i % n}}
		}
	}
	// Scaled to a unit diagonal, so that units do not make it look singular.
	unit := mat.NewSymDense(n, nil)
	for i := range n {
		for j := range i + 1 {
			unit.SetSym(i, j, (hessian[i*n+j]+hessian[j*n+i])/2/math.Sqrt(hessian[i*n+i]*hessian[j*n+j]))
		}
	}
	values, vectors, ok := correlated(hessian, all, n)
	var chol mat.Cholesky
	var inverse mat.SymDense
	if !ok || values[0] <= 1e-14 || !chol.Factorize(unit) {
		e := &Error{Reason: NotPositiveDefinite, Parameters: all}
		if ok {
			e.Parameters = foremost(vectors, all)
		}
		return nil, e
	}
	if err := chol.InverseTo(&inverse); err != nil && inverse.SymmetricDim() != n {
		return nil, &Error{Reason: NotPositiveDefinite, Parameters: foremost(vectors, all)}
	}
	out := make([]float64, n*n)
	for i := range n {
		for j := range n {
			out[i*n+j] = inverse.At(i, j) / math.Sqrt(hessian[i*n+i]*hessian[j*n+j])
		}
	}
	return out, nil
}

// Numerical makes an Objective of a function without slopes, by central
// differences over x_i ± 6e-6 |x_i| (6e-6 where x_i is 0). Its slopes are good to
// about 1e-10 of the value: enough to find an optimum, poor for a Hessian.
// A side where f has no value is left out and the slope taken from the other.
func Numerical(f func(x []float64) float64) Objective {
	return func(x, grad []float64) float64 {
		value := f(x)
		if grad == nil || !finite(value) {
			return value
		}
		at := append([]float64(nil), x...)
		for i := range x {
			size := 6e-6 * math.Abs(x[i])
			if size == 0 {
				size = 6e-6
			}
			above, below := x[i]+size, x[i]-size
			at[i] = above
			up := f(at)
			at[i] = below
			down := f(at)
			at[i] = x[i]
			switch {
			case finite(up) && finite(down):
				grad[i] = (up - down) / (above - below)
			case finite(up):
				grad[i] = (up - value) / (above - x[i])
			case finite(down):
				grad[i] = (value - down) / (x[i] - below)
			default:
				grad[i] = math.NaN()
			}
		}
		return value
	}
}

package growth

import "math"

// scoring climbs a likelihood by damped Fisher scoring: Gauss–Newton steps where
// the scatter is normal, quick where parameters trade off, since each step is
// taken by the expected information. It holds its buffers and allocates nothing.
//
// Levenberg (1944), Marquardt (1963) for the damping; Smyth (2002) for scoring
// (citations from memory).
type scoring struct {
	k                       *likelihood
	low, high               []float64
	info, root              []float64 // (n + 1)²
	grad, next, step, trial []float64
}

func newScoring(k *likelihood, r reach) *scoring {
	n := k.n + 1
	s := &scoring{k: k, info: make([]float64, n*n), root: make([]float64, n*n)}
	s.grad, s.next, s.step, s.trial = make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	s.low, s.high, _ = k.bounds(r, n)
	return s
}

// value looks at x, sets its log scale where that has a closed form, and gives the
// negative log-likelihood with its slopes in next.
func (s *scoring) value(x []float64) float64 {
	if !s.k.look(x) {
		return math.NaN()
	}
	scale := math.Exp(x[s.k.n])
	if s.k.scatter != Student {
		scale = s.k.best()
		x[s.k.n] = math.Log(scale)
	}
	return s.k.sumUp(scale, s.next)
}

// climb moves x until a step promises less than enough a unit of weight, or no
// step helps; false when the last promise is not that small.
func (s *scoring) climb(x []float64, enough float64, most int) bool {
	value, damping := s.value(x), 0.0
	if math.IsNaN(value) || math.IsInf(value, 0) {
		return false
	}
	enough *= s.k.total
	for range most {
		s.k.information(s.info, math.Exp(x[s.k.n]))
		copy(s.grad, s.next)
		next, promise, moved := s.move(x, value, enough, &damping)
		switch {
		case promise <= enough && damping == 0:
			return true
		case !moved: // at the rounding of the value; a valley has no undamped step
			return s.solve(x, 0) && s.promise() <= enough
		}
		value = next
	}
	return false
}

// move takes one step from x, the more damped the more often it leads up; moved is
// false where none leads down.
func (s *scoring) move(x []float64, value, enough float64, damping *float64) (next, promise float64, moved bool) {
	promise = math.Inf(1)
	for ; *damping < 1e10; *damping = math.Max(*damping*10, 1e-4) {
		if !s.solve(x, *damping) {
			continue
		}
		promise = s.promise()
		for i := range x {
			s.trial[i] = math.Min(math.Max(x[i]-s.step[i], s.low[i]), s.high[i])
		}
		if next = s.value(s.trial); next <= value {
			copy(x, s.trial)
			if *damping /= 10; *damping < 1e-8 {
				*damping = 0
			}
			return next, promise, true
		}
		if promise <= enough { // below the rounding of the value
			break
		}
	}
	return value, promise, false
}

// promise is the fall of the negative log-likelihood that the step is to bring.
func (s *scoring) promise() float64 {
	sum := 0.0
	for i, g := range s.grad {
		sum += float64(g * s.step[i])
	}
	return sum / 2
}

// solve fills step from (information + damping · diagonal) step = gradient; a
// parameter pressed against its bound stays. False when that is not positive
// definite.
func (s *scoring) solve(x []float64, damping float64) bool {
	n := len(s.grad)
	copy(s.root, s.info)
	copy(s.step, s.grad)
	for i := range n {
		pressed := x[i] <= s.low[i] && s.grad[i] > 0 || x[i] >= s.high[i] && s.grad[i] < 0
		s.root[i*n+i] *= 1 + damping
		if !pressed {
			continue
		}
		for j := range n {
			s.root[i*n+j], s.root[j*n+i] = 0, 0
		}
		s.root[i*n+i], s.step[i] = 1, 0
	}
	return factor(s.root, n) && substitute(s.root, s.step, n)
}

// factor turns a symmetric matrix into its Cholesky root, in its lower part.
func factor(m []float64, n int) bool {
	for i := range n {
		diagonal := m[i*n+i]
		for j := range i + 1 {
			sum := m[i*n+j]
			for k := range j {
				sum -= float64(m[i*n+k] * m[j*n+k])
			}
			if i != j {
				m[i*n+j] = sum / m[j*n+j]
				continue
			}
			if !(sum > 1e-13*diagonal) || math.IsInf(sum, 1) {
				return false
			}
			m[i*n+i] = math.Sqrt(sum)
		}
	}
	return true
}

// substitute solves root rootᵀ x = b in place.
func substitute(root, b []float64, n int) bool {
	for i := range n {
		for k := range i {
			b[i] -= float64(root[i*n+k] * b[k])
		}
		b[i] /= root[i*n+i]
	}
	for i := n - 1; i >= 0; i-- {
		for k := i + 1; k < n; k++ {
			b[i] -= float64(root[k*n+i] * b[k])
		}
		b[i] /= root[i*n+i]
		if math.IsNaN(b[i]) || math.IsInf(b[i], 0) {
			return false
		}
	}
	return true
}

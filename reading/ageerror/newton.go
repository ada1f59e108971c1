package ageerror

import "math"

// leastSD is the smallest σ that whole counts can show: with 0.1 years one reading in
// some two million is off by one. A σ that would go below is held there.
const leastSD = 0.1

// Bounds of δ times the span of ages, and of biases as shares of an age or of the span.
const (
	sharpest     = 20.0
	leastShare   = -0.9
	largestShare = 3.0
)

// bounds are the limits of the working parameters of a model on ages up to the oldest count.
func (m Model) bounds(low, high []float64, last, counts int) {
	wide, span := math.Log(float64(counts)), float64(max(m.High-m.Low, 1))
	split := m.sdParameters()
	for i := range split {
		low[i], high[i] = math.Log(leastSD), wide
		if m.SD == ConstantCV {
			low[i] = math.Log(leastSD / float64(max(last, 1)))
		}
		if i == 2 {
			low[i], high[i] = -sharpest/span, sharpest/span
		}
	}
	for i := split; i < m.Parameters(); i++ {
		low[i], high[i] = leastShare*span, largestShare*span
		if m.Bias == Proportional {
			low[i], high[i] = leastShare, largestShare
		}
		if i == split+2 {
			low[i], high[i] = -sharpest/span, sharpest/span
		}
	}
}

// climb is a search for the maximum by Newton steps on exact second derivatives,
// shortened as Levenberg and Marquardt do. The largest β follows from the others; a β
// that would fall below 0 and a parameter past its bound stay there until the gradient
// points inwards again.
type climb struct {
	*form
	low, high []float64
	now, next *state
	spare     int   // age index of the β that follows from the others
	free      []int // places in x that may move
	gradient  []float64
	minus     []float64 // minus the second derivatives over the free places
	factor    []float64
	step      []float64
	steps     int
	settled   bool
}

const (
	mostSteps = 200
	heaviest  = 1e12
)

func newClimb(f *form) *climb {
	n := f.ages + f.wide
	k := &climb{
		form: f, now: f.newState(), next: f.newState(), low: make([]float64, n), high: make([]float64, n),
		gradient: make([]float64, n), minus: make([]float64, n*n), factor: make([]float64, n*n), step: make([]float64, n),
	}
	for a := range f.ages {
		k.high[a] = 1
	}
	last := f.first + f.ages - 1
	for s, m := range f.models {
		from := f.ages + f.from[s]
		m.bounds(k.low[from:], k.high[from:], last, f.counts)
	}
	return k
}

// begin puts β and natural parameters by set into place.
func (k *climb) begin(beta []float64, theta [][]float64) {
	x := k.now.x
	copy(x, beta)
	for s, m := range k.models {
		for i, t := range theta[s] {
			if i < m.logScale() {
				t = math.Log(t)
			}
			at := k.ages + k.from[s] + i
			x[at] = math.Min(math.Max(t, k.low[at]), k.high[at])
		}
	}
}

// run climbs until a Newton step promises less than gain.
func (k *climb) run(gain float64) {
	k.steps, k.settled = 0, false
	if !k.evaluate(k.now) {
		return
	}
	weight := 0.0
	for k.steps < mostSteps && weight < heaviest {
		k.steps++
		k.reduce()
		promise := k.solve(&weight)
		last := promise < gain && weight < 1e-3
		k.move()
		if k.evaluate(k.next) && k.next.value > k.now.value-noise(k.now.value, promise) {
			k.now, k.next = k.next, k.now
			weight *= 0.1
			if weight < 1e-6 {
				weight = 0
			}
			if last {
				k.settled = true
				k.reduce()
				return
			}
			continue
		}
		if last { // rounding is all that is left to gain
			k.settled = true
			return
		}
		weight = math.Max(4*weight, 1e-3)
	}
}

// noise is what a value may fall by when next to nothing is promised.
func noise(value, promise float64) float64 {
	if promise > 1e-7 {
		return 0
	}
	return 1e-11 * math.Abs(value)
}

// reduce chooses the free places and takes gradient and second derivatives over them.
func (k *climb) reduce() {
	x, n := k.now.x, len(k.now.x)
	k.spare = 0
	for a, b := range x[:k.ages] {
		if b > x[k.spare] {
			k.spare = a
		}
	}
	k.free = k.free[:0]
	for i := range n {
		if i == k.spare || (i < k.ages && k.unknown == 0) {
			continue
		}
		g := k.slopeOf(i)
		if (x[i] > k.low[i] || g > 0) && (x[i] < k.high[i] || g < 0) {
			k.free = append(k.free, i)
		}
	}
	second := k.now.second
	for p, i := range k.free {
		k.gradient[p] = k.slopeOf(i)
		for q, j := range k.free {
			h := second[i*n+j]
			if i < k.ages {
				h -= second[k.spare*n+j]
			}
			if j < k.ages {
				h -= second[i*n+k.spare]
			}
			if i < k.ages && j < k.ages {
				h += second[k.spare*n+k.spare]
			}
			k.minus[p*len(k.free)+q] = -h
		}
	}
}

// slopeOf is the gradient in place i, the spare β giving way.
func (k *climb) slopeOf(i int) float64 {
	if i < k.ages {
		return k.now.gradient[i] - k.now.gradient[k.spare]
	}
	return k.now.gradient[i]
}

// solve finds the step, raising weight until the matrix is positive definite, and gives
// what the step promises: half of gradient · step.
func (k *climb) solve(weight *float64) float64 {
	m := len(k.free)
	for *weight < heaviest {
		copy(k.factor[:m*m], k.minus[:m*m])
		for p := range m {
			d := math.Abs(k.minus[p*m+p])
			k.factor[p*m+p] += float64(*weight * math.Max(d, 1e-3))
		}
		if cholesky(k.factor[:m*m], m) {
			break
		}
		*weight = math.Max(4**weight, 1e-3)
	}
	copy(k.step[:m], k.gradient[:m])
	solveBoth(k.factor[:m*m], k.step[:m])
	promise := 0.0
	for p := range m {
		promise += float64(0.5 * k.gradient[p] * k.step[p])
	}
	return promise
}

// move puts the point after the step into next: working parameters by no more than 1
// (δ and slopes by no more than their bounds allow), the spare β never below a tenth of itself.
func (k *climb) move() {
	copy(k.next.x, k.now.x)
	longest := 1.0
	for p, i := range k.free {
		if i >= k.ages {
			longest = math.Max(longest, math.Abs(k.step[p])/math.Min(1, 0.2*(k.high[i]-k.low[i])))
		}
	}
	x := k.next.x
	for p, i := range k.free {
		x[i] = math.Min(math.Max(x[i]+k.step[p]/longest, k.low[i]), k.high[i])
	}
	if k.unknown > 0 {
		k.close(x[:k.ages])
	}
}

// close makes β sum to 1 again.
func (k *climb) close(beta []float64) {
	rest := 1.0
	for a, b := range beta {
		if a != k.spare {
			rest -= b
		}
	}
	beta[k.spare] = math.Max(rest, 0.1*beta[k.spare])
	if rest < beta[k.spare] {
		sum := 0.0
		for _, b := range beta {
			sum += b
		}
		for a := range beta {
			beta[a] /= sum
		}
	}
}

// approach runs EM steps on β alone; a start from afar needs them.
func (k *climb) approach(steps int) {
	k.prepare(k.now.x)
	beta := k.now.x[:k.ages]
	next := k.next.x[:k.ages]
	for range steps {
		if math.IsInf(k.expect(next, beta), -1) {
			return
		}
		copy(beta, next)
	}
}

// held says whether working parameter i lies at a bound.
func (k *climb) held(i int) bool {
	x := k.now.x[k.ages+i]
	return x <= k.low[k.ages+i] || x >= k.high[k.ages+i]
}

// heldCount is how many working parameters lie at a bound.
func (k *climb) heldCount() int {
	n := 0
	for i := range k.wide {
		if k.held(i) {
			n++
		}
	}
	return n
}

// told says whether the observed information over the free places is positive definite,
// so that the data tell all parameters apart; its factor is left in k.factor.
func (k *climb) told() bool {
	m := len(k.free)
	copy(k.factor[:m*m], k.minus[:m*m])
	return cholesky(k.factor[:m*m], m)
}

// information is the inverse of the observed information over the free places, which
// come with it. Only where told.
func (k *climb) information() (inverse []float64, free []int) {
	m := len(k.free)
	k.told()
	inverse = make([]float64, m*m)
	for p := range m {
		column := inverse[p*m : (p+1)*m]
		column[p] = 1
		solveBoth(k.factor[:m*m], column)
	}
	return inverse, k.free
}

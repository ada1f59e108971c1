package key

import "math"

// mixture fits shares of known densities: maximise Σ_i n_i log Σ_a q_a T_ia.
type mixture struct {
	likely    *likely
	rows      []int32   // pattern by member
	n         []float64 // fish by member
	total     float64
	lo, hi    int       // ages within reach of any member
	t         []float64 // T of all members, each over its reach
	reach     []reach   // by member
	q, q1, q2 []float64
	q3        []float64 // room for one more
	gain      []float64 // Σ_i n_i T_ia / Σ_a' q_a' T_ia'
	before    []float64 // the same at q1
	most      float64   // largest gain
	seen      []bool    // ages that had a share worth naming in some fit
}

// reach is the ages that a member can have, [lo, end).
type reach struct{ lo, end int32 }

func newMixture(y *likely, most int) mixture {
	return mixture{
		likely: y, rows: make([]int32, 0, most), n: make([]float64, 0, most),
		t: make([]float64, 0, most*y.ages), reach: make([]reach, 0, most),
		q: make([]float64, y.ages), q1: make([]float64, y.ages), q2: make([]float64, y.ages),
		q3: make([]float64, y.ages), gain: make([]float64, y.ages), before: make([]float64, y.ages), seen: make([]bool, y.ages),
	}
}

func (m *mixture) empty() {
	m.rows, m.n, m.total, m.lo, m.hi = m.rows[:0], m.n[:0], 0, m.likely.ages, -1
}

func (m *mixture) add(pattern int32, fish float64) {
	m.rows, m.n, m.total = append(m.rows, pattern), append(m.n, fish), m.total+fish
	m.lo, m.hi = min(m.lo, int(m.likely.lo[pattern])), max(m.hi, int(m.likely.hi[pattern]))
}

func (m *mixture) forget() { clear(m.seen) }

// ages is how many ages had at least a thousandth of some cell.
func (m *mixture) ages() int {
	number := 0
	for _, seen := range m.seen {
		if seen {
			number++
		}
	}
	return number
}

// mixed is how much of every age within reach goes into a start, since a share of 0
// never leaves 0.
const mixed = 0.02

// mostCycles bounds the cycles of one cell.
const mostCycles = 3000

// fit fills out with the shares, from start (nil: even), until no more than tol log
// units can be gained.
func (m *mixture) fit(out, start []float64, tol float64) (cycles int, settled bool) {
	m.begin(start)
	for cycles < mostCycles && !settled {
		cycles++
		settled = m.cycle(tol)
	}
	clear(out)
	copy(out[m.lo:m.hi+1], m.q[m.lo:m.hi+1])
	m.note(out)
	return cycles, settled
}

// note keeps which ages had a share.
func (m *mixture) note(shares []float64) {
	for a, share := range shares {
		m.seen[a] = m.seen[a] || share > 1e-3
	}
}

// cycle is two EM steps and an extrapolation, or tells that q is the end.
func (m *mixture) cycle(tol float64) (settled bool) {
	if m.remaining() <= tol {
		return true
	}
	m.step(m.q2, m.q1)
	if m.remaining() <= tol {
		copy(m.q, m.q1)
		return true
	}
	m.gain, m.before = m.before, m.gain
	m.extrapolate()
	m.step(m.q3, m.q)
	if m.fell() {
		copy(m.q, m.q2)
		m.step(m.q3, m.q)
	}
	m.q1, m.q3 = m.q3, m.q1
	return false
}

// begin lays q out, and takes the first step from it.
func (m *mixture) begin(start []float64) {
	m.pack()
	even, total := 1/float64(m.hi-m.lo+1), 0.0
	for a := m.lo; a <= m.hi; a++ {
		m.q[a] = even
		if start != nil {
			m.q[a] = start[a] + float64(mixed*even)
		}
		total += m.q[a]
	}
	for a := m.lo; a <= m.hi; a++ {
		m.q[a] /= total
	}
	m.step(m.q1, m.q)
}

// pack lays the members' T side by side, each over its own reach: a fit looks at them
// hundreds of times.
func (m *mixture) pack() {
	m.t, m.reach = m.t[:0], m.reach[:0]
	ages := m.likely.ages
	for _, p := range m.rows {
		lo, hi := m.likely.lo[p], m.likely.hi[p]
		m.t = append(m.t, m.likely.t[int(p)*ages+int(lo):int(p)*ages+int(hi)+1]...)
		m.reach = append(m.reach, reach{lo, hi + 1})
	}
}

// step fills next with one EM step from q, and gain with the gradient at q, whose largest
// element it notes.
func (m *mixture) step(next, q []float64) {
	gain, rest := m.gain, m.t
	clear(gain)
	for i, r := range m.reach {
		sums := gain[r.lo:r.end]
		t, from := rest[:len(sums)], q[r.lo:r.end]
		rest = rest[len(sums):]
		total := 0.0
		for a, v := range t {
			total += float64(v * from[a])
		}
		by := m.n[i] / total
		for a, v := range t {
			sums[a] += float64(by * v)
		}
	}
	each := 1 / m.total
	m.most = 0
	for a := m.lo; a <= m.hi; a++ {
		next[a] = q[a] * gain[a] * each
		m.most = max(m.most, gain[a])
	}
}

// fell tells whether the likelihood at q lies below that at q1. Between two points whose
// gradients g are at hand it rises by about ½ (g + g₁)·(q − q₁), exactly so for a parabola;
// and since g·q is the number of fish at every q, that is ½ (g₁·q − g·q₁). A rare fall that
// this misses costs a cycle: what ends the fit is the bound of remaining.
func (m *mixture) fell() bool {
	risen := 0.0
	for a := m.lo; a <= m.hi; a++ {
		risen += float64(m.before[a]*m.q[a]) - float64(m.gain[a]*m.q1[a])
	}
	return risen < 0
}

// likelihood is Σ_i n_i log Σ_a q_a T_ia.
func (m *mixture) likelihood(q []float64) float64 {
	total, ages := 0.0, m.likely.ages
	for i, p := range m.rows {
		lo, hi := int(m.likely.lo[p]), int(m.likely.hi[p])
		total += float64(m.n[i] * math.Log(dot(m.likely.t[int(p)*ages+lo:int(p)*ages+hi+1], q[lo:])))
	}
	return total
}

// remaining bounds what the likelihood at the last step's shares can still gain: it is
// concave, and its gradient along any share is at most the largest gain.
func (m *mixture) remaining() float64 { return m.most - m.total }

// extrapolate moves q along q − 2αr + α²v, r = q1 − q, v = q2 − 2q1 + q, α = −‖r‖/‖v‖,
// with α drawn back until no share falls below a tenth of q2's.
func (m *mixture) extrapolate() {
	rr, vv := 0.0, 0.0
	for a := m.lo; a <= m.hi; a++ {
		r := m.q1[a] - m.q[a]
		v := m.q2[a] - m.q1[a] - r
		rr, vv = rr+float64(r*r), vv+float64(v*v)
	}
	alpha := -1.0
	if vv > 0 {
		alpha = min(-math.Sqrt(rr/vv), -1)
	}
	for alpha < -1.01 && !m.inside(alpha) {
		alpha = (alpha - 1) / 2
	}
	total := 0.0
	for a := m.lo; a <= m.hi; a++ {
		if alpha < -1.01 {
			m.q[a] = m.along(a, alpha)
		} else {
			m.q[a] = m.q2[a]
		}
		total += m.q[a]
	}
	for a := m.lo; a <= m.hi; a++ {
		m.q[a] /= total // a long step magnifies what rounding took from the sum
	}
}

func (m *mixture) along(a int, alpha float64) float64 {
	r := m.q1[a] - m.q[a]
	v := m.q2[a] - m.q1[a] - r
	return m.q[a] - float64(2*alpha*r) + float64(alpha*alpha*v)
}

func (m *mixture) inside(alpha float64) bool {
	for a := m.lo; a <= m.hi; a++ {
		if m.along(a, alpha) < 0.1*m.q2[a] {
			return false
		}
	}
	return true
}

package key

// ascent is a limited-memory quasi-Newton scheme that climbs; its first guess of the
// curvature is given anew at each step.
//
// Nocedal & Wright (2006), algorithm 7.4 (citation from memory).
type ascent struct {
	grad, before []float64
	step         []float64
	s, y         [memory][]float64 // moves and falls of the gradient, the newest at next − 1
	rho          [memory]float64
	alpha        [memory]float64
	next, held   int
}

const memory = 8

func newAscent(width int) *ascent {
	m := &ascent{grad: make([]float64, width), before: make([]float64, width), step: make([]float64, width)}
	for i := range m.s {
		m.s[i], m.y[i] = make([]float64, width), make([]float64, width)
	}
	return m
}

func (m *ascent) forget() {
	m.next, m.held = 0, 0
	clear(m.grad)
}

// direction is the step uphill from the gradient, the moves so far and the curvature
// that by knows.
func (m *ascent) direction(by interface{ precondition([]float64) }) []float64 {
	v := m.step
	copy(v, m.grad)
	for k := range m.held {
		i := (m.next - 1 - k + 2*memory) % memory
		m.alpha[i] = m.rho[i] * dot(m.s[i], v)
		add(v, -m.alpha[i], m.y[i])
	}
	by.precondition(v)
	for k := m.held - 1; k >= 0; k-- {
		i := (m.next - 1 - k + 2*memory) % memory
		add(v, m.alpha[i]-m.rho[i]*dot(m.y[i], v), m.s[i])
	}
	if m.held > 0 && !(dot(v, m.grad) > 0) {
		m.held = 0
		return m.direction(by)
	}
	return v
}

// keep notes the gradient from which a move starts.
func (m *ascent) keep() { copy(m.before, m.grad) }

// learn adds a move to the memory, if the gradient fell along it.
func (m *ascent) learn(from, to []float64) {
	s, y := m.s[m.next], m.y[m.next]
	for j := range y {
		s[j] = to[j] - from[j]
		y[j] = m.before[j] - m.grad[j]
	}
	bent := dot(s, y)
	if !(bent > 1e-12*dot(s, m.before)) || bent <= 0 {
		return
	}
	m.rho[m.next] = 1 / bent
	m.next, m.held = (m.next+1)%memory, min(m.held+1, memory)
}

func add(x []float64, by float64, y []float64) {
	y = y[:len(x)]
	for i := range x {
		x[i] += float64(by * y[i])
	}
}

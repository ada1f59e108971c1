package origin

import "math"

// level keeps the level of the walk, which no prior holds otherwise, within log ratios of
// about ±10: a nursery that no fish is of would run off for ever.
const level = 0.01

// pool is pooled compositions of cells (group × age) and the buffers to fit them.
// Parameters: v_ck at c·K + k for spot c, then u_gk at (spots + g)·K + k where there is more than one
// group.
type pool struct {
	K, groups, ages, size int
	spots                 int   // of the walk: ages, or year classes
	spot                  []int // by cell

	density []float64 // fish × K, in units of the largest of the fish
	weight  []float64
	cell    []int32

	walk, between float64   // precisions 1/τ²
	centre        []float64 // of the prior: steps at a·K + k, differences as u; 0 but in replicates

	theta, share     []float64
	try, step, slope []float64
	info, inverse    []float64 // size × size
	cells            []float64 // cells × K × K
	slopes           []float64 // cells × K
	heard            []float64 // K: responsibilities of one fish
}

func newPool(nurseries int, p Pooling) *pool {
	s := &pool{K: nurseries, groups: p.Groups, ages: p.Ages()}
	s.place(p)
	s.size = s.K * s.spots
	if s.groups > 1 {
		s.size += s.K * s.groups
	}
	s.theta = make([]float64, s.size)
	s.buffers()
	return s
}

// place finds the spot of the walk on which each cell stands.
func (s *pool) place(p Pooling) {
	s.spot, s.spots = make([]int, s.groups*s.ages), s.ages
	for cell := range s.spot {
		s.spot[cell] = cell % s.ages
		if p.Shift != nil {
			s.spot[cell] += p.Shift[cell/s.ages]
		}
		s.spots = max(s.spots, s.spot[cell]+1)
	}
}

// buffers gives s buffers of its own.
func (s *pool) buffers() {
	n, cells := s.size, s.groups*s.ages
	for _, b := range []*[]float64{&s.centre, &s.try, &s.step, &s.slope} {
		*b = make([]float64, n)
	}
	s.info, s.inverse = make([]float64, n*n), make([]float64, n*n)
	s.cells, s.slopes, s.share = make([]float64, cells*s.K*s.K), make([]float64, cells*s.K), make([]float64, cells*s.K)
	s.heard = make([]float64, s.K)
}

// add takes in a fish.
func (s *pool) add(cell int32, weight float64, logDensity []float64) {
	top := logDensity[largest(logDensity)]
	for _, l := range logDensity {
		s.density = append(s.density, math.Exp(l-top))
	}
	s.weight, s.cell = append(s.weight, weight), append(s.cell, cell)
}

// effect is where a cell's u stands in theta, −1 where there is one group.
func (s *pool) effect(cell int) int {
	if s.groups == 1 {
		return -1
	}
	return (s.spots + cell/s.ages) * s.K
}

// shares fills share at the parameters given.
func (s *pool) shares(theta []float64) {
	for cell := range s.groups * s.ages {
		p := s.share[cell*s.K : (cell+1)*s.K]
		copy(p, theta[s.spot[cell]*s.K:][:s.K])
		if u := s.effect(cell); u >= 0 {
			for k := range p {
				p[k] += theta[u+k]
			}
		}
		top, sum := p[largest(p)], 0.0
		for k := range p {
			p[k] = math.Exp(p[k] - top)
			sum += p[k]
		}
		for k := range p {
			p[k] /= sum
		}
	}
}

// objective is the penalised log-likelihood at theta, and leaves shares there.
func (s *pool) objective(theta []float64) float64 {
	s.shares(theta)
	K := s.K
	sum := 0.0
	for i, w := range s.weight {
		if w == 0 {
			continue
		}
		f, at := 0.0, int(s.cell[i])*K
		for k, d := range s.density[i*K : (i+1)*K] {
			f += float64(d * s.share[at+k])
		}
		sum += float64(w * math.Log(f))
	}
	return sum - 0.5*s.penalty(theta)
}

func (s *pool) penalty(theta []float64) (sum float64) {
	walk := s.spots * s.K
	for at := range walk {
		sum += float64(level/float64(s.spots)*theta[at]) * theta[at]
		if at >= s.K {
			e := theta[at] - theta[at-s.K] - s.centre[at]
			sum += float64(s.walk*e) * e
		}
	}
	for at := walk; at < s.size; at++ {
		e := theta[at] - s.centre[at]
		sum += float64(s.between*e) * e
	}
	return sum
}

// climb maximises the objective by Newton steps from theta, halved while they lead down,
// until the largest step is under tolerance. The information is the observed one, or,
// where that is no covariance, that of known nurseries, as EM has it.
func (s *pool) climb(tolerance float64, most int) bool {
	value := s.objective(s.theta)
	for range most {
		s.gather(true)
		copy(s.step, s.slope)
		if cholesky(s.info, s.info, s.size) >= 0 {
			s.gather(false)
			copy(s.step, s.slope)
			if cholesky(s.info, s.info, s.size) >= 0 {
				return false
			}
		}
		forward(s.info, s.step)
		backward(s.info, s.step)
		far := 0.0
		for _, v := range s.step {
			far = math.Max(far, math.Abs(v))
		}
		if next, ok := s.take(value, far); ok {
			value = next
		} else {
			return far < 1e-4 // no step leads up within rounding
		}
		if far < tolerance {
			return true
		}
	}
	return false
}

// take goes along step as far as it leads up; log ratios move by 4 at most.
func (s *pool) take(value, far float64) (next float64, ok bool) {
	length := math.Min(1, 4/math.Max(far, 1e-300))
	for range 30 {
		for at := range s.try {
			s.try[at] = s.theta[at] + float64(length*s.step[at])
		}
		next = s.objective(s.try)
		if next >= value-1e-12*math.Abs(value) {
			copy(s.theta, s.try)
			return next, true
		}
		length /= 2
	}
	s.shares(s.theta)
	return value, false
}

// gather makes slope and information at the shares: for each cell Σ w (r − π) and
// Σ w (diag π − ππᵀ), less Σ w (diag r − rrᵀ) where it is the observed one, with r_k the
// posterior of the fish; then their sums over the parameters, and the penalties.
func (s *pool) gather(observed bool) {
	K := s.K
	clear(s.cells)
	clear(s.slopes)
	r := s.heard
	for i, w := range s.weight {
		if w == 0 {
			continue
		}
		cell := int(s.cell[i])
		p, slope, block := s.share[cell*K:(cell+1)*K], s.slopes[cell*K:(cell+1)*K], s.cells[cell*K*K:(cell+1)*K*K]
		sum := 0.0
		for k, d := range s.density[i*K : (i+1)*K] {
			r[k] = float64(d * p[k])
			sum += r[k]
		}
		for k := range r {
			r[k] /= sum
		}
		for k := range r {
			slope[k] += float64(w * (r[k] - p[k]))
			for l := range k {
				h := -float64(p[k] * p[l])
				if observed {
					h += float64(r[k] * r[l])
				}
				block[k*K+l] += float64(w * h)
			}
			h := float64(p[k] * (1 - p[k]))
			if observed {
				h -= float64(r[k] * (1 - r[k]))
			}
			block[k*K+k] += float64(w * h)
		}
	}
	s.spreadOut()
	s.penalise()
}

// spreadOut adds the cells into slope and the lower half of info.
func (s *pool) spreadOut() {
	K, n := s.K, s.size
	clear(s.info)
	clear(s.slope)
	for cell := range s.groups * s.ages {
		block := s.cells[cell*K*K : (cell+1)*K*K]
		mirror(block, K)
		v, u := s.spot[cell]*K, s.effect(cell)
		for k := range K {
			s.slope[v+k] += s.slopes[cell*K+k]
			for l := range K {
				s.info[(v+k)*n+v+l] += block[k*K+l]
			}
			if u < 0 {
				continue
			}
			s.slope[u+k] += s.slopes[cell*K+k]
			for l := range K {
				s.info[(u+k)*n+u+l] += block[k*K+l]
				s.info[(u+k)*n+v+l] += block[k*K+l]
			}
		}
	}
}

// penalise adds what the priors say.
func (s *pool) penalise() {
	n, walk := s.size, s.spots*s.K
	for at := range walk {
		ridge := level / float64(s.spots)
		s.slope[at] -= float64(ridge * s.theta[at])
		s.info[at*n+at] += ridge
		if at < s.K {
			continue
		}
		before := at - s.K
		e := float64(s.walk * (s.theta[at] - s.theta[before] - s.centre[at]))
		s.slope[at] -= e
		s.slope[before] += e
		s.info[at*n+at] += s.walk
		s.info[before*n+before] += s.walk
		s.info[at*n+before] -= s.walk
	}
	for at := walk; at < n; at++ {
		s.slope[at] -= float64(s.between * (s.theta[at] - s.centre[at]))
		s.info[at*n+at] += s.between
	}
}

// invert fills inverse with that of the information at the maximum.
func (s *pool) invert() {
	n := s.size
	s.shares(s.theta)
	s.gather(true)
	if cholesky(s.info, s.info, n) >= 0 {
		s.gather(false)
		cholesky(s.info, s.info, n) // the priors alone make it one
	}
	for j := range n {
		column := s.try
		clear(column)
		column[j] = 1
		forward(s.info, column)
		backward(s.info, column)
		for i := range n {
			s.inverse[i*n+j] = column[i]
		}
	}
}

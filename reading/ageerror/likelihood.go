package ageerror

import "math"

// core is the mixture over true ages, whatever the matrices are:
//
//	L_i = Σ_a β_a Π_j P_{r(j)}(c_ij | a),
//
// and without β, at one a, where the age is known. Patterns carry the index of a
// known age, not the age.
type core struct {
	ages, counts int
	set          []int // parameter set of each column
	patterns     []Pattern
	chance       [][]float64 // P by set, entry c·ages + a
	joint        []float64   // Π_j P(c_j | a) of the pattern at hand
	unknown      float64     // fish of unknown age
}

// multiply fills joint for one pattern.
func (k *core) multiply(p *Pattern) {
	for a := range k.joint {
		k.joint[a] = 1
	}
	for j, c := range p.Counts {
		if c < 0 {
			continue
		}
		from := int(c) * k.ages
		for a, chance := range k.chance[k.set[j]][from : from+k.ages] {
			k.joint[a] *= chance
		}
	}
}

// likelihood is L of the pattern in joint.
func (k *core) likelihood(p *Pattern, beta []float64) float64 {
	if p.Known >= 0 {
		return k.joint[p.Known]
	}
	sum := 0.0
	for a, b := range beta {
		sum += float64(b * k.joint[a])
	}
	return sum
}

// expect is Σ N log L, and fills next with β after one EM step, next_a = Σ N Pr(a | c)/Σ N
// over fish of unknown age. Minus infinity, and next undone, where some L is 0.
func (k *core) expect(next, beta []float64) float64 {
	clear(next)
	total := 0.0
	for i := range k.patterns {
		p := &k.patterns[i]
		k.multiply(p)
		l := k.likelihood(p, beta)
		if !(l > 0) {
			return math.Inf(-1)
		}
		total += float64(p.N * math.Log(l))
		if p.Known < 0 {
			weight := p.N / l
			for a, b := range beta {
				next[a] += float64(weight * b * k.joint[a])
			}
		}
	}
	for a := range next {
		if k.unknown > 0 {
			next[a] /= k.unknown
		} else {
			next[a] = beta[a]
		}
	}
	return total
}

// form is the core with matrices that follow models, one a parameter set. A point x
// is β by age, then the working parameters of each set in turn.
type form struct {
	core
	first  int // true age of index 0
	models []Model
	from   []int // where the parameters of a set begin among the working parameters
	wide   int   // working parameters
	part   []int // of a working parameter: the μ or log σ that it bears on
	parts  []int // by set: the part of μ, or −1 without bias, then that of log σ

	cells  []cells
	slope  []float64 // slope[a·wide + i] of the parameter's μ or log σ
	bend   []float64 // second slopes, bend[(a·wide + i)·wide + j], within one part
	number [][]float64
	theta  []float64
	least  float64 // share joint/L under which an age is left out of the second derivatives
	scratch
}

// scratch is what evaluate adds up, patterns first.
type scratch struct {
	score  []float64 // by part: Σ over columns of ∂log P
	mean   []float64 // E score by working parameter
	sums   []float64 // by age and part: Σ N Pr(a) ∂log P
	ratios []float64 // by age and part: Σ N (joint/L) ∂log P
	cross  []float64 // by age, part and part: Σ N Pr(a) ∂log P ∂log Pᵀ, upper half
}

// state is a point with the log-likelihood, its gradient and its second derivatives there,
// β taken as free of its sum.
type state struct {
	x, gradient, second []float64
	value               float64
}

func newForm(c core, first int, models []Model) *form {
	f := &form{core: c, first: first, models: models, least: negligible}
	f.chance = make([][]float64, len(models))
	parts := 0
	for s, m := range models {
		f.from = append(f.from, f.wide)
		mean := -1
		if m.biasParameters() > 0 {
			mean = parts
			parts++
		}
		f.parts = append(f.parts, mean, parts)
		for i := range m.Parameters() {
			if i < m.sdParameters() {
				f.part = append(f.part, parts)
			} else {
				f.part = append(f.part, mean)
			}
		}
		parts++
		f.wide += m.Parameters()
		f.cells = append(f.cells, newCells(c.ages, c.counts))
		f.chance[s] = f.cells[s].chance
		f.number = append(f.number, make([]float64, c.ages*c.counts))
	}
	f.joint = make([]float64, c.ages)
	f.theta = make([]float64, f.wide)
	f.slope = make([]float64, c.ages*f.wide)
	f.bend = make([]float64, c.ages*f.wide*f.wide)
	f.scratch = scratch{
		make([]float64, parts), make([]float64, f.wide),
		make([]float64, c.ages*parts), make([]float64, c.ages*parts), make([]float64, c.ages*parts*parts),
	}
	return f
}

func (f *form) newState() *state {
	n := f.ages + f.wide
	return &state{x: make([]float64, n), gradient: make([]float64, n), second: make([]float64, n*n)}
}

// natural is the parameters of set s at x on their natural scale.
func (f *form) natural(x []float64, s int) []float64 {
	m, from := f.models[s], f.from[s]
	theta := f.theta[from : from+m.Parameters()]
	copy(theta, x[f.ages+from:])
	for i := range m.logScale() {
		theta[i] = math.Exp(theta[i])
	}
	return theta
}

// prepare computes cells and slopes at x.
func (f *form) prepare(x []float64) {
	clear(f.bend)
	for s, m := range f.models {
		theta := f.natural(x, s)
		split := m.sdParameters()
		for a := range f.ages {
			age := float64(f.first + a)
			sd, spread := m.sdSlopes(theta, age)
			bias, mean := m.biasSlopes(theta, age)
			f.cells[s].fill(a, f.ages, age+bias, sd)
			f.lay(a, f.from[s], split, &spread)
			f.lay(a, f.from[s]+split, len(theta)-split, &mean)
		}
	}
}

// lay puts the slopes of n parameters from the given one in their place.
func (f *form) lay(a, from, n int, s *slopes) {
	for i := range n {
		f.slope[a*f.wide+from+i] = s.first[i]
		for j := range n {
			f.bend[(a*f.wide+from+i)*f.wide+from+j] = s.second[i][j]
		}
	}
}

// evaluate fills value, gradient and second at s.x; false where the likelihood is 0.
//
// For one fish, with s_a = ∂log Π P and expectations over a given its counts,
// ∂²log L = E[∂²log P] + E[s sᵀ] − E[s]E[s]ᵀ (Louis 1982); β enters as joint/L.
func (f *form) evaluate(s *state) bool {
	f.prepare(s.x)
	clear(s.gradient)
	clear(s.second)
	clear(f.sums)
	clear(f.ratios)
	clear(f.cross)
	for set := range f.number {
		clear(f.number[set])
	}
	s.value = 0
	for i := range f.patterns {
		p := &f.patterns[i]
		f.multiply(p)
		l := f.likelihood(p, s.x[:f.ages])
		if !(l > 0) {
			return false
		}
		s.value += float64(p.N * math.Log(l))
		f.add(s, p, l)
	}
	f.finish(s)
	return true
}

// Shares joint/L under which an age can't matter to a fish: in the fit that is reported
// and while forms are compared. The gradient leaves none out but by the smaller.
const (
	negligible = 1e-15
	slight     = 1e-6
)

// add takes one pattern into the sums, and −E[s]E[s]ᵀ into second.
func (f *form) add(s *state, p *Pattern, l float64) {
	clear(f.mean)
	n := f.ages + f.wide
	first, last := f.ages, -1
	for a := range f.ages {
		ratio := f.joint[a] / l
		weight := float64(s.x[a] * ratio)
		if p.Known >= 0 {
			if a != p.Known {
				continue
			}
			ratio, weight = 0, 1
		} else {
			s.gradient[a] += float64(p.N * ratio)
			f.joint[a] = ratio
			if ratio < f.least {
				continue
			}
			first, last = min(first, a), a
		}
		f.addAge(p, a, float64(p.N*ratio), float64(p.N*weight))
		slope := f.slope[a*f.wide : (a+1)*f.wide]
		for i, part := range f.part {
			f.mean[i] += float64(weight * slope[i] * f.score[part])
		}
	}
	for a := first; a <= last; a++ {
		w := float64(p.N * f.joint[a])
		row := s.second[a*n : (a+1)*n]
		for b := a; b <= last; b++ {
			row[b] -= float64(w * f.joint[b])
		}
		for i, m := range f.mean {
			row[f.ages+i] -= float64(w * m)
		}
	}
	for i, m := range f.mean {
		w := float64(p.N * m)
		row := s.second[(f.ages+i)*n+f.ages : (f.ages+i+1)*n]
		for j := i; j < f.wide; j++ {
			row[j] -= float64(w * f.mean[j])
		}
	}
}

// addAge fills score for one age of a pattern and adds it up, ratio and weight times.
func (f *form) addAge(p *Pattern, a int, ratio, weight float64) {
	clear(f.score)
	for j, c := range p.Counts {
		if c < 0 {
			continue
		}
		set, i := f.set[j], int(c)*f.ages+a
		k := &f.cells[set]
		if mean := f.parts[2*set]; mean >= 0 {
			f.score[mean] += k.mean[i]
		}
		f.score[f.parts[2*set+1]] += k.spread[i]
		f.number[set][i] += weight
	}
	parts := len(f.score)
	sums, ratios := f.sums[a*parts:(a+1)*parts], f.ratios[a*parts:(a+1)*parts]
	for q, u := range f.score {
		sums[q] += float64(weight * u)
		ratios[q] += float64(ratio * u)
		w := float64(weight * u)
		cross := f.cross[(a*parts+q)*parts : (a*parts+q+1)*parts]
		for r := q; r < parts; r++ {
			cross[r] += float64(w * f.score[r])
		}
	}
}

// finish carries the sums by age over to the working parameters.
func (f *form) finish(s *state) {
	parts, n := len(f.score), f.ages+f.wide
	for set := range f.models {
		f.curvature(set)
	}
	for a := range f.ages {
		slope := f.slope[a*f.wide : (a+1)*f.wide]
		for i, q := range f.part {
			s.gradient[f.ages+i] += float64(slope[i] * f.sums[a*parts+q])
			s.second[a*n+f.ages+i] += float64(slope[i] * f.ratios[a*parts+q])
			row := s.second[(f.ages+i)*n+f.ages : (f.ages+i+1)*n]
			for j := i; j < f.wide; j++ {
				r := f.part[j]
				row[j] += float64(slope[i] * slope[j] * f.cross[(a*parts+min(q, r))*parts+max(q, r)])
				if q == r {
					row[j] += float64(f.bend[(a*f.wide+i)*f.wide+j] * f.sums[a*parts+q])
				}
			}
		}
	}
	for i := range n {
		for j := range i {
			s.second[i*n+j] = s.second[j*n+i]
		}
	}
}

// curvature adds E[∂²log P] of a set's counts to cross.
func (f *form) curvature(set int) {
	parts, k := len(f.score), &f.cells[set]
	mean, spread := f.parts[2*set], f.parts[2*set+1]
	for a := range f.ages {
		var mm, ms, ss float64
		for i := a; i < len(k.chance); i += f.ages {
			w := f.number[set][i]
			mm += float64(w * k.mm[i])
			ms += float64(w * k.ms[i])
			ss += float64(w * k.ss[i])
		}
		f.cross[(a*parts+spread)*parts+spread] += ss
		if mean >= 0 {
			f.cross[(a*parts+mean)*parts+mean] += mm
			f.cross[(a*parts+mean)*parts+spread] += ms
		}
	}
}

package annuli

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/optimize"
)

// study is a lesson whose places were looked at once.
type study struct {
	places []place
	edgeUm float64
	count  int
	at     []float64 // µm of the annuli
}

// refine moves the evidence to where the truth has the highest probability of all that
// the lattice allows, Σ log P(count, its places | looks): what is learnt place by place
// knows nothing of growth, and counts twice what neighbours share. It starts from what was
// learnt so or from the evidence it is given, whichever is the less surprised, and pays
// (e − e₀)²/2 for leaving it.
func refine(m Model, given [looks]float64, lessons []Lesson) Model {
	w := NewWork(m)
	var studies []study
	for _, l := range lessons {
		if s, seen := w.study(l); seen {
			studies = append(studies, s)
		}
	}
	other := m
	other.Evidence = given
	if lack(other, w, studies, nil) < lack(m, w, studies, nil) {
		m = other
	}
	start := m.Evidence
	problem := optimize.Problem{
		Func: func(x []float64) float64 {
			copy(m.Evidence[:], x)
			return lack(m, w, studies, nil) + away(x, start[:], nil)
		},
		Grad: func(g, x []float64) {
			copy(m.Evidence[:], x)
			lack(m, w, studies, g)
			away(x, start[:], g)
		},
	}
	result, _ := optimize.Minimize(problem, start[:], &optimize.Settings{MajorIterations: 15, GradientThreshold: 0.002 * float64(len(studies))}, &optimize.BFGS{})
	m.Evidence = start
	if result != nil { // judged by where it came, not by how it ended
		copy(m.Evidence[:], result.X)
	}
	m.Temper = temper(m, w, studies)
	return m
}

// temper is the power, of 0.3 to 1 in steps of 0.05, under which the true counts have the
// highest probability.
func temper(m Model, w *Work, studies []study) float64 {
	const steps = 15
	var surprise [steps]float64
	for i := range studies {
		w.model, w.places, w.edgeUm = m, append(w.places[:0], studies[i].places...), studies[i].edgeUm
		w.odds()
		w.sum()
		for k := range surprise {
			w.model.Temper = 1 - 0.05*float64(k)
			p := 0.0
			if counts := w.counts(); studies[i].count < len(counts) {
				p = counts[studies[i].count]
			}
			surprise[k] -= math.Log(max(p, 1e-9))
		}
	}
	best := 0
	for k := range surprise {
		if surprise[k] < surprise[best] {
			best = k
		}
	}
	return 1 - 0.05*float64(best)
}

// study looks at a lesson once; seen is false when nothing can be suggested for it.
func (w *Work) study(l Lesson) (s study, seen bool) {
	if w.look(l.Section) != nil {
		return study{}, false
	}
	s = study{places: append([]place(nil), w.places...), edgeUm: w.edgeUm, count: len(l.Marks)}
	for _, at := range l.Marks {
		s.at = append(s.at, at*l.Section.UmPerPixel)
	}
	return s, true
}

// away is the penalty on leaving the start; its slope is added to g.
func away(x, start, g []float64) float64 {
	sum := 0.0
	for k := range x {
		sum += 0.5 * square(x[k]-start[k])
		if g != nil {
			g[k] += x[k] - start[k]
		}
	}
	return sum
}

// lack is −Σ log P(truth | looks) over the studies; its slope by the evidence goes into g
// when there is one.
func lack(m Model, w *Work, studies []study, g []float64) float64 {
	w.model = m
	clear(g)
	sum := 0.0
	for i := range studies {
		s := &studies[i]
		w.places, w.edgeUm = append(w.places[:0], s.places...), s.edgeUm
		w.odds()
		w.weighTruth(s)
		if !(w.all.total > 0) || !(w.truth.total > 0) {
			sum += 100
			continue
		}
		sum += math.Log(w.all.total) - math.Log(w.truth.total)
		w.addLooks(g, &w.all, 1)
		w.addLooks(g, &w.truth, -1)
	}
	w.allowed = w.allowed[:0]
	return sum
}

// weighTruth sums over all sequences, and over those that the truth allows: its count, each
// annulus at a place near it or unseen; where there is none, all of that count.
func (w *Work) weighTruth(s *study) {
	w.allow(s)
	for range 2 {
		allowed := w.allowed
		w.begin()
		w.truth.empty(len(w.places) + 1)
		for g := range ownAt {
			w.allowed = allowed[:0]
			w.grow(g)
			w.backward(-1)
			w.add(&w.all, g)
			w.allowed = allowed
			w.forwardAllowed()
			w.backward(s.count)
			w.add(&w.truth, g)
		}
		if w.truth.total > 0 {
			return
		}
		w.allowed = w.allowed[:0]
	}
}

// allow marks the cells that the truth allows.
func (w *Work) allow(s *study) {
	size := (len(w.places) + 1) * (mostAnnuli + 1)
	w.allowed = slices.Grow(w.allowed[:0], size)[:size]
	clear(w.allowed)
	w.allowed[0] = true
	last := 0.0
	for k, at := range s.at {
		off := min((at-last)/3, 60)
		for i := range w.places {
			if math.Abs(w.places[i].um-at) <= off {
				w.allowed[cell(i+1, k+1)] = true
			}
		}
		last = at
	}
}

// forwardAllowed is the forward sum over allowed cells.
func (w *Work) forwardAllowed() {
	clear(w.forward)
	w.forward[0] = 1
	for i := range len(w.places) + 1 {
		for _, e := range w.edges[w.from[i]:w.from[i+1]] {
			to := cell(e.to, e.count+e.unseen+1)
			if len(w.allowed) == 0 || w.allowed[to] {
				w.forward[to] += float64(w.forward[cell(i, e.count)] * e.weight)
			}
		}
	}
}

// addLooks adds to g the expected looks of the annuli, so many times.
func (w *Work) addLooks(g []float64, of *sums, times float64) {
	if g == nil {
		return
	}
	for i := range w.places {
		if w.places[i].bound {
			continue
		}
		p := of.there[i+1] / of.total * times
		for k, v := range w.places[i].looks {
			g[k] += float64(p * v)
		}
	}
}

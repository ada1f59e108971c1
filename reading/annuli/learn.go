package annuli

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Lesson is a section whose annuli are marked.
type Lesson struct {
	Section Section
	Marks   []float64 // pixels from the core along the axis, ascending: all of its annuli
}

// ErrFewLessons is why nothing was learnt.
var ErrFewLessons = errors.New("too few marked sections to learn from: it takes 30 with 100 annuli or more in them")

// Learn makes a model from marked sections: growth by least squares on the logarithms of
// the widths of years, evidence by logistic regression of annulus or not on looks, and
// how often an annulus shows nothing by another on the width of its year.
// The model that one starts from says by its course of growth what is near.
//
// A section in which nothing can be suggested is left out. Fewer than 30 sections or 100
// annuli are ErrFewLessons.
func Learn(from Model, lessons []Lesson) (Model, error) {
	var l ledger
	for _, lesson := range lessons {
		l.growth(lesson)
	}
	if l.sections < 30 || len(l.widths) < 100 {
		return Model{}, ErrFewLessons
	}
	m := from
	m.First, m.FirstSD = meanSD(l.firsts)
	if err := l.fitGrowth(&m); err != nil {
		return Model{}, err
	}
	w := NewWork(m)
	for _, lesson := range lessons {
		if w.look(lesson.Section) == nil {
			l.evidence(w, lesson)
		}
	}
	m.Rate = float64(l.annuli) / l.length
	if !logistic(m.Evidence[:], l.looks, l.is) || !logistic(m.Unseen[:], l.closed, l.hidden) {
		return Model{}, ErrFewLessons
	}
	return refine(m, from.Evidence, lessons), nil
}

// ledger gathers what is learnt from.
type ledger struct {
	sections, annuli int
	length           float64 // µm
	firsts           []float64
	terms            [][growthTerms]float64
	widths           []float64 // logarithms
	fish             []int     // whose width it is
	looks            [][]float64
	is               []bool
	closed           [][]float64
	hidden           []bool
}

func (l *ledger) growth(lesson Lesson) {
	l.sections++
	l.annuli += len(lesson.Marks)
	l.length += lesson.Section.Edge * lesson.Section.UmPerPixel
	last := 0.0
	for k, at := range lesson.Marks {
		at *= lesson.Section.UmPerPixel
		if k == 0 {
			l.firsts = append(l.firsts, math.Log(at))
		} else if at > last {
			l.terms = append(l.terms, terms(k+1, last))
			l.widths = append(l.widths, math.Log(at-last))
			l.fish = append(l.fish, l.sections)
		}
		last = at
	}
}

func (l *ledger) fitGrowth(m *Model) error {
	n := len(l.widths)
	x := mat.NewDense(n, growthTerms, nil)
	for i, row := range l.terms {
		x.SetRow(i, row[:])
	}
	var b mat.VecDense
	if err := b.SolveVec(x, mat.NewVecDense(n, l.widths)); err != nil {
		return ErrFewLessons
	}
	misses := make([]float64, n)
	for i, row := range l.terms {
		misses[i] = l.widths[i]
		for k := range growthTerms {
			misses[i] -= float64(b.AtVec(k) * row[k])
		}
	}
	m.YearSD, m.FishSD = components(misses, l.fish)
	for k := range growthTerms {
		m.Growth[k] = b.AtVec(k)
	}
	return nil
}

// components splits the spread of misses into that within a fish and that between: the
// mean squares of a one-way analysis of variance. fish tells whose each is, in order.
func components(misses []float64, fish []int) (within, between float64) {
	n, squares, sizes, groups := len(misses), 0.0, 0.0, 0.0
	inside := 0.0
	for i := 0; i < n; {
		j, sum := i, 0.0
		for ; j < n && fish[j] == fish[i]; j++ {
			sum += misses[j]
		}
		size := float64(j - i)
		for _, x := range misses[i:j] {
			inside += square(x - sum/size)
		}
		squares += sum * sum / size
		sizes += size * size
		groups++
		i = j
	}
	all := float64(n)
	variance := inside / max(all-groups, 1)
	spread := (squares/max(groups-1, 1) - variance) * (groups - 1) / max(all-sizes/all, 1)
	return math.Sqrt(variance), math.Sqrt(max(spread, 1e-4))
}

// evidence tells places that are annuli from places that are none: to each annulus
// belongs the nearest place, if that lies within a third of a year's width and 60 µm.
func (l *ledger) evidence(w *Work, lesson Lesson) {
	is := make([]bool, len(w.places))
	last := 0.0
	for _, at := range lesson.Marks {
		at *= lesson.Section.UmPerPixel
		best, off := -1, min((at-last)/3, 60)
		for i := range w.places {
			if d := math.Abs(w.places[i].um - at); d <= off && !is[i] {
				best, off = i, d
			}
		}
		if best >= 0 {
			is[best] = true
		}
		l.closed = append(l.closed, []float64{1, math.Log(max(at-last, 1))})
		l.hidden = append(l.hidden, best < 0)
		last = at
	}
	for i := range w.places {
		l.looks = append(l.looks, append([]float64(nil), w.places[i].looks[:]...))
		l.is = append(l.is, is[i])
	}
}

// logistic fits the logarithm of odds b'x by Newton's method, with a penalty of
// b²/200 on all but the constant so that no coefficient runs away, and tells whether
// it came to rest.
func logistic(b []float64, x [][]float64, is []bool) bool {
	k := len(b)
	clear(b)
	for range 60 {
		h, g := mat.NewSymDense(k, nil), mat.NewVecDense(k, nil)
		for i := 1; i < k; i++ {
			h.SetSym(i, i, 0.01)
			g.SetVec(i, -0.01*b[i])
		}
		for i, row := range x {
			eta := 0.0
			for j, v := range row {
				eta += float64(b[j] * v)
			}
			p := 1 / (1 + math.Exp(-eta))
			y := 0.0
			if is[i] {
				y = 1
			}
			for j, v := range row {
				g.SetVec(j, g.AtVec(j)+float64((y-p)*v))
				for c := j; c < k; c++ {
					h.SetSym(j, c, h.At(j, c)+float64(p*(1-p)*v)*row[c])
				}
			}
		}
		var chol mat.Cholesky
		var step mat.VecDense
		if !chol.Factorize(h) || chol.SolveVecTo(&step, g) != nil {
			return false
		}
		longest := 0.0
		for j := range b {
			b[j] += step.AtVec(j)
			longest = max(longest, math.Abs(step.AtVec(j)))
		}
		if longest < 1e-9 {
			return true
		}
	}
	return false
}

func meanSD(x []float64) (mean, sd float64) {
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		sd += square(v-mean) / float64(len(x)-1)
	}
	return mean, math.Sqrt(sd)
}

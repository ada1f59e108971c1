package key

import "math"

// TrueSmoothWork is the smoothed key of true ages: the curves of SmoothWork, of true
// ages a that nobody saw, at the maximum of
// Σ_i n_i log Σ_a q(a | l_i, s_i) Π_r P_r(c_ir | a) less the same penalties.
//
// An E step shares each fish out over the ages within reach of its readings. By
// Fisher's identity the gradient of the complete-data likelihood is then that of the
// likelihood itself, so one Newton step on the shared fish is an ascent direction; a
// limited-memory quasi-Newton scheme that takes its curvature as first guess does what
// hundreds of EM steps do. A step is halved when the gradients at its ends tell that it
// loses likelihood. Ages run from the
// youngest to the oldest that is the likeliest for some fish of the sample. Readings
// can say that no fish at all is of a true age, or that length splits it from older
// ones, only in a limit; so, unless the curvature penalty is off, every curve has small
// ridges on its slope and on its mean logit that keep the maximum within reach. Fish
// without a reading that counts are left out. A refit starts from the fit to the
// sample. Edge bins and strata without fish: as in SmoothWork.
//
// Methods, section 5, "With ageing error" and "Smoothed". Source: Dempster, Laird &
// Rubin (1977); Jamshidian & Jennrich (1997) for quasi-Newton EM (citations from memory).
type TrueSmoothWork struct {
	*smooth
	cells  *gathered // by group of rung 0
	likely *likely
	// unstratified lets fish of unknown stratum in: no effect needs it.
	unstratified bool
	fish         []float64 // weight by gathered cell
	live         []int32   // gathered cells with fish in the last fit
	rows         []row     // the same by stratum and bin
	first, last  int       // ages with a curve
	q            []float64 // shares of one row
	p            []float64 // of those left, the share of each age
	gain         []float64
	rest         []float64  // Σ over strata of the score by bin and age
	systems      []*system  // by age
	curvature    *curvature // nil until the sample is fitted
	ascent       *ascent
	trial        []float64
}

// row is the live cells of one stratum and bin, and the ages that their fish can have.
type row struct {
	cell      int32 // the first of them
	end       int32 // one past the last of them in live
	low, high int32
}

// NewTrueSmooth makes the worker and fits it to the sample with the readers' matrices;
// the error is a *Trouble with NoReadings, or with NotSettled beside a worker that
// stopped before its maximum.
func NewTrueSmooth(s Sample, readers [][]float64, set Smoothing) (*TrueSmoothWork, error) {
	s.Grid.check()
	w := &TrueSmoothWork{likely: newLikely(s), unstratified: math.IsInf(set.Strata, 1)}
	narrow := s
	narrow.Grid.Rungs, narrow.Grid.Groups = s.Grid.Rungs[:1], s.Grid.Groups[:1]
	w.cells = narrow.gather(func(e Entry) int32 { return e.Pattern })
	w.fish, w.live, w.rows = make([]float64, len(w.cells.ends)), make([]int32, 0, len(w.cells.ends)), make([]row, 0, len(w.cells.ends))
	aged, weight := make([]float64, s.Grid.Bins), s.Weights()
	var told Told
	w.sums(weight, readers, &told)
	for c, fish := range w.fish {
		aged[w.cells.bin[c]] += fish
	}
	if sum(aged) <= 0 {
		return nil, &Trouble{Reason: NoReadings}
	}
	w.smooth = newSmooth(s.Grid, aged, set)
	if set.Curvature >= 0 {
		w.hold(aged, slopeRidge)
	}
	w.lay()
	w.startUp()
	told = w.refit(weight, readers, 1e-2, mostClimbs)
	copy(w.start, w.b)
	for round := 0; round < mostRounds; round++ {
		w.curvature = w.newCurvature()
		told = w.refit(weight, readers, exactly, 25)
		copy(w.start, w.b)
		if told.Converged {
			break
		}
	}
	if !told.Converged {
		return w, &Trouble{Reason: NotSettled, Fish: told.Fish}
	}
	return w, nil
}

// lay finds the ages, and makes the buffers.
func (w *TrueSmoothWork) lay() {
	w.first, w.last = w.ages, -1
	for _, c := range w.live {
		best := w.likely.best(w.cells.value[c])
		w.first, w.last = min(w.first, best), max(w.last, best)
	}
	for a := range w.ages {
		w.kind[a] = never
		if a >= w.first && a < w.last {
			w.kind[a] = fitted
		}
		w.systems = append(w.systems, newSystem(w.curves))
	}
	w.kind[w.last] = always
	w.q, w.p, w.gain = make([]float64, w.ages), make([]float64, w.ages), make([]float64, w.ages)
	w.rest = make([]float64, w.bins*w.ages)
	w.ascent = newAscent(len(w.b))
	w.trial = make([]float64, len(w.b))
}

// startUp makes the first M step, from fish shared out by their readings alone.
func (w *TrueSmoothWork) startUp() {
	clear(w.n)
	shared := make([]float64, w.ages)
	for _, c := range w.live {
		fish, p := w.fish[c], int(w.cells.value[c])
		t := w.likely.t[p*w.ages : (p+1)*w.ages]
		total := sum(t[w.first : w.last+1])
		if total <= 0 {
			continue
		}
		for a := w.first; a <= w.last; a++ {
			shared[a] = fish * t[a] / total
		}
		w.put(shared, w.first, w.last, int(c))
	}
	w.begin()
	w.join(w.events(w.last))
	for a := w.last - 1; a >= w.first; a-- {
		w.join(w.events(a))
		w.system.newton(w.of(w.start, a), w.counts(a), exactly)
	}
}

// put adds expected fish of ages low to high to the counts of gathered cell c's stratum
// and bin.
func (w *TrueSmoothWork) put(row []float64, low, high, c int) {
	at := w.place(0, int(w.cells.bin[c]), w.cells.group(c))
	if at < 0 {
		return
	}
	size := w.bins * w.strata
	for a := max(low, w.first); a <= min(high, w.last); a++ {
		w.n[a*size+int(at)] += row[a]
	}
}

func (w *TrueSmoothWork) events(a int) []float64 {
	size := w.bins * w.strata
	return w.n[a*size : (a+1)*size]
}

func (w *TrueSmoothWork) counts(a int) counts {
	return counts{risk: w.risk, events: w.events(a), lo: w.from, hi: w.to}
}

// sums fills the fish, without those that no true age can have made, and their rows.
func (w *TrueSmoothWork) sums(weight []float64, readers [][]float64, told *Told) {
	w.likely.fill(readers)
	told.LeftOut = w.cells.sums(w.fish, weight)
	w.live, w.rows = w.live[:0], w.rows[:0]
	for c, fish := range w.fish {
		if fish <= 0 {
			continue
		}
		p := w.cells.value[c]
		if !w.likely.possible(p) || w.cells.group(c) < 0 && !w.unstratified {
			told.LeftOut, w.fish[c] = told.LeftOut+fish, 0
			continue
		}
		w.live = append(w.live, int32(c))
		w.extend(int32(c), w.likely.lo[p], w.likely.hi[p])
	}
}

// extend adds the newest live cell to the last row, or opens the next.
func (w *TrueSmoothWork) extend(c, low, high int32) {
	last := len(w.rows) - 1
	if last < 0 || w.cells.class[w.rows[last].cell] != w.cells.class[c] || w.cells.bin[w.rows[last].cell] != w.cells.bin[c] {
		w.rows = append(w.rows, row{cell: c, low: low, high: high})
		last++
	}
	r := &w.rows[last]
	r.end, r.low, r.high = int32(len(w.live)), min(r.low, low), max(r.high, high)
}

// Fit fills q and from; see Worker.
func (w *TrueSmoothWork) Fit(q []float64, from []Source, weight []float64, readers [][]float64) Told {
	w.grid.checkFit(q, from, weight, len(w.cells.order)+len(w.cells.out))
	told := w.refit(weight, readers, near*float64(len(w.b)), mostClimbs)
	w.show(q, from, &told)
	return told
}

// near is the promise, in log units a coefficient, at which a replicate's fit ends: ½ z² for
// a coefficient z standard errors from its place, so that what is left is under a hundredth
// of what a replicate differs by.
const near = 3e-5

// refit moves the curves from the start to the maximum; it ends when a step promises
// less than tol log units.
func (w *TrueSmoothWork) refit(weight []float64, readers [][]float64, tol float64, most int) Told {
	var told Told
	w.sums(weight, readers, &told)
	w.empty()
	for _, c := range w.live {
		told.Fish += w.fish[c]
		w.note(w.cells.group(int(c)), int(w.cells.bin[c]), w.fish[c])
	}
	told.Ages = w.last - w.first + 1
	copy(w.b, w.start)
	told.Iterations, told.Converged = w.climb(tol, most)
	return told
}

// Bounds on the steps of one refit, and on how often the fit to the sample takes the
// curvature anew.
const (
	mostClimbs = 200
	mostRounds = 20
)

// climb goes uphill until a step promises less than tol log units; that step is taken
// unseen.
func (w *TrueSmoothWork) climb(tol float64, most int) (steps int, settled bool) {
	w.ascent.forget()
	w.look(w.b)
	for steps < most {
		steps++
		step := w.ascent.direction(w)
		promise := dot(step, w.ascent.grad)
		if !(promise > 0) {
			return steps, true // nothing left but rounding
		}
		if promise < tol {
			add(w.b, 1, step)
			return steps, true
		}
		w.ascent.keep()
		if !w.along(step, promise) {
			return steps, promise < 1e-6 // rounding hides what is left
		}
		w.ascent.learn(w.b, w.trial)
		copy(w.b, w.trial)
	}
	return steps, false
}

// farthest is how much a step may change a logit: a likelihood is no parabola that far, and
// refits that leapt to where an age has no fish took a hundred steps to come back.
const farthest = 6

// along tries the step, shorter and shorter, until the slope along it has not turned to
// more than half of what it was the other way: the likelihood then rises, by about
// ½ (g + g')·step. Gradients say this without a logarithm a fish, and free of the rounding
// that hides a small rise.
func (w *TrueSmoothWork) along(step []float64, promise float64) bool {
	length := 1.0
	for a := w.first; a < w.last; a++ {
		length = min(length, farthest/w.systems[a].reach(w.of(step, a), counts{lo: w.from, hi: w.to}))
	}
	for range 30 {
		for j, b := range w.b {
			w.trial[j] = b + float64(length*step[j])
		}
		w.look(w.trial)
		if dot(step, w.ascent.grad) >= -0.5*promise {
			return true
		}
		length /= 2
	}
	return false
}

// look fills the gradient at coefficients b, and what precondition wants.
func (w *TrueSmoothWork) look(b []float64) {
	if w.expect(b); w.curvature == nil {
		w.slopes(b)
	}
}

// expect is the E step at coefficients b: it shares the fish out, and fills the gradient.
// As long as the curvature is not known it keeps the shared fish for slopes.
func (w *TrueSmoothWork) expect(b []float64) {
	w.oddsAt(b)
	clear(w.rest)
	clear(w.ascent.grad)
	if w.curvature == nil {
		clear(w.n)
	}
	at := int32(0)
	for _, r := range w.rows {
		w.shareOut(r, w.live[at:r.end])
		at = r.end
	}
	w.project(b)
}

// oddsAt is odds that leaves each stage's exponentials with its own system, at lengths of
// aged fish.
func (w *TrueSmoothWork) oddsAt(b []float64) {
	for a := w.first; a < w.last; a++ {
		s := w.systems[a]
		s.exps(w.of(b, a), w.from, w.to)
		w.keepOdds(a, s)
	}
}

// tiniest is the least likelihood of a fish that is told from none.
const tiniest = 1e-290

// shareOut shares out the live cells of one row, and scores its stages.
func (w *TrueSmoothWork) shareOut(r row, live []int32) {
	low, high, bin := int(r.low), int(r.high), int(w.cells.bin[r.cell])
	q, gain := w.q[:high+1], w.gain[:high+1]
	w.chances(q, bin, w.effect(r.cell))
	clear(gain)
	for _, c := range live {
		p := int(w.cells.value[c])
		lo, hi := int(w.likely.lo[p]), int(w.likely.hi[p])
		t := w.likely.t[p*w.ages+lo : p*w.ages+hi+1]
		share := dot(t, q[lo:])
		if share <= tiniest {
			continue // no age that the curves leave room for: the fish says nothing
		}
		add(gain[lo:hi+1], w.fish[c]/share, t)
	}
	for a := low; a <= high; a++ {
		gain[a] *= q[a]
	}
	w.score(gain, low, bin, w.effect(r.cell))
	if w.curvature == nil {
		w.put(gain, low, high, int(r.cell))
	}
}

// chances is row that keeps each stage's p as well, up to the last age of q.
func (w *TrueSmoothWork) chances(q []float64, l, g int) {
	if g < 0 {
		g = w.strata
	}
	clear(q[:min(w.first, len(q))])
	e, f := w.byBin[l*w.ages:(l+1)*w.ages], w.byStratum[g*w.ages:(g+1)*w.ages]
	left := 1.0
	for a := w.first; a < len(q); a++ {
		if a >= w.last {
			q[a], left = left, 0
			continue
		}
		odds := float64(e[a] * f[a])
		p := 1 / (1 + odds)
		w.p[a], q[a] = p, left*p
		left *= p * odds
	}
}

// score adds fish of one row, by age, to the scores y − n p of its stages: n is the fish of
// the age and older, so that it runs from the oldest.
func (w *TrueSmoothWork) score(fish []float64, low, bin, g int) {
	rest, width := w.rest[bin*w.ages:(bin+1)*w.ages], w.width()
	effects := w.ascent.grad[w.columns+g:]
	risk := 0.0
	for a := min(len(fish)-1, w.last); a >= w.first; a-- {
		own := 0.0
		if a >= low {
			own = fish[a]
		}
		if risk += own; a < w.last {
			left := own - float64(risk*w.p[a])
			rest[a] += left
			effects[a*width] += left
		}
	}
}

// project carries the scores by bin to the columns of the spline, and takes the penalties off.
func (w *TrueSmoothWork) project(b []float64) {
	for a := w.first; a < w.last; a++ {
		grad := w.of(w.ascent.grad, a)
		for l := w.from; l <= w.to; l++ {
			if rest := w.rest[l*w.ages+a]; rest != 0 {
				add(grad[:w.columns], rest, w.x[l*w.columns:(l+1)*w.columns])
			}
		}
		w.pull(grad, w.of(b, a), 0)
	}
}

// effect is the stratum whose effect gathered cell c has.
func (w *TrueSmoothWork) effect(c int32) int {
	if w.merged {
		return 0
	}
	return w.cells.group(int(c))
}

// slopes fills the complete-data curvature of every stage at coefficients b, where expect
// was last.
func (w *TrueSmoothWork) slopes(b []float64) {
	w.begin()
	w.join(w.events(w.last))
	for a := w.last - 1; a >= w.first; a-- {
		w.join(w.events(a))
		w.systems[a].fill(w.of(b, a), w.counts(a))
	}
}

// precondition replaces v by the inverse of the curvature times v.
func (w *TrueSmoothWork) precondition(v []float64) {
	if w.curvature != nil {
		w.curvature.solve(v[w.first*w.width() : w.last*w.width()])
		return
	}
	for a := w.first; a < w.last; a++ {
		s := w.systems[a]
		s.solve(s.step, w.of(v, a))
		copy(w.of(v, a), s.step)
	}
}

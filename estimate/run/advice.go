package run

import (
	"errors"
	"math"
	"slices"
	"strconv"

	"earstone/estimate/advice"
	"earstone/estimate/mortality"
	"earstone/estimate/resample"
	"earstone/programme/record"
	"earstone/statistics/interval"
	"earstone/statistics/stream"
)

// Given is what the consequences of a catch at age take for granted. It is no estimate.
type Given struct {
	Natural  float64 `json:"natural_mortality"` // M, per year, of all ages; 0: by longevity from the oldest age read
	Terminal float64 `json:"terminal_f"`        // F of the oldest age, per year; 0: as M
	Mature   int     `json:"first_mature_age"`  // youngest age that spawns; 0: not known, and nothing is said of spawning
	When     float64 `json:"spawning_time"`     // of the year's mortality that comes before spawning, 0 to 1
}

// AdviceFound are the consequences of the catch at age: no assessment.
type AdviceFound struct {
	Given     Given
	ByDefault [2]bool // natural and terminal mortality were not given
	Steady    bool    // one year, or years with gaps: it is taken for a cohort in a steady state
	First     int     // youngest age
	Last      int     // oldest true age; older ones are a plus group
	Figures   []Figure
	Curve     []Recruit // over F, in rising order; of the estimate alone
}

// Recruit is what a recruit yields and leaves at a fishing mortality.
type Recruit struct {
	F, Yield float64       // per year; kg
	Spawning record.Number // share of what an unfished recruit leaves; of a known first mature age only
}

// Figure is a consequence, with its spread as it is sampled and as it would be.
type Figure struct {
	Quantity    string
	Age         int // −1: of no age
	Ahead       int // years after the last one with data; 0: none
	Half, Today Estimate
	Twice       Estimate
}

// Why there are no consequences.
var (
	ErrNoWeights  = errors.New("no equation of weight is known: nothing is said of yield")
	ErrTooFewAges = errors.New("fewer than three ages hold a hundredth of the catch or more each")
)

// yearsAhead is how far a projection goes.
const yearsAhead = 3

// leastTerminal is the share of the catch that the oldest true age must hold: a cohort that
// ends in an age of a few fish is led by chance.
const leastTerminal = 0.01

// adviser evaluates the consequences of one row of catch at age.
type adviser struct {
	*AdviceFound
	view   *view
	block  int // of the first year
	years  int
	m      []float64
	life   advice.Schedule // the ages and the plus group
	ahead  advice.Ahead
	c      []float64 // ages × years
	mean   []float64
	n, f   []float64
	sn, sf []float64 // of the steady state
	now    []float64
	taken  []float64
}

// advice runs over the replicates what the catch at age leads to.
func (c *chain) advice(s *Species, v *view) error {
	found := &AdviceFound{Given: c.options.Given}
	w, err := newAdviser(found, v, s)
	if err != nil {
		s.NoAdvice = err
		return nil
	}
	stones := make([]resample.Row, max(c.options.Replicates/budgetPart, 2))
	for b := range stones {
		stones[b] = resample.Alone(stream.Stones, b).Within()
	}
	problem := v.problem
	problem.Beside = nil
	inside, err := resample.Evaluate(c.ctx, problem, stones, c.progress("stones inside trips"))
	if err != nil {
		return err
	}
	found.Curve = w.curve(v.point)
	size := len(found.Figures)
	point, drawn, left, within := w.table(1, func(int) []float64 { return v.point }), w.table(v.drawn.Replicates, v.drawn.Row),
		w.table(v.left.Replicates, v.left.Drawn.Row), w.table(inside.Replicates, inside.Row)
	for j := range found.Figures {
		column := func(of []float64, row int) float64 { return of[row*size+j] }
		draws, still := make([]float64, v.drawn.Replicates), make([]float64, 0, inside.Replicates)
		for b := range draws {
			draws[b] = column(drawn, b)
		}
		for b := range inside.Replicates {
			if x := column(within, b); !math.IsNaN(x) && !math.IsInf(x, 0) {
				still = append(still, x)
			}
		}
		e := spread{point: point[j], draws: draws, moves: v.allMoves(func(row int) float64 { return column(left, row) }), level: c.options.Level}.summarise()
		found.Figures[j].sampled(e, still)
	}
	found.Figures = slices.DeleteFunc(found.Figures, func(f Figure) bool { return !f.Today.Value.Known })
	s.Advice = found
	c.stage("advice")
	return nil
}

// sampled sets today's estimate, and what it would be with half and with twice the stones:
// of its variance V the stones have V_s when they alone are drawn inside trips, and V + V_s
// and V − V_s/2 are left. The interval keeps its shape, on the logarithm above zero.
func (f *Figure) sampled(today Estimate, stones []float64) {
	f.Today, f.Half, f.Twice = today, today, today
	if !today.SE.Known || !(today.SE.X > 0) || len(stones) < 2 {
		return
	}
	_, sd := interval.MeanSD(stones)
	part := math.Min(sd*sd/(today.SE.X*today.SE.X), 1) // no more than all of it
	f.Half, f.Twice = today.scaled(math.Sqrt(1+part)), today.scaled(math.Sqrt(1-part/2))
}

// scaled is an estimate with its spread scaled.
func (e Estimate) scaled(by float64) Estimate {
	scaled := Estimate{Estimate: e.Estimate, Method: e.Method, Freedom: e.Freedom}
	scaled.SE = record.Some(e.SE.X * by)
	if !e.Low.Known {
		return scaled
	}
	x := e.Value.X
	if x > 0 && e.Low.X > 0 && e.High.X > 0 {
		scaled.Low, scaled.High = record.Some(x*math.Pow(e.Low.X/x, by)), record.Some(x*math.Pow(e.High.X/x, by))
	} else {
		scaled.Low, scaled.High = record.Some(x+by*(e.Low.X-x)), record.Some(x+by*(e.High.X-x))
	}
	return scaled
}

func newAdviser(found *AdviceFound, v *view, s *Species) (*adviser, error) {
	d := &v.counts.Design
	if d.Weight == nil {
		return nil, ErrNoWeights
	}
	w := &adviser{AdviceFound: found, view: v, block: len(d.Strata), years: len(v.counts.Years)}
	for y := 1; y < w.years; y++ {
		found.Steady = found.Steady || v.counts.Years[y] != v.counts.Years[y-1]+1
	}
	found.Steady = found.Steady || w.years == 1
	numbers, kg := make([]float64, d.Out()), make([]float64, d.Out())
	for y := range w.years {
		b := d.Block(v.point, w.block+y)
		for a := range numbers {
			numbers[a] += b.Numbers()[a]
			kg[a] += b.Weights()[a]
		}
	}
	if !w.ages(numbers, d.Plus > 0 && d.Ages > d.Plus) {
		return nil, ErrTooFewAges
	}
	w.give(s)
	w.lives(numbers, kg)
	w.name()
	return w, nil
}

// ages finds the ages: from the youngest that is caught to the oldest true one that holds
// enough of the catch.
func (w *adviser) ages(numbers []float64, plus bool) bool {
	last := len(numbers) - 1
	if plus {
		last--
	}
	least := leastTerminal * sum(numbers)
	for last >= 0 && numbers[last] < least {
		last--
	}
	for w.First = 0; w.First <= last && numbers[w.First] == 0; {
		w.First++
	}
	w.Last = last
	return w.Last >= w.First+2
}

// give settles what was not given.
func (w *adviser) give(s *Species) {
	if w.Given.Natural == 0 {
		oldest := 1
		for i := range s.Ages {
			oldest = max(oldest, int(s.Ages[i].Class))
		}
		w.Given.Natural, w.ByDefault[0] = mortality.Formulas()[0].FromLongevity(float64(oldest), 0.5).M, true
	}
	if w.Given.Terminal == 0 {
		w.Given.Terminal, w.ByDefault[1] = w.Given.Natural, true
	}
}

// lives sets what a recruit lives by, and the buffers.
func (w *adviser) lives(numbers, kg []float64) {
	ages := w.Last - w.First + 1
	older, olderKg := sum(numbers[w.Last+1:]), sum(kg[w.Last+1:])
	for a := w.First; a <= w.Last+1; a++ {
		n, weight := older, olderKg
		if a <= w.Last {
			n, weight = numbers[a], kg[a]
		}
		if n > 0 {
			weight /= n
		} else if a > w.First { // nobody was caught: as heavy as the age before
			weight = w.life.Caught[len(w.life.Caught)-1]
		}
		mature := 0.0
		if w.Given.Mature > 0 && a >= w.Given.Mature {
			mature = 1
		}
		w.life.Natural, w.life.Selectivity = append(w.life.Natural, w.Given.Natural), append(w.life.Selectivity, 0)
		w.life.Caught, w.life.Mature = append(w.life.Caught, weight), append(w.life.Mature, mature)
	}
	w.life.Spawning, w.life.When, w.life.Plus = w.life.Caught, w.Given.When, true
	w.m = w.life.Natural[:ages]
	w.ahead = advice.Ahead{Natural: w.life.Natural, Fishing: make([]float64, ages+1), Caught: w.life.Caught, Spawning: w.life.Spawning,
		Mature: w.life.Mature, When: w.Given.When}
	w.c, w.n, w.f = make([]float64, ages*w.years), make([]float64, ages*w.years), make([]float64, ages*w.years)
	w.mean, w.sn, w.sf = make([]float64, ages), make([]float64, ages), make([]float64, ages)
	w.now, w.taken = make([]float64, ages+1), make([]float64, ages+1)
}

// name lists the figures in the order in which evaluate gives them.
func (w *adviser) name() {
	add := func(age, ahead int, names ...string) {
		for _, name := range names {
			w.Figures = append(w.Figures, Figure{Quantity: name, Age: age, Ahead: ahead})
		}
	}
	add(-1, 0, "f_now", "f01", "fmax", "f40", "yield_now", "yield_f01", "spawning_now", "spawning_f01", "recruits")
	for y := range yearsAhead {
		add(-1, y+1, "yield_at_f_now", "spawners_at_f_now", "yield_at_f01", "spawners_at_f01")
	}
	for a := w.First; a <= w.Last; a++ {
		add(a, 0, "number", "f")
	}
}

// table evaluates rows, one row of figures each.
func (w *adviser) table(rows int, row func(int) []float64) []float64 {
	size := len(w.Figures)
	out := make([]float64, rows*size)
	for b := range rows {
		w.evaluate(out[b*size:(b+1)*size], row(b))
	}
	return out
}

// curvePoints is in how many places a curve is known.
const curvePoints = 61

// curve is what a recruit of a row yields and leaves from F = 0 to a third beyond the
// largest mortality at which people look; none where the row has no figures.
func (w *adviser) curve(row []float64) []Recruit {
	figures, most := make([]float64, len(w.Figures)), 0.0
	w.evaluate(figures, row)
	if math.IsNaN(figures[0]) {
		return nil
	}
	for _, f := range figures[:4] { // F as it is, F0.1, Fmax, F40
		if f > most { // which no unknown one is
			most = f
		}
	}
	_, _, unfished := w.life.At(0)
	all := make([]Recruit, curvePoints)
	for i := range all {
		f := most * 4 / 3 * float64(i) / (curvePoints - 1)
		yield, _, spawning := w.life.At(f)
		all[i] = Recruit{F: f, Yield: yield}
		if unfished > 0 {
			all[i].Spawning = record.Some(spawning / unfished)
		}
	}
	return all
}

// evaluate fills dst with the figures of a row; those that it does not have are no number.
func (w *adviser) evaluate(dst, row []float64) {
	for j := range dst {
		dst[j] = math.NaN()
	}
	older := w.read(row)
	last := w.sea()
	if last == nil {
		return
	}
	full := slices.Max(last[1])
	for a := range w.life.Selectivity {
		w.life.Selectivity[a] = last[1][min(a, len(last[1])-1)] / full
		w.ahead.Fishing[a] = w.life.Selectivity[a] * full
	}
	p := w.life.Points()
	yield, _, spawning := w.life.At(full)
	dst[0], dst[1], dst[2], dst[3] = full, orNaN(p.F01), orNaN(p.Max), orNaN(p.F40)
	dst[4], dst[5] = yield, math.NaN()
	if p.F01.Known {
		dst[5], _, _ = w.life.At(p.F01.X)
	}
	if p.SpawningUnfished > 0 {
		dst[6], dst[7] = spawning/p.SpawningUnfished, orNaN(p.SpawningAt01)
	}
	ages, recruits := len(w.m), 0.0
	for y := range w.columns() {
		recruits += last[2][y] / float64(w.columns())
	}
	dst[8], w.ahead.Recruits = recruits, recruits
	at := 9
	for k, f := range []float64{full, orNaN(p.F01)} {
		copy(w.now, last[0])
		w.now[ages] = older * (w.life.Natural[ages] + w.ahead.Fishing[ages]) / (w.ahead.Fishing[ages] * -math.Expm1(-w.life.Natural[ages]-w.ahead.Fishing[ages]))
		w.ahead.Year(w.now, w.taken, w.now, 1)
		for y := range yearsAhead {
			yield, spawners := w.ahead.Year(w.now, w.taken, w.now, f/full)
			dst[at+4*y+2*k] = yield
			if w.Given.Mature > 0 {
				dst[at+4*y+2*k+1] = spawners
			}
		}
	}
	at += 4 * yearsAhead
	for a := range ages {
		dst[at+2*a], dst[at+2*a+1] = last[0][a], last[1][a]
	}
}

func orNaN(n record.Number) float64 {
	if !n.Known {
		return math.NaN()
	}
	return n.X
}

// columns are the years of the cohort analysis.
func (w *adviser) columns() int {
	if w.Steady {
		return 1
	}
	return w.years
}

// read takes the catches of a row and gives the catch of the plus group in the last year,
// of a steady state that of the mean year.
func (w *adviser) read(row []float64) (older float64) {
	d := &w.view.counts.Design
	clear(w.mean)
	for y := range w.years {
		numbers := d.Block(row, w.block+y).Numbers()
		for a := range w.mean {
			w.c[a*w.years+y] = numbers[w.First+a]
			w.mean[a] += numbers[w.First+a] / float64(w.years)
		}
		if w.Steady {
			older += sum(numbers[w.Last+1:]) / float64(w.years)
		} else {
			older = sum(numbers[w.Last+1:])
		}
	}
	return older
}

// sea is numbers and F at age at the start of the last year, and recruits by year; nil
// where some age is so empty that its F has no end or is 0. In a steady state the mean year
// stands for a cohort; its F at age is also what the cohorts of the last year end with.
func (w *adviser) sea() [][]float64 {
	advice.Cohort(advice.Baranov, w.sn, w.sf, w.mean, w.m, w.Given.Terminal)
	for _, f := range w.sf {
		if !(f > 0) || math.IsInf(f, 1) {
			return nil
		}
	}
	if w.Steady {
		return [][]float64{w.sn, w.sf, w.sn[:1]}
	}
	oldest := make([]float64, w.years-1)
	for y := range oldest {
		oldest[y] = w.Given.Terminal
	}
	advice.Cohorts(advice.Baranov, w.n, w.f, w.c, advice.Terminal{Natural: w.m, LastYear: w.sf, Oldest: oldest})
	for a := range w.m { // the last column; its F is that of the steady state
		w.sn[a] = w.n[a*w.years+w.years-1]
	}
	return [][]float64{w.sn, w.sf, w.n[:w.years]}
}

// ageText is an age as it stands in a table.
func ageText(age int) string {
	if age < 0 {
		return ""
	}
	return strconv.Itoa(age)
}

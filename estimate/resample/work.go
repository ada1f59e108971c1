package resample

import (
	"math"

	"earstone/estimate/catch"
	"earstone/estimate/key"
	"earstone/estimate/tally"
	"earstone/programme/record"
	"earstone/statistics/stream"
)

// work is one worker: a key, a catch and the buffers of one draw.
type work struct {
	problem *Problem
	held    map[stream.Source]bool
	design  catch.Design // a copy whose Lengths may be redrawn
	catch   *catch.Work
	key     key.Worker
	stream  stream.Stream

	groups   [][]int32 // trips by group
	times    []int32
	trips    []float64 // r_t
	factor   []float64 // of each stratum's catch
	wobble   []float64
	weight   []float64 // of each entry of the key
	q        []float64
	from     []key.Source
	measurer key.Measurer // the key, if it looks at lengths too; else nil
	beside   []BesideWorker
	fish     []float64 // of the catch by key stratum and bin, and
	p        []float64 // one stratum's length shares, for a measurer and those beside
	drawing  Drawing
	drawn    Row         // from what the evaluation at hand is drawn
	cells    []cell      // stones by trip and bin, where they are drawn within trips
	theta    [][]float64 // parameters of the readers
	matrices [][]float64 // error matrix of each reader
	redrawn  []int32
}

func newWork(p *Problem, held map[stream.Source]bool) *work {
	c := p.Counts
	w := &work{problem: p, held: held, design: c.Design, key: p.Worker()}
	d := &w.design
	w.catch = catch.NewWork(d)
	w.groups = d.Groups()
	most := 0
	for _, trips := range w.groups {
		most = max(most, len(trips))
	}
	for _, loose := range c.Loose {
		most = max(most, len(loose))
	}
	if p.within {
		w.cells = w.tripCells()
		for _, c := range w.cells {
			most = max(most, len(c.entries))
		}
	}
	w.times, w.trips = make([]int32, most), make([]float64, len(d.Trips))
	w.factor, w.wobble = make([]float64, len(d.Strata)), make([]float64, len(d.Strata)*d.Out())
	w.weight = make([]float64, len(c.Key.Entries))
	w.q, w.from = make([]float64, d.KeyStrata*d.Bins*d.Ages), make([]key.Source, d.KeyStrata*d.Bins)
	w.measurer, _ = w.key.(key.Measurer)
	for _, b := range p.Beside {
		w.beside = append(w.beside, b.Worker())
	}
	if w.measurer != nil || w.beside != nil {
		w.fish, w.p = make([]float64, len(w.from)), make([]float64, d.Bins)
	}
	if p.Readers != nil {
		w.theta = p.Readers.NewDraw()
		for range w.theta {
			w.matrices = append(w.matrices, make([]float64, d.Ages*(p.Readers.Oldest+1)))
		}
	}
	if w.redrawsFish() {
		d.Lengths = make([]float64, len(c.Design.Lengths))
		w.redrawn = make([]int32, d.Bins)
	}
	return w
}

// point evaluates the season as it is.
func (w *work) point(row, q []float64, from []key.Source) key.Told {
	w.settle()
	w.keepLengths()
	w.weigh()
	w.fitReaders()
	told := w.evaluate(row)
	copy(q, w.q)
	copy(from, w.from)
	return told
}

// replicate evaluates the season as drawn for the b-th time.
func (w *work) replicate(row []float64, b int) key.Told { return w.row(row, All(b)) }

// row evaluates the season as a row says.
func (w *work) row(row []float64, of Row) key.Told {
	w.settle()
	w.drawn = of
	if w.draws(stream.Trips) {
		w.drawTrips()
		w.drawWobble()
	}
	w.weigh()
	if w.draws(stream.Stones) {
		if !of.inside {
			w.drawLoose()
		}
		if of.within {
			w.drawWithin()
		}
	}
	if len(w.problem.Counts.Spread) > 0 && w.draws(stream.Convert) {
		w.drawSpread()
	}
	if w.draws(stream.Catch) {
		w.drawCatch()
	}
	switch {
	case (of.within || w.problem.Fish) && w.draws(stream.Fish):
		w.drawLengths()
	default:
		w.keepLengths()
	}
	if w.matrices != nil && w.draws(stream.Reader) {
		w.problem.Readers.Draw(&w.stream, w.theta)
		w.problem.Readers.Matrices(w.matrices, w.theta)
	} else {
		w.fitReaders()
	}
	return w.evaluate(row)
}

// without evaluates the season without some trips, no two of one group, their groups
// scaled up in their place.
func (w *work) without(row []float64, trips []int32) {
	w.settle()
	w.keepLengths()
	for _, t := range trips {
		group := w.groups[w.design.Trips[t].Group]
		if len(group) == 1 {
			continue
		}
		m := float64(len(group))
		for _, other := range group {
			w.trips[other] = m / (m - 1)
		}
		w.trips[t] = 0
	}
	w.weigh()
	w.fitReaders()
	w.evaluate(row)
}

// fitReaders takes the readers as they were fitted.
func (w *work) fitReaders() {
	if w.matrices != nil {
		w.problem.Readers.Matrices(w.matrices, w.problem.Readers.Theta)
	}
}

// evaluate fills a row from what was drawn.
func (w *work) evaluate(row []float64) key.Told {
	drawn := draw{Trips: w.trips, Catch: w.factor, Wobble: w.wobble}
	if w.fish != nil {
		Fish(w.fish, w.p, &w.design, drawn)
	}
	if w.measurer != nil {
		w.measurer.Measure(w.fish)
	}
	told := w.key.Fit(w.q, w.from, w.weight, w.matrices)
	size := w.design.Size()
	w.catch.AtAge(row[:size], w.q, drawn)
	w.drawing = Drawing{Trips: w.trips, Fish: w.fish, Key: w.q, Readers: w.matrices, Within: w.drawn.within, Inside: w.drawn.inside, work: w}
	for i, worker := range w.beside {
		end := size + w.problem.Beside[i].Size()
		worker.Evaluate(row[size:end], &w.drawing)
		size = end
	}
	return told
}

// Fish fills dst, key strata × bins, with the fish of the catch, Σ_s N_s p_s(l) over the
// catch strata of each key stratum; p has one place a bin and is used on the way. A
// stratum without lengths adds nothing. Allocates nothing.
func Fish(dst, p []float64, d *catch.Design, drawn catch.Draw) {
	clear(dst)
	for s := range d.Strata {
		if !d.LengthShares(p, s, drawn.Trips) {
			continue
		}
		number := d.Number(s, p)
		if drawn.Catch != nil {
			number *= drawn.Catch[s]
		}
		for l, share := range p {
			dst[d.Strata[s].Key*d.Bins+l] += float64(number * share)
		}
	}
}

// settle sets every multiplicity and factor to 1: nothing is drawn.
func (w *work) settle() {
	w.drawn = Row{}
	for t := range w.trips {
		w.trips[t] = 1
	}
	for s := range w.factor {
		w.factor[s] = 1
	}
	for i := range w.wobble {
		w.wobble[i] = 1
	}
}

// draws turns the stream to the replicate of a source, unless none is to be drawn.
func (w *work) draws(source stream.Source) bool {
	b := w.drawn.from[source] - 1
	if b < 0 || w.held[source] {
		return false
	}
	w.stream.Reset(w.problem.Seed, source, b)
	return true
}

// drawTrips draws m−1 of the m trips of each group with replacement and scales them by
// m/(m−1), which makes the variance unbiased from m = 2 up (Rao & Wu 1988). A trip that
// is alone has nothing to be drawn against: its stones come with an exponential weight,
// mean and variance 1, as those of one trip among many would, and its lengths take the
// pooled variance of drawWobble.
func (w *work) drawTrips() {
	for _, group := range w.groups {
		m := len(group)
		if m == 1 {
			w.trips[group[0]] = w.stream.Exponential()
			continue
		}
		times := w.times[:m]
		w.stream.Picks(times, m-1)
		scale := float64(m) / float64(m-1)
		for i, t := range group {
			w.trips[t] = scale * float64(times[i])
		}
	}
}

// drawWobble gives the share at age of strata with one trip a gamma factor of mean 1 from
// which the pooled relative variance R_a of methods section 6 is left when the shares have
// been brought back to their sum (catch.Stratum.Wobble). The number of fish that one trip's
// mean weight makes of a landed weight takes a factor likewise.
func (w *work) drawWobble() {
	out := w.design.Out()
	for s := range w.design.Strata {
		if variance := w.design.Strata[s].RelativeNumber; variance > 0 {
			w.factor[s] *= w.stream.Gamma(1/variance) * variance
		}
		for a, variance := range w.design.Strata[s].Wobble {
			if variance > 0 {
				w.wobble[s*out+a] = w.stream.Gamma(1/variance) * variance
			}
		}
	}
}

// weigh carries the trips' multiplicities to their stones.
func (w *work) weigh() {
	for i, e := range w.problem.Counts.Key.Entries {
		w.weight[i] = e.Fish
		if e.Trip >= 0 {
			w.weight[i] *= w.trips[e.Trip]
		}
	}
}

// drawLoose draws stones of no trip again within the place they came from, in the same
// way as trips: n−1 of n.
func (w *work) drawLoose() {
	for _, loose := range w.problem.Counts.Loose {
		n := len(loose)
		if n == 1 {
			w.scale(loose[0], w.stream.Exponential())
		}
		if n < 2 {
			continue
		}
		times := w.times[:n]
		w.stream.Picks(times, n-1)
		scale := float64(n) / float64(n-1)
		for j, stone := range loose {
			w.scale(stone, scale*float64(times[j]))
		}
	}
}

func (w *work) scale(stone tally.Stone, by float64) {
	for _, i := range stone {
		w.weight[i] *= by
	}
}

// drawSpread puts each fish whose length was converted into one of the bins where it may
// lie: the same one whatever its date, which may be known in part only and then lays the
// fish out over several runs.
func (w *work) drawSpread() {
	entries, place := w.problem.Counts.Key.Entries, 0.0
	var last record.FishID
	for i, s := range w.problem.Counts.Spread {
		run := w.weight[s.First : s.First+s.Len]
		total, fish := 0.0, 0.0
		for j, x := range run {
			total += x
			fish += entries[int(s.First)+j].Fish
		}
		if id := w.problem.Counts.Fish[s.First].ID; i == 0 || id != last {
			place, last = w.stream.Float64(), id
		}
		at := place * fish
		for j := range run {
			here := entries[int(s.First)+j].Fish
			if run[j] = 0; at >= 0 && (at < here || j == len(run)-1) {
				run[j] = total
			}
			at -= here
		}
	}
}

// drawCatch gives the total catch of a stratum a lognormal factor of mean 1 and its CV.
func (w *work) drawCatch() {
	for s, cv := range w.problem.Counts.CV {
		if cv > 0 {
			variance := math.Log1p(cv * cv)
			w.factor[s] *= math.Exp(math.Sqrt(variance)*w.stream.Normal() - variance/2)
		}
	}
}

// keepLengths takes the lengths as they are; where none are redrawn the worker looks at
// them in place, as all others do.
func (w *work) keepLengths() {
	if w.redrawsFish() {
		copy(w.design.Lengths, w.problem.Counts.Design.Lengths)
	}
}

func (w *work) redrawsFish() bool {
	return (w.problem.Fish || w.problem.within) && !w.held[stream.Fish]
}

// drawLengths draws the fish of each trip again within the trip. Off unless declared: it
// counts the within-trip part twice when a trip's sample is all that was taken.
func (w *work) drawLengths() {
	d, whole := &w.design, w.problem.Counts.Design.Lengths
	for t := range d.Trips {
		n, p := int(w.problem.Counts.Trips[t].Measured+0.5), whole[t*d.Bins:(t+1)*d.Bins]
		if n == 0 {
			copy(d.Lengths[t*d.Bins:], p)
			continue
		}
		w.stream.Multinomial(w.redrawn, p, n)
		for l, times := range w.redrawn {
			d.Lengths[t*d.Bins+l] = float64(times) / float64(n)
		}
	}
}

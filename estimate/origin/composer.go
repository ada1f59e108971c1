package origin

import (
	"math"

	"earstone/statistics/dist"
	"earstone/statistics/stream"
)

// Composer is one worker of the resampling: it redraws the baseline, fits the densities
// again, and finds the compositions of the redrawn catch from where the estimate itself
// stands. Its methods allocate nothing. Not for several goroutines at a time.
//
// A replicate is Redraw, then Compose. Together with the multiplicity of trips they make
// the composition and the catch at age of one replicate joint: C_sak = C_sa π_sk(a).
type Composer struct {
	fit     *Fit
	groups  *Groups
	classes *classes
	whole   mixture
	pool    pool

	members  [][]int32 // baseline fish by cell
	picks    []int32
	alone    []int     // cells of a known year with fewer than two fish
	critical []float64 // nurseries × (tracers + 1): D² beyond which a fish is outside, by tracers seen
	scale    float64   // of weights
	moved    bool      // whether the densities are not those of the fit
	unfit    bool

	log      []float64 // mixed fish × nurseries
	out      []bool    // mixed fish outside
	share    []float64 // overall
	gradient []float64
	info     []float64
	square   []float64
	vector   []float64
	free     []int
}

// Told is what a replicate has to say of itself.
type Told struct {
	Unfit     bool // the redrawn baseline gave no density: that of the estimate stood in
	Unsettled bool // an iteration did not come to its end
}

// NewComposer makes a worker; several may be made of one Groups.
func (g *Groups) NewComposer() *Composer {
	f := g.fit
	t := f.data
	K, M := t.nurseries, len(f.Fish)
	c := &Composer{fit: f, groups: g, classes: newClasses(t, f.Form)}
	c.classes.fit(false)
	c.pool = g.state
	c.pool.theta = make([]float64, c.pool.size)
	c.pool.buffers()
	c.pool.density, c.pool.weight, c.pool.cell = make([]float64, M*K), make([]float64, M), make([]int32, M)
	c.whole = mixture{K: K, density: make([]float64, M*K), top: make([]float64, M), weight: make([]float64, M)}
	c.log, c.out = make([]float64, M*K), make([]bool, M)
	c.share, c.gradient, c.info, c.vector = make([]float64, K), make([]float64, K), make([]float64, K*K), make([]float64, K)
	c.square, c.free = make([]float64, K*K), make([]int, 0, K)
	c.listCells()
	c.listCritical()
	sum, squares := 0.0, 0.0
	for i := range f.Fish {
		cell := max(g.cell(i), -1)
		c.pool.cell[i] = int32(max(cell, 0))
		if w := f.problem.Mixed[i].Weight; w > 0 && cell >= 0 && t.seen(i) > 0 && (f.settings.KeepOutside || !f.outside(i)) {
			sum, squares = sum+w, squares+float64(w*w)
		}
	}
	c.scale = sum / squares
	c.judge()
	return c
}

// listCells finds the members of each cell, and the years of which nothing is redrawn.
func (c *Composer) listCells() {
	t := c.fit.data
	c.members = make([][]int32, t.cells())
	most := 0
	for b, cell := range t.cell {
		c.members[cell] = append(c.members[cell], int32(b))
		most = max(most, len(c.members[cell]))
	}
	c.picks = make([]int32, most)
	for cell, fish := range c.members {
		if len(fish) < 2 && cell%(t.years+1) < t.years {
			c.alone = append(c.alone, cell)
		}
	}
}

// listCritical turns the tail that makes a fish an outsider into distances.
func (c *Composer) listCritical() {
	d := c.fit.data.d
	c.critical = make([]float64, c.classes.nurseries*(d+1))
	for k, nu := range c.classes.nu {
		for seen := 1; seen <= d; seen++ {
			m := float64(seen)
			f := dist.FQuantile(1-c.fit.settings.outsideTail(), m, nu-m+1)
			c.critical[k*(d+1)+seen] = f * nu * m / (nu - m + 1)
		}
	}
}

// Size is the length of a row: shares over all, the share outside, then groups × ages ×
// nurseries.
func (c *Composer) Size() int { return c.pool.K + 1 + len(c.pool.share) }

// Whole is the shares of nurseries over all mixed fish inside the baseline.
func (c *Composer) Whole(row []float64) []float64 { return row[:c.pool.K] }

// Outside is the weighted share of mixed fish outside the baseline.
func (c *Composer) Outside(row []float64) float64 { return row[c.pool.K] }

// Cell is the shares of nurseries in a group at an age.
func (c *Composer) Cell(row []float64, group, age int) []float64 {
	return c.groups.Of(row[c.pool.K+1:], group, age)
}

// Redraw draws the baseline again and fits the densities to it; nil takes it as it is.
//
// Of n fish of one nursery and year class n − 1 are picked with weights n/(n − 1) (Rao &
// Wu 1988). A year class of one fish or none can't be redrawn: its centre is drawn from
// what is known of it, year classes being normal around their nursery's mean with a
// spread that itself rests on few of them, so that a fit to an unseen year is wide as
// a whole and not just fish by fish.
func (c *Composer) Redraw(s *stream.Stream) {
	c.unfit = false
	if s == nil {
		if c.moved {
			c.reset()
		}
		return
	}
	c.moved = true
	for _, fish := range c.members {
		n := len(fish)
		if n < 2 {
			continue
		}
		picks := c.picks[:n]
		s.Picks(picks, n-1)
		for i, b := range fish {
			c.classes.weight[b] = float64(float64(picks[i])*float64(n)) / float64(n-1)
		}
	}
	if reason, _, _ := c.classes.fit(true); reason != 0 {
		c.reset()
		c.unfit, c.moved = true, true
	}
	c.drawAlone(s)
	c.judge()
}

// reset goes back to the baseline as it is.
func (c *Composer) reset() {
	for b := range c.classes.weight {
		c.classes.weight[b] = 1
	}
	c.classes.fit(false)
	c.moved = false
	c.judge()
}

// drawAlone moves the centres that no redraw moves. The spread of year classes rests on
// f of them: T f/χ²_f stands for it.
func (c *Composer) drawAlone(s *stream.Stream) {
	l, d := c.classes, c.classes.d
	few := 1.0
	if l.yearsUsed && len(c.alone) > 0 && l.yearsDF > 0 {
		few = math.Min(l.yearsDF/(2*s.Gamma(l.yearsDF/2)), 100)
	}
	for _, cell := range c.alone {
		for j := cell * d; j < (cell+1)*d; j++ {
			l.centre[j] += float64(math.Sqrt((l.tail[j]-1)*few) * s.Normal())
		}
	}
}

// judge holds each mixed fish against the densities as they stand.
func (c *Composer) judge() {
	t, K := c.fit.data, c.pool.K
	for i := range c.out {
		x, lacks, year := t.fish(i)
		out := true
		top := math.Inf(-1)
		for k := range K {
			l, d2, seen := c.classes.at(k, year, x, lacks)
			c.log[i*K+k] = l
			if l > top {
				top = l
			}
			out = out && d2 > c.critical[k*(t.d+1)+seen]
		}
		c.out[i] = out
		for k := range K {
			f := math.Exp(c.log[i*K+k] - top)
			c.whole.density[i*K+k], c.pool.density[i*K+k] = f, f
		}
	}
}

// Compose fills row with the compositions of the catch, times the multiplicity of each
// mixed fish (that of its trip; nil: 1 each). The weight of a fish is its design weight
// by its multiplicity, and is not scaled anew: as many fish lean on each other as in the
// estimate.
//
// pooling, where given, draws the steps between ages and the differences between groups
// around which the priors stand (each N(0, τ²)): a share that leans on its neighbours
// then varies by what leaning may get wrong, and not only by its own fish. nil leaves
// them at 0, as in the estimate.
//
// Panics when row is not of Size or times not one a mixed fish.
func (c *Composer) Compose(row, times []float64, pooling *stream.Stream) (told Told) {
	K := c.pool.K
	if len(row) != c.Size() || times != nil && len(times) != len(c.out) {
		panic("origin: Compose wants a row of Size and a multiplicity for each mixed fish")
	}
	told.Unfit = c.unfit
	row[K] = c.weigh(times)
	copy(c.share, c.fit.Composition.Share)
	for k := range c.share { // off the border, from which no step leads
		c.share[k] = float64(0.999*c.share[k]) + 0.001/float64(K)
	}
	settled := c.climb()
	copy(row[:K], c.share)
	c.pool.draw(pooling)
	copy(c.pool.theta, c.groups.state.theta)
	settled = c.pool.climb(1e-3, 30) && settled
	copy(row[K+1:], c.pool.share)
	told.Unsettled = !settled
	return told
}

// weigh sets the weights, and returns the share outside.
func (c *Composer) weigh(times []float64) float64 {
	f := c.fit
	all, out := 0.0, 0.0
	for i := range c.out {
		m := &f.problem.Mixed[i]
		w := m.Weight
		if times != nil {
			w *= times[i]
		}
		if f.data.seen(i) == 0 {
			w = 0
		}
		all += w
		if c.out[i] {
			out += w
			if !f.settings.KeepOutside {
				w = 0
			}
		}
		w *= c.scale
		c.whole.weight[i], c.pool.weight[i] = w, w
		if m.Age < c.groups.First || m.Age > c.groups.Last {
			c.pool.weight[i] = 0
		}
	}
	if all == 0 {
		return 0
	}
	return out / all
}

// draw moves the centres of the priors.
func (s *pool) draw(r *stream.Stream) {
	clear(s.centre)
	if r == nil {
		return
	}
	walk, between := 1/math.Sqrt(s.walk), 1/math.Sqrt(s.between)
	for at := s.K; at < s.size; at++ {
		if at < s.spots*s.K {
			s.centre[at] = float64(walk * r.Normal())
		} else {
			s.centre[at] = float64(between * r.Normal())
		}
	}
}

// climb maximises Σ w ln Σ_k π_k f_k over the simplex, to where EM would come, by Newton
// steps that stop short of its border. A share under 1e-7 whose slope points out of the
// simplex rests there. Where the fish don't tell nurseries apart a step of EM stands in.
func (c *Composer) climb() bool {
	for range 60 {
		total := c.slopes()
		if total == 0 {
			return false // no fish: the composition of the estimate stands
		}
		base := largest(c.share)
		c.free = c.free[:0]
		for k, p := range c.share {
			if k != base && (p >= 1e-7 || c.gradient[k] > total) {
				c.free = append(c.free, k)
			}
		}
		if len(c.free) == 0 {
			return true
		}
		if c.step(base, total) < 1e-6 {
			return true
		}
	}
	return false
}

// slopes fills gradient with Σ w f_k/f and info with Σ w f_k f_l/f²; it returns Σ w.
func (c *Composer) slopes() (total float64) {
	K := c.pool.K
	clear(c.gradient)
	clear(c.info)
	for i, w := range c.whole.weight {
		if w == 0 {
			continue
		}
		f := c.whole.density[i*K : (i+1)*K]
		sum := 0.0
		for k, p := range c.share {
			sum += float64(p * f[k])
		}
		total += w
		for k, d := range f {
			a := d / sum
			c.gradient[k] += float64(w * a)
			for l := range k + 1 {
				c.info[k*K+l] += float64(float64(w*a) * (f[l] / sum))
			}
		}
	}
	mirror(c.info, K)
	return total
}

// step moves the free shares, the base taking up what they leave, and returns how far.
func (c *Composer) step(base int, total float64) (far float64) {
	K, n := c.pool.K, len(c.free)
	b, e := c.square[:n*n], c.vector[:n]
	for i, k := range c.free {
		e[i] = c.gradient[k] - c.gradient[base]
		for j, l := range c.free {
			b[i*n+j] = c.info[k*K+l] - c.info[k*K+base] - c.info[base*K+l] + c.info[base*K+base]
		}
	}
	if cholesky(b, b, n) >= 0 {
		for k, p := range c.share {
			next := p * c.gradient[k] / total
			far = math.Max(far, math.Abs(next-p))
			c.share[k] = next
		}
		return far
	}
	forward(b, e)
	backward(b, e)
	length, rest := 1.0, 0.0
	for i, k := range c.free {
		rest -= e[i]
		if e[i] < 0 {
			length = math.Min(length, 0.9*c.share[k]/-e[i])
		}
	}
	if rest < 0 {
		length = math.Min(length, 0.9*c.share[base]/-rest)
	}
	for i, k := range c.free {
		far = math.Max(far, math.Abs(length*e[i]))
		c.share[k] += float64(length * e[i])
	}
	c.share[base] += float64(length * rest)
	return math.Max(far, math.Abs(length*rest))
}

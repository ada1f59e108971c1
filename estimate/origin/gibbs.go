package origin

import (
	"math"

	"earstone/statistics/stream"
)

// gibbs is one chain.
type gibbs struct {
	*table
	K      int
	prior  []float64
	inform bool
	rounds int
	stream stream.Stream

	mixed  []int     // mixed fish taken in
	weight []float64 // of each, summing to the effective sample

	before  wishart   // prior of every nursery
	after   []wishart // what is believed of each
	yearPsi []float64 // scale of T's prior

	known   moments // of the baseline by cell
	now     moments // with the mixed fish as they stand
	mean    []float64
	within  []float64 // K × d × d: S_k ...
	precise []float64 // ... its inverse ...
	axes    []float64 // ... and the inverse of its factor
	logSize []float64
	between []float64 // T
	steady  []float64 // its inverse
	centre  []float64 // cells × d: μ_ky
	wide    []float64 // K × d × d: inverse factors of S_k + T
	logWide []float64

	density []float64 // fish × K
	top     []float64
	share   []float64
	count   []float64
	member  []int32
	belief  []float64 // fish × K: sum of posteriors over kept sweeps

	draw         drawing
	square, e, b []float64
	has          []int
}

// moments are number, sum and squares by cell.
type moments struct {
	n, sum, squares []float64
}

func newMoments(cells, d int) moments {
	return moments{make([]float64, cells), make([]float64, cells*d), make([]float64, cells*d*d)}
}

func (m *moments) add(cell int, x []float64) {
	d := len(x)
	m.n[cell]++
	for i, v := range x {
		m.sum[cell*d+i] += v
		for j, w := range x {
			m.squares[(cell*d+i)*d+j] += float64(v * w)
		}
	}
}

func newGibbs(f *Fit, s Simulation, rounds int) *gibbs {
	t := f.data
	d, K, cells := t.d, t.nurseries, t.cells()
	g := &gibbs{table: t, K: K, prior: s.Prior, inform: s.Inform, rounds: rounds,
		known: newMoments(cells, d), now: newMoments(cells, d), draw: newDrawing(d), before: newWishart(d), has: make([]int, 0, d)}
	for b, cell := range t.cell {
		g.known.add(int(cell), t.x[b*d:(b+1)*d])
	}
	sum, squares := 0.0, 0.0
	for i := range f.Fish {
		if w := f.problem.Mixed[i].Weight; w > 0 && t.seen(i) > 0 && (f.settings.KeepOutside || !f.outside(i)) {
			g.mixed, g.weight = append(g.mixed, i), append(g.weight, w)
			sum, squares = sum+w, squares+float64(w*w)
		}
	}
	for n := range g.weight {
		g.weight[n] *= sum / squares
	}
	n := len(g.mixed)
	for _, b := range []struct {
		to   *[]float64
		size int
	}{
		{&g.mean, K * d}, {&g.within, K * d * d}, {&g.precise, K * d * d}, {&g.axes, K * d * d}, {&g.logSize, K},
		{&g.between, d * d}, {&g.steady, d * d}, {&g.centre, cells * d}, {&g.wide, K * d * d}, {&g.logWide, K},
		{&g.density, n * K}, {&g.top, n}, {&g.share, K}, {&g.count, K}, {&g.belief, n * K},
		{&g.square, d * d}, {&g.e, d}, {&g.b, d}, {&g.yearPsi, d * d},
	} {
		*b.to = make([]float64, b.size)
	}
	g.member = make([]int32, n)
	g.believe(f.classes)
	return g
}

// believe sets the priors, and where the chain begins: at the fit.
func (g *gibbs) believe(c *classes) {
	d := g.d
	g.before.kappa, g.before.nu = 0.01, float64(d+2)
	copy(g.before.psi, c.pooled) // an inverse Wishart with d + 2 has its scale as its mean
	for k := range g.K {
		g.after = append(g.after, newWishart(d))
		copy(g.within[k*d*d:(k+1)*d*d], c.pooled)
		lift(g.mean[k*d:(k+1)*d], c.a[k*d*d:(k+1)*d*d], c.middle[k*d:(k+1)*d])
		for y := range g.years + 1 {
			cell := k*(g.years+1) + y
			lift(g.centre[cell*d:(cell+1)*d], c.a[k*d*d:(k+1)*d*d], c.centre[cell*d:(cell+1)*d])
		}
	}
	for j, v := range c.pooled {
		g.yearPsi[j] = 0.1 * v
		g.between[j] = 0.1*v + c.between[j]
	}
}

// run makes the sweeps, and returns shares and log-likelihood of those kept.
func (g *gibbs) run(s Simulation) (shares, likelihood []float64) {
	kept := s.Sweeps - s.BurnIn
	shares, likelihood = make([]float64, 0, kept*g.K), make([]float64, 0, kept)
	for k := range g.count {
		g.count[k] = 1
	}
	g.stream.Dirichlet(g.share, g.count) // chains begin apart
	g.factorise()
	g.evaluate()
	g.assign()
	for sweep := range s.Sweeps {
		g.sweep()
		if sweep < s.BurnIn {
			continue
		}
		shares = append(shares, g.share...)
		likelihood = append(likelihood, g.look())
	}
	return shares, likelihood
}

// sweep draws densities, then memberships and shares.
func (g *gibbs) sweep() {
	copy(g.now.n, g.known.n)
	copy(g.now.sum, g.known.sum)
	copy(g.now.squares, g.known.squares)
	if g.inform {
		for n, i := range g.mixed {
			if x, lacks, year := g.fish(i); lacks == 0 && (year < g.years) {
				g.now.add(int(g.member[n])*(g.years+1)+year, x)
			}
		}
	}
	if g.yearsUsed {
		g.drawCentres()
		g.drawSpread()
		g.drawNurseries()
		g.drawEmpty()
	} else {
		g.drawPooled()
	}
	g.factorise()
	g.evaluate()
	for range g.rounds {
		g.assign()
		for k, c := range g.count {
			g.count[k] = c + g.prior[k]
		}
		g.stream.Dirichlet(g.share, g.count)
	}
}

// drawPooled draws mean and covariance of each nursery at once, years being one.
func (g *gibbs) drawPooled() {
	d := g.d
	for k := range g.K {
		cell := k * (g.years + 1)
		w := &g.after[k]
		w.learn(&g.before, g.now.n[cell], g.now.sum[cell*d:(cell+1)*d], g.now.squares[cell*d*d:(cell+1)*d*d])
		s := g.within[k*d*d : (k+1)*d*d]
		if !g.draw.inverseWishart(s, w.nu, w.psi, &g.stream) || cholesky(g.draw.factor, s, d) >= 0 {
			continue // rounding alone gets here: the last draw stands
		}
		for i := range d {
			g.b[i] = g.stream.Normal()
		}
		root := math.Sqrt(w.kappa)
		for i := range d {
			sum := 0.0
			for j := range i + 1 {
				sum += float64(g.draw.factor[i*d+j] * g.b[j])
			}
			g.mean[k*d+i] = w.mean[i] + sum/root
		}
		copy(g.centre[cell*d:(cell+1)*d], g.mean[k*d:(k+1)*d])
	}
}

// drawCentres draws μ_ky of the year classes that have fish.
func (g *gibbs) drawCentres() {
	d := g.d
	for k := range g.K {
		precise := g.precise[k*d*d : (k+1)*d*d]
		for y := range g.years {
			cell := k*(g.years+1) + y
			n := g.now.n[cell]
			if n == 0 {
				continue
			}
			for i := range d {
				sum := 0.0
				for j := range d {
					g.square[i*d+j] = float64(n*precise[i*d+j]) + g.steady[i*d+j]
					sum += float64(precise[i*d+j]*g.now.sum[cell*d+j]) + float64(g.steady[i*d+j]*g.mean[k*d+j])
				}
				g.b[i] = sum
			}
			g.draw.normal(g.centre[cell*d:(cell+1)*d], g.square, g.b, &g.stream)
		}
	}
}

// drawSpread draws T.
func (g *gibbs) drawSpread() {
	d := g.d
	copy(g.square, g.yearPsi)
	nu := float64(d + 2)
	for k := range g.K {
		for y := range g.years {
			cell := k*(g.years+1) + y
			if g.now.n[cell] == 0 {
				continue
			}
			nu++
			for i := range d {
				for j := range d {
					g.square[i*d+j] += float64((g.centre[cell*d+i] - g.mean[k*d+i]) * (g.centre[cell*d+j] - g.mean[k*d+j]))
				}
			}
		}
	}
	if g.draw.inverseWishart(g.between, nu, g.square, &g.stream) && cholesky(g.draw.factor, g.between, d) < 0 {
		invert(g.steady, g.draw.factor, g.e)
	}
}

// drawNurseries draws S_k given means and centres, then m_k.
func (g *gibbs) drawNurseries() {
	d := g.d
	for k := range g.K {
		first := k * (g.years + 1)
		s := g.square
		for i := range d {
			for j := range d {
				s[i*d+j] = g.before.psi[i*d+j] + float64(g.before.kappa*g.mean[k*d+i])*g.mean[k*d+j]
			}
		}
		nu, years := g.before.nu+1, 0.0
		clear(g.e)
		for cell := first; cell < first+g.years; cell++ {
			n, m := g.now.n[cell], g.centre[cell*d:(cell+1)*d]
			if n == 0 {
				continue
			}
			nu, years = nu+n, years+1
			sum, squares := g.now.sum[cell*d:(cell+1)*d], g.now.squares[cell*d*d:(cell+1)*d*d]
			for i := range d {
				g.e[i] += m[i]
				for j := range d {
					s[i*d+j] += squares[i*d+j] - float64(m[i]*sum[j]) - float64(sum[i]*m[j]) + float64(float64(n*m[i])*m[j])
				}
			}
		}
		within, precise := g.within[k*d*d:(k+1)*d*d], g.precise[k*d*d:(k+1)*d*d]
		if g.draw.inverseWishart(within, nu, s, &g.stream) && cholesky(g.draw.factor, within, d) < 0 {
			invert(precise, g.draw.factor, g.b)
		}
		for i := range d { // m_k: years of weight T⁻¹ each, the prior's κ S⁻¹ around 0
			sum := 0.0
			for j := range d {
				s[i*d+j] = float64(years*g.steady[i*d+j]) + float64(g.before.kappa*precise[i*d+j])
				sum += float64(g.steady[i*d+j] * g.e[j])
			}
			g.b[i] = sum
		}
		g.draw.normal(g.mean[k*d:(k+1)*d], s, g.b, &g.stream)
	}
}

// drawEmpty draws the centres of year classes that no fish teaches anything of.
func (g *gibbs) drawEmpty() {
	d := g.d
	for k := range g.K {
		for y := range g.years {
			cell := k*(g.years+1) + y
			if g.now.n[cell] > 0 {
				continue
			}
			lift(g.b, g.steady, g.mean[k*d:(k+1)*d])
			copy(g.square, g.steady)
			g.draw.normal(g.centre[cell*d:(cell+1)*d], g.square, g.b, &g.stream)
		}
	}
}

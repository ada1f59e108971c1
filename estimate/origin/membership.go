package origin

import "math"

// factorise works out what densities and the next draws want of S_k and T.
func (g *gibbs) factorise() {
	d := g.d
	l := g.draw.factor
	if g.yearsUsed && cholesky(l, g.between, d) < 0 {
		invert(g.steady, l, g.e)
	}
	for k := range g.K {
		within := g.within[k*d*d : (k+1)*d*d]
		if cholesky(l, within, d) < 0 {
			invert(g.precise[k*d*d:(k+1)*d*d], l, g.e)
			g.logSize[k] = lowerInverse(g.axes[k*d*d:(k+1)*d*d], l, g.e)
		}
		if !g.yearsUsed {
			continue
		}
		for j, v := range within {
			g.square[j] = v + g.between[j]
		}
		if cholesky(l, g.square, d) < 0 {
			g.logWide[k] = lowerInverse(g.wide[k*d*d:(k+1)*d*d], l, g.e)
		}
	}
}

// lowerInverse fills dst with L⁻¹ and returns ln |L|.
func lowerInverse(dst, l, column []float64) (logSize float64) {
	d := len(column)
	for j := range d {
		clear(column)
		column[j] = 1
		forward(l, column)
		for i := range d {
			dst[i*d+j] = column[i]
		}
		logSize += math.Log(l[j*d+j])
	}
	return logSize
}

// evaluate fills density: of each fish under each nursery, in units of its largest.
func (g *gibbs) evaluate() {
	K := g.K
	for n, i := range g.mixed {
		x, lacks, year := g.fish(i)
		f := g.density[n*K : (n+1)*K]
		top := math.Inf(-1)
		for k := range f {
			f[k] = g.at(k, year, x, lacks)
			if f[k] > top {
				top = f[k]
			}
		}
		g.top[n] = top
		for k := range f {
			f[k] = math.Exp(f[k] - top)
		}
	}
}

// at is ln f of a fish in nursery k, but for the constant that all nurseries share.
func (g *gibbs) at(k, year int, x []float64, lacks Lacking) float64 {
	d := g.d
	axes, logSize := g.axes[k*d*d:(k+1)*d*d], g.logSize[k]
	centre := g.centre[(k*(g.years+1)+year)*d:]
	unknown := year == g.years
	if unknown {
		axes, logSize, centre = g.wide[k*d*d:(k+1)*d*d], g.logWide[k], g.mean[k*d:]
	}
	if lacks != 0 {
		return g.partly(k, unknown, centre, x, lacks)
	}
	far := 0.0
	for i := range d {
		g.e[i] = x[i] - centre[i]
		z := 0.0
		for j := range i + 1 {
			z += float64(axes[i*d+j] * g.e[j])
		}
		far += float64(z * z)
	}
	return -0.5*far - logSize
}

// partly is at for a fish that lacks tracers: the normal laid flat on those it has.
func (g *gibbs) partly(k int, unknown bool, centre, x []float64, lacks Lacking) float64 {
	d := g.d
	has := g.has[:0]
	for j := range d {
		if !lacks.Has(j) {
			has = append(has, j)
		}
	}
	m := len(has)
	for i, row := range has {
		g.e[i] = x[row] - centre[row]
		for j, column := range has {
			g.square[i*m+j] = g.within[(k*d+row)*d+column]
			if unknown {
				g.square[i*m+j] += g.between[row*d+column]
			}
		}
	}
	l := g.draw.factor
	cholesky(l, g.square, m) // a part of a covariance that has a factor has one too
	e := g.e[:m]
	forward(l, e)
	far, logSize := 0.0, 0.0
	for i, z := range e {
		far += float64(z * z)
		logSize += math.Log(l[i*m+i])
	}
	return -0.5*far - logSize
}

// assign draws a nursery for each fish by its posterior, and counts by weight.
func (g *gibbs) assign() {
	K := g.K
	clear(g.count)
	for n, w := range g.weight {
		f := g.density[n*K : (n+1)*K]
		sum := 0.0
		for k, p := range g.share {
			sum += float64(p * f[k])
		}
		u := float64(g.stream.Float64() * sum)
		member := K - 1
		for k, p := range g.share[:K-1] {
			if u -= float64(p * f[k]); u < 0 {
				member = k
				break
			}
		}
		g.member[n] = int32(member)
		g.count[member] += w
	}
}

// look adds the posterior of each fish to belief and returns the log-likelihood.
func (g *gibbs) look() (likelihood float64) {
	K := g.K
	for n, w := range g.weight {
		f := g.density[n*K : (n+1)*K]
		sum := 0.0
		for k, p := range g.share {
			sum += float64(p * f[k])
		}
		likelihood += float64(w * (math.Log(sum) + g.top[n]))
		for k, p := range g.share {
			g.belief[n*K+k] += float64(p*f[k]) / sum
		}
	}
	return likelihood
}

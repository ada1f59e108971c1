package growth

import (
	"math"
	"slices"
)

// nu is the degrees of freedom of Student's scatter.
const nu = 4

var halfLog2Pi = math.Log(2*math.Pi) / 2

// likelihood is the negative log-likelihood of data under a curve. Fish of one
// group and age share their curve, and all scatter but Student's needs no more of
// them than their weight, mean and sum of squares: a spot.
type likelihood struct {
	layout
	scatter  Scatter
	age      []float64 // by spot
	group    []int     // by spot
	row      []int32   // rows in order of spots
	from     []int32   // first row of each spot, and the end
	y        []float64 // length, its logarithm under Lognormal, by row in the caller's order
	weight   []float64 // count × design weight by row, the caller's order
	sum      []float64 // of weights, by spot
	mean, ss []float64 // of y, by spot
	total    float64   // of weights
	logs     float64   // Σ w log y, the Lognormal's density on the length scale
	p        []float64
	mu       []float64 // the curve by spot
	slope    []float64 // spots × parameters
}

func newLikelihood(d Data, l layout, s Scatter) *likelihood {
	n, np := len(d.Age), len(l.held)
	k := &likelihood{layout: l, scatter: s, row: make([]int32, n), y: make([]float64, n), weight: make([]float64, n), p: make([]float64, np)}
	for i := range n {
		k.row[i], k.y[i] = int32(i), d.Length[i]
		if s == Lognormal {
			k.y[i] = math.Log(d.Length[i])
		}
	}
	before := func(i, j int32) int {
		if g := d.group(int(i)) - d.group(int(j)); g != 0 {
			return g
		}
		switch a, b := d.Age[i], d.Age[j]; {
		case a < b:
			return -1
		case a > b:
			return 1
		}
		return 0
	}
	slices.SortStableFunc(k.row, before)
	for at, i := range k.row {
		if at == 0 || before(k.row[at-1], i) != 0 {
			k.age, k.group, k.from = append(k.age, d.Age[i]), append(k.group, d.group(int(i))), append(k.from, int32(at))
		}
	}
	k.from = append(k.from, int32(n))
	spots := len(k.age)
	k.sum, k.mean, k.ss, k.mu = make([]float64, spots), make([]float64, spots), make([]float64, spots), make([]float64, spots)
	k.slope = make([]float64, spots*np)
	return k
}

// weigh takes the rows with other weights.
func (k *likelihood) weigh(weights []float64) {
	copy(k.weight, weights)
	k.total, k.logs = 0, 0
	for j := range k.age {
		rows := k.row[k.from[j]:k.from[j+1]]
		w, m, ss := 0.0, 0.0, 0.0
		for _, i := range rows {
			w += weights[i]
			m += float64(weights[i] * k.y[i])
		}
		if w > 0 {
			m /= w
		}
		for _, i := range rows {
			e := k.y[i] - m
			ss += float64(weights[i] * e * e)
		}
		k.sum[j], k.mean[j], k.ss[j] = w, m, ss
		k.total += w
		if k.scatter == Lognormal {
			k.logs += float64(w * m)
		}
	}
}

// look evaluates the curve at every spot; false where it has no value there, or
// none above 0 and the scatter wants one.
func (k *likelihood) look(x []float64) bool {
	np := len(k.p)
	group := -1
	for j, age := range k.age {
		if k.group[j] != group {
			group = k.group[j]
			k.read(k.p, x, group)
		}
		if k.sum[j] == 0 {
			continue
		}
		mu := k.curve.Slope(k.slope[j*np:(j+1)*np], age, k.p)
		if math.IsNaN(mu) || math.IsInf(mu, 0) || mu <= 0 && (k.scatter == ConstantCV || k.scatter == Lognormal) {
			return false
		}
		k.mu[j] = mu
	}
	return true
}

// squares is Σ w (y − μ)² of a spot, relative to the curve where the scatter is.
func (k *likelihood) squares(j int) (q, e float64) {
	mu := k.mu[j]
	if k.scatter == Lognormal {
		mu = math.Log(mu)
	}
	e = k.mean[j] - mu
	q = k.ss[j] + float64(k.sum[j]*e*e)
	if k.scatter == ConstantCV {
		q, e = q/(mu*mu), e/mu
	}
	return q, e
}

// best is the scale of highest likelihood at the curve looked at, in closed form;
// not of Student's scatter.
func (k *likelihood) best() float64 {
	q := 0.0
	for j := range k.age {
		if k.sum[j] > 0 {
			at, _ := k.squares(j)
			q += at
		}
	}
	return math.Sqrt(q / k.total)
}

// spot is the negative log-likelihood of a spot with its slopes by μ and by log s,
// at the scale s and its logarithm.
func (k *likelihood) spot(j int, s, logS float64) (value, byMu, byScale float64) {
	if k.scatter == Student {
		return k.spotStudent(j, s, logS)
	}
	w, mu := k.sum[j], k.mu[j]
	q, e := k.squares(j)
	value = w*(logS+halfLog2Pi) + q/(2*s*s)
	byScale = w - q/(s*s)
	switch k.scatter {
	case ConstantCV:
		return value + w*math.Log(mu), (w - (w*e+q)/(s*s)) / mu, byScale
	case Lognormal:
		return value, -w * e / (s * s * mu), byScale
	}
	return value, -w * e / (s * s), byScale
}

// studentLog is the logarithm of the t density's constant at 4 degrees of freedom.
var studentLog = math.Log(math.Gamma((nu+1)/2.)) - math.Log(math.Gamma(nu/2.)) - math.Log(nu*math.Pi)/2

// spotStudent writes density out: it runs over every row of every refit.
func (k *likelihood) spotStudent(j int, s, logS float64) (value, byMu, byScale float64) {
	mu, inverse := k.mu[j], 1/s
	for _, i := range k.row[k.from[j]:k.from[j+1]] {
		w := k.weight[i]
		if w == 0 {
			continue
		}
		z := (k.y[i] - mu) * inverse
		pull := (nu + 1) * z / (nu + z*z)
		value += float64(w * math.Log(1+z*z/nu))
		byMu -= float64(w * pull)
		byScale -= float64(w * pull * z)
	}
	w := k.sum[j]
	return w*(logS-studentLog) + (nu+1)/2.*value, byMu * inverse, w + byScale
}

// at is the negative log-likelihood at the free numbers x, the last of which is
// log s.
func (k *likelihood) at(x, grad []float64) float64 {
	if !k.look(x) {
		return math.NaN()
	}
	return k.sumUp(math.Exp(x[k.n]), grad)
}

// concentrated is the negative log-likelihood at the curve's free numbers and the
// best scale there.
func (k *likelihood) concentrated(x, grad []float64) float64 {
	if !k.look(x) {
		return math.NaN()
	}
	return k.sumUp(k.best(), grad)
}

// sumUp adds up the spots; grad may or may not have a place for log s.
func (k *likelihood) sumUp(s float64, grad []float64) float64 {
	clear(grad)
	np, value, logS := len(k.p), k.logs, math.Log(s)
	for j := range k.age {
		if k.sum[j] == 0 {
			continue
		}
		v, byMu, byScale := k.spot(j, s, logS)
		value += v
		if grad == nil {
			continue
		}
		for i, slope := range k.slope[j*np : (j+1)*np] {
			if to := k.index[k.group[j]*np+i]; to >= 0 {
				grad[to] += float64(byMu * slope)
			}
		}
		if len(grad) > k.n {
			grad[k.n] += byScale
		}
	}
	return value
}

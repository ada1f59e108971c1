package budget

import "math"

// minus and plus take the errors of two numbers for unrelated.
func minus(x, y Number) Number { return Number{x.Value - y.Value, math.Hypot(x.SE, y.SE)} }
func plus(x, y Number) Number  { return Number{x.Value + y.Value, math.Hypot(x.SE, y.SE)} }

// ratio of two numbers whose errors are unrelated.
func ratio(x, y Number) Number {
	r := x.Value / y.Value
	return Number{r, math.Hypot(x.SE, r*y.SE) / y.Value}
}

// triples are the rows A, B, and A with one source as in B.
type triples struct {
	a, b, one []float64
	centre    float64 // taken off, so that squares do not cancel
}

// first is S: of two estimators the one with the smaller standard error.
func (t triples) first() Number {
	covaries := jackknife(len(t.a), 3, func(sum []float64, i int) {
		x, y := t.b[i]-t.centre, t.one[i]-t.centre
		sum[0] += x * y
		sum[1] += (x + y) / 2
		sum[2] += (x*x + y*y) / 2
	}, func(mean []float64) float64 { return part(mean[0]-mean[1]*mean[1], mean) })
	moves := jackknife(len(t.a), 5, func(sum []float64, i int) {
		a, b, one := t.a[i]-t.centre, t.b[i]-t.centre, t.one[i]-t.centre
		sum[0] += b * (one - a)
		sum[1] += (a + b) / 2
		sum[2] += (a*a + b*b) / 2
		sum[3] += b
		sum[4] += one - a
	}, func(mean []float64) float64 { return part(mean[0]-mean[3]*mean[4], mean) })
	if moves.SE < covaries.SE {
		return moves
	}
	return covaries
}

// total is T.
func (t triples) total() Number {
	return jackknife(len(t.a), 3, func(sum []float64, i int) {
		x, y := t.a[i]-t.centre, t.one[i]-t.centre
		sum[0] += (x - y) * (x - y) / 2
		sum[1] += (x + y) / 2
		sum[2] += (x*x + y*y) / 2
	}, func(mean []float64) float64 { return part(mean[0], mean) })
}

// part is a covariance as a share of the variance of the pairs it is from, mean[1] their
// mean and mean[2] that of their squares. Pairs that do not move have no share to tell.
func part(covariance float64, mean []float64) float64 {
	if variance := mean[2] - mean[1]*mean[1]; variance > 0 {
		return covariance / variance
	}
	return 0
}

// pairs are two independent rows of evaluations.
type pairs struct {
	a, b   []float64
	centre float64
}

func newPairs(a, b []float64) pairs {
	p := pairs{a, b, 0}
	for i := range a {
		p.centre += (a[i] + b[i]) / float64(2*len(a))
	}
	return p
}

func (p pairs) mean() Number {
	return Number{p.centre, math.Sqrt(p.variance().Value / float64(2*len(p.a)))}
}

func (p pairs) variance() Number {
	return jackknife(len(p.a), 2, func(sum []float64, i int) {
		x, y := p.a[i]-p.centre, p.b[i]-p.centre
		sum[0] += (x + y) / 2
		sum[1] += (x*x + y*y) / 2
	}, func(mean []float64) float64 { return mean[1] - mean[0]*mean[0] })
}

// spread is the variance of independent evaluations.
func spread(y []float64) Number {
	centre := 0.0
	for _, x := range y {
		centre += x / float64(len(y))
	}
	n := float64(len(y))
	v := jackknife(len(y), 2, func(sum []float64, i int) {
		sum[0] += y[i] - centre
		sum[1] += (y[i] - centre) * (y[i] - centre)
	}, func(mean []float64) float64 { return (mean[1] - mean[0]*mean[0]) * n / (n - 1) })
	return v
}

// jackknife is a function of means over n places, and its standard error by leaving each
// out in turn. add adds place i to k sums.
func jackknife(n, k int, add func(sum []float64, i int), of func(mean []float64) float64) Number {
	sum, one, mean := make([]float64, k), make([]float64, k), make([]float64, k)
	for i := range n {
		add(sum, i)
	}
	for j := range mean {
		mean[j] = sum[j] / float64(n)
	}
	value := of(mean)
	var first, second float64 // of what is left, about the value
	for i := range n {
		clear(one)
		add(one, i)
		for j := range mean {
			mean[j] = (sum[j] - one[j]) / float64(n-1)
		}
		x := of(mean) - value
		first += x
		second += x * x
	}
	about := second - first*first/float64(n)
	return Number{value, math.Sqrt(max(about, 0) * float64(n-1) / float64(n))}
}

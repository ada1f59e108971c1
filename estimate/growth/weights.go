package growth

import (
	"math"

	"earstone/programme/record"
	"earstone/statistics/optimise"
)

// information fills info, (n + 1)², with the expected information about the free
// numbers and log s at the curve looked at.
func (k *likelihood) information(info []float64, s float64) {
	clear(info)
	np, size := len(k.p), k.n+1
	for j, w := range k.sum {
		if w == 0 {
			continue
		}
		muMu, muScale, scale := k.expected(j, s)
		index, slope := k.index[k.group[j]*np:(k.group[j]+1)*np], k.slope[j*np:(j+1)*np]
		for a, row := range index {
			if row < 0 {
				continue
			}
			for b, column := range index {
				if column >= 0 {
					info[row*size+column] += float64(muMu * slope[a] * slope[b])
				}
			}
			info[row*size+k.n] += float64(muScale * slope[a])
			info[k.n*size+row] += float64(muScale * slope[a])
		}
		info[k.n*size+k.n] += scale
	}
}

// expected is the expected information of a spot about μ, about μ with log s, and
// about log s.
func (k *likelihood) expected(j int, s float64) (muMu, muScale, scale float64) {
	w, mu := k.sum[j], k.mu[j]
	switch k.scatter {
	case ConstantCV:
		return w * (1/(s*s) + 2) / (mu * mu), 2 * w / mu, 2 * w
	case Lognormal:
		return w / (s * s * mu * mu), 0, 2 * w
	case Student:
		return w * (nu + 1) / (nu + 3) / (s * s), 0, 2 * w * nu / (nu + 3)
	}
	return w / (s * s), 0, 2 * w
}

// sandwich is A⁻¹BA⁻¹: A the expected information, B the sum of n w² g gᵀ over
// rows of n fish alike; where fish come in clusters m/(m−1) Σ_c (Σ n w g)(Σ n w g)ᵀ,
// the sums over the fish of each of m clusters.
func (f *Fit) sandwich(d Data) ([]float64, error) {
	k, size := f.likelihood, f.layout.n+1
	np := len(k.p)
	info := make([]float64, size*size)
	k.look(f.x)
	k.information(info, f.Scale)
	bread, err := optimise.Covariance(info)
	if err != nil {
		return nil, err
	}
	meat, g := make([]float64, size*size), make([]float64, size)
	var sums []float64 // clusters × size
	for j := range k.age {
		for _, i := range k.row[k.from[j]:k.from[j+1]] {
			n := d.count(int(i))
			if n == 0 || k.weight[i] == 0 {
				continue
			}
			_, byMu, byScale := density(k.scatter, d.Length[i], k.mu[j], f.Scale)
			clear(g)
			for a, slope := range k.slope[j*np : (j+1)*np] {
				if at := k.index[k.group[j]*np+a]; at >= 0 {
					g[at] += byMu * slope
				}
			}
			g[k.n] = byScale
			if f.Clusters == 0 {
				addOuter(meat, g, k.weight[i]*k.weight[i]/n)
				continue
			}
			at := d.Cluster[i] * size
			for len(sums) < at+size {
				sums = append(sums, 0)
			}
			for a := range g {
				sums[at+a] += float64(k.weight[i] * g[a])
			}
		}
	}
	for at := 0; at < len(sums); at += size {
		addOuter(meat, sums[at:at+size], float64(f.Clusters)/float64(f.Clusters-1))
	}
	return sandwiched(bread, meat, size), nil
}

func addOuter(m, g []float64, w float64) {
	for a := range g {
		for b := range g {
			m[a*len(g)+b] += float64(w * g[a] * g[b])
		}
	}
}

// sandwiched is bread · meat · bread, n × n.
func sandwiched(bread, meat []float64, n int) []float64 {
	return times(times(bread, meat, n), bread, n)
}

func times(a, b []float64, n int) []float64 {
	out := make([]float64, n*n)
	for i := range n {
		for j := range n {
			for k := range n {
				out[i*n+j] += float64(a[i*n+k] * b[k*n+j])
			}
		}
	}
	return out
}

// SE is the standard error of a parameter of a group; unknown for a held one.
// Panics on a group or parameter that is none.
func (f *Fit) SE(group, parameter int) record.Number {
	at := f.layout.index[group*len(f.layout.held)+parameter]
	if at < 0 || f.covariance == nil {
		return record.Number{}
	}
	return record.Some(math.Sqrt(f.covariance[at*len(f.x)+at]))
}

// ScaleSE is the standard error of the scale, s times that of its logarithm.
func (f *Fit) ScaleSE() record.Number {
	at, size := f.layout.n, len(f.x)
	if f.covariance == nil {
		return record.Number{}
	}
	return record.Some(f.Scale * math.Sqrt(f.covariance[at*size+at]))
}

// Covariance is that of the parameters of a group, parameters × parameters row by
// row; rows of held ones are 0. Nil on a fit in trouble.
func (f *Fit) Covariance(group int) []float64 {
	np, size := len(f.layout.held), len(f.x)
	if f.covariance == nil {
		return nil
	}
	out := make([]float64, np*np)
	for a := range np {
		for b := range np {
			i, j := f.layout.index[group*np+a], f.layout.index[group*np+b]
			if i >= 0 && j >= 0 {
				out[a*np+b] = f.covariance[i*size+j]
			}
		}
	}
	return out
}

package growth

import (
	"fmt"
	"math"

	"earstone/statistics/optimise"
)

// mixed is the likelihood of means at annuli with a random effect a fish, at a
// ratio τ²/s².
type mixed struct {
	rows    [][]int // of each fish
	annulus []int
	length  []float64
	count   []int
	plain   []float64
	mean    []float64 // at the ratio fitted last
	root    []float64 // Cholesky root of the normal equations there
	right   []float64
}

func newMixed(fish, annulus []int, length []float64) (*mixed, error) {
	if len(fish) != len(length) || len(annulus) != len(length) {
		panic(fmt.Sprintf("growth: %d lengths of %d fish at %d annuli", len(length), len(fish), len(annulus)))
	}
	m := &mixed{annulus: annulus, length: length}
	for i, f := range fish {
		if f < 0 || annulus[i] < 1 {
			panic(fmt.Sprintf("growth: row %d is annulus %d of fish %d", i, annulus[i], f))
		}
		for len(m.rows) <= f {
			m.rows = append(m.rows, nil)
		}
		m.rows[f] = append(m.rows[f], i)
		for len(m.count) < annulus[i] {
			m.count, m.plain = append(m.count, 0), append(m.plain, 0)
		}
		m.count[annulus[i]-1]++
		m.plain[annulus[i]-1] += length[i]
	}
	some := 0.0
	for _, rows := range m.rows {
		if len(rows) > 0 {
			some++
		}
	}
	if some < 2 || len(length) <= len(m.count) {
		return nil, &Trouble{Reason: TooFewFish, Fish: some}
	}
	for j, n := range m.count {
		if n == 0 {
			panic(fmt.Sprintf("growth: no length at annulus %d", j+1))
		}
		m.plain[j] /= float64(n)
	}
	n := len(m.count)
	m.mean, m.right, m.root = make([]float64, n), make([]float64, n), make([]float64, n*n)
	return m, nil
}

// fit is the negative log-likelihood at a ratio ρ, and s² there. A fish of n
// lengths has the inverse covariance (I − ρ/(1 + nρ) 11ᵀ)/s².
func (m *mixed) fit(ratio float64) (value, s2 float64) {
	n := len(m.count)
	clear(m.root)
	clear(m.right)
	squares, logs := 0.0, 0.0
	for _, rows := range m.rows {
		size := float64(len(rows))
		share, sum := ratio/(1+size*ratio), 0.0
		for _, i := range rows {
			sum += m.length[i] - m.plain[m.annulus[i]-1]
		}
		for _, i := range rows {
			j, e := m.annulus[i]-1, m.length[i]-m.plain[m.annulus[i]-1]
			m.right[j] += e - share*sum
			squares += e * (e - share*sum)
			m.root[j*n+j]++
			for _, k := range rows {
				m.root[j*n+m.annulus[k]-1] -= share
			}
		}
		logs += math.Log1p(size * ratio)
	}
	if !factor(m.root, n) {
		return math.NaN(), math.NaN()
	}
	copy(m.mean, m.right)
	substitute(m.root, m.mean, n)
	for j := range n {
		squares -= float64(m.mean[j] * m.right[j])
		m.mean[j] += m.plain[j]
	}
	rows := float64(len(m.length))
	s2 = squares / rows
	return rows*(math.Log(s2)/2+halfLog2Pi+0.5) + logs/2, s2
}

// ratio is the τ²/s² of highest likelihood, 0 where fish do not keep their place.
func (m *mixed) ratio() (float64, error) {
	objective := optimise.Numerical(func(x []float64) float64 {
		value, _ := m.fit(x[0] * x[0])
		return value
	})
	fit, err := optimise.Starts(objective, [][]float64{{0.5}, {2}, {8}}, optimise.Settings{Low: []float64{0}, High: []float64{1e4}, Scale: []float64{1}})
	if value, _ := m.fit(0); !math.IsNaN(value) && value <= fit.Value {
		return 0, nil
	}
	if err != nil {
		return 0, &Trouble{Reason: NotConverged, Fish: float64(len(m.rows))}
	}
	return fit.X[0] * fit.X[0], nil
}

// inverse is entry (j, j) of the inverse of the normal equations fitted last.
func (m *mixed) inverse(j int) float64 {
	n := len(m.count)
	e := make([]float64, n)
	e[j] = 1
	substitute(m.root, e, n)
	return e[j]
}

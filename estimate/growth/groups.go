package growth

import (
	"fmt"
	"math"
	"slices"

	"earstone/statistics/dist"
)

// Case is one way in which groups may differ.
type Case struct {
	Apart []bool // parameters that differ between groups, in the model's order
	Fit   Fit
	Err   error // the *Trouble of a case that can't be fitted
}

// Comparison is every nested case of how groups differ, from no parameter to all.
type Comparison struct {
	Cases []Case // case c lets parameter i differ where bit i of c is set, held ones left out
	Best  int    // the case of lowest AICc, −1 where none was fitted
}

// Test is a test of equality on df degrees of freedom.
type Test struct {
	ChiSquare float64
	DF        int
	P         float64
}

// Compare fits all 2^p cases of p free parameters being common to the groups or
// not, the scale common throughout. Settings.Apart is not looked at. A wider case
// also starts from the narrower ones, so that it never fits worse.
//
// A case that can't be fitted carries its trouble; the error is that of the
// comparison: OneGroup, or Designed where fish differ in design weight, since a
// weighted sum is no likelihood (take Fit.Equal on the curve with all apart).
//
// Methods, section 7. Kimura (1980), Fish. Bull. 77:765-776; Hurvich & Tsai
// (1989), Biometrika 76, for AICc (citations from memory).
func Compare(d Data, s Settings) (Comparison, error) {
	d.check()
	r := newReach(d.Age, d.Length)
	t := &Trouble{Model: s.curve(r).Model, Youngest: r.youngest, Oldest: r.oldest}
	for i := range d.Age {
		t.Fish += d.count(i)
	}
	switch {
	case d.groups() < 2:
		t.Reason = OneGroup
		return Comparison{Best: -1}, t
	case d.designed():
		t.Reason = Designed
		return Comparison{Best: -1}, t
	}
	np := len(t.Model.Parameters())
	var free []int
	for i := range np {
		if s.Hold == nil || !s.Hold[i].Known {
			free = append(free, i)
		}
	}
	c := Comparison{Cases: make([]Case, 1<<len(free)), Best: -1}
	for bits := range c.Cases {
		apart := make([]bool, np)
		for j, i := range free {
			apart[i] = bits>>j&1 == 1
		}
		s.Apart = apart
		fit, err := fitFrom(d, s, c.warm(bits, len(free)))
		c.Cases[bits] = Case{apart, fit, err}
		if err == nil && fit.AICc.Known && (c.Best < 0 || fit.AICc.X < c.Cases[c.Best].Fit.AICc.X) {
			c.Best = bits
		}
	}
	return c, nil
}

// warm is the best point of the cases that are narrower by one parameter.
func (c Comparison) warm(bits, free int) []float64 {
	best, out := math.Inf(-1), []float64(nil)
	for j := range free {
		if bits>>j&1 == 0 {
			continue
		}
		if n := c.Cases[bits&^(1<<j)]; n.Err == nil && n.Fit.LogLikelihood > best {
			best = n.Fit.LogLikelihood
			out = append(slices.Clone(n.Fit.Estimates), math.Log(n.Fit.Scale))
		}
	}
	return out
}

// Test is the likelihood-ratio test of a narrow case against a wider one,
// χ² = 2 (log L_wide − log L_narrow) on the difference in parameters; with
// constant SD that is n log(RSS_narrow/RSS_wide). ok is false where one of them
// was not fitted. Panics unless the cases are nested.
func (c Comparison) Test(narrow, wide int) (t Test, ok bool) {
	if narrow == wide || narrow&wide != narrow {
		panic(fmt.Sprintf("growth: case %d is not nested in case %d", narrow, wide))
	}
	a, b := c.Cases[narrow], c.Cases[wide]
	if a.Err != nil || b.Err != nil {
		return Test{}, false
	}
	t.ChiSquare = math.Max(2*(b.Fit.LogLikelihood-a.Fit.LogLikelihood), 0)
	t.DF = b.Fit.Parameters - a.Fit.Parameters
	t.P = dist.ChiSquareUpper(t.ChiSquare, float64(t.DF))
	return t, true
}

// Equal is Wald's test that all groups share the parameters asked for,
// χ² = (Cθ)ᵀ (C V Cᵀ)⁻¹ Cθ, C the differences of each group from the first. It
// stands on the covariance of the fit, the sandwich where Designed, and so is the
// comparison for weighted fish. Where fish come in m clusters,
//
//	F = (m − q) χ²/((m − 1) q) on q and m − q degrees of freedom,
//
// q the differences, gives P. ok is false on a fit in trouble, with too few clusters,
// and where no parameter asked for differs between groups in the fit.
//
// Wald (1943), Trans. Am. Math. Soc. 54; Korn & Graubard (1990), Am. Stat. 44, for
// clusters (citations from memory).
func (f *Fit) Equal(parameters []bool) (t Test, ok bool) {
	np, size := len(f.layout.held), len(f.x)
	if len(parameters) != np {
		panic(fmt.Sprintf("growth: %d of %d parameters to be equal", len(parameters), np))
	}
	var first, other []int
	for i := range np {
		for g := 1; g < f.Groups; g++ {
			if a, b := f.layout.index[i], f.layout.index[g*np+i]; parameters[i] && a != b {
				first, other = append(first, a), append(other, b)
			}
		}
	}
	n := len(first)
	if n == 0 || f.covariance == nil {
		return Test{}, false
	}
	v := func(a, b int) float64 { return f.covariance[a*size+b] }
	root, d := make([]float64, n*n), make([]float64, n)
	for a := range n {
		d[a] = f.x[other[a]] - f.x[first[a]]
		for b := range n {
			root[a*n+b] = v(other[a], other[b]) - v(other[a], first[b]) - v(first[a], other[b]) + v(first[a], first[b])
		}
	}
	solved := slices.Clone(d)
	if !factor(root, n) || !substitute(root, solved, n) {
		return Test{}, false
	}
	for a := range n {
		t.ChiSquare += d[a] * solved[a]
	}
	t.DF = n
	if f.Clusters == 0 {
		t.P = dist.ChiSquareUpper(t.ChiSquare, float64(n))
		return t, true
	}
	q, m := float64(n), float64(f.Clusters)
	if m <= q {
		return Test{}, false
	}
	t.P = dist.FUpper((m-q)/((m-1)*q)*t.ChiSquare, q, m-q)
	return t, true
}

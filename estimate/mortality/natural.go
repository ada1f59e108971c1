package mortality

import (
	"fmt"
	"math"

	"earstone/programme/record"
	"earstone/statistics/dist"
)

// Known is how a formula came to stand here.
type Known int

// The ways. The zero value is unknown.
const (
	Read     Known = iota + 1 // the source was read
	Recalled                  // from memory: check the paper before resting on it
)

// String is the way in a word or two.
func (k Known) String() string {
	switch k {
	case Read:
		return "read"
	case Recalled:
		return "from memory"
	}
	return fmt.Sprintf("Known(%d)", int(k))
}

// Formula is a published equation for natural mortality M a year.
type Formula struct {
	Name     string // the method of mortality.csv
	Equation string
	Source   string
	Known    Known
	Growth   bool // takes K and L∞ instead of the longest life
	// Error is the standard error of prediction in M; unknown where none is known.
	Error record.Number
	// Remark says what is to be known of the prediction error.
	Remark string

	m func(a, b float64) float64
}

const noError = "no prediction error is known here"

var formulas = []Formula{
	{Name: "then_longevity", Equation: "M = 4.899 tmax^−0.916", Source: "Then, Hoenig, Hall & Hewitt (2015), ICES J. Mar. Sci. 72:82-92", Known: Read,
		Error: record.Some(0.32), Remark: "cross-validated root mean square error of M, about 0.32, from memory; over fish of all lives, so wide for long-lived ones",
		m: func(t, _ float64) float64 { return 4.899 * math.Pow(t, -0.916) }},
	{Name: "then_one_parameter", Equation: "M = 5.109/tmax", Source: "Then, Hoenig, Hall & Hewitt (2015), ICES J. Mar. Sci. 72:82-92", Known: Recalled,
		Remark: noError, m: func(t, _ float64) float64 { return 5.109 / t }},
	{Name: "hoenig_all", Equation: "ln Z = 1.44 − 0.982 ln tmax", Source: "Hoenig (1983), Fish. Bull. 82:898-903, fish, molluscs and whales", Known: Recalled,
		Remark: noError + "; it is total mortality, natural where the stock was little fished", m: func(t, _ float64) float64 { return math.Exp(1.44 - 0.982*math.Log(t)) }},
	{Name: "hoenig_fish", Equation: "ln Z = 1.46 − 1.01 ln tmax", Source: "Hoenig (1983), Fish. Bull. 82:898-903, fish", Known: Recalled,
		Remark: noError + "; it is total mortality, natural where the stock was little fished", m: func(t, _ float64) float64 { return math.Exp(1.46 - 1.01*math.Log(t)) }},
	{Name: "hamel", Equation: "M = 5.4/tmax", Source: "Hamel (2015), ICES J. Mar. Sci. 72:62-69; Hamel & Cope (2022), Fish. Res. 256", Known: Recalled,
		Remark: "the SD of log M is remembered as 0.438 (2015) and as 0.31 (2022): until the papers are read no interval is given", m: func(t, _ float64) float64 { return 5.4 / t }},
	{Name: "then_growth", Equation: "M = 4.118 K^0.73 L∞^−0.33, L∞ in cm", Source: "Then, Hoenig, Hall & Hewitt (2015), ICES J. Mar. Sci. 72:82-92, with its corrigendum", Known: Read, Growth: true,
		Remark: noError, m: func(k, cm float64) float64 { return 4.118 * math.Pow(k, 0.73) * math.Pow(cm, -0.33) }},
}

// Formulas are all formulas; those by longevity come first. The slice is the
// caller's.
func Formulas() []Formula { return append([]Formula(nil), formulas...) }

// Natural is a natural mortality with its prediction interval, both ends unknown
// where no prediction error is known.
type Natural struct {
	M         float64
	Low, High record.Number
}

// FromLongevity is M from the longest life tmax in years, which is the age that a
// fish of an unfished stock reaches, not the oldest fish that happened to be
// sampled. The interval, for one more stock, is M ± z · Error, kept at 0 and
// above. Panics on a formula by growth, unless tmax > 0 and 0 < level < 1.
func (f Formula) FromLongevity(tmax, level float64) Natural {
	if f.Growth || !(tmax > 0) || math.IsInf(tmax, 1) {
		panic(fmt.Sprintf("mortality: %s of a longest life of %v", f.Name, tmax))
	}
	return f.predict(f.m(tmax, 0), level)
}

// FromGrowth is M from the rate K a year and the largest length L∞ in cm of a von
// Bertalanffy curve. Panics on a formula by longevity, unless K and L∞ are above 0
// and 0 < level < 1.
func (f Formula) FromGrowth(k, linfCm, level float64) Natural {
	if !f.Growth || !(k > 0) || !(linfCm > 0) {
		panic(fmt.Sprintf("mortality: %s of K %v and L∞ %v cm", f.Name, k, linfCm))
	}
	return f.predict(f.m(k, linfCm), level)
}

func (f Formula) predict(m, level float64) Natural {
	checkLevel(level)
	out := Natural{M: m}
	if f.Error.Known {
		half := dist.NormalQuantile((1+level)/2) * f.Error.X
		out.Low, out.High = record.Some(math.Max(m-half, 0)), record.Some(m+half)
	}
	return out
}

package ageerror

import (
	"fmt"
	"math"
	"slices"

	"earstone/programme/record"
	"earstone/statistics/dist"
	"earstone/statistics/stream"
)

// Fit is the ageing error of every reader, with what it rests on.
type Fit struct {
	Models []Model           // by reader
	Theta  [][]float64       // by reader, natural scale, in the order of Model.Names
	SE     [][]record.Number // of Theta; unknown where the parameter lies at its bound
	Set    []int             // by reader: readers of one set share their parameters

	First, Oldest int             // the true age of Beta[0]; the largest count
	Beta          []float64       // relative abundance by true age among the stones of unknown age; nil where all are known
	BetaSE        []record.Number // unknown where Beta is 0

	LogLikelihood float64
	Parameters    int // β (ages − 1) and those of the readers
	AICc          float64
	Fish          float64
	Twice         []float64 // by reader: fish that tell something of the reader's scatter, read again or of known age

	Tried  []Tried   // every form that was fitted, in order
	Starts []float64 // log-likelihood from each start of the chosen form; minus infinity where none was reached
	Differ bool      // the starts did not all reach the same optimum; the best is reported, one at a bound only where better by 1
	Steps  int       // Newton steps of the chosen form
	Notes  []Note

	covariance []float64 // of the working parameters
	factor     []float64 // its Cholesky factor, 0 in the rows of held parameters
	place      []place   // of each working parameter
	from       []int     // by set
	working    []float64
	low, high  []float64
}

// place is where a working parameter stands: with the first reader of its set.
type place struct{ reader, at int }

// Tried is one choice of forms and how it did.
type Tried struct {
	Models        []Model // by reader
	LogLikelihood float64
	Parameters    int
	AICc          float64
	Standing      Standing
}

// Standing is whether forms that were tried may be chosen. Unknown is the zero standing.
type Standing uint8

// The standings.
const (
	Sound      Standing = iota + 1
	AtBound             // a parameter ran to its bound
	NotTold             // the data do not tell all parameters apart
	NotReached          // the search did not settle
	standingEnd
)

var standings = [...]string{"unknown", "sound", "at_bound", "not_told_apart", "not_settled"}

// String is the word by which tables name the standing.
func (s Standing) String() string {
	if s < standingEnd {
		return standings[s]
	}
	return standings[0]
}

// Remark is the kind of a Note. Unknown is the zero remark.
type Remark uint8

// The remarks.
const (
	Pooled   Remark = iota + 1 // the reader has too few second readings and shares parameters with others
	Shared                     // apart, a reader's scatter ran to its bound; together the readers fit better
	Held                       // the reader's scatter is too small to be seen: σ is held at its least
	Unbiased                   // the reader is taken as unbiased; the others' bias is against this one
	remarkEnd
)

var remarks = [...]string{"unknown", "pooled", "shared", "held", "taken_as_unbiased"}

// String is the word by which tables name the remark.
func (r Remark) String() string {
	if r < remarkEnd {
		return remarks[r]
	}
	return remarks[0]
}

// Note is something to be told beside the fit.
type Note struct {
	Remark Remark
	Reader int
}

// NewDraw has room for the parameters of every reader.
func (f *Fit) NewDraw() [][]float64 {
	dst := make([][]float64, len(f.Models))
	for r, m := range f.Models {
		dst[r] = make([]float64, m.Parameters())
	}
	return dst
}

// Draw fills dst with the parameters of every reader, drawn once from their fitted
// joint distribution: normal on the working scale, where CV and σ_lo, σ_hi are
// logarithms and all else is as it is; a draw past a bound is taken to it, a parameter
// held at its bound stays there. Readers of one set get the same.
//
// dst is as NewDraw makes it, else Draw panics. Allocates nothing, and a Fit may be
// drawn from by several goroutines, each with its own stream and dst.
func (f *Fit) Draw(s *stream.Stream, dst [][]float64) {
	f.checkTheta(dst)
	wide := len(f.place)
	for _, p := range f.place {
		dst[p.reader][p.at] = s.Normal()
	}
	for i := wide - 1; i >= 0; i-- { // downwards, so that the normals above are still there
		sum := f.working[i]
		for j, l := range f.factor[i*wide : i*wide+i+1] {
			sum += float64(l * dst[f.place[j].reader][f.place[j].at])
		}
		p := f.place[i]
		dst[p.reader][p.at] = math.Min(math.Max(sum, f.low[i]), f.high[i])
	}
	for _, p := range f.place {
		if p.at < f.Models[p.reader].logScale() {
			dst[p.reader][p.at] = math.Exp(dst[p.reader][p.at])
		}
	}
	for r, set := range f.Set {
		if leader := f.place[f.from[set]].reader; leader != r {
			copy(dst[r], dst[leader])
		}
	}
}

func (f *Fit) checkTheta(theta [][]float64) {
	if len(theta) != len(f.Models) {
		panic(fmt.Sprintf("ageerror: parameters of %d readers for a fit of %d", len(theta), len(f.Models)))
	}
	for r, m := range f.Models {
		if len(theta[r]) != m.Parameters() {
			panic(fmt.Sprintf("ageerror: %d parameters of reader %d, want %d", len(theta[r]), r, m.Parameters()))
		}
	}
}

// Matrices fills dst[r] with the error matrix of each reader under theta (Fit.Theta, or
// a draw). Rows are true ages 0, 1 ... as many as dst[r] holds, columns counts 0 ...
// Oldest. Panics on a wrong shape; allocates nothing.
//
// A draw moves bias(a) and log σ(a) along their slopes at the fit, so that they spread
// as Rows says they do:
//
//	bias*(a) = bias(a) + Σ_i ∂bias(a)/∂x_i (x*_i − x_i),  log σ*(a) likewise,
//
// x the working parameters. Put into the curves themselves, a draw of a bend that the
// readings hardly tell would throw every age by years, where the bias of most ages is
// known to a few hundredths. Of a constant CV, a proportional bias and a line of bias
// the two are the same.
func (f *Fit) Matrices(dst, theta [][]float64) {
	if len(dst) != len(f.Models) {
		panic(fmt.Sprintf("ageerror: %d matrices for %d readers", len(dst), len(f.Models)))
	}
	f.checkTheta(theta)
	for r, m := range f.Models {
		ages, counts := len(dst[r])/(f.Oldest+1), f.Oldest+1
		Matrix(dst[r], m, f.Theta[r], ages, counts)
		if slices.Equal(theta[r], f.Theta[r]) {
			continue
		}
		for a := range ages {
			row := dst[r][a*counts : (a+1)*counts]
			clear(row)
			mean, sd := m.moved(f.Theta[r], theta[r], float64(a))
			fillRow(row, mean, math.Min(sd, float64(counts)))
		}
	}
}

// moved is the mean count and σ of a true age when the parameters move from fitted to
// drawn, to first order.
func (m Model) moved(fitted, drawn []float64, age float64) (mean, sd float64) {
	sd, spread := m.sdSlopes(fitted, age)
	bias, slope := m.biasSlopes(fitted, age)
	split, log := m.sdParameters(), 0.0
	for i := range fitted {
		by := drawn[i] - fitted[i]
		if i < m.logScale() {
			by = math.Log(drawn[i] / fitted[i])
		}
		if i < split {
			log += float64(spread.first[i] * by)
		} else {
			bias += float64(slope.first[i-split] * by)
		}
	}
	return age + bias, sd * math.Exp(log)
}

// MatrixOf is the fitted error matrix of a reader: rows true ages 0 ... ages − 1,
// columns counts 0 ... Oldest.
func (f *Fit) MatrixOf(reader, ages int) []float64 {
	return Matrix(make([]float64, ages*(f.Oldest+1)), f.Models[reader], f.Theta[reader], ages, f.Oldest+1)
}

// Quantity is what a Row holds.
type Quantity uint8

// The quantities, in years; the zero Quantity is unknown.
const (
	Bias Quantity = iota + 1
	SD
)

// String is the word by which tables name the quantity.
func (q Quantity) String() string {
	switch q {
	case Bias:
		return "bias"
	case SD:
		return "sd"
	}
	return "unknown"
}

// Row is the bias or SD of a reader at a true age, with its interval. SE, Low and High
// are unknown where the value is assumed (a reader taken as unbiased) or held at a bound.
type Row struct {
	Reader, Age   int
	Quantity      Quantity
	Value         float64
	SE, Low, High record.Number
}

// Rows are bias and SD of every reader at every true age, by reader, quantity and age.
// SEs are by the delta method; the interval of the SD is made on its logarithm.
func (f *Fit) Rows(ages int, level float64) []Row {
	z := dist.NormalQuantile(0.5 + 0.5*level)
	var rows []Row
	for r := range f.Models {
		for a := range ages {
			rows = append(rows, f.biasRow(r, a, z))
		}
		for a := range ages {
			rows = append(rows, f.sdRow(r, a, z))
		}
	}
	return rows
}

func (f *Fit) biasRow(r, a int, z float64) Row {
	m := f.Models[r]
	value, slope := m.biasSlopes(f.Theta[r], float64(a))
	row := Row{Reader: r, Age: a, Quantity: Bias, Value: value}
	se := f.spread(slope.first[:m.biasParameters()], f.from[f.Set[r]]+m.sdParameters())
	if se > 0 || m.Bias == Proportional && a == 0 && f.SE[r][m.sdParameters()].Known {
		row.SE, row.Low, row.High = record.Some(se), record.Some(value-z*se), record.Some(value+z*se)
	}
	return row
}

func (f *Fit) sdRow(r, a int, z float64) Row {
	m := f.Models[r]
	value, slope := m.sdSlopes(f.Theta[r], float64(a))
	row := Row{Reader: r, Age: a, Quantity: SD, Value: value}
	if se := f.spread(slope.first[:m.sdParameters()], f.from[f.Set[r]]); se > 0 {
		row.SE = record.Some(value * se)
		row.Low, row.High = record.Some(value*math.Exp(-z*se)), record.Some(value*math.Exp(z*se))
	}
	return row
}

// spread is the SE of what has these slopes in the working parameters from the given one.
func (f *Fit) spread(slope []float64, from int) float64 {
	variance := 0.0
	for i, si := range slope {
		for j, sj := range slope {
			variance += float64(si * sj * f.covariance[(from+i)*len(f.place)+from+j])
		}
	}
	return math.Sqrt(math.Max(variance, 0))
}

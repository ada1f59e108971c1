// Package ageerror gives the chance of each count for each true age, reader by reader.
//
// Stones read twice or more tell how far readers scatter about an age that nobody
// knows; known-age fish, where there are any, tell how far they are off. Estimate
// fits both and chooses their forms, Matrix turns parameters into P(count | age),
// and Fit.Draw draws parameters anew for a replicate. Methods, section 4.
package ageerror

import (
	"fmt"
	"math"
)

// SDForm is how a reader's standard deviation σ goes with true age a. Unknown is the zero form.
type SDForm uint8

// The forms of σ; h is the curve of Model.
const (
	ConstantCV SDForm = iota + 1 // σ(a) = CV·a, and σ(0) = σ(1)
	Line                         // σ(a) = σ_lo + (σ_hi − σ_lo)(a − a_lo)/(a_hi − a_lo)
	Curve                        // σ(a) = σ_lo + (σ_hi − σ_lo) h(a)
)

var sdForms = [...]string{"unknown", "constant_cv", "line", "curve"}

// String is the word by which tables name the form.
func (f SDForm) String() string {
	if int(f) < len(sdForms) {
		return sdForms[f]
	}
	return sdForms[0]
}

// BiasForm is how a reader's mean error goes with true age a. Unknown is the zero form.
type BiasForm uint8

// The forms of bias; h is the curve of Model.
const (
	NoBias       BiasForm = iota + 1 // 0 at every age
	Proportional                     // b·a
	CurveBias                        // b_lo + (b_hi − b_lo) h(a)
)

var biasForms = [...]string{"unknown", "none", "proportional", "curve"}

// String is the word by which tables name the form.
func (f BiasForm) String() string {
	if int(f) < len(biasForms) {
		return biasForms[f]
	}
	return biasForms[0]
}

// Model is the form of one reader's error. Low and High are the true ages a_lo and
// a_hi between which lines and curves run,
//
//	h(a) = (1 − e^{−δ(a − a_lo)}) / (1 − e^{−δ(a_hi − a_lo)}),  δ → 0 a line;
//
// outside them σ and bias of a line or curve keep the value of the nearer end, for
// nothing there was read. Constant CV and proportional bias go on.
//
// Parameters stand in the order of Names, σ first; σ, CV, δ and bias are in years,
// without unit, per year and in years.
type Model struct {
	SD        SDForm
	Bias      BiasForm
	Low, High int
}

// String names both forms.
func (m Model) String() string { return fmt.Sprintf("sd %v, bias %v", m.SD, m.Bias) }

// Names are the names of the parameters in their order.
func (m Model) Names() []string {
	names := []string{"cv"}
	switch m.SD {
	case Line:
		names = []string{"sd_lo", "sd_hi"}
	case Curve:
		names = []string{"sd_lo", "sd_hi", "delta"}
	}
	switch m.Bias {
	case Proportional:
		names = append(names, "bias")
	case CurveBias:
		names = append(names, "bias_lo", "bias_hi", "bias_delta")
	}
	return names
}

// Parameters is the length of the parameter list. Panics on an unknown form.
func (m Model) Parameters() int { return m.sdParameters() + m.biasParameters() }

func (m Model) sdParameters() int {
	switch m.SD {
	case ConstantCV:
		return 1
	case Line:
		return 2
	case Curve:
		return 3
	}
	panic("ageerror: a model without a form of SD")
}

func (m Model) biasParameters() int {
	switch m.Bias {
	case NoBias:
		return 0
	case Proportional:
		return 1
	case CurveBias:
		return 3
	}
	panic("ageerror: a model without a form of bias")
}

// SDAt is σ(a) in years. theta is as Names says. Panics when it is too short.
func (m Model) SDAt(theta []float64, a float64) float64 {
	switch m.SD {
	case ConstantCV:
		return theta[0] * math.Max(a, 1)
	case Line:
		return between(theta[0], theta[1], m.share(0, a))
	}
	return between(theta[0], theta[1], m.share(theta[2], a))
}

// BiasAt is the mean of count − a, before the cut into whole ages, in years.
func (m Model) BiasAt(theta []float64, a float64) float64 {
	switch b := theta[m.sdParameters():]; m.Bias {
	case NoBias:
		return 0
	case Proportional:
		return float64(b[0] * a)
	default:
		return between(b[0], b[1], m.share(b[2], a))
	}
}

func between(low, high, share float64) float64 { return low + float64((high-low)*share) }

// share is h(a).
func (m Model) share(delta, a float64) float64 {
	span := float64(m.High - m.Low)
	if span <= 0 {
		return 0
	}
	h, _, _ := curve(delta*span, math.Min(math.Max((a-float64(m.Low))/span, 0), 1))
	return h
}

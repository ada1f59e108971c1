package measure

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"earstone/programme/record"
)

// Form is the shape of a conversion equation.
type Form uint8

// The forms: y = a + b x; y = a x^b; y = (x + a)²/b²; ln y = a + b ln x.
const (
	FormUnknown Form = iota
	Linear
	Power
	ShiftedSquare
	LogLinear
)

var formWords = [...]string{"", "linear", "power", "shifted_square", "log_linear"}

func (f Form) String() string {
	if int(f) < len(formWords) {
		return formWords[f]
	}
	return ""
}

// ParseForm reads the word of a form.
func ParseForm(text string) (Form, bool) {
	for i, word := range formWords {
		if i > 0 && word == text {
			return Form(i), true
		}
	}
	return FormUnknown, false
}

// Logs tells whether the equation was fitted on logarithms, so that it predicts the
// median and its residual SD is on the log scale.
func (f Form) Logs() bool { return f == Power || f == LogLinear }

// Equation is one conversion equation, of values in its own units.
type Equation struct {
	Form      Form
	A, B      float64
	SD        record.Number // residual SD of y; on the log scale where Form.Logs
	Low, High record.Number // range of x that was sampled
	From, To  string        // kinds of length or forms of weight
	In, Out   string        // units
	Source    string
}

// NewEquation reads the equation of a row of conversions. Units are written "cm" or
// "cm to kg"; an empty unit is centimetres for a length and kilograms for a weight.
func NewEquation(c record.Conversion) (Equation, error) {
	form, ok := ParseForm(c.Form)
	if !ok {
		return Equation{}, fmt.Errorf("measure: no equation has the form %q", c.Form)
	}
	e := Equation{Form: form, A: c.A, B: c.B, SD: c.SD, Low: c.Low, High: c.High, From: c.From, To: c.To,
		In: StandardUnit(c.From), Out: StandardUnit(c.To), Source: c.Source}
	if c.Unit != "" {
		in, out, both := strings.Cut(c.Unit, " to ")
		if e.In, e.Out = in, out; !both {
			e.Out = in
		}
	}
	if sizes[e.In].dimension != dimension(c.From) || sizes[e.Out].dimension != dimension(c.To) {
		return Equation{}, fmt.Errorf("%w: %q is not that of %s and of %s", ErrUnit, c.Unit, c.From, c.To)
	}
	if !e.increases() {
		return Equation{}, fmt.Errorf("measure: a = %v and b = %v make a %s equation that does not rise with its input", c.A, c.B, c.Form)
	}
	return e, nil
}

// ErrUnit is a unit that does not belong to what an equation converts.
var ErrUnit = errors.New("measure: the unit of an equation")

// StandardUnit is the unit in which a kind of length or a form of weight is derived.
func StandardUnit(node string) string {
	if dimension(node) == 'W' {
		return "kg"
	}
	return "cm"
}

func dimension(node string) byte {
	if kind, ok := record.ParseLengthKind(node); ok && kind != record.LengthKindUnknown {
		return 'L'
	}
	if form, ok := record.ParseWeightForm(node); ok && form != record.WeightFormUnknown {
		return 'W'
	}
	return 0
}

// increases tells whether y rises with x for positive x, as every equation between two
// sizes of one fish does; only then can it be turned round.
func (e Equation) increases() bool {
	finite := !math.IsNaN(e.A) && !math.IsInf(e.A, 0) && !math.IsNaN(e.B) && !math.IsInf(e.B, 0)
	switch e.Form {
	case Linear, LogLinear:
		return finite && e.B > 0
	case Power:
		return finite && e.A > 0 && e.B > 0
	case ShiftedSquare:
		return finite && e.A >= 0 && e.B != 0
	}
	return false
}

// At is the y of an x, in the units of the equation: for Power and LogLinear the median.
func (e Equation) At(x float64) float64 {
	switch e.Form {
	case Linear:
		return e.A + float64(e.B*x)
	case Power:
		return e.A * math.Pow(x, e.B)
	case ShiftedSquare:
		r := (x + e.A) / e.B
		return r * r
	case LogLinear:
		return math.Exp(e.A + float64(e.B*math.Log(x)))
	}
	panic("measure: At of an equation without a form")
}

// Inverse is the x whose At is y; not a positive number when there is none.
func (e Equation) Inverse(y float64) float64 {
	switch e.Form {
	case Linear:
		return (y - e.A) / e.B
	case Power:
		return math.Pow(y/e.A, 1/e.B)
	case ShiftedSquare:
		return float64(math.Sqrt(y)*math.Abs(e.B)) - e.A
	case LogLinear:
		return math.Exp((math.Log(y) - e.A) / e.B)
	}
	panic("measure: Inverse of an equation without a form")
}

// slope is dy/dx at x.
func (e Equation) slope(x float64) float64 {
	switch e.Form {
	case Linear:
		return e.B
	case ShiftedSquare:
		return 2 * (x + e.A) / (e.B * e.B)
	}
	return e.B * e.At(x) / x
}

// outside tells whether x lies outside the range that was sampled.
func (e Equation) outside(x float64) bool {
	return e.Low.Known && x < e.Low.X || e.High.Known && x > e.High.X
}

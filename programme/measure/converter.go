package measure

import (
	"fmt"
	"math"

	"earstone/programme/record"
)

// Converter holds the equations that a programme uses.
type Converter struct {
	of map[record.Species][]group
}

// group is every publication of one equation; only a lone one is used.
type group struct {
	from, to   string
	candidates []record.Conversion
	equation   Equation
	err        error
}

// NewConverter takes the programme's own equations, and published defaults for what the
// programme has no equation of its own. Two publications of one equation are never
// averaged: while there are two, neither is used, and Ambiguous names them.
func NewConverter(own, defaults []record.Conversion) *Converter {
	c := &Converter{of: map[record.Species][]group{}}
	c.add(own)
	mine := map[record.Species]int{}
	for species, groups := range c.of {
		mine[species] = len(groups)
	}
	for _, d := range defaults {
		taken := c.of[d.Species][:mine[d.Species]]
		if find(taken, d.From, d.To) == nil && find(taken, d.To, d.From) == nil {
			c.add([]record.Conversion{d})
		}
	}
	return c
}

func (c *Converter) add(all []record.Conversion) {
	for _, one := range all {
		g := find(c.of[one.Species], one.From, one.To)
		if g == nil {
			c.of[one.Species] = append(c.of[one.Species], group{from: one.From, to: one.To})
			g = find(c.of[one.Species], one.From, one.To)
		}
		g.candidates = append(g.candidates, one)
		if g.equation, g.err = NewEquation(one); len(g.candidates) > 1 {
			g.err = errTwo
		}
	}
}

func find(groups []group, from, to string) *group {
	for i := range groups {
		if groups[i].from == from && groups[i].to == to {
			return &groups[i]
		}
	}
	return nil
}

// Ambiguous are the publications between which the programme has not chosen, for an
// equation of a species; empty when there is one or none.
func (c *Converter) Ambiguous(species record.Species, from, to string) []record.Conversion {
	if g := find(c.of[species], from, to); g != nil && len(g.candidates) > 1 {
		return g.candidates
	}
	return nil
}

// Reason is why a value can't be converted.
type Reason uint8

// The reasons.
const (
	NotMeasured   Reason = iota + 1 // the value, its unit, kind or form is unknown
	NoEquation                      // none leads there in two steps
	TwoEquations                    // two publications, and the programme has not chosen
	OutsideDomain                   // the equation has no positive answer for the value
)

// Trouble is an error of a conversion.
type Trouble struct {
	Reason   Reason
	From, To string
}

func (t Trouble) Error() string {
	why := [...]string{"", "it was not measured, or its unit or kind is unknown", "no equation leads there in two steps",
		"there are two equations and the programme has not chosen one", "the equation has no answer for the value"}
	return fmt.Sprintf("no %s from %s: %s", t.To, t.From, why[t.Reason])
}

var errTwo = fmt.Errorf("measure: two publications of one equation")

// Converted is a derived value. Chained equations each add their residual SD, carried
// through the slope of the next (first order).
type Converted struct {
	Value        float64       // in the unit asked for; the median where Log
	SD           record.Number // residual SD of Value, or of its logarithm where Log; unknown when one is not published
	Log          bool          // SD is on the log scale
	Steps        []Equation    // in the order used; none when the kind was right already
	Inverted     []bool        // of each step: used from y to x
	Extrapolated bool          // an input lay outside the range that was sampled
	Outside      Equation      // the first step that was
}

// Mean is the expected value: that of a lognormal where the equation was fitted on
// logs, median × e^{s²/2}, as far as s is known.
func (c Converted) Mean() float64 {
	if c.Log && c.SD.Known {
		return c.Value * math.Exp(c.SD.X*c.SD.X/2)
	}
	return c.Value
}

// Length is a length as another kind and in a unit.
func (c *Converter) Length(species record.Species, l record.Length, to record.LengthKind, unit string) (Converted, error) {
	return c.convert(species, l.Value, l.Unit, l.Kind.String(), to.String(), unit)
}

// Weight is a weight as another form and in a unit.
func (c *Converter) Weight(species record.Species, w record.Number, unit string, form, to record.WeightForm, toUnit string) (Converted, error) {
	return c.convert(species, w, unit, form.String(), to.String(), toUnit)
}

// WeightAt is the weight, in kilograms, of a fish of a length.
func (c *Converter) WeightAt(species record.Species, l record.Length, form record.WeightForm) (Converted, error) {
	return c.convert(species, l.Value, l.Unit, l.Kind.String(), form.String(), "kg")
}

// LengthOf is the length of a fish of a weight: the weight equation turned round, with the
// SD of its logarithms over its exponent. It says how long fish of that weight are where
// fish of every length were as likely to be met.
func (c *Converter) LengthOf(species record.Species, w record.Number, unit string, form record.WeightForm, to record.LengthKind, toUnit string) (Converted, error) {
	return c.convert(species, w, unit, form.String(), to.String(), toUnit)
}

func (c *Converter) convert(species record.Species, value record.Number, unit, from, to, toUnit string) (Converted, error) {
	if !value.Known || dimension(from) == 0 || sizes[unit].dimension != dimension(from) ||
		dimension(to) == 0 || sizes[toUnit].dimension != dimension(to) {
		return Converted{}, Trouble{NotMeasured, from, to}
	}
	steps, inverted, reason := c.path(species, from, to)
	if reason != 0 {
		return Converted{}, Trouble{reason, from, to}
	}
	done := Converted{Value: value.X, SD: record.Some(0), Steps: steps, Inverted: inverted}
	for i, e := range steps {
		in, out := e.In, e.Out
		if inverted[i] {
			in, out = out, in
		}
		done.rescale(unit, in)
		if !done.step(e, inverted[i]) {
			return Converted{}, Trouble{OutsideDomain, from, to}
		}
		unit = out
	}
	done.rescale(unit, toUnit)
	return done, nil
}

// rescale changes the unit; an SD of logarithms has none.
func (c *Converted) rescale(from, to string) {
	if !c.Log {
		c.SD.X, _ = InUnit(c.SD.X, from, to)
	}
	c.Value, _ = InUnit(c.Value, from, to)
}

// step takes the value through one equation. With y = f(x), SD of x carried through is
// |f′| SD, or on the log scale |f′| x/y SD; the equation's own SD joins it in squares.
func (c *Converted) step(e Equation, inverted bool) bool {
	x := c.Value
	y := e.At(x)
	if inverted {
		x = e.Inverse(c.Value)
		y = x
	}
	if !(x > 0) || !(y > 0) || math.IsInf(x, 0) || math.IsInf(y, 0) {
		return false
	}
	if e.outside(x) && !c.Extrapolated {
		c.Extrapolated, c.Outside = true, e
	}
	slope := e.slope(x)
	own := e.SD.X // of the forward y, on its scale
	if inverted {
		slope = 1 / slope
		if own = own * slope; e.Form.Logs() {
			own = e.SD.X / e.B
		}
	}
	before := c.SD.X // of x
	if c.Log {
		before *= c.Value
	}
	carried := slope * before
	known := c.SD.Known && e.SD.Known
	if c.Log = e.Form.Logs(); c.Log {
		carried /= y
	}
	c.SD = record.Number{}
	if known {
		c.SD = record.Some(math.Hypot(carried, own))
	}
	c.Value = y
	return true
}

// edge is an equation of a species, used forward or turned round.
type edge struct {
	equation Equation
	inverted bool
	from, to string
}

// path is the shortest way in at most two steps; of equally long ones the first in the
// order of the equations, forward before turned round.
func (c *Converter) path(species record.Species, from, to string) ([]Equation, []bool, Reason) {
	if from == to {
		return nil, nil, 0
	}
	edges := c.edges(species)
	for _, e := range edges {
		if e.from == from && e.to == to {
			return []Equation{e.equation}, []bool{e.inverted}, 0
		}
	}
	for _, first := range edges {
		for _, second := range edges {
			if first.from == from && first.to == second.from && second.to == to {
				return []Equation{first.equation, second.equation}, []bool{first.inverted, second.inverted}, 0
			}
		}
	}
	for _, g := range c.of[species] {
		if g.err == errTwo && (g.from == from && g.to == to || g.from == to && g.to == from) {
			return nil, nil, TwoEquations
		}
	}
	return nil, nil, NoEquation
}

func (c *Converter) edges(species record.Species) (all []edge) {
	for _, inverted := range []bool{false, true} {
		for _, g := range c.of[species] {
			e := edge{g.equation, inverted, g.from, g.to}
			if inverted {
				e.from, e.to = g.to, g.from
			}
			if g.err == nil {
				all = append(all, e)
			}
		}
	}
	return all
}

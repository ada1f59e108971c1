package main

import (
	"math"

	"earstone/estimate/run"
	"earstone/programme/measure"
	"earstone/programme/record"
	"earstone/programme/species"
)

// converter gives a run the equations of a programme, and published ones where it has
// none of its own.
func converter(book *record.Book) run.Converter {
	return equations{measure.NewConverter(book.Conversions, species.Conversions(book.Settings.Species))}
}

type equations struct{ of *measure.Converter }

// Length is a length in the unit and kind of the bins, the mean where the equation
// predicts a median, with its residual SD in the same unit.
func (e equations) Length(species record.Species, l record.Length, to record.LengthBin) (x, sd float64, ok bool) {
	c, err := e.of.Length(species, l, to.Kind, to.Unit)
	if err != nil {
		return 0, 0, false
	}
	x, sd = mean(c)
	if l.SD.Known { // of a length that was itself derived; the step through the equation to first order
		sd = math.Hypot(sd, l.SD.X*x/l.Value.X)
	}
	return x, sd, true
}

// LengthOf is the length of a fish that was weighed, in the unit and kind of the bins.
func (e equations) LengthOf(species record.Species, weight record.Number, unit string, form record.WeightForm, to record.LengthBin) (run.Derived, bool) {
	c, err := e.of.LengthOf(species, weight, unit, form, to.Kind, to.Unit)
	if err != nil {
		return run.Derived{}, false
	}
	x, sd := mean(c)
	d := run.Derived{Length: x, SD: record.Number{X: sd, Known: c.SD.Known}, Steps: len(c.Steps), Extrapolated: c.Extrapolated}
	if c.Extrapolated {
		d.Low, d.High = c.Outside.Low, c.Outside.High
	}
	return d, true
}

// mean is the expected value of what was converted with its SD, 0 where that is not known.
func mean(c measure.Converted) (x, sd float64) {
	x = c.Mean()
	if c.SD.Known {
		sd = c.SD.X
		if c.Log {
			sd *= x // first order
		}
	}
	return x, sd
}

// Weight is the mean round weight at a length.
func (e equations) Weight(species record.Species, x float64, of record.LengthBin) (kg float64, ok bool) {
	length := record.Length{Value: record.Some(x), Unit: of.Unit, Kind: of.Kind}
	c, err := e.of.WeightAt(species, length, record.Round)
	if err != nil {
		return 0, false
	}
	return c.Mean(), true
}

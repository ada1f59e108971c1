package main

import (
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
	x = c.Mean()
	if c.SD.Known {
		sd = c.SD.X
		if c.Log {
			sd *= x // first order
		}
	}
	return x, sd, true
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

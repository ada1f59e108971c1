package run

import (
	"math"
	"strconv"

	"earstone/programme/finding"
	"earstone/programme/record"
	"earstone/programme/result"
)

// Derived is a length that was derived from a weight, in the unit and kind of the bins.
type Derived struct {
	Length       float64
	SD           record.Number // unknown where an equation has none
	Steps        int           // equations it went through
	Extrapolated bool          // outside the lengths that an equation was made for: Low to High
	Low, High    record.Number
}

// A LengthOfWeight is a Converter that can also tell the length of a fish of a weight.
// Without one, a fish that was weighed and not measured has no length.
type LengthOfWeight interface {
	LengthOf(species record.Species, weight record.Number, unit string, form record.WeightForm, to record.LengthBin) (Derived, bool)
}

// DerivedLength is a fish that was weighed and not measured, with what its weight makes of
// its length.
type DerivedLength struct {
	Fish *record.Fish
	Derived
}

// deriveLengths gives a length to each fish that was weighed and not measured: in a copy of
// the book, since what was written down stays as it is. Rounded to a hundredth, far within
// its SD, lest it look exact.
func (c *chain) deriveLengths() []DerivedLength {
	by, can := c.convert.(LengthOfWeight)
	if !can {
		return nil
	}
	bin, copied := c.book.Settings.LengthBin, false
	var derived []DerivedLength
	for i := range c.book.Fish {
		f := &c.book.Fish[i]
		if f.Length.Value.Known || !f.Weight.Known {
			continue
		}
		d, ok := by.LengthOf(f.Species, f.Weight, f.WeightUnit, f.WeightForm, bin)
		if !ok {
			continue
		}
		if !copied {
			book := *c.book
			book.Fish = append([]record.Fish(nil), c.book.Fish...)
			c.book, copied = &book, true
			f = &c.book.Fish[i]
		}
		d.Length = math.Round(d.Length*100) / 100
		f.Length = record.Length{Value: record.Some(d.Length), Unit: bin.Unit, Kind: bin.Kind, Derived: true, SD: d.SD}
		derived = append(derived, DerivedLength{f, d})
		if d.Extrapolated {
			c.outcome.Found.Add(finding.Extrapolated, finding.Place{File: "fish.csv", Row: f.Row, Column: "weight"}, number(f.Weight), number(d.Low), number(d.High))
		}
	}
	return derived
}

// keepDerived hands each species its own.
func (c *chain) keepDerived(all []DerivedLength) {
	for _, s := range c.outcome.Species {
		for _, d := range all {
			if d.Fish.Species == s.Species {
				s.Derived = append(s.Derived, d)
			}
		}
	}
}

// derivedPlain are the derived lengths.
func (o *Outcome) derivedPlain() result.Plain {
	p := result.Plain{Name: "derived_lengths", Columns: []string{"fish", "species", "weight", "weight_unit", "weight_form", "length", "unit", "kind", "sd", "steps", "extrapolated"}}
	for _, s := range o.Species {
		for _, d := range s.Derived {
			p.Rows = append(p.Rows, []string{string(d.Fish.Fish), string(s.Species), number(d.Fish.Weight), d.Fish.WeightUnit, d.Fish.WeightForm.String(),
				some(d.Length), d.Fish.Length.Unit, d.Fish.Length.Kind.String(), number(d.SD), strconv.Itoa(d.Steps), strconv.FormatBool(d.Extrapolated)})
		}
	}
	return p
}

package run

import (
	"math"

	"earstone/estimate/growth"
	"earstone/estimate/mortality"
	"earstone/programme/record"
)

// MortalityFound is how fast fish die, from the catch at age of each year, and from
// published formulas of longevity and growth.
type MortalityFound struct {
	Years   []YearMortality
	Natural []NaturalFound
	// Longest is the oldest agreed age. The formulas want the age that fish of an unfished
	// stock reach: where fish are caught before they grow old it is too low, and M too high.
	Longest int
}

// YearMortality is total mortality from the numbers at age of a year, scaled to the effective
// sample size of the shares.
type YearMortality struct {
	Year          int
	Effective     record.Number
	ChapmanRobson TotalMortality
	Survival      Estimate // of a year, by Chapman & Robson
	CatchCurve    TotalMortality
	Plus          bool // the oldest class is a plus group: survivors to Chapman & Robson, left out of the line
	Trips, Stones int
}

// TotalMortality is a rate Z a year by one method. Its interval is the method's own, with
// uneven year classes in it; Sampling beside it is over the replicates, and tells what the
// sampling alone does.
type TotalMortality struct {
	Z        Estimate
	FirstAge int // youngest age used
	Ages     int // used
	Fish     float64
	Sampling Estimate
	Trouble  error // why there is no Z
}

// NaturalFound is M by one formula. Its interval is for one more stock.
type NaturalFound struct {
	mortality.Formula
	M Estimate
}

// ByFormula is the interval that a method has of its own.
const ByFormula = "formula"

// natural applies the formulas that want no catch.
func (c *chain) natural(s *Species) {
	if s.Mortality == nil {
		s.Mortality = &MortalityFound{}
	}
	m := s.Mortality
	for i := range s.Ages {
		if s.Ages[i].Class.Known() {
			m.Longest = max(m.Longest, int(s.Ages[i].Class))
		}
	}
	k, cm := c.vonBertalanffy(s)
	for _, f := range mortality.Formulas() {
		var n mortality.Natural
		switch {
		case !f.Growth && m.Longest > 0:
			n = f.FromLongevity(float64(m.Longest), c.options.Level)
		case f.Growth && k > 0 && cm > 0:
			n = f.FromGrowth(k, cm, c.options.Level)
		default:
			continue
		}
		e := Estimate{}
		e.Value, e.Low, e.High = record.Some(n.M), n.Low, n.High
		if n.Low.Known {
			e.SE, e.Level, e.Method = f.Error, c.options.Level, ByFormula
		}
		m.Natural = append(m.Natural, NaturalFound{f, e})
	}
}

// vonBertalanffy is K and L∞ in cm of the reported curve; 0 without one.
func (c *chain) vonBertalanffy(s *Species) (k, cm float64) {
	if s.Growth == nil || len(s.Growth.Parameters) == 0 || s.Growth.Curves[s.Growth.Chosen].Model != growth.VonBertalanffy {
		return 0, 0
	}
	for i, name := range growth.VonBertalanffy.Parameters() {
		switch value := s.Growth.Parameters[i].Value.X; name {
		case "K":
			k = value
		case "Linf":
			cm = value * centimetres(c.book.Settings.LengthBin.Unit)
		}
	}
	return k, cm
}

// centimetres are how many a unit of length has.
func centimetres(unit string) float64 {
	switch unit {
	case "mm":
		return 0.1
	case "in":
		return 2.54
	}
	return 1
}

// mortality estimates Z from the catch at age of each year.
func (v *view) mortality(s *Species) {
	s.Mortality = &MortalityFound{}
	for i := range s.Catch.Years {
		s.Mortality.Years = append(s.Mortality.Years, v.yearMortality(&s.Catch.Years[i], i))
	}
}

// yearMortality is that of year i.
func (v *view) yearMortality(p *Place, i int) YearMortality {
	d := &v.counts.Design
	ages, plus := d.Out(), d.Plus > 0 && d.Ages > d.Plus
	y := YearMortality{Year: v.counts.Years[i], Effective: p.Effective, Plus: plus, Trips: p.Trips, Stones: p.Stones}
	counts := mortality.Counts{Number: make([]float64, ages), Plus: plus}
	if p.Effective.Known {
		for a := range counts.Number {
			counts.Number[a] = p.Share[a].Value.X * p.Effective.X
		}
	}
	b := v.block(len(d.Strata)+i, p.Cell.Year, d.Margins[i].Strata)
	sampling := func(z func(mortality.Counts) float64) Estimate {
		row := mortality.Counts{Number: make([]float64, ages), Plus: plus}
		return b.estimate(func(x [][]float64, at int) float64 {
			for a := range row.Number {
				row.Number[a] = x[a][at]
			}
			return z(row)
		})
	}
	cr, err := mortality.ChapmanRobson(counts, v.options.Level)
	y.ChapmanRobson = total(cr.Estimate, err, v.options.Level)
	if err == nil {
		y.Survival.Value, y.Survival.SE = record.Some(cr.S), record.Some(cr.SES)
		y.Survival.Low, y.Survival.High = record.Some(math.Exp(-cr.High)), record.Some(math.Exp(-cr.Low))
		y.Survival.Level, y.Survival.Method = v.options.Level, ByFormula
		y.ChapmanRobson.Sampling = sampling(func(c mortality.Counts) float64 {
			return zOr(mortality.ChapmanRobson(c, v.options.Level))
		})
	}
	line, err := mortality.CatchCurve(counts, v.options.Level)
	y.CatchCurve = total(line.Estimate, err, v.options.Level)
	if err == nil {
		y.CatchCurve.Sampling = sampling(func(c mortality.Counts) float64 {
			line, err := mortality.CatchCurve(c, v.options.Level)
			if err != nil {
				return math.NaN()
			}
			return line.Z
		})
	}
	return y
}

func zOr(s mortality.Survival, err error) float64 {
	if err != nil {
		return math.NaN()
	}
	return s.Z
}

// total puts an estimate of mortality into words of the outcome.
func total(e mortality.Estimate, err error, level float64) TotalMortality {
	t := TotalMortality{FirstAge: e.FirstAge, Ages: e.Ages, Fish: e.Fish, Trouble: err}
	if err != nil {
		return t
	}
	t.Z.Value = record.Some(e.Z)
	if !math.IsNaN(e.SE) && !math.IsInf(e.SE, 0) {
		t.Z.SE, t.Z.Low, t.Z.High = record.Some(e.SE), record.Some(e.Low), record.Some(e.High)
		t.Z.Level, t.Z.Method = level, ByFormula
	}
	return t
}

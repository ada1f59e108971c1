package run

import (
	"strconv"

	"earstone/programme/record"
	"earstone/programme/result"
	"earstone/programme/strata"
)

// Tables are the estimates of the outcome in long form, one table a name, in the order of
// docs/tables.md. Tables without a row are there all the same, so that a reader finds
// their columns.
func (o *Outcome) Tables() []result.Table {
	return []result.Table{o.agreementTable(), o.edgesTable(), o.errorTable(), o.matrixTable(), o.keyTable(), o.scoresTable(), o.catchTable(), o.covarianceTable(), o.changesTable(), o.growthTable(), o.annuliTable(), o.mortalityTable(), o.compositionTable(), o.nurseryTable(), o.budgetTable(), o.adviceTable()}
}

// Plains are the tables without estimates.
func (o *Outcome) Plains() []result.Plain {
	ages := result.Plain{Name: "ages", Columns: []string{"fish", "species", "annuli", "decimal_age", "cohort", "age", "rule", "n_readings", "flags"}}
	for _, s := range o.Species {
		for i := range s.Ages {
			ages.Rows = append(ages.Rows, ageRow(&s.Ages[i]))
		}
	}
	return []result.Plain{ages, o.originPlain(), o.classificationPlain(), o.runsPlain(), o.ageAtLength(), o.backPlain(), o.derivedPlain(), o.weighedPlain(), o.dictionary()}
}

func ageRow(f *FishAge) []string {
	row := []string{string(f.Fish.Fish), string(f.Fish.Species), number(f.Annuli), number(f.Decimal), "", "", f.Rule, strconv.Itoa(len(f.Used)), f.Flags.String()}
	if f.Class.Known() {
		row[4], row[5] = strconv.Itoa(f.Cohort), strconv.Itoa(int(f.Class))
	}
	return row
}

func number(n record.Number) string {
	if !n.Known {
		return ""
	}
	return strconv.FormatFloat(n.X, 'g', -1, 64)
}

// keyTable is q(age | length) by key stratum, the rows that serve some catch.
func (o *Outcome) keyTable() result.Table {
	t := result.Table{Name: "key", ID: append(append([]string{"species"}, strata.Columns()...), "length", "age"), Further: []string{"borrowed_from", "short"}}
	for _, s := range o.Species {
		if s.Key == nil {
			continue
		}
		c := s.Counts
		for k, cell := range c.KeyCells {
			for l := range c.Bins.N {
				at := k*c.Bins.N + l
				from := s.Key.From[at]
				if from.Rung() < 0 {
					continue
				}
				borrowed, short := s.Key.borrowedFrom(c, at), ""
				if from.Short() {
					short = "true"
				}
				for a := range c.Design.Ages {
					q := s.Key.Q[at*c.Design.Ages+a]
					if q == 0 {
						continue
					}
					id := append(append([]string{string(s.Species)}, cell.Texts()...), strconv.FormatFloat(c.Bins.Lower(l), 'g', -1, 64), strconv.Itoa(a))
					t.Estimate = append(t.Estimate, result.Estimate{ID: id, Value: record.Some(q),
						Stones: int(s.Key.Used[at] + 0.5), Further: []string{borrowed, short}})
				}
			}
		}
	}
	return t
}

// catchTable is the catch at age of every stratum and year.
func (o *Outcome) catchTable() result.Table {
	t := result.Table{Name: "catch_at_age", ID: append(append([]string{"species"}, strata.Columns()...), "age", "plus", "quantity"),
		Further: []string{"interval", "percentile_low", "percentile_high", "bca_low", "bca_high", "monte_carlo_low", "monte_carlo_high", "df", "analytic_se"}}
	for _, s := range o.Species {
		if s.Catch == nil {
			continue
		}
		for i := range s.Catch.Years {
			t.Estimate = o.placeRows(t.Estimate, s, &s.Catch.Years[i])
		}
		for i := range s.Catch.Sums {
			t.Estimate = o.placeRows(t.Estimate, s, &s.Catch.Sums[i])
		}
		for i := range s.Catch.Strata {
			t.Estimate = o.placeRows(t.Estimate, s, &s.Catch.Strata[i])
		}
	}
	return t
}

func (o *Outcome) placeRows(rows []result.Estimate, s *Species, p *Place) []result.Estimate {
	last := len(p.Number) - 1
	plus := s.Counts.Design.Plus > 0 && s.Counts.Design.Ages > s.Counts.Design.Plus
	add := func(age, plus, quantity string, e Estimate) {
		e.ID = append(append([]string{string(s.Species)}, p.Cell.Texts()...), age, plus, quantity)
		e.Trips, e.Stones, e.Filled = p.Trips, p.Stones, record.Some(p.Filled)
		e.Further = []string{e.Method, number(e.Percentile.Low), number(e.Percentile.High), number(e.BCa.Low), number(e.BCa.High), "", "", "", number(e.Analytic)}
		if e.Method != "" {
			e.Further[5], e.Further[6] = number(record.Some(e.MonteCarlo[0])), number(record.Some(e.MonteCarlo[1]))
		}
		if e.Freedom > 0 {
			e.Further[7] = number(record.Some(e.Freedom))
		}
		rows = append(rows, e.Estimate)
	}
	for a := range p.Number {
		age, isPlus := strconv.Itoa(a), strconv.FormatBool(plus && a == last)
		add(age, isPlus, "number", p.Number[a])
		add(age, isPlus, "share", p.Share[a])
		add(age, isPlus, "mean_length", p.MeanLength[a])
		add(age, isPlus, "mean_weight", p.MeanWeight[a])
	}
	add("", "", "unaged_number", p.Unaged)
	return rows
}

// covarianceTable is the covariance of the numbers at age of each year, resampled.
func (o *Outcome) covarianceTable() result.Table {
	t := result.Table{Name: "catch_at_age_covariance", ID: []string{"species", "year", "age_a", "age_b"}}
	for _, s := range o.Species {
		if s.Catch == nil {
			continue
		}
		for i := range s.Catch.Years {
			p := &s.Catch.Years[i]
			k := len(p.Number)
			for a := range k {
				for b := range k {
					t.Estimate = append(t.Estimate, result.Estimate{
						ID:    []string{string(s.Species), strconv.Itoa(s.Counts.Years[i]), strconv.Itoa(a), strconv.Itoa(b)},
						Value: record.Some(p.Covariance[a*k+b]), Trips: p.Trips, Stones: p.Stones, Filled: record.Some(p.Filled)})
				}
			}
		}
	}
	return t
}

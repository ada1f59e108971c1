package report

import (
	"fmt"
	"html/template"
	"strconv"

	"earstone/pages/chart"
	"earstone/pages/words"
	"earstone/programme/record"
	"earstone/reading/ageerror"
)

// ageingError is the spread and bias of each reader by true age.
func (k *told) ageingError() section {
	fit := k.s.Errors
	if fit == nil {
		if k.s.NoErrors == nil || len(k.s.Ages) == 0 {
			return section{}
		}
		c := k.section("error", "Ageing error")
		c.Says = []string{sentence("There is no estimate of the readers' error: " + k.s.NoErrors.Error())}
		return c
	}
	c := k.section("error", "Ageing error")
	rows := fit.Rows(fit.Oldest+1, 0.95)
	says := k.errorSays(rows)
	pic := chart.ErrorCurve{Frame: chart.Frame{Title: "Ageing error of each reader", Alt: says, Level: 0.95}}
	of := &table{Summary: "Spread and bias by true age", Caption: "Standard deviation and bias of a count at each true age, in years, with intervals of 95 %.",
		Head: append(text("Reader", "True age"), figures("SD", "From", "To", "Bias", "From", "To")...)}
	for r := range fit.Models {
		curve := chart.ReaderError{Name: k.reader(r), Unbiased: fit.Models[r].Bias == ageerror.NoBias}
		bias, sd := rowsOf(rows, r, ageerror.Bias), rowsOf(rows, r, ageerror.SD)
		for i := range sd {
			if sd[i].Age < fit.First {
				continue
			}
			curve.Points = append(curve.Points, chart.ErrorPoint{Age: float64(sd[i].Age), SD: sd[i].Value, SDInterval: within(sd[i]),
				Bias: chart.Of(bias[i].Value), BiasInterval: within(bias[i])})
			row := []string{k.reader(r), strconv.Itoa(sd[i].Age)}
			for _, x := range []ageerror.Row{sd[i], bias[i]} {
				row = append(row, rounded(record.Some(x.Value), 2), rounded(x.Low, 2), rounded(x.High, 2))
			}
			of.Rows = append(of.Rows, row)
		}
		pic.Readers = append(pic.Readers, curve)
	}
	c.Says = []string{k.errorForms()}
	c.Sets = []set{{Figures: []figure{k.figure(figure{Title: "Spread and bias of each reader.", Says: says, Picture: template.HTML(pic.Draw()), Table: of})}}}
	return c
}

func rowsOf(rows []ageerror.Row, reader int, q ageerror.Quantity) (of []ageerror.Row) {
	for _, r := range rows {
		if r.Reader == reader && r.Quantity == q {
			of = append(of, r)
		}
	}
	return of
}

func within(r ageerror.Row) chart.Interval {
	if !r.Low.Known || !r.High.Known {
		return chart.Interval{}
	}
	return chart.Between(r.Low.X, r.High.X)
}

// errorForms says what was fitted.
func (k *told) errorForms() string {
	fit := k.s.Errors
	return fmt.Sprintf("How far a count may lie from the true age, reader by reader: fitted to %s fish, and chosen among %s of the curves.",
		count(fit.Fish), plural(len(fit.Tried), "form", "forms"))
}

// errorSays compares the readers at one age in the middle of what was read.
func (k *told) errorSays(rows []ageerror.Row) string {
	fit := k.s.Errors
	age := (fit.First + fit.Oldest) / 2
	var said []string
	for r := range fit.Models {
		for _, sd := range rowsOf(rows, r, ageerror.SD) {
			if sd.Age == age {
				said = append(said, fmt.Sprintf("%s years by %s", words.Figure(sd.Value, 2), k.reader(r)))
			}
		}
	}
	says := fmt.Sprintf("At true age %d the counts scatter with a standard deviation of %s.", age, list(said))
	var biased []string
	for r, m := range fit.Models {
		if m.Bias == ageerror.NoBias {
			continue
		}
		for _, b := range rowsOf(rows, r, ageerror.Bias) {
			if b.Age == age {
				biased = append(biased, fmt.Sprintf("%s reads %s", k.reader(r), askew(b.Value)))
			}
		}
	}
	if len(biased) == 0 {
		return join(says, "No reader shows a bias against the others.")
	}
	return join(says, sentence("On average "+list(biased)))
}

// askew is a bias in words.
func askew(years float64) string {
	if years < 0 {
		return words.Figure(-years, 2) + " years too young"
	}
	return words.Figure(years, 2) + " years too old"
}

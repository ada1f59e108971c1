package run

import (
	"strconv"

	"earstone/programme/record"
	"earstone/programme/result"
	"earstone/reading/ageerror"
	"earstone/reading/agreement"
)

// agreementTable is how the readings of each pair of readers, and of all together, agree.
func (o *Outcome) agreementTable() result.Table {
	t := result.Table{Name: "agreement", ID: []string{"species", "reader_a", "reader_b", "quantity"}}
	for _, s := range o.Species {
		if s.Agreement == nil {
			continue
		}
		r := agreementRows{table: &t, species: string(s.Species)}
		r.summary("", "", s.Agreement.All)
		for _, pairs := range [][]agreement.Pair{s.Agreement.Pairs, s.Agreement.Self} {
			for i := range pairs {
				r.pair(&pairs[i])
			}
		}
	}
	return t
}

type agreementRows struct {
	table   *result.Table
	species string
}

func (r agreementRows) add(a, b, quantity string, e result.Estimate) {
	if !e.Value.Known {
		return
	}
	e.ID = []string{r.species, a, b, quantity}
	r.table.Estimate = append(r.table.Estimate, e)
}

func (r agreementRows) summary(a, b string, s agreement.Summary) {
	fish := func(x record.Number, n int) result.Estimate { return result.Estimate{Value: x, Stones: n} }
	r.add(a, b, "n", fish(record.Some(float64(s.ReadTwice)), s.ReadTwice))
	r.add(a, b, "ape", fish(s.APE, s.N))
	r.add(a, b, "cv", fish(s.CV, s.N))
	r.add(a, b, "exact", fish(s.Exact, s.ReadTwice))
	r.add(a, b, "within_1", fish(s.Within1, s.ReadTwice))
	r.add(a, b, "within_2", fish(s.Within2, s.ReadTwice))
}

func (r agreementRows) pair(p *agreement.Pair) {
	a, b := string(p.ReaderA), string(p.ReaderB)
	r.summary(a, b, p.Summary)
	d := p.Difference
	e := result.Estimate{Value: d.Mean, SE: d.SE, Low: d.Low, High: d.High, Stones: d.N}
	if d.Low.Known {
		e.Level = 0.95
	}
	r.add(a, b, "mean_difference", e)
	for _, test := range []struct {
		name string
		agreement.Test
	}{{"bowker", p.Bowker}, {"evans_hoenig", p.EvansHoenig}, {"mcnemar", p.McNemar}} {
		if !test.X2.Known {
			continue
		}
		r.add(a, b, test.name+"_x2", result.Estimate{Value: test.X2, Stones: p.ReadTwice})
		if test.name != "mcnemar" {
			r.add(a, b, test.name+"_df", result.Estimate{Value: record.Some(float64(test.DF)), Stones: p.ReadTwice})
		}
		r.add(a, b, test.name+"_p", result.Estimate{Value: test.P, Stones: p.ReadTwice})
	}
}

// edgesTable is the share of each edge class by month.
func (o *Outcome) edgesTable() result.Table {
	t := result.Table{Name: "edges", ID: []string{"species", "month", "edge"}}
	for _, s := range o.Species {
		if s.Agreement == nil {
			continue
		}
		for _, e := range s.Agreement.Edges {
			t.Estimate = append(t.Estimate, result.Estimate{ID: []string{string(s.Species), strconv.Itoa(e.Month), e.Edge.String()},
				Value: record.Some(e.Share), Low: record.Some(e.Low), High: record.Some(e.High), Level: 0.95, Stones: e.Of})
		}
	}
	return t
}

// errorTable is the bias and SD of every reader at every age.
func (o *Outcome) errorTable() result.Table {
	t := result.Table{Name: "ageing_error", ID: []string{"species", "reader", "age", "quantity"}, Further: []string{"form"}}
	for _, s := range o.Species {
		if s.Errors == nil {
			continue
		}
		for _, row := range s.Errors.Rows(s.Errors.Oldest+1, o.Options.Level) {
			e := result.Estimate{Value: record.Some(row.Value), SE: row.SE, Low: row.Low, High: row.High, Stones: int(s.Errors.Twice[row.Reader])}
			if row.Low.Known {
				e.Level = o.Options.Level
			}
			model := s.Errors.Models[row.Reader]
			form := model.SD.String()
			if row.Quantity == ageerror.Bias {
				form = model.Bias.String()
			}
			e.ID = []string{string(s.Species), string(o.Readers[row.Reader]), strconv.Itoa(row.Age), row.Quantity.String()}
			e.Further = []string{form}
			t.Estimate = append(t.Estimate, e)
		}
	}
	return t
}

// matrixTable is P(count | true age) of every reader.
func (o *Outcome) matrixTable() result.Table {
	t := result.Table{Name: "ageing_error_matrix", ID: []string{"species", "reader", "age", "read_age"}}
	for _, s := range o.Species {
		if s.Errors == nil {
			continue
		}
		counts := s.Errors.Oldest + 1
		for r := range s.Errors.Models {
			matrix := s.Errors.MatrixOf(r, counts)
			for a := range counts {
				for c := range counts {
					if p := matrix[a*counts+c]; p > 0 {
						t.Estimate = append(t.Estimate, result.Estimate{Value: record.Some(p),
							ID: []string{string(s.Species), string(o.Readers[r]), strconv.Itoa(a), strconv.Itoa(c)}})
					}
				}
			}
		}
	}
	return t
}

// scoresTable is how well each form of key foretold ages it had not seen.
func (o *Outcome) scoresTable() result.Table {
	t := result.Table{Name: "key_scores", ID: []string{"species", "form", "quantity"}, Further: []string{"df", "strata_penalty", "curvature_penalty"}}
	for _, s := range o.Species {
		if s.Key == nil || s.Key.Scored == nil {
			continue
		}
		for _, score := range s.Key.Scored.Scores {
			further := []string{"", "", ""}
			if score.Smoothing.DF > 0 {
				further = []string{strconv.Itoa(score.Smoothing.DF), number(record.Some(score.Smoothing.Strata)), number(record.Some(score.Smoothing.Curvature))}
			}
			for _, q := range []struct {
				name      string
				value, se record.Number
			}{{"log_score", record.Some(score.LogScore), record.Number{}}, {"behind_best", record.Some(score.Behind), record.Some(score.BehindSE)}, {"floored_fish", record.Some(score.Floored), record.Number{}}} {
				t.Estimate = append(t.Estimate, result.Estimate{ID: []string{string(s.Species), score.Form.String(), q.name}, Value: q.value, SE: q.se,
					Trips: s.Key.Scored.Trips, Stones: int(s.Key.Scored.Fish + 0.5), Further: further})
			}
		}
		if s.Weighed != nil {
			t.Estimate = append(t.Estimate, s.Weighed.massScoreRows(string(s.Species))...)
		}
	}
	return t
}

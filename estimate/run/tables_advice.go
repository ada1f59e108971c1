package run

import (
	"strconv"

	"earstone/estimate/tally"
	"earstone/programme/record"
	"earstone/programme/result"
	"earstone/programme/strata"
)

// NoAssessment stands in every row of the consequences.
const NoAssessment = "consequences of the catch at age, not an assessment"

// adviceTable has the consequences of the catch at age with half, today's and twice the
// stones, and what was taken for granted.
func (o *Outcome) adviceTable() result.Table {
	t := result.Table{Name: "advice", ID: []string{"species", "quantity", "age", "ahead", "sampling"}, Further: []string{"interval", "standing"}}
	for _, s := range o.Species {
		if s.Advice == nil {
			continue
		}
		given := func(name string, x float64, by string) {
			t.Estimate = append(t.Estimate, result.Estimate{ID: []string{string(s.Species), name, "", "", ""}, Value: record.Some(x),
				Further: []string{"", by + "; " + NoAssessment}})
		}
		by := func(byDefault bool, rule string) string {
			if byDefault {
				return "assumed, " + rule
			}
			return "given"
		}
		g := s.Advice.Given
		given("natural_mortality", g.Natural, by(s.Advice.ByDefault[0], "by longevity from the oldest age read"))
		given("terminal_f", g.Terminal, by(s.Advice.ByDefault[1], "as natural mortality"))
		if g.Mature > 0 {
			given("first_mature_age", float64(g.Mature), "given")
			given("spawning_time", g.When, "given")
		}
		for _, f := range s.Advice.Figures {
			ahead := ""
			if f.Ahead > 0 {
				ahead = strconv.Itoa(f.Ahead)
			}
			for _, one := range []struct {
				sampling string
				Estimate
			}{{"half", f.Half}, {"today", f.Today}, {"twice", f.Twice}} {
				e := one.Estimate.Estimate
				e.ID = []string{string(s.Species), f.Quantity, ageText(f.Age), ahead, one.sampling}
				e.Further = []string{one.Method, NoAssessment}
				t.Estimate = append(t.Estimate, e)
			}
		}
	}
	return t
}

// ageAtLength has the aged fish by place, length and age: what an assessment takes as ages
// conditional on length, each row of ages with its own sample size.
func (o *Outcome) ageAtLength() result.Plain {
	t := result.Plain{Name: "age_at_length", Columns: append(append([]string{"species"}, strata.Columns()...), "length", "age", "fish")}
	for _, s := range o.Species {
		if s.Counts == nil || !o.Options.wants(Advice) {
			continue
		}
		t.Rows = append(t.Rows, agedRows(s.Counts)...)
	}
	return t
}

// agedRows are sorted by origin, bin and age.
func agedRows(c *tally.Counts) [][]string {
	ages := c.Key.Grid.Ages
	fish := make([]float64, len(c.Origins)*c.Bins.N*ages)
	for _, e := range c.Key.Entries {
		if e.Bin >= 0 && e.Age >= 0 {
			fish[(int(e.Origin)*c.Bins.N+int(e.Bin))*ages+int(e.Age)] += e.Fish
		}
	}
	var rows [][]string
	for i, n := range fish {
		if n == 0 {
			continue
		}
		origin, l, a := i/(c.Bins.N*ages), i/ages%c.Bins.N, i%ages
		row := append([]string{string(c.Species)}, c.Origins[origin].Texts()...)
		rows = append(rows, append(row, number(record.Some(c.Bins.Lower(l))), strconv.Itoa(a), number(record.Some(n))))
	}
	return rows
}

// dictionary says what each column of the tables for an assessment group means.
func (o *Outcome) dictionary() result.Plain {
	t := result.Plain{Name: "data_dictionary", Columns: []string{"table", "column", "meaning", "unit"}}
	if !o.Options.wants(Advice) {
		return t
	}
	length := ""
	for _, s := range o.Species {
		if s.Counts != nil {
			length = s.Counts.Bins.Unit + ", " + s.Counts.Bins.Kind.String()
		}
	}
	t.Rows = append(t.Rows,
		[]string{"catch_at_age", "value", "number: fish caught of an age; share: of all aged fish; mean_length and mean_weight: of the fish of an age in the catch", "fish; 1; " + length + "; kg"},
		[]string{"catch_at_age", "se, low, high", "resampled over trips, stones, readers and catches; the interval is at the level beside it", "as value"},
		[]string{"catch_at_age", "plus", "true where the age stands for all older ones too", ""},
		[]string{"catch_at_age", "filled_share", "part of the catch that has no sample of its own", "1"},
		[]string{"catch_at_age_covariance", "value", "covariance of the numbers of two ages over replicates", "fish squared"},
		[]string{"age_at_length", "length", "lower edge of the length bin", length},
		[]string{"age_at_length", "age", "agreed age class, the ageing error still in it", "years"},
		[]string{"age_at_length", "fish", "aged fish: the sample size of a row of ages is the sum over its ages; a fish of partial date may be parted", "fish"},
		[]string{"ageing_error_matrix", "value", "probability that a reader gives read_age to a fish of true age", "1"},
		[]string{"catch_by_nursery", "value", "as catch_at_age, of the fish of one nursery", "as catch_at_age"},
		[]string{"advice", "value", "f_now, f01, fmax, f40, f: fishing mortality; yield_now, yield_f01: of a recruit; spawning_now, spawning_f01: share of an unfished recruit's; recruits, number: fish; yield_at and spawners_at: in the years ahead", "per year; kg; 1; fish; kg"},
		[]string{"advice", "sampling", "with half of today's aged stones, with today's, with twice as many", ""},
		[]string{"advice", "standing", NoAssessment, ""},
		[]string{"budget", "value", "share of a source in the variance of a quantity: first_order of what it does alone, total with what it does together with others", "1"},
	)
	return t
}

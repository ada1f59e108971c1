package report

import (
	"strings"
	"testing"

	"earstone/estimate/run"
	"earstone/plan/budget"
	"earstone/programme/record"
	"earstone/programme/result"
	"earstone/programme/strata"
	"earstone/statistics/stream"
)

// shared is a figure of 2031 whose variance trips and readers share.
func shared(quantity string, age int, trips, readers float64) run.Budgeted {
	return run.Budgeted{Year: 2031, Quantity: quantity, Age: age, Budget: budget.Budget{Mean: budget.Number{Value: 100}, Variance: budget.Number{Value: 25},
		Shares: []budget.Share{{Source: stream.Trips, First: budget.Number{Value: trips, SE: 0.03}}, {Source: stream.Reader, First: budget.Number{Value: readers, SE: 0.01}}}}}
}

func TestSentencesOfTheBudget(t *testing.T) {
	k := ofFour()
	k.s.Catch.Years = []run.Place{{Cell: strata.Cell{Year: 2031}}}
	k.s.Budget = &run.BudgetFound{Design: budget.Design{Sources: []stream.Source{stream.Trips, stream.Reader}, N: 250}, Quantities: []run.Budgeted{
		shared("total", -1, 0.9, 0.05), shared("number", 1, 0.7, 0.2), shared("number", 3, 0.2, 0.7), shared("share", 3, 0.1, 0.8)}}
	c := k.budgetSection()
	if got, want := plain(c.Sets[0].Figures[0].Says), "The largest source of variance is trips for 2 figures and readers for 1 figure."; got != want {
		t.Errorf("the page says\n%s\nwant\n%s", got, want)
	}
	of := c.Sets[0].Figures[0].Table
	if len(of.Rows) != 6 || of.Rows[5][0] != "fish of age 3+, 2031" || plain(of.Rows[5][2]) != "70.0 %" || of.Rows[5][3] != "1.0" {
		t.Errorf("the table behind has %d rows, the last %q, want six with the readers' share of age 3+ and its error last", len(of.Rows), of.Rows[len(of.Rows)-1])
	}
	if !strings.Contains(string(c.Sets[0].Figures[0].Picture), ">CV 5.0 %<") { // √25 of 100, by hand
		t.Error("the bar does not say the CV of its figure")
	}
	k.s.Budget.Quantities = k.s.Budget.Quantities[:1]
	if got, want := plain(k.budgetSection().Sets[0].Figures[0].Says), "The largest source of the variance of catch in fish, 2031 is trips, with 90 % of it."; got != want {
		t.Errorf("of one figure the page says\n%s\nwant\n%s", got, want)
	}
}

func TestAgesOfTheBudgetAreSpread(t *testing.T) {
	k := ofFour()
	k.s.Catch.Ages = []string{"0", "1", "2", "3", "4", "5", "6", "7", "8", "9"}
	k.s.Budget = &run.BudgetFound{}
	for age := range 10 {
		q := shared("number", age, 0.5, 0.5)
		if age == 0 {
			q.Mean.Value = 1 // of 901, less than a fiftieth
		}
		k.s.Budget.Quantities = append(k.s.Budget.Quantities, q)
	}
	got := k.tellingAges(2031)
	if want := []int{1, 3, 5, 7, 9}; len(got) != 5 || got[0] != want[0] || got[2] != want[2] || got[4] != want[4] {
		t.Errorf("of nine ages that hold a fiftieth each %v are drawn, want %v", got, want)
	}
}

// A consequence of 2031, with half as many ear stones 1.5 and with twice as many 0.8 times as wide.
func consequence(quantity string, age, ahead int, x float64) run.Figure {
	return run.Figure{Quantity: quantity, Age: age, Ahead: ahead, Today: estimated(x, x/10), Half: estimated(x, 1.5*x/10), Twice: estimated(x, 0.8*x/10)}
}

func TestConsequencesSayThatTheyAreNoAssessment(t *testing.T) {
	k := ofFour()
	k.o.Options.Level = 0.95
	k.s.Catch.Years = []run.Place{{Cell: strata.Cell{Year: 2031}}}
	a := &run.AdviceFound{Given: run.Given{Natural: 0.2, Terminal: 0.3}, ByDefault: [2]bool{true, false}, First: 1, Last: 2,
		Curve: []run.Recruit{{}, {F: 0.5, Yield: 20}},
		Figures: []run.Figure{consequence("f_now", -1, 0, 0.25), consequence("f01", -1, 0, 0.2), consequence("yield_now", -1, 0, 20), consequence("yield_f01", -1, 0, 19), consequence("recruits", -1, 0, 40_000),
			consequence("number", 1, 0, 40_000), consequence("f", 1, 0, 0.1), consequence("number", 2, 0, 30_000), consequence("f", 2, 0, 0.25), consequence("yield_at_f_now", -1, 1, 4_000_000)}}
	k.s.Advice = a
	c := k.consequences()
	if !strings.HasPrefix(c.Says[0], "This is not an assessment.") {
		t.Errorf("the chapter opens with %q", c.Says[0])
	}
	if len(c.Sets) != 3 {
		t.Fatalf("%d pictures, want those of ages, of a recruit and of the next years", len(c.Sets))
	}
	for i, want := range []string{
		"Fishing mortality is highest at age 2, 0.250 a year (0.200 to 0.300); of age 1 there would be 40 000 fish (32 000 to 48 000) at the start of 2031. Not an assessment.",
		"At the fishing mortality of this catch, 0.250 a year (0.200 to 0.300), a recruit yields 20.0 kg (16.0 to 24.0). At F0.1 of 0.200 it would yield 19.0 kg. Not an assessment.",
		"At the fishing mortality of this catch the yield of 2032 would be 4 000 t (3 200 to 4 800). With twice as many ear stones this interval would be 20 % narrower, with half as many 50 % wider. Not an assessment.",
	} {
		f := c.Sets[i].Figures[0]
		if got := plain(f.Says); got != want {
			t.Errorf("picture %d says\n%s\nwant\n%s", i+1, got, want)
		}
		if !strings.Contains(string(f.Picture), ">not an assessment<") || !strings.HasSuffix(f.Table.Caption, "Not an assessment.") {
			t.Errorf("picture %d or its table does not say that it is no assessment", i+1)
		}
	}
	if want := "by longevity from the oldest age read"; !strings.Contains(c.Says[1], want) || !strings.Contains(c.Says[1], "0.30 a year at the oldest age (given)") {
		t.Errorf("what is taken for granted is told as %q", c.Says[1])
	}
	k.s.Advice, k.s.NoAdvice = nil, run.ErrNoWeights
	if c := k.consequences(); len(c.Sets) != 0 || c.Says[0] != "Nothing is said of what the catch at age would lead to. No equation of weight is known: nothing is said of yield." {
		t.Errorf("without weights the page says %q", c.Says)
	}
	k.s.NoAdvice = nil
	if c := k.consequences(); c.Heading != "" {
		t.Errorf("a run that was not asked for consequences has a chapter %q", c.Heading)
	}
}

func TestTonnesHaveNoFalseDigits(t *testing.T) {
	for _, c := range []struct {
		kg, se float64
		want   string
	}{{83_889_000, 5_000_000, "83 900"}, {512_300, 30_000, "512"}, {2_340, 400, "2.34"}} {
		e := run.Estimate{Estimate: result.Estimate{Value: record.Some(c.kg), SE: record.Some(c.se)}}
		if got, _, _ := weighed(inTonnes(e)); plain(got) != c.want {
			t.Errorf("%v kg with an error of %v are told as %s t, want %s", c.kg, c.se, plain(got), c.want)
		}
	}
}

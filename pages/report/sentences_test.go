package report

import (
	"testing"

	"earstone/estimate/catch"
	"earstone/estimate/run"
	"earstone/estimate/tally"
	"earstone/programme/record"
	"earstone/programme/result"
	"earstone/programme/strata"
	"earstone/reading/agreement"
)

// estimated is an estimate with an interval of two standard errors on either side.
func estimated(x, se float64) run.Estimate {
	e := run.Estimate{Estimate: result.Estimate{Value: record.Some(x)}}
	if se > 0 {
		e.SE, e.Low, e.High = record.Some(se), record.Some(x-2*se), record.Some(x+2*se)
	}
	return e
}

// year is a year of numbers at age with their standard errors.
func year(numbers, errors []float64) *run.Place {
	p := &run.Place{Cell: strata.Cell{Year: 2031}}
	total := 0.0
	for _, n := range numbers {
		total += n
	}
	for a, n := range numbers {
		p.Number = append(p.Number, estimated(n, errors[a]))
		p.Share = append(p.Share, estimated(n/total, 0))
	}
	p.Total = estimated(total, 0)
	return p
}

// teller of a species with ages 0 to 3+.
func ofFour(truth ...float64) *told {
	s := &run.Species{Species: "BFT", Catch: &run.CatchFound{Ages: []string{"0", "1", "2", "3+"}}, Counts: &tally.Counts{Design: catch.Design{Plus: 3, Ages: 6}}}
	about := About{}
	if truth != nil {
		about.Truth = Truth{"BFT": {2031: truth}}
	}
	return &told{&teller{o: &run.Outcome{}, about: about, numbers: map[string]int{}}, s, "species-1"}
}

func TestSentencesOfAYear(t *testing.T) {
	most := year([]float64{0, 900_000, 3_559_000, 840_000}, []float64{0, 20_000, 30_000, 15_000})
	even := year([]float64{0, 2_000_000, 1_500_000, 1_800_000}, []float64{0, 0, 0, 0})
	part := year([]float64{0, 2_000_000, 1_500_000, 0}, []float64{0, 0, 0, 0})
	part.Filled = 0.0834
	k := ofFour(0, 939_000, 3_400_000, 851_000)
	for _, c := range []struct{ what, got, want string }{
		{"one age has more than half", k.commonest(most), "Most fish of 2031 were age 2: 3 559 000 of 5 300 000 fish (3 499 000 to 3 619 000)."},
		{"no age has half, no interval", k.commonest(even), "The commonest age of 2031 was 1: 2 000 000 of 5 300 000 fish."},
		{"nobody", k.commonest(year([]float64{0, 0}, []float64{0, 0})), "None of the fish of 2031 could be given an age."},
		{"half by age 2", halfway(even, k.s.Catch.Ages), "Half of all fish were age 2 or younger."},
		{"half in the plus group alone", halfway(year([]float64{0, 1, 1, 9}, make([]float64, 4)), k.s.Catch.Ages), ""},
		// By hand: 900 000 ± 40 000 holds 939 000; 3 559 000 ± 60 000 misses 3 400 000; 840 000 ± 30 000 holds 851 000.
		{"two of three held", k.held(most), "2 of 3 intervals hold the known truth (open diamonds)."},
		{"no interval, no trial", k.held(even), ""},
		{"no truth", ofFour().held(most), ""},
		{"part filled", filledOf(part), "8.3 % of this catch lies in strata without a sample (hatched)."},
		{"nothing filled", filledOf(even), ""},
	} {
		if plain(c.got) != c.want {
			t.Errorf("%s: the page says\n%s\nwant\n%s", c.what, plain(c.got), c.want)
		}
	}
}

func TestSentencesOfTwoErrors(t *testing.T) {
	p := year([]float64{0, 900, 800, 700}, []float64{0, 100, 100, 100})
	for a, x := range []float64{0, 90, 110, 130} {
		if x > 0 {
			p.Number[a].Analytic = record.Some(x)
		}
	}
	// By hand: −10, +10 and +30 % lie 10 % above on average, one of them beyond 20 %.
	if got, want := plain(ofFour().twoErrorsSay(p)), "In 2031 the formula lies 10 % above the resampling on average; at 1 of 3 ages they differ by more than 20 %, most at age 3+ (+30 %)."; got != want {
		t.Errorf("the page says\n%s\nwant\n%s", got, want)
	}
	if got, want := ofFour().twoErrorsSay(year([]float64{1}, []float64{0})), "In 2031 the two can't be set side by side at any age."; got != want {
		t.Errorf("the page says %q, want %q", got, want)
	}
}

func TestSentencesOfReaders(t *testing.T) {
	// By hand: b − a is 0, 0, 1, 1, 1, 1, 0, 1; its mean is 5/8, its SD 0.5175, t(0.975; 7) = 2.3646 (printed in any table of t),
	// hence the interval 0.625 ± 0.433.
	pair := agreement.Compare([]int{1, 2, 2, 3, 3, 4, 5, 5}, []int{1, 2, 3, 4, 4, 5, 5, 6})
	for _, c := range []struct{ got, want string }{
		{biasSays(&pair, "R1", "R2"), "R2 counts 0.62 years more than R1 on average (0.19 to 1.06)."},
		{marksSay(&pair, "R1", "R2"), "R1 and R2 agree on 37.5 % of 8 fish, and within one year on 100.0 %."},
		{differencesSay(&pair, "R1", "R2"), "Where they differ, R2 counts more on 5 and fewer on 0 fish, as even as chance allows (p 0.06)."},
	} {
		if plain(c.got) != c.want {
			t.Errorf("the page says\n%s\nwant\n%s", plain(c.got), c.want)
		}
	}
	back := agreement.Compare([]int{2, 3, 4, 4, 5, 6}, []int{1, 2, 3, 3, 4, 5})
	if got, want := biasSays(&back, "R1", "R2"), "R2 counts 1.00 years fewer than R1 on average (1.00 to 1.00)."; got != want {
		t.Errorf("the page says %q, want %q", got, want)
	}
	one := agreement.Compare([]int{2}, []int{1})
	if got, want := biasSays(&one, "R1", "R2"), "R1 and R2 read one fish in common."; got != want {
		t.Errorf("the page says %q, want %q", got, want)
	}
}

func TestFiguresHaveTheDigitsTheyBear(t *testing.T) {
	nothing := run.Estimate{}
	bounded := run.Estimate{Estimate: result.Estimate{Value: record.Some(0), Low: record.Some(0), High: record.Some(4245)}}
	for _, c := range []struct{ got, want string }{
		{value(estimated(1_556_276, 28_819)), "1 556 000"}, {interval(estimated(1_556_276, 28_819)), "1 499 000 to 1 614 000"},
		{value(estimated(5_177_707, 0)), "5 180 000"}, {value(nothing), none}, {interval(nothing), ""},
		{value(estimated(3e-9, 1e-10)), "0"}, {value(estimated(0.7, 0.3)), "1"}, {interval(run.Estimate{Estimate: result.Estimate{Value: record.Some(3e-9), SE: record.Some(1e-10), Low: record.Some(0), High: record.Some(131_286.2)}}), "0 to 131 000"},
		{value(bounded), "0"}, {interval(bounded), "0 to 4 200"},
		{percent(0), "0 %"}, {percent(0.0004), "under 0.1 %"}, {percent(0.0834), "8.3 %"}, {percent(0.305), "30 %"}, {percent(0.998), "99.8 %"}, {percent(1), "100 %"},
		{level(0.95), "95 %"}, {level(0), "95 %"}, {level(0.999), "99.9 %"},
		{p(record.Some(0.0432)), "0.04"}, {p(record.Some(0.0044)), "0.004"}, {p(record.Some(1e-9)), "under 0.001"}, {p(record.Number{}), none},
		{list(nil), ""}, {list([]string{"a"}), "a"}, {list([]string{"a", "b", "c"}), "a, b and c"},
		{sentence("é is a letter"), "É is a letter."}, {sentence(""), ""}, {sentence("Why?"), "Why?"},
		{divided(0, nil), "There is no catch to divide."}, {divided(4, []part{{4, "is ours"}, {0, "is not"}}), "All of the catch is ours."},
		{divided(4, []part{{3, "is ours"}, {1, "is not"}}), "Of the catch 75 % is ours and 25 % is not."},
		{askew(-0.25), "0.25 years too young"}, {askew(0.5), "0.50 years too old"},
	} {
		if plain(c.got) != c.want {
			t.Errorf("the figure reads %q, want %q", plain(c.got), c.want)
		}
	}
}

func TestGroundIsDividedByWhatItRestsOn(t *testing.T) {
	o, _ := thinOne(t)
	k := &told{&teller{o: o, numbers: map[string]int{}}, o.Species[0], "species-1"}
	g, total, filled := k.ground(0), 0.0, 0.0
	for i := range k.s.Catch.Strata {
		total += k.s.Catch.Strata[i].Total.Value.X
		filled += k.s.Catch.Strata[i].Total.Value.X * k.s.Catch.Strata[i].Filled
	}
	if apart(g.total(), total) || apart(g.filled, filled) {
		t.Errorf("the ground holds %v fish, %v of them filled; the strata hold %v and %v", g.total(), g.filled, total, filled)
	}
	years := ground{}
	for _, y := range k.s.Counts.Years {
		of := k.ground(y)
		years.sampled, years.lent, years.filled, years.unaged = years.sampled+of.sampled, years.lent+of.lent, years.filled+of.filled, years.unaged+of.unaged
	}
	if apart(years.sampled, g.sampled) || apart(years.lent, g.lent) || apart(years.filled, g.filled) || apart(years.unaged, g.unaged) {
		t.Errorf("the years add up to %+v, the whole is %+v", years, g)
	}
}

// apart tells that two sums of the same fish part.
func apart(a, b float64) bool { return a-b > 1e-6*(1+b) || b-a > 1e-6*(1+b) }

package report

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"earstone/estimate/change"
	"earstone/estimate/growth"
	"earstone/estimate/origin"
	"earstone/estimate/run"
	"earstone/pages/chart"
	"earstone/programme/record"
	"earstone/programme/result"
	"earstone/programme/strata"
)

// differing is a difference with an interval of two standard errors on either side.
func differing(x, se float64) change.Difference {
	return change.Difference{Value: record.Some(x), SE: record.Some(se), Low: record.Some(x - 2*se), High: record.Some(x + 2*se), Against: record.Some(0.01)}
}

func TestSentencesOfChanges(t *testing.T) {
	k := ofFour()
	k.s.Counts.Bins.Unit = "cm"
	grown := &run.Change{A: strata.Cell{Year: 2030}, B: strata.Cell{Year: 2031}, MeanLength: differing(-4.2, 1),
		Shares: []change.Difference{{}, differing(0.05, 0.01), differing(-0.08, 0.02), differing(0.03, 0.02)}, Compared: true, Whole: change.Whole{P: 0.003}}
	alike := &run.Change{A: strata.Cell{Year: 2031, Area: "Quarrow"}, B: strata.Cell{Year: 2031, Area: "Skell"}, MeanLength: differing(1, 1),
		Shares: []change.Difference{{}, differing(0.01, 0.01)}, Compared: true, Whole: change.Whole{P: 0.4}}
	for _, c := range []struct{ what, got, want string }{
		{"the largest difference of length", k.meanLengthsSay([]*run.Change{grown, alike}), "1 of 2 differences keep clear of zero. The largest: fish of 2030 are longer than those of 2031 by 4.2 cm on average."},
		{"shares that differ", k.sharesSay(grown, "2030", "2031"), "2 ages have another share for sure; most age 2, with 8.0 percentage points more in 2030. As a whole: p 0.003."},
		{"shares that do not", k.sharesSay(alike, "Quarrow", "Skell"), "No share keeps clear of the other side, of 1 age. As a whole: p 0.40."},
		{"one of two as a whole", k.wholeSays([]*run.Change{grown, alike}), "As a whole 1 of 2 pairs differ by more than chance: 2030 to 2031."},
		{"none as a whole", k.wholeSays([]*run.Change{alike}), "As a whole none of 1 pair differs by more than chance."},
		{"nothing compared", k.wholeSays([]*run.Change{{}}), "No pair could be compared as a whole."},
	} {
		if plain(c.got) != c.want {
			t.Errorf("%s: the page says\n%s\nwant\n%s", c.what, plain(c.got), c.want)
		}
	}
}

func TestSharesAreDrawnInPercentagePoints(t *testing.T) {
	r := difference("", "age 3", differing(-0.08, 0.02), 100)
	if math.Abs(r.Value.Value+8) > 1e-9 || math.Abs(r.Interval.Low+12) > 1e-9 || math.Abs(r.Interval.High+4) > 1e-9 {
		t.Errorf("a share that falls by 0.08 ± 0.04 is drawn at %v in %v, want −8 in −12 to −4", r.Value, r.Interval)
	}
	if unknown := difference("", "age 3", change.Difference{}, 100); unknown.Value.Known || unknown.Why == "" {
		t.Errorf("a difference that is not known is drawn at %v and told as %q", unknown.Value, unknown.Why)
	}
}

// By hand: residuals 1, 1, 4 have the mean 2, the SD √3 and, with t(0.975; 2) = 4.3027
// (printed in any table of t), the interval 2 ± 4.3027.
func TestMeansOfResiduals(t *testing.T) {
	means := residualMeans([]chart.Spot{{X: 3.2, Y: 1, Fish: 2}, {X: 3.9, Y: 4, Fish: 1}, {X: 5.5, Y: -2, Fish: 1}}, 0.95)
	if len(means) != 2 || means[0].Fish != 3 || math.Abs(means[0].Mean-2) > 1e-12 || math.Abs(means[0].Interval.High-2-4.3027) > 1e-4 {
		t.Errorf("the means are %+v, want 2 to within 4.3027 of three fish of age 3", means)
	}
	if means[1].Interval.Known || means[1].Mean != -2 {
		t.Errorf("one fish of age 5 has the mean %v and the interval %v, want −2 and none", means[1].Mean, means[1].Interval)
	}
}

// A rate of ln 2 halves the catch from age to age, and the line of a catch that does so
// runs through it.
func TestLineOfMortality(t *testing.T) {
	p := year([]float64{100, 800, 400, 200}, make([]float64, 4))
	m := &run.TotalMortality{Z: run.Estimate{Estimate: result.Estimate{Value: record.Some(math.Ln2)}}, FirstAge: 1, Ages: 3}
	l, ok := zLine("Chapman–Robson", m, p)
	if !ok || l.From != 1 || l.To != 3 || math.Abs(l.NumberFrom-800) > 1e-9 || math.Abs(l.NumberTo-200) > 1e-9 {
		t.Errorf("the line of a catch that halves runs from %v at %d to %v at %d, want 800 at 1 to 200 at 3", l.NumberFrom, l.From, l.NumberTo, l.To)
	}
	if _, ok := zLine("none", &run.TotalMortality{}, p); ok {
		t.Error("a rate that is not known has a line")
	}
}

func TestWhyThereIsNoGrowthAndNoOrigin(t *testing.T) {
	k := ofFour()
	k.s.NoGrowth = &growth.Trouble{Reason: growth.TooFewFish, Model: growth.VonBertalanffy}
	if c := k.growth(); len(c.Says) != 1 || !strings.HasPrefix(c.Says[0], "There is no curve of growth. ") || len(c.Sets) != 0 {
		t.Errorf("too few fish for a curve: the page says %q and draws %d sets", c.Says, len(c.Sets))
	}
	k.s.NoOrigin = errors.New("fewer than two nurseries")
	if c := k.origin(); len(c.Says) != 1 || c.Says[0] != "There is no answer on nurseries. Fewer than two nurseries." {
		t.Errorf("no densities: the page says %q", c.Says)
	}
	k.s.NoOrigin = run.ErrNoBaseline
	if c := k.origin(); c.Heading != "" {
		t.Errorf("without a baseline the page has a chapter %q", c.Heading)
	}
}

func TestDoubtsAreSaidOnce(t *testing.T) {
	k := ofFour()
	k.s.Origin = &run.OriginFound{Nurseries: []string{"Lower", "Upper"}, Designed: true, Fit: &origin.Fit{Doubts: []origin.Doubt{
		{Reason: origin.LacksTracer, Nursery: 0, Tracer: -1, Known: []int{1, 2}}, {Reason: origin.LacksTracer, Nursery: 1, Tracer: -1, Known: []int{2, 3}}}}}
	said := k.originDoubts()
	if strings.Count(said, ".") != 1 || !strings.HasSuffix(plain(said), "(Lower, Upper and 3 fish).") {
		t.Errorf("two doubts of one kind are told as %q, want one sentence with both nurseries and three fish", said)
	}
}

func TestTracersAsTheyArePrinted(t *testing.T) {
	for name, want := range map[string]string{"d13C": "δ¹³C", "d18O": "δ¹⁸O", "Sr_Ca": "Sr:Ca", "depth": "depth", "d": "d"} {
		if got := tracerName(name); got != want {
			t.Errorf("%s is printed as %s, want %s", name, got, want)
		}
	}
}

// The season tells all its parts, each with pictures that carry intervals.
func TestSeasonTellsItsParts(t *testing.T) {
	o, about := seasonOne(t)
	root := parse(t, write(t, o, about))
	drawn := map[string]int{}
	for _, part := range all(root, "section") {
		if attr(part, "class") == "part" {
			drawn[strings.TrimPrefix(attr(part, "aria-labelledby"), "species-1-")] = len(all(part, "svg"))
		}
	}
	for part, least := range map[string]int{"places": 4, "changes": 8, "growth": 3, "mortality": 3, "origin": 3, "nurseries": 2} {
		if drawn[part] < least {
			t.Errorf("the part %s has %d pictures, want %d or more", part, drawn[part], least)
		}
	}
	k := &told{&teller{o: o, about: about, numbers: map[string]int{}}, o.Species[0], "species-1"}
	for _, e := range k.s.Origin.Years[0].Number[5][:len(k.s.Origin.Nurseries)] {
		if !has(e) {
			t.Errorf("a nursery's catch of age 5 has no interval: %+v", e)
		}
	}
	strip := pictureAt(t, root, "species-1-origin", 1)
	if said := textOf(strip); !strings.Contains(said, "unclear: ") || !strings.Contains(said, "Upper: ") {
		t.Errorf("the strip of fish says %q, want the number of each call", said)
	}
}

// pictureAt is picture number i of a part of the page.
func pictureAt(t *testing.T, root *html.Node, part string, i int) *html.Node {
	t.Helper()
	for _, s := range all(root, "section") {
		if attr(s, "class") == "part" && attr(s, "aria-labelledby") == part {
			if pictures := all(s, "svg"); i < len(pictures) {
				return pictures[i]
			}
		}
	}
	t.Fatalf("the part %s has no picture %d", part, i)
	return nil
}

// grown is a species with a curve fitted to fish that each speak for themselves.
func grown(t *testing.T) *told {
	t.Helper()
	var data growth.Data
	for i := range 240 {
		age := 0.5 + float64(i%15) + 0.3*math.Sin(float64(i))
		data.Age = append(data.Age, age)
		data.Length = append(data.Length, 220*(1-math.Exp(-0.2*(age+0.8)))*(1+0.06*math.Sin(float64(i)*7.3)))
	}
	fit, err := growth.FitCurve(data, growth.Settings{Scatter: growth.ConstantCV})
	if err != nil {
		t.Fatal(err)
	}
	k := ofFour()
	k.s.Counts.Bins.Unit = "cm"
	g := &run.GrowthFound{Curves: []run.CurveFound{{Model: growth.VonBertalanffy, Scatter: growth.ConstantCV, Fit: &fit}, {Model: growth.TwoPhase, Trouble: &growth.Trouble{Reason: growth.NotConverged, Model: growth.TwoPhase}}},
		Scatter: growth.ConstantCV, Cells: growth.Aggregate(data, 0, 0)}
	for p := range fit.Estimates {
		low, high, err := fit.Profile(0, p, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		e := run.Estimate{}
		e.Value, e.SE, e.Low, e.High = record.Some(fit.Estimates[p]), fit.SE(0, p), low, high
		g.Parameters = append(g.Parameters, e)
	}
	g.Parameters = append(g.Parameters, estimated(fit.Scale, 0.003))
	for i := range 40 {
		g.Band = append(g.Band, fit.Band(0, []float64{0.5 + float64(i)*0.36}, 0.95)...)
	}
	k.s.Growth = g
	return k
}

func TestGrowthWithoutACatch(t *testing.T) {
	k := grown(t)
	c := k.growth()
	if len(c.Sets) != 3 || !strings.Contains(c.Says[0], "fitted to 240 fish with lengths that scatter in proportion to the curve. Each fish speaks for itself") {
		t.Errorf("the chapter draws %d sets and says %q, want three and that fish speak for themselves", len(c.Sets), c.Says)
	}
	profile := c.Sets[2].Figures[0]
	if !strings.Contains(string(profile.Picture), "log-likelihood, from its highest") {
		t.Error("fish of no design have no profile of the largest length")
	}
	if n := len(profile.Table.Rows); n < 15 {
		t.Errorf("the profile has %d points, want 15 or more", n)
	}
	if last := c.Tables[1].Rows[1]; last[0] != "two phases" || last[4] == "" {
		t.Errorf("a curve that could not be had stands as %q, want its trouble", last)
	}
}

// The fall of a profile at the ends of its interval is half of χ² at the level.
func TestProfileFallsToItsCut(t *testing.T) {
	const want, tol = 1.9207, 0.12 // 3.8415/2, printed in any table of χ²; points lie apart
	k := grown(t)
	_, e, _ := k.asymptote()
	f, ok := k.largestLength()
	if !ok {
		t.Fatal("there is no picture of the largest length")
	}
	for _, end := range []float64{e.Low.X, e.High.X} {
		best, fall := math.Inf(1), ""
		for _, row := range f.Table.Rows {
			var x float64
			if _, err := fmt.Sscan(row[0], &x); err != nil {
				t.Fatal(err)
			}
			if d := math.Abs(x - end); d < best {
				best, fall = d, row[1]
			}
		}
		var got float64
		if _, err := fmt.Sscan(fall, &got); err != nil {
			t.Fatal(err)
		}
		if step := 0.35 * math.Abs(e.High.X-e.Low.X) / 4; best > step || math.Abs(got-want) > tol+2*want*best/math.Abs(end-e.Value.X) {
			t.Errorf("%.2f from the end %.1f of the interval the profile has fallen by %v, want about %v", best, end, got, want)
		}
	}
}

// A catch that was told without an error has no interval to be followed over the years:
// the commonest age, which has one, stands in its place.
func TestWhatIsFollowedOverTheYears(t *testing.T) {
	k := ofFour()
	p := year([]float64{0, 100, 400, 200}, []float64{0, 9, 20, 30})
	p.Cell = strata.Cell{Year: 2031, Area: "Skell"}
	k.s.Catch.Sums = []run.Place{*p}
	if of, name := k.followed(strata.Area); name != "age 2" || of(p).Value.X != 400 {
		t.Errorf("%s with %v fish is followed, want age 2 with 400", name, of(p).Value.X)
	}
	k.s.Catch.Sums[0].Total = estimated(700, 35)
	if of, name := k.followed(strata.Area); name != "all ages" || of(&k.s.Catch.Sums[0]).Value.X != 700 {
		t.Errorf("%s is followed, want all ages, whose catch has an interval", name)
	}
}

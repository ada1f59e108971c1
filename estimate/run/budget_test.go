package run

import (
	"context"
	"math"
	"testing"

	"earstone/estimate/resample"
	"earstone/plan/budget"
	"earstone/plan/fishery"
	"earstone/programme/record"
	"earstone/statistics/interval"
	"earstone/statistics/stream"
)

// TestBudgetAgreesWithNestedDraws holds the shares of a small programme against brute
// force: for each source 80 outer draws of it, and within each 40 of all others. The
// variance of the inner means, less what 40 draws leave in them, is of first order; the mean
// of the variances when all others are held in the outer loop is the total.
func TestBudgetAgreesWithNestedDraws(t *testing.T) {
	if testing.Short() {
		t.Skip("brute force")
	}
	const outer, inner = 80, 40
	_, v := chained(t, AgreedDirect)
	d := budget.Design{Sources: v.sources(), N: 400}
	if len(d.Sources) < 4 {
		t.Fatalf("the season moves by %v only: there is too little to share out", d.Sources)
	}
	rows, err := resample.Evaluate(context.Background(), v.problem, d.Rows(), nil)
	if err != nil {
		t.Fatal(err)
	}
	y, design := make([]float64, rows.Replicates), &v.counts.Design
	for i, source := range d.Sources {
		first, total := nested(t, v, d.Sources, source, outer, inner, false), nested(t, v, d.Sources, source, outer, inner, true)
		for a := 4; a <= 8; a++ {
			for row := range y {
				y[row] = design.Block(rows.Row(row), len(design.Strata)).Numbers()[a]
			}
			b, ok := d.Of(y)
			if !ok {
				t.Fatalf("the number of age %d does not move", a)
			}
			// Brute force has its own errors: of a variance of so many means or draws.
			got, means, draws := b.Shares[i], math.Sqrt(2./outer), math.Sqrt(2./(outer*inner))
			if off, tol := math.Abs(got.First.Value-first[a]), 4*math.Hypot(got.First.SE, (first[a]+1./inner)*means); off > tol {
				t.Errorf("%v has %.3f of the variance of age %d alone, by nested draws %.3f (tolerance %.3f)", source, got.First.Value, a, first[a], tol)
			}
			if off, tol := math.Abs(got.Total.Value-total[a]), 4*math.Hypot(got.Total.SE, total[a]*(draws+(1-total[a])*means)); off > tol {
				t.Errorf("%v has %.3f of the variance of age %d in all, by nested draws %.3f (tolerance %.3f)", source, got.Total.Value, a, total[a], tol)
			}
		}
	}
}

// TestBudgetOfASeason holds what a run says: trips, stones and lengths, readers and catches
// together are about the whole variance, and a total is no less than what is alone.
func TestBudgetOfASeason(t *testing.T) {
	c, v := chained(t, TrueDirect)
	s := c.outcome.Species[0]
	c.options.Replicates = 400
	v.problem.Replicates = 400
	var err error
	if v.drawn, err = resample.Run(context.Background(), v.problem, nil); err != nil {
		t.Fatal(err)
	}
	if err := c.budget(s, v); err != nil {
		t.Fatal(err)
	}
	told := map[string]int{}
	for _, q := range s.Budget.Quantities {
		told[q.Quantity]++
		first, total, se := 0.0, 0.0, 0.0
		for _, share := range q.Shares {
			first, total = first+share.First.Value, total+share.Total.Value
			se = math.Hypot(se, math.Hypot(share.First.SE, share.Total.SE))
		}
		if first > 1+4*se || total < 1-4*se || first > total+4*se {
			t.Errorf("%s of age %d: the shares sum to %.3f alone and %.3f in all, with the error %.3f", q.Quantity, q.Age, first, total, se)
		}
		if q.Quantity == "total" {
			for _, share := range q.Shares {
				if share.Source != stream.Catch && share.Total.Value > 0.6 {
					t.Errorf("%v has %v of the variance of the total catch, which its CV makes", share.Source, share.Total)
				}
			}
		}
	}
	if told["number"] < 10 || told["share"] != told["number"] || told["total"] != 1 {
		t.Errorf("the budget tells of %v, want numbers and shares at each age that is caught and the total", told)
	}
}

// TestStonesOfNoTripCountOnce holds the shares of trips and stones against single sources
// drawn alone, in a season that has stones of trips and stones of none: stones have what
// both kinds have when they are drawn, and trips what is left of theirs. Sources drawn alone
// are of first order up to what sources do together, some hundredths here.
func TestStonesOfNoTripCountOnce(t *testing.T) {
	const draws, first = 800, 50_000
	_, v := chained(t, AgreedDirect)
	d := budget.Design{Sources: v.sources(), N: draws, Within: draws}
	rows := d.Rows()
	for _, alone := range []func(b int) resample.Row{
		func(b int) resample.Row { return resample.Alone(stream.Trips, b) },
		func(b int) resample.Row { return resample.Alone(stream.Stones, b).Within() },
		func(b int) resample.Row { return resample.Alone(stream.Stones, b).Inside() },
	} {
		for b := range draws {
			rows = append(rows, alone(first+b))
		}
	}
	drawn, err := resample.Evaluate(context.Background(), v.problem, rows, nil)
	if err != nil {
		t.Fatal(err)
	}
	y, design := make([]float64, len(rows)), &v.counts.Design
	size := len(rows) - 3*draws
	for a := 4; a <= 8; a++ {
		for row := range y {
			y[row] = design.Block(drawn.Row(row), len(design.Strata)).Numbers()[a]
		}
		b, _ := d.Of(y[:size])
		variance := func(i int) float64 {
			_, sd := interval.MeanSD(y[size+i*draws : size+(i+1)*draws])
			return sd * sd / b.Variance.Value
		}
		want := map[stream.Source]float64{stream.Trips: max(variance(0)-variance(2), 0), stream.Stones: variance(1)}
		for _, share := range b.Shares {
			if alone, ok := want[share.Source]; ok && math.Abs(share.First.Value-alone) > 0.06+4*share.First.SE {
				t.Errorf("%v have the share %.3f ± %.3f of the variance of age %d, by sources drawn alone %.3f", share.Source, share.First.Value, share.First.SE, a, alone)
			}
		}
	}
}

// nested gives by age the share of a source, of first order or total, of the numbers of the
// first year.
func nested(t *testing.T, v *view, sources []stream.Source, source stream.Source, outer, inner int, total bool) []float64 {
	t.Helper()
	var rows []resample.Row
	for o := range outer {
		for i := range inner {
			b := 100_000 + o*inner + i
			row := resample.Row{}
			for _, other := range sources {
				if (other == source) != total {
					row = row.With(other, 100_000+o) // the outer draw
				} else {
					row = row.With(other, b)
				}
			}
			rows = append(rows, row)
		}
	}
	drawn, err := resample.Evaluate(context.Background(), v.problem, rows, nil)
	if err != nil {
		t.Fatal(err)
	}
	d := &v.counts.Design
	shares := make([]float64, d.Out())
	for a := range shares {
		var within, means, square float64
		for o := range outer {
			var sum, sum2 float64
			for i := range inner {
				x := d.Block(drawn.Row(o*inner+i), len(d.Strata)).Numbers()[a]
				sum += x
				sum2 += x * x
			}
			mean := sum / float64(inner)
			within += (sum2 - sum*mean) / float64(inner-1) / float64(outer)
			means += mean / float64(outer)
			square += mean * mean / float64(outer)
		}
		between := (square-means*means)*float64(outer)/float64(outer-1) - within/float64(inner)
		if shares[a] = between / (between + within); total {
			shares[a] = within / (between + within)
		}
	}
	return shares
}

// chained is a small season as far as its replicates.
func chained(t testing.TB, form string) (*chain, *view) {
	t.Helper()
	return chainedWith(t, form, func(s *fishery.Settings) { s.StonesWithoutTrip, s.MixedKinds = 0.3, 0.5 }, nil)
}

// chainedWith is a small season with other settings, and what stands beside its catch.
func chainedWith(t testing.TB, form string, change func(*fishery.Settings), beside func(*chain, *Species) []part) (*chain, *view) {
	t.Helper()
	settings, err := fishery.Sized("small")
	if err != nil {
		t.Fatal(err)
	}
	settings.Readings = settings.Aged * 2
	change(&settings)
	season := fishery.Invent(settings, 4)
	book, err := season.Book()
	if err != nil {
		t.Fatal(err)
	}
	for i := range book.Catches {
		book.Catches[i].CV.X, book.Catches[i].CV.Known = 0.2, true
	}
	c := &chain{ctx: context.Background(), convert: curved{}, book: book, options: Options{Replicates: 40, Seed: 9, Level: 0.95, Key: form, Workers: 2},
		outcome: &Outcome{Settings: book.Settings}}
	c.ages()
	if err := c.count(season); err != nil {
		t.Fatal(err)
	}
	s := c.outcome.Species[0]
	if ofTrueAges(form) {
		c.readers(s)
	}
	c.key(s)
	var parts []part
	if beside != nil {
		parts = beside(c, s)
	}
	v, err := c.replicate(s, parts)
	if err != nil {
		t.Fatal(err)
	}
	return c, v
}

// curved has straight = 1.5 + 0.945 curved with an SD of 1.2 cm, as the invented book has.
type curved struct{}

func (curved) Length(_ record.Species, l record.Length, _ record.LengthBin) (x, sd float64, ok bool) {
	if l.Kind == record.CurvedFork {
		return 1.5 + 0.945*l.Value.X, 1.2, l.Value.Known
	}
	return l.Value.X, 0, l.Value.Known
}

func (curved) Weight(_ record.Species, cm float64, _ record.LengthBin) (float64, bool) {
	return 2.1e-5 * math.Pow(cm, 2.98) * math.Exp(0.005), true
}

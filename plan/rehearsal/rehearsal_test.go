package rehearsal

import (
	"context"
	"errors"
	"math"
	"reflect"
	"testing"

	"earstone/estimate/run"
	"earstone/plan/fishery"
	"earstone/programme/record"
)

// straight is a converter for fisheries that measure straight fork length in cm, with the
// invented weight of 2 kg at 100 cm.
type straight struct{}

func (straight) Length(_ record.Species, l record.Length, _ record.LengthBin) (float64, float64, bool) {
	return l.Value.X, 0, l.Value.Known
}

func (straight) Weight(_ record.Species, cm float64, _ record.LengthBin) (float64, bool) {
	return 2e-5 * cm * cm * cm, true
}

func small(t *testing.T, seasons int) Design {
	t.Helper()
	settings, err := fishery.Sized("small")
	if err != nil {
		t.Fatal(err)
	}
	return Design{Fishery: settings, Seasons: seasons, Replicates: 100, Seed: 7, Forms: []string{run.AgreedDirect, run.TrueDirect}, FewTrips: 3}
}

func TestScoreByHand(t *testing.T) {
	// Two seasons. Season 0: truth 10, estimates 11 (held) and 8 (truth above its interval).
	// Season 1: truth 10, estimate 13 (truth below). Relative errors 0.1, −0.2, 0.3.
	var g gather
	g.add(0, trial{truth: 10, value: 11, low: 9, high: 13})
	g.add(0, trial{truth: 10, value: 8, low: 7, high: 9})
	g.add(1, trial{truth: 10, value: 13, low: 11, high: 15})
	s := g.score()
	want := Score{Estimates: 3, Bias: 0.2 / 3, RMSE: math.Sqrt(0.14 / 3), Coverage: 1.0 / 3, Width: 1.0 / 3, Below: 1.0 / 3, Above: 1.0 / 3}
	// Residual sums by season: bias −0.1 − 2·0.2/3 and 0.3 − 0.2/3; cover 1 − 2/3 and −1/3; times m/(m−1) = 2.
	want.BiasSE = math.Sqrt(2*(square(-0.1-0.4/3)+square(0.3-0.2/3))) / 3
	want.CoverSE = math.Sqrt(2*(1.0/9+1.0/9)) / 3
	// Of squared errors 0.05 − 2·0.14/3 and 0.09 − 0.14/3, over 2·RMSE; of widths 0.4 + 0.2 − 2/3 and 0.4 − 1/3.
	want.RMSESE = math.Sqrt(2*(square(0.05-0.28/3)+square(0.09-0.14/3))) / 3 / (2 * want.RMSE)
	want.WidthSE = math.Sqrt(2*(square(0.6-2.0/3)+square(0.4-1.0/3))) / 3
	for _, c := range []struct {
		name      string
		got, want float64
	}{{"SE of the RMSE", s.RMSESE, want.RMSESE}, {"SE of the width", s.WidthSE, want.WidthSE}, {"bias", s.Bias, want.Bias}, {"its SE", s.BiasSE, want.BiasSE}, {"RMSE", s.RMSE, want.RMSE}, {"coverage", s.Coverage, want.Coverage},
		{"its SE", s.CoverSE, want.CoverSE}, {"width", s.Width, want.Width}, {"below", s.Below, want.Below}, {"above", s.Above, want.Above}} {
		if math.Abs(c.got-c.want) > 1e-12 {
			t.Errorf("%s of three trials = %v, want %v", c.name, c.got, c.want)
		}
	}
	if s.Estimates != 3 {
		t.Errorf("%d estimates, want 3", s.Estimates)
	}
}

func TestUnseenAgeIsATrial(t *testing.T) {
	// An age that was caught and has no estimate at all counts as an estimate of 0 with an
	// interval of nothing: wrong, and not passed over. An age that was not caught is no trial.
	all := trials(run.Place{Number: make([]run.Estimate, 1)}, []float64{0, 5})
	if len(all) != 1 || all[0].age != 1 || all[0].truth != 5 || all[0].high != 0 {
		t.Errorf("the trials of an unseen age are %+v, want one of truth 5 and interval 0 to 0", all)
	}
}

func TestRehearsalDoesNotDependOnWorkers(t *testing.T) {
	d := small(t, 6)
	var reports [2]*Report
	for i, workers := range []int{1, 3} {
		d.Workers = workers
		report, err := Rehearse(context.Background(), d, straight{}, nil)
		if err != nil {
			t.Fatal(err)
		}
		reports[i] = report
	}
	if !reflect.DeepEqual(reports[0].Forms, reports[1].Forms) {
		t.Error("a rehearsal on three workers differs from one on a single worker")
	}
	for _, form := range reports[0].Forms {
		// 6 seasons × 12 ages, of 12 strata with three trips or more: none may be missing.
		if form.All.Estimates != 72 || form.Strata.Estimates != 6*12*12 || form.Failed != 0 {
			t.Errorf("%s was tried on %d totals and %d strata, %d seasons failed; want 72, 864 and 0", form.Key, form.All.Estimates, form.Strata.Estimates, form.Failed)
		}
	}
}

func TestTrueAgesBeatAgreedOnes(t *testing.T) {
	// The readers' error moves fish of strong cohorts into weak ones. Taking it out must
	// bring the catch at age nearer to the truth over a handful of seasons.
	d := small(t, 20)
	report, err := Rehearse(context.Background(), d, straight{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	agreed, fitted := report.Forms[0].All, report.Forms[1].All
	if fitted.RMSE >= agreed.RMSE || math.Abs(fitted.Bias) >= math.Abs(agreed.Bias) {
		t.Errorf("true ages: bias %.3f, RMSE %.3f; agreed ages: bias %.3f, RMSE %.3f; want true ages nearer",
			fitted.Bias, fitted.RMSE, agreed.Bias, agreed.RMSE)
	}
	if fitted.Coverage < 0.85 {
		t.Errorf("intervals of true ages cover %.3f of %d truths, want about 0.95", fitted.Coverage, fitted.Estimates)
	}
}

func TestRehearsalStops(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Rehearse(ctx, small(t, 4), straight{}, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("a stopped rehearsal ends with %v, want that it was cancelled", err)
	}
	bad := small(t, 1)
	bad.Fishery.Trips = -1
	if _, err := Rehearse(context.Background(), bad, straight{}, nil); err == nil {
		t.Error("a fishery of −1 trips is rehearsed")
	}
}

func TestNurseriesAndGrowthAreScored(t *testing.T) {
	d := small(t, 2)
	d.Forms, d.Beside, d.Replicates = []string{run.AgreedDirect}, []run.Part{run.Growth, run.Origin}, 40
	report, err := Rehearse(context.Background(), d, straight{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	// 2 seasons of 2 nurseries and 12 caught ages.
	want := map[string]int{quantities[yearShare]: 4, quantities[ageShare]: 48, quantities[nurseryCatch]: 48,
		quantities[wholeShare]: 4, quantities[bayesShare]: 4, quantities[largest]: 2, quantities[rate]: 2, quantities[zeroAge]: 2}
	for _, beside := range report.Forms[0].Beside {
		if beside.Estimates != want[beside.Name] {
			t.Errorf("%s was tried %d times, want %d", beside.Name, beside.Estimates, want[beside.Name])
		}
		if beside.RMSE > 1 {
			t.Errorf("%s is off by %.2f of the truth", beside.Name, beside.RMSE)
		}
		delete(want, beside.Name)
	}
	if len(want) > 0 {
		t.Errorf("these were not scored: %v", want)
	}
}

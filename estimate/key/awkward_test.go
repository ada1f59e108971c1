package key_test

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"earstone/estimate/key"
)

// split is two ages that length splits without overlap, in one stratum of two.
func split() key.Sample {
	s := key.Sample{Grid: yearQuarterAll(1, 2, 6, 2)}
	for l := range int32(5) {
		s.Entries = append(s.Entries, key.Entry{Trip: l, Bin: l, Age: l / 3, Pattern: -1, Fish: 4})
	}
	return s
}

func TestSeparatedAgesKeepAFiniteSlope(t *testing.T) {
	s := split()
	work, err := key.NewSmooth(s, key.Smoothing{DF: 1})
	if err != nil {
		t.Fatal(err)
	}
	doubts := work.Doubts()
	if len(doubts) != 1 || doubts[0].Reason != key.Separated || doubts[0].Age != 0 {
		t.Errorf("two ages split by length give the doubts %v", doubts)
	}
	q, _, told := fit(work, s, s.Weights(), nil)
	if !told.Converged || q[0] < 0.99 || q[4*2] > 0.01 || work.Curves()[0].Penalty <= 0 {
		t.Errorf("two ages split by length give the key %v, settled %v, penalty %v", q[:12], told.Converged, work.Curves()[0].Penalty)
	}
}

func TestStratumWithoutFishHasNoEffect(t *testing.T) {
	s := split()
	s.Entries = append(s.Entries, key.Entry{Trip: 9, Bin: 4, Age: 0, Pattern: -1, Fish: 3})
	work, err := key.NewSmooth(s, key.Smoothing{DF: 1})
	if err != nil {
		t.Fatal(err)
	}
	q, from, told := fit(work, s, s.Weights(), nil)
	curve := work.Curves()[0]
	if curve.Effects[1] != 0 || from[6].Rung() != 2 || from[0].Rung() != 0 {
		t.Errorf("the stratum without fish has the effect %v and rests on rung %d", curve.Effects[1], from[6].Rung())
	}
	for l := range 5 {
		logit := math.Log(q[(6+l)*2] / q[(6+l)*2+1])
		if own := math.Log(q[l*2] / q[l*2+1]); math.Abs(own-logit-curve.Effects[0]) > 1e-9 {
			t.Errorf("bin %d: the logits %v and %v are not an effect of %v apart", l, own, logit, curve.Effects[0])
		}
	}
	if from[5] != key.NoKey || told.Empty != 2 {
		t.Errorf("beyond the aged lengths %d rows have no key, want one in each stratum", told.Empty)
	}
	edged, err := key.NewSmooth(s, key.Smoothing{DF: 1, EdgeBins: true})
	if err != nil {
		t.Fatal(err)
	}
	p, from, _ := fit(edged, s, s.Weights(), nil)
	if !from[5].Edge() || p[5*2] != p[4*2] {
		t.Errorf("the edge bin gives %v beyond it, want its own %v", p[5*2], p[4*2])
	}
}

func TestVarianceOfSmoothedSharesByDifferences(t *testing.T) {
	// By hand: the logits of the ages are independent, so that Var q_a = Σ_j (∂q_a/∂η_j)² v_j.
	s := overlapping(t)
	work := smoothed(t, s, key.Smoothing{})
	v := make([]float64, 3*22*5)
	work.Variance(v)
	shares := func(eta []float64) []float64 {
		q, left := make([]float64, 5), 1.0
		for a := range 4 {
			p := 1 / (1 + math.Exp(-eta[a]))
			q[a], left = left*p, left*(1-p)
		}
		q[4] = left
		return q
	}
	for _, at := range []int{0, 5, 22 + 9, 44 + 21} {
		logits, want := work.Logits(at/22, at%22), make([]float64, 5)
		for j := range 4 {
			up, down := make([]float64, 4), make([]float64, 4)
			for a := range 4 {
				up[a], down[a] = logits[a].Value, logits[a].Value
			}
			const h = 1e-5
			up[j], down[j] = up[j]+h, down[j]-h
			high, low := shares(up), shares(down)
			for a := range want {
				slope := (high[a] - low[a]) / (2 * h)
				want[a] += slope * slope * logits[j].Variance
			}
		}
		for a := range want {
			near(t, fmt.Sprintf("variance of class %d in row %d", a, at), v[at*5+a], want[a], 1e-6)
		}
	}
}

func TestAreasThatDiffer(t *testing.T) {
	s := overlapping(t)
	for i, e := range s.Entries {
		if e.Origin == 2 {
			s.Entries[i].Age = min(e.Age+1, 4)
		}
	}
	test, err := key.Areas(s, []int32{0, 0, 1}, nil, 0)
	if err != nil || !test.Differs || test.Groups != 2 {
		t.Errorf("a bank whose fish are a year older gives %+v, %v; want a difference", test, err)
	}
	_, err = key.Areas(s, []int32{0, 0, -1}, nil, 0)
	var trouble *key.Trouble
	if !errors.As(err, &trouble) || trouble.Reason != key.OneStratum {
		t.Errorf("one group gives %v, want the reason OneStratum", err)
	}
}

// Two areas of one key; all fish of a trip are of one age. Trip by trip the areas are alike.
func TestFishOfOneTripAreNotManyWitnesses(t *testing.T) {
	s := oneBank([]float64{100, 110}, 2)
	s.Grid.Rungs, s.Grid.Groups, s.Grid.Path = [][]int32{{0, 0}}, []int{1}, [][]int32{{0}, {0}}
	young := []int{3, 2} // trips of six in each area
	for area := range int32(2) {
		for trip := range int32(6) {
			age := int32(1)
			if int(trip) < young[area] {
				age = 0
			}
			for l := range int32(2) {
				s.Entries = append(s.Entries, key.Entry{Trip: 6*area + trip, Origin: area, Bin: l, Age: age, Pattern: -1, Fish: 20})
			}
		}
	}
	test, err := key.Areas(s, []int32{0, 1}, nil, 1)
	if err != nil {
		t.Fatal(err)
	}
	// By hand: 5 of 12 trips are young; a trip's 40 fish have one residual, so that its score
	// is 40 r and the design effect 40.
	if math.Abs(test.Alike-40) > 0.01 || test.Clusters != 12 {
		t.Errorf("fish of %d trips are alike by %v, want 12 and 40", test.Clusters, test.Alike)
	}
	if test.P > 0.001 || test.Differs || test.ByTrip < 0.3 {
		t.Errorf("p is %v by fish and %v by trip, want a small one and a large one", test.P, test.ByTrip)
	}
}

// One area was sampled in the first half of the year, the other in the second, when fish of a
// length are older. Within a half they do not differ.
func TestWhatStrataTellIsNoDifferenceOfAreas(t *testing.T) {
	s := oneBank([]float64{100, 110}, 2)
	// Origins: area 0 early, area 0 late, area 1 early, area 1 late.
	s.Grid.Rungs, s.Grid.Groups, s.Grid.Path = [][]int32{{0, 1, 0, 1}}, []int{2}, [][]int32{{0}, {1}}
	young := []float64{0.8, 0.4, 0.8, 0.4}
	fish := []float64{200, 20, 20, 200}
	for origin, n := range fish {
		for l := range int32(2) {
			for age, share := range []float64{young[origin], 1 - young[origin]} {
				s.Entries = append(s.Entries, key.Entry{Trip: -1, Origin: int32(origin), Bin: l, Age: int32(age), Pattern: -1, Fish: n * share})
			}
		}
	}
	area := []int32{0, 0, 1, 1}
	apart, err := key.Areas(s, area, nil, 1)
	if err != nil || !apart.Differs {
		t.Errorf("halves of the year taken together the areas give %+v, %v; want a difference", apart, err)
	}
	within, err := key.Areas(s, []int32{0, 1, 2, 3}, s.Grid.Rungs[0], 1)
	if err != nil || within.Differs || math.Abs(within.Statistic) > 1e-6 || within.Degrees != 2 {
		t.Errorf("within halves of the year they give %+v, %v; want none, on 2 degrees of freedom", within, err)
	}
}

func TestTroubleOfYearsWithoutAges(t *testing.T) {
	aged := key.KeyYear{Lengths: []float64{10, 0}, Aged: []float64{3, 1, 0, 0}}
	none := key.KeyYear{Lengths: []float64{10, 0}, Aged: make([]float64, 4)}
	cases := []struct {
		want    key.Reason
		from    key.KeyYear
		lengths []float64
	}{
		{key.NoAges, none, []float64{1, 1}}, {key.NoLengths, aged, []float64{0, 0}}, {key.NotShared, aged, []float64{0, 5}},
	}
	for _, c := range cases {
		_, err := key.Iterated(c.from, c.lengths, 2)
		var trouble *key.Trouble
		if !errors.As(err, &trouble) || trouble.Reason != c.want {
			t.Errorf("lengths %v give %v, want the reason %v", c.lengths, err, c.want)
		}
	}
	if _, err := key.Combined([]key.KeyYear{none}, 2, 2); err == nil || !strings.Contains(err.Error(), key.NoAges.String()) {
		t.Errorf("years without any age give %v", err)
	}
	fit, err := key.Iterated(aged, []float64{6, 2}, 2)
	if err != nil || fit.Unshared != 2 {
		t.Errorf("two fish at a length without aged fish: %v unshared, %v", fit.Unshared, err)
	}
}

func TestEveryReasonHasWords(t *testing.T) {
	seen := map[string]bool{}
	for r := key.NoAges; r <= key.NotSettled; r++ {
		words := r.String()
		if seen[words] || words == "" || strings.HasPrefix(words, "Reason(") {
			t.Errorf("reason %d has the words %q", int(r), words)
		}
		seen[words] = true
	}
	if got := key.Reason(0).String(); got != "Reason(0)" {
		t.Errorf("no reason says %q", got)
	}
}

func TestScoresNeedTripsInEveryFold(t *testing.T) {
	_, err := key.Scores(split(), key.Scoring{Folds: 7})
	var trouble *key.Trouble
	if !errors.As(err, &trouble) || trouble.Reason != key.FewTrips || trouble.Trips != 5 {
		t.Errorf("five trips in seven folds give %v, want the reason FewTrips", err)
	}
}

func TestScoresByHand(t *testing.T) {
	// The definition, fish by fish: fit without the fold, log share of the fish's age, no
	// less than log 0.001; differences by trip, √(m/(m−1) Σ (d_t − D n_t)²)/Σ n_t.
	s := overlapping(t)
	const folds = 4
	got, err := key.Scores(s, key.Scoring{Folds: folds, Borrowing: key.Borrowing{Least: 4}, Smoothing: []key.Smoothing{{}}})
	if err != nil {
		t.Fatal(err)
	}
	borrowed, err := key.NewDirect(s, key.Borrowing{Least: 4})
	if err != nil {
		t.Fatal(err)
	}
	difference, number, sums := map[int32]float64{}, map[int32]float64{}, make([]float64, 2)
	for fold := range int32(folds) {
		weight := s.Weights()
		for i, e := range s.Entries {
			if e.Trip%folds == fold {
				weight[i] = 0
			}
		}
		q, _, _ := fit(smoothed(t, s, key.Smoothing{}), s, weight, nil)
		p, _, _ := fit(borrowed, s, weight, nil)
		for _, e := range s.Entries {
			if e.Trip%folds == fold {
				at := (int(e.Origin)*s.Grid.Bins+int(e.Bin))*s.Grid.Ages + int(e.Age)
				a, b := math.Log(max(p[at], 0.001)), math.Log(max(q[at], 0.001))
				sums[0], sums[1] = sums[0]+a, sums[1]+b
				difference[e.Trip], number[e.Trip] = difference[e.Trip]+a-b, number[e.Trip]+1
			}
		}
	}
	fish := float64(len(s.Entries))
	mean, squares, trips := (sums[0]-sums[1])/fish, 0.0, float64(len(number))
	for trip := range int32(len(number)) {
		rest := difference[trip] - mean*number[trip]
		squares += rest * rest
	}
	near(t, "log score of the borrowed key", got.Scores[1].LogScore, sums[0]/fish, 1e-9)
	near(t, "log score of the smoothed key", got.Scores[2].LogScore, sums[1]/fish, 1e-9)
	near(t, "how far the borrowed key is behind", got.Scores[1].Behind, -mean, 1e-9)
	near(t, "its SE", got.Scores[1].BehindSE, math.Sqrt(trips/(trips-1)*squares)/fish, 1e-9)
	if got.Best != 2 || got.Trips != len(number) || got.Scores[1].Floored == 0 {
		t.Errorf("the smoothed key should be best of %d trips and the borrowed one find unseen ages: %+v", len(number), got)
	}
}

func TestReadersOfReplicateMatter(t *testing.T) {
	// Worse readers blur more, so that the key of true ages must sharpen more.
	s, readers := season(3)
	work := trueKey(t, s, readers)
	q, _, _ := fit(work, s, s.Weights(), readers)
	blunt := [][]float64{misread(18, 0.12, 1), misread(18, 0.18, 1), misread(18, 0.14, 1.03)}
	p, _, _ := fit(work, s, s.Weights(), blunt)
	sharp, sharper := 0.0, 0.0
	for at := range q {
		sharp, sharper = sharp+q[at]*q[at], sharper+p[at]*p[at]
	}
	if sharper <= sharp {
		t.Errorf("Σ q² is %v with good readers and %v with bad ones, want more with bad ones", sharp, sharper)
	}
}

func TestKeysOfTrueAgesUndoTheError(t *testing.T) {
	// Expected numbers of each pair of counts at known shares of true ages: the likelihood
	// is highest at these shares, whatever the readers' errors.
	const bins, ages, fish = 7, 4, 1000.0
	readers := [][]float64{misread(ages, 0.25, 1), misread(ages, 0.3, 1.1)}
	truth := make([]float64, bins*ages)
	s := key.Sample{Grid: yearQuarterAll(1, 1, bins, ages), Readers: 2}
	for c := range int16(ages * ages) {
		s.Patterns = append(s.Patterns, []int16{c / ages, c % ages})
	}
	for l := range bins {
		left := 1.0
		for a := range ages {
			p := 1.0
			if a < ages-1 {
				p = 1 / (1 + math.Exp(0.9*float64(l)-1.5-1.3*float64(a)))
			}
			truth[l*ages+a], left = left*p, left*(1-p)
		}
		for c := range s.Patterns {
			share := 0.0
			for a := range ages {
				share += truth[l*ages+a] * readers[0][a*ages+c/ages] * readers[1][a*ages+c%ages]
			}
			s.Entries = append(s.Entries, key.Entry{Trip: -1, Bin: int32(l), Age: -1, Pattern: int32(c), Fish: fish * share})
		}
	}
	direct, err := key.NewTrue(s, readers, key.Borrowing{})
	if err != nil {
		t.Fatal(err)
	}
	smooth, err := key.NewTrueSmooth(s, readers, key.Smoothing{DF: 1, Strata: math.Inf(1), Curvature: -1})
	if err != nil {
		t.Fatal(err)
	}
	blurred := 0.0
	for l := range bins {
		blurred = max(blurred, math.Abs(truth[l*ages+1]-misreadShare(truth[l*ages:(l+1)*ages], readers[0], 1)))
	}
	if blurred < 0.05 {
		t.Fatalf("the readers move no share by more than %v: nothing to undo", blurred)
	}
	for name, c := range map[string]struct {
		work key.Worker
		tol  float64
	}{"direct true-age": {direct, 1e-3}, "smoothed true-age": {smooth, 1e-6}} {
		q, _, _ := fit(c.work, s, s.Weights(), readers)
		for at := range truth {
			if math.Abs(q[at]-truth[at]) > c.tol {
				t.Errorf("the %s key gives class %d of bin %d the share %v, the truth is %v", name, at%ages, at/ages, q[at], truth[at])
			}
		}
	}
}

// misreadShare is the share of count c among fish with shares q of true ages.
func misreadShare(q, matrix []float64, c int) float64 {
	share := 0.0
	for a, p := range q {
		share += p * matrix[a*len(q)+c]
	}
	return share
}

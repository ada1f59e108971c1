package key_test

import (
	"math"
	"testing"

	"earstone/estimate/key"
)

// seen is a sample whose one reader gives every fish its age, and that reader's matrix.
func seen(s key.Sample, cv float64) (key.Sample, [][]float64) {
	s.Readers, s.Patterns = 1, nil
	for a := range s.Grid.Ages {
		s.Patterns = append(s.Patterns, []int16{int16(a)})
	}
	s.Entries = append([]key.Entry(nil), s.Entries...)
	for i := range s.Entries {
		s.Entries[i].Pattern = s.Entries[i].Age
	}
	matrix := make([]float64, s.Grid.Ages*s.Grid.Ages)
	for a := range s.Grid.Ages {
		matrix[a*s.Grid.Ages+a] = 1
	}
	if cv > 0 {
		matrix = misread(s.Grid.Ages, cv, 1)
	}
	return s, [][]float64{matrix}
}

func variance(w interface{ Variance([]float64) }, s key.Sample, classes int) []float64 {
	v := make([]float64, len(s.Grid.Path)*s.Grid.Bins*classes)
	w.Variance(v)
	return v
}

func TestVarianceUnderAFaultlessReaderIsThatOfAgreedAges(t *testing.T) {
	// Identity: where the readings tell the age, what they miss of the information is 0. The
	// ridges that hold the curves of true ages move shares near 0 most: variances above
	// 0.0002 are compared, to 4 %.
	s, readers := seen(overlapping(t), 0)
	agreed, exact := variance(smoothed(t, s, key.Smoothing{}), s, 5), variance(trueSmooth(t, s, readers), s, 5)
	compared := 0
	for at := range agreed {
		if agreed[at] < 2e-4 {
			continue
		}
		if compared++; math.Abs(exact[at]-agreed[at]) > 0.04*agreed[at] {
			t.Errorf("variance %d is %v of true ages and %v of agreed ones", at, exact[at], agreed[at])
		}
	}
	if compared < 50 {
		t.Errorf("only %d variances are large enough to compare", compared)
	}
	misread, readers := seen(overlapping(t), 0.15)
	blurred := 0.0
	for _, v := range variance(trueSmooth(t, misread, readers), misread, 5) {
		blurred += v
	}
	plain := 0.0
	for _, v := range agreed {
		plain += v
	}
	if blurred < 1.2*plain {
		t.Errorf("a reader with a CV of 15 %% leaves the variances at %v in all, from %v: an error of reading must cost information", blurred, plain)
	}
}

func TestVarianceOfThePlusGroup(t *testing.T) {
	// By hand: the oldest two classes together are 1 less the others, S = Π (1 − p_j), so that
	// Var S = S² Σ p_j² v_j over the three younger ages.
	s := overlapping(t)
	work := smoothed(t, s, key.Smoothing{})
	q, _, _ := fit(work, s, s.Weights(), nil)
	folded, whole := variance(work, s, 4), variance(work, s, 5)
	for _, at := range []int{3, 22 + 9, 44 + 18} {
		left, want := 1.0, 0.0
		logits := work.Logits(at/22, at%22)
		for a := range 3 {
			p := q[at*5+a] / left
			want += p * p * logits[a].Variance
			left -= q[at*5+a]
			near(t, "variance of a class below the plus group", folded[at*4+a], whole[at*5+a], 1e-12)
		}
		near(t, "variance of the plus group", folded[at*4+3], left*left*want, 1e-9)
	}
	exact, readers := seen(s, 0)
	true4, agreed4 := variance(trueSmooth(t, exact, readers), exact, 4), folded
	for _, at := range []int{3, 22 + 9, 44 + 18} {
		near(t, "variance of the plus group of true ages", true4[at*4+3], agreed4[at*4+3], 0.02)
	}
}

func TestRowsOfOnePoolAreServedByTheSameFish(t *testing.T) {
	// Bins 0 to 4 have fish, those of quarter 1 alone; bin 5 is beyond all of them.
	s := split()
	direct, err := key.NewDirect(s, key.Borrowing{Least: 1, EdgeBins: true})
	if err != nil {
		t.Fatal(err)
	}
	exact, readers := seen(s, 0.1)
	for name, w := range map[string]key.Worker{
		"direct": direct, "smoothed": smoothed(t, s, key.Smoothing{DF: 1, EdgeBins: true}),
		"true": trueKeyOf(t, exact, readers, key.Borrowing{Least: 1, EdgeBins: true}),
	} {
		q, from, used := blank(s.Grid)
		w.Fit(q, from, s.Weights(), readers)
		ids := make([]int32, len(used))
		w.Cells(ids)
		w.Used(used)
		if ids[5] != ids[4] || used[5] != used[4] || used[4] != 4 {
			t.Errorf("%s: the edge bin's pool %d of %v fish serves bin 5, which names %d of %v", name, ids[4], used[4], ids[5], used[5])
		}
		if ids[0] == ids[1] || ids[0] < 0 {
			t.Errorf("%s: bins 0 and 1 name the pools %d and %d", name, ids[0], ids[1])
		}
		if name != "smoothed" && used[6] != 4 {
			t.Errorf("%s: the quarter without fish rests on %v, want the 4 of its year", name, used[6])
		}
		if name == "smoothed" && (used[6] != 0 || ids[6] == ids[0]) {
			t.Errorf("a smoothed row without fish of its own names the pool %d of %v fish", ids[6], used[6])
		}
	}
	open := smoothed(t, s, key.Smoothing{DF: 1})
	fit(open, s, s.Weights(), nil)
	ids := make([]int32, 12)
	if open.Cells(ids); ids[5] != -1 || ids[4] < 0 {
		t.Errorf("beyond the aged lengths the pool is %d, want none", ids[5])
	}
}

func trueKeyOf(t *testing.T, s key.Sample, readers [][]float64, b key.Borrowing) *key.TrueWork {
	t.Helper()
	work, err := key.NewTrue(s, readers, b)
	if err != nil {
		t.Fatal(err)
	}
	return work
}

func TestCellsAsTheSampleHadThemKeepItsFit(t *testing.T) {
	s, readers := season(3)
	work := trueKey(t, s, readers)
	whole, _, told := fit(work, s, s.Weights(), readers)
	if told.Iterations != 0 || !told.Converged {
		t.Errorf("the sample itself takes %d cycles, want none", told.Iterations)
	}
	weight := s.Weights()
	for i, e := range s.Entries {
		if e.Trip == 0 {
			weight[i] = 0
		}
	}
	without, from, told := fit(work, s, weight, readers)
	moved, kept, size := 0, 0, s.Grid.Bins*s.Grid.Ages
	for at := range without {
		switch own := from[at/s.Grid.Ages].Rung() == 0; {
		case at < size && without[at] != whole[at]:
			moved++
		case at >= size && own && without[at] == whole[at]:
			kept++
		case at >= size && own:
			t.Fatalf("share %d is %v without a trip of another stratum, was %v", at, without[at], whole[at])
		}
	}
	if moved == 0 || kept == 0 || told.Iterations == 0 {
		t.Errorf("without a trip %d shares of its stratum move and %d of others stay", moved, kept)
	}
	blurred := [][]float64{misread(18, 0.08, 1), readers[1], readers[2]}
	if _, _, told := fit(work, s, s.Weights(), blurred); told.Iterations == 0 {
		t.Error("other readers take no cycle: the sample's fit is not theirs")
	}
}

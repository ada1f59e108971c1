package key

import (
	"math"
	"testing"

	"earstone/reference"
)

// yearly is one place in some years: aged fish by year, bins × ages, and lengths.
func yearly(bins, ages int, aged, lengths [][]float64) (Sample, Years) {
	s := Sample{Grid: Grid{Bins: bins, Mid: make([]float64, bins), Ages: ages, Rungs: [][]int32{nil}, Groups: []int{len(lengths)}}}
	y := Years{Holds: []bool{true}}
	for l := range bins {
		s.Grid.Mid[l] = float64(l)
	}
	for i := range lengths {
		s.Grid.Rungs[0] = append(s.Grid.Rungs[0], int32(i))
		s.Grid.Path = append(s.Grid.Path, []int32{int32(i)})
		y.Year, y.Place = append(y.Year, 2031+i), append(y.Place, 0)
		y.Fish, y.Measured = append(y.Fish, lengths[i]...), append(y.Measured, sum(lengths[i]))
		for at, fish := range aged[i] {
			if fish > 0 {
				s.Entries = append(s.Entries, Entry{Origin: int32(i), Bin: int32(at / ages), Age: int32(at % ages), Pattern: -1, Fish: fish})
			}
		}
	}
	return s, y
}

func TestIteratedWorkAgainstGolden(t *testing.T) {
	// Golden topic 06, iterated: EM of an independent tool, polished by Newton's method.
	const tol = 1e-7
	var golden noAgesGolden
	reference.Golden(t, "06-iterated-combined", &golden)
	in, want := golden.Input.Iterated, golden.Output.Iterated
	s, years := yearly(7, 4, [][]float64{flat(in.Aged), nil}, [][]float64{in.KeyYear, in.Target})
	w, err := NewIterated(s, Borrowing{Least: 1}, years)
	if err != nil {
		t.Fatal(err)
	}
	alike(t, "shares of the sample", w.start[4:], want.P, tol)
	q, from := make([]float64, 2*7*4), make([]Source, 2*7)
	w.enough = 1e-13
	told := w.Fit(q, from, s.Weights(), nil)
	alike(t, "key", q[28:], flat(want.Key), tol)
	direct := make([]float64, 28)
	Direct(direct, flat(in.Aged), 4, 1, nil)
	alike(t, "key of the year with ages", q[:28], direct, 1e-15)
	rebuilt := w.Rebuilt()
	if len(rebuilt) != 1 || rebuilt[0].Stratum != 1 || rebuilt[0].Donor != 0 {
		t.Fatalf("rebuilt %+v, want year 1 from year 0", rebuilt)
	}
	alike(t, "fitted lengths", rebuilt[0].Fitted, want.Fitted, tol)
	alike(t, "observed lengths", rebuilt[0].Observed, want.Observed, tol)
	for at, source := range from {
		if source.Iterated() != (at >= 7) || source.Rung() != 0 {
			t.Errorf("row %d rests on %v", at, source)
		}
	}
	if told.Borrowed != 7 || told.Empty != 0 || !told.Converged {
		t.Errorf("the fit tells %+v, want 7 rows from the other year", told)
	}
	w.enough = 1e-9
	w.Fit(q, from, s.Weights(), nil)
	for at, p := range flat(want.Key) { // a replicate's tolerance
		if math.Abs(q[28+at]-p) > 1e-3 {
			t.Errorf("share %d of a replicate's key is %v, want %v", at, q[28+at], p)
		}
	}
}

func TestCombinedWorkAgainstGolden(t *testing.T) {
	// Golden topic 06, combined: EM of an independent tool, polished by Newton's method.
	const tol = 1e-7
	var golden noAgesGolden
	reference.Golden(t, "06-iterated-combined", &golden)
	names := []string{"A", "B", "C"}
	var aged, lengths [][]float64
	for _, name := range names {
		y := golden.Input.Combined[name]
		aged, lengths = append(aged, flat(y.Aged)), append(lengths, y.Lengths)
	}
	s, years := yearly(7, 4, aged, lengths)
	for at := range years.Fish { // the scale of the catch does not matter
		years.Fish[at] *= 37
	}
	w, err := NewCombined(s, Borrowing{}, years)
	if err != nil {
		t.Fatal(err)
	}
	q, from := make([]float64, 3*7*4), make([]Source, 3*7)
	w.fit(q, from, s.Weights(), math.Inf(-1), mostCombined)
	for i, name := range names {
		alike(t, "key of "+name, q[i*28:(i+1)*28], flat(golden.Output.Combined.Key[name]), tol)
	}
	told := w.Fit(q, from, s.Weights(), nil)
	for i, name := range names {
		for at, p := range flat(golden.Output.Combined.Key[name]) { // a replicate's tolerance
			if math.Abs(q[i*28+at]-p) > 2e-3 {
				t.Errorf("share %d of a replicate's key of %s is %v, want %v", at, name, q[i*28+at], p)
			}
		}
	}
	rebuilt := w.Rebuilt()
	if len(rebuilt) != 1 || rebuilt[0].Stratum != 2 || rebuilt[0].Donor != -1 || math.Abs(sum(rebuilt[0].Fitted)-1) > 1e-9 {
		t.Errorf("rebuilt %+v, want year C from all of them", rebuilt)
	}
	if !told.Converged || told.Borrowed != 21 || !from[0].Combined() || from[0].Own() {
		t.Errorf("the fit tells %+v and row 0 rests on %v", told, from[0])
	}
}

func TestCombinedOfOneYearIsDirect(t *testing.T) {
	// By hand: with one year the shares p(a) P(l | a) are free, so that q(a | l) = n_la / n_l.
	aged := []float64{4, 1, 0, 3, 3, 1, 0, 2, 6}
	s, years := yearly(3, 3, [][]float64{aged}, [][]float64{{90, 40, 20}})
	w, err := NewCombined(s, Borrowing{}, years)
	if err != nil {
		t.Fatal(err)
	}
	q, from, want := make([]float64, 9), make([]Source, 3), make([]float64, 9)
	w.fit(q, from, s.Weights(), math.Inf(-1), mostCombined)
	Direct(want, aged, 3, 1, nil)
	for at := range want {
		if math.Abs(q[at]-want[at]) > 1e-8 {
			t.Errorf("share %d is %v, want %v", at, q[at], want[at])
		}
	}
}

func TestAgesThatNobodySawGetNoShare(t *testing.T) {
	s, years := yearly(3, 3, [][]float64{{4, 1, 0, 3, 3, 0, 0, 2, 0}, nil}, [][]float64{{90, 40, 20}, {5, 10, 300}})
	w, err := NewCombined(s, Borrowing{}, years)
	if err != nil {
		t.Fatal(err)
	}
	q, from := make([]float64, 18), make([]Source, 6)
	w.Fit(q, from, s.Weights(), nil)
	for at := 2; at < len(q); at += 3 {
		if q[at] != 0 {
			t.Errorf("row %d gives %v to an age that no fish has", at/3, q[at])
		}
	}
}

func TestARareAgeKeepsToItsLengths(t *testing.T) {
	// The lengths of the second year are none that the two common ages make. Left free, the
	// one fish of the oldest age would take up the small ones.
	s, years := yearly(3, 3, [][]float64{{40, 10, 0, 20, 30, 0, 0, 20, 1}, nil}, [][]float64{{100, 100, 45}, {300, 10, 60}})
	w, err := NewCombined(s, Borrowing{}, years)
	if err != nil {
		t.Fatal(err)
	}
	q, from := make([]float64, 18), make([]Source, 6)
	w.Fit(q, from, s.Weights(), nil)
	for at := 0; at < 5; at++ {
		if l := at % 3; l < 2 && q[at*3+2] != 0 {
			t.Errorf("row %d gives %v to the oldest age, which no fish of its length has", at, q[at*3+2])
		}
	}
	if q[5*3+2] <= 0 {
		t.Error("the oldest age has no share at its own length")
	}
}

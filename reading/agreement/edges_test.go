package agreement

import (
	"math"
	"testing"

	"earstone/programme/date"
	"earstone/programme/record"
)

// months makes n fish a month, narrow[m−1] of them with a narrow edge and the others
// wide.
func months(n int, narrow [12]int) (seen []Seen) {
	for m, k := range narrow {
		for i := range n {
			e := record.Wide
			if i < k {
				e = record.Narrow
			}
			seen = append(seen, Seen{m + 1, e})
		}
	}
	return seen
}

func declared(t *testing.T, annulus string, window int) record.Calendar {
	t.Helper()
	f, ok := date.ParseAnniversary(annulus)
	if !ok {
		t.Fatalf("%s is no day", annulus)
	}
	return record.Calendar{AnnulusDay: f, AnnulusWindowDays: window}
}

func TestSharesOfEdges(t *testing.T) {
	// Wilson by hand, 5 of 20, z = 1.959964: (5 + 1.920729 ± 1.959964 √(5·15/20 +
	// 0.960365))/23.841459 = 0.111862 and 0.468701.
	shares := Edges(append(months(20, [12]int{5})[:20], Seen{3, record.Partial}))
	want := []EdgeShare{
		{1, record.Narrow, 5, 20, 0.25, 0.111862, 0.468701}, {1, record.Partial, 0, 20, 0, 0, 0.161125}, {1, record.Wide, 15, 20, 0.75, 0.531299, 0.888138},
		{3, record.Narrow, 0, 1, 0, 0, 0.793450}, {3, record.Partial, 1, 1, 1, 0.206550, 1}, {3, record.Wide, 0, 1, 0, 0, 0.793450},
	}
	if len(shares) != len(want) {
		t.Fatalf("there are %d shares, want %d", len(shares), len(want))
	}
	for i, w := range want {
		s := shares[i]
		if s.Month != w.Month || s.Edge != w.Edge || s.N != w.N || s.Of != w.Of || s.Share != w.Share ||
			math.Abs(s.Low-w.Low) > 2e-6 || math.Abs(s.High-w.High) > 2e-6 {
			t.Errorf("share %d is %+v, want %+v", i, s, w)
		}
	}
}

func TestCalendarWarning(t *testing.T) {
	june := [12]int{5: 18, 6: 16, 7: 8, 8: 3} // narrow edges from June on
	for _, c := range []struct {
		name    string
		annulus string
		window  int
		fish    int
		narrow  [12]int
		month   int // of the warning, 0 for none
	}{
		{"declared as seen", "06-01", 30, 20, june, 0},
		{"declared in December", "12-01", 30, 20, june, 6},
		{"a month early", "05-01", 30, 20, june, 0},
		{"a month late", "07-01", 30, 20, june, 0},
		{"in the last expected month", "06-01", 0, 20, [12]int{7: 18}, 0}, // 1 June + 90 days is 30 August
		{"in the month after it", "06-01", 0, 20, [12]int{8: 18}, 9},
		{"few fish a month", "12-01", 30, 9, [12]int{5: 9}, 0},
		{"narrow all year", "12-01", 30, 20, [12]int{10, 10, 10, 10, 10, 12, 11, 10, 10, 10, 10, 10}, 0},
		{"never narrow", "12-01", 30, 20, [12]int{}, 0},
		{"a window of half the year", "12-01", 182, 20, june, 0},
		{"no annulus day", "", 30, 20, june, 0},
	} {
		got := CheckCalendar(declared(t, c.annulus, c.window), Edges(months(c.fish, c.narrow)))
		if got.Given != (c.month > 0) || got.Month != c.month {
			t.Errorf("%s: warning %v for month %d, want month %d", c.name, got.Given, got.Month, c.month)
		}
	}
	// Fished in summer alone, nothing expected is seen: silence.
	var summer []Seen
	for _, s := range months(20, june) {
		if s.Month >= 6 && s.Month <= 8 {
			summer = append(summer, s)
		}
	}
	if got := CheckCalendar(declared(t, "12-01", 30), Edges(summer)); got.Given {
		t.Errorf("fish of one season give the warning %+v", got)
	}
	got := CheckCalendar(declared(t, "12-01", 30), Edges(months(20, june)))
	if got.Declared.String() != "12-01" || got.Seen.N != 18 || got.Expected.N != 0 || got.Expected.Of != 20 {
		t.Errorf("the warning rests on %+v", got)
	}
}

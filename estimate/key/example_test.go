package key_test

import (
	"fmt"
	"math"

	"earstone/estimate/key"
)

// oneBank is a key of one stratum, fish by bin and age row by row.
func oneBank(mid []float64, ages int, fish ...float64) key.Sample {
	s := key.Sample{Grid: key.Grid{
		Bins: len(mid), Mid: mid, Ages: ages, Rungs: [][]int32{{0}}, Groups: []int{1}, Path: [][]int32{{0}},
	}}
	for at, n := range fish {
		s.Entries = append(s.Entries, key.Entry{
			Trip: int32(at), Bin: int32(at / ages), Age: int32(at % ages), Pattern: -1, Fish: n,
		})
	}
	return s
}

func ExampleNewSmooth() {
	// Two ages, four bins: the share of the younger falls smoothly with length, also
	// where the one fish at 130 cm would say that it rises.
	s := oneBank([]float64{100, 110, 120, 130}, 2, 9, 1, 6, 4, 0, 5, 1, 0)
	work, err := key.NewSmooth(s, key.Smoothing{DF: 1, Strata: math.Inf(1)})
	if err != nil {
		fmt.Println(err)
		return
	}
	q, from := make([]float64, 8), make([]key.Source, 4)
	work.Fit(q, from, s.Weights(), nil)
	for l := range 4 {
		fmt.Printf("%v cm: %.2f\n", s.Grid.Mid[l], q[l*2])
	}
	// Output:
	// 100 cm: 0.85
	// 110 cm: 0.60
	// 120 cm: 0.27
	// 130 cm: 0.09
}

func ExampleNewTrue() {
	// One reader, two ages: of 100 fish 62 were read as the younger. The reader takes one
	// young fish in ten for old, and one old fish in five for young.
	s := key.Sample{
		Grid:    key.Grid{Bins: 1, Mid: []float64{150}, Ages: 2, Rungs: [][]int32{{0}}, Groups: []int{1}, Path: [][]int32{{0}}},
		Readers: 1, Patterns: [][]int16{{0}, {1}},
		Entries: []key.Entry{{Trip: 1, Age: 0, Pattern: 0, Fish: 62}, {Trip: 2, Age: 1, Pattern: 1, Fish: 38}},
	}
	readers := [][]float64{{0.9, 0.1, 0.2, 0.8}}
	work, err := key.NewTrue(s, readers, key.Borrowing{})
	if err != nil {
		fmt.Println(err)
		return
	}
	q, from := make([]float64, 2), make([]key.Source, 1)
	work.Fit(q, from, s.Weights(), readers)
	fmt.Printf("%.3f\n", q) // 0.9 q + 0.2 (1 − q) = 0.62
	// Output: [0.600 0.400]
}

func ExampleNewTrueSmooth() {
	// The fish of two bins, read by a reader without error: the smoothed key of true ages
	// is then the smoothed key.
	s := oneBank([]float64{100, 110}, 2, 9, 1, 2, 8)
	s.Readers, s.Patterns = 1, [][]int16{{0}, {1}}
	for i := range s.Entries {
		s.Entries[i].Pattern = s.Entries[i].Age
	}
	readers := [][]float64{{1, 0, 0, 1}}
	work, err := key.NewTrueSmooth(s, readers, key.Smoothing{DF: 1, Strata: math.Inf(1), Curvature: -1})
	if err != nil {
		fmt.Println(err)
		return
	}
	q, from := make([]float64, 4), make([]key.Source, 2)
	work.Fit(q, from, s.Weights(), readers)
	fmt.Printf("%.2f\n", q)
	// Output: [0.90 0.10 0.20 0.80]
}

func ExampleIterated() {
	// The key year had as many young as old fish; twice as many short fish were landed in
	// the year without ages. Two bins, two ages.
	last := key.KeyYear{Lengths: []float64{50, 50}, Aged: []float64{8, 2, 2, 8}}
	fit, err := key.Iterated(last, []float64{120, 60}, 2)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("share of the young: %.2f, was %.2f\n", fit.Share[0], fit.Start[0])
	fmt.Printf("of the short fish: %.2f young\n", fit.Key[0])
	// Output:
	// share of the young: 0.78, was 0.50
	// of the short fish: 0.93 young
}

func ExampleCombined() {
	// One year aged all its fish, the next only measured them.
	years := []key.KeyYear{
		{Lengths: []float64{50, 50}, Aged: []float64{40, 10, 10, 40}},
		{Lengths: []float64{120, 60}},
	}
	fit, err := key.Combined(years, 2, 2)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("share of the young: %.2f and %.2f\n", fit.Share[0][0], fit.Share[1][0])
	// Output: share of the young: 0.50 and 0.78
}

func ExampleScores() {
	// Twelve trips of one bank that all say the same: to smooth costs nothing, and to
	// borrow changes nothing where there is one stratum.
	s := oneBank([]float64{100, 110, 120}, 2)
	for trip := range int32(12) {
		for at, n := range []float64{5, 1, 3, 3, 1, 5} {
			s.Entries = append(s.Entries, key.Entry{Trip: trip, Bin: int32(at / 2), Age: int32(at % 2), Pattern: -1, Fish: n})
		}
	}
	scored, err := key.Scores(s, key.Scoring{Folds: 4, Smoothing: []key.Smoothing{{DF: 1}}})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, score := range scored.Scores {
		fmt.Printf("%s %.3f\n", score.Form, score.LogScore)
	}
	// Output:
	// direct -0.531
	// borrowed -0.531
	// smoothed -0.531
}

func ExampleAreas() {
	// Half of the fish at each length are young on the first bank, three quarters on the
	// second.
	s := oneBank([]float64{100, 110}, 2)
	s.Grid.Rungs, s.Grid.Groups, s.Grid.Path = [][]int32{{0, 1}}, []int{2}, [][]int32{{0}, {1}}
	for l := range int32(2) {
		for a, n := range []float64{20, 20, 30, 10} {
			s.Entries = append(s.Entries, key.Entry{Trip: -1, Origin: int32(a / 2), Bin: l, Age: int32(a % 2), Pattern: -1, Fish: n})
		}
	}
	test, err := key.Areas(s, []int32{0, 1}, nil, 1)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("χ² = %.2f on %d, differs: %v\n", test.Statistic, test.Degrees, test.Differs)
	// By hand: 2 Σ O ln(O/E) over the table 40, 40 / 60, 20, since the bins are alike.
	// Output: χ² = 10.82 on 1, differs: true
}

package agreement

import (
	"math"
	"slices"
	"strconv"
	"testing"

	"earstone/programme/record"
	"earstone/reference"
)

// goldenAgreement is golden file 02; null is a nil pointer.
type goldenAgreement struct {
	Input struct {
		Square map[string][][]int `json:"square_tables"`
	}
	Output struct {
		All   goldenSummary `json:"all_readings"`
		Pairs []struct {
			goldenSummary
			goldenSymmetry
			A, B  string     `json:"-"`
			Pairs int        `json:"n_pairs"`
			Mean  goldenMean `json:"mean_difference"`
			ByAge []struct {
				goldenMean
				Age   int     `json:"age_a"`
				MeanB float64 `json:"mean_b"`
			} `json:"by_age_of_a"`
			Table [][]int
		}
		Square map[string]goldenSymmetry `json:"square_tables"`
	}
}

type goldenSummary struct {
	N         int
	ZeroMean  int `json:"n_zero_mean"`
	Single    int `json:"n_single"`
	APE, CV   *float64
	ReadTwice int `json:"n_read_twice"`
	Exact     *float64
	Within1   *float64 `json:"within_1"`
	Within2   *float64 `json:"within_2"`
}

type goldenMean struct {
	N                   int
	Mean, SE, Low, High *float64
}

type goldenSymmetry struct {
	BowkerX2  *float64 `json:"bowker_x2"`
	BowkerDF  int      `json:"bowker_df"`
	BowkerP   *float64 `json:"bowker_p"`
	DistX2    *float64 `json:"evans_hoenig_x2"`
	DistDF    int      `json:"evans_hoenig_df"`
	DistP     *float64 `json:"evans_hoenig_p"`
	Above     int
	Below     int
	McNemarX2 *float64 `json:"mcnemar_x2"`
	McNemarDF int      `json:"mcnemar_df"`
	McNemarP  *float64 `json:"mcnemar_p"`
}

// relative is what golden file 02 is good for.
const relative = 1e-10

func number(t *testing.T, what string, got record.Number, want *float64) {
	t.Helper()
	switch {
	case want == nil && got.Known:
		t.Errorf("%s is %v, want not defined", what, got.X)
	case want != nil && (!got.Known || !(math.Abs(got.X-*want) <= relative*math.Max(1e-2, math.Abs(*want)))):
		t.Errorf("%s is %v (known: %v), want %v", what, got.X, got.Known, *want)
	}
}

func whole(t *testing.T, what string, got, want int) {
	t.Helper()
	if got != want {
		t.Errorf("%s is %d, want %d", what, got, want)
	}
}

func (g goldenSummary) hold(t *testing.T, s Summary) {
	t.Helper()
	whole(t, "number of fish", s.N, g.N)
	whole(t, "number of fish of mean 0", s.ZeroMean, g.ZeroMean)
	whole(t, "number of fish read once", s.Single, g.Single)
	number(t, "APE", s.APE, g.APE)
	number(t, "CV", s.CV, g.CV)
	number(t, "exact agreement", s.Exact, g.Exact)
	number(t, "agreement within 1", s.Within1, g.Within1)
	number(t, "agreement within 2", s.Within2, g.Within2)
}

func (g goldenMean) hold(t *testing.T, what string, m Mean) {
	t.Helper()
	whole(t, what+": number of fish", m.N, g.N)
	number(t, what, m.Mean, g.Mean)
	number(t, what+": SE", m.SE, g.SE)
	number(t, what+": lower limit", m.Low, g.Low)
	number(t, what+": upper limit", m.High, g.High)
}

func (g goldenSymmetry) hold(t *testing.T, s Symmetry) {
	t.Helper()
	whole(t, "df of Bowker", s.Bowker.DF, g.BowkerDF)
	number(t, "Bowker", s.Bowker.X2, g.BowkerX2)
	number(t, "p of Bowker", s.Bowker.P, g.BowkerP)
	whole(t, "df of Evans–Hoenig", s.EvansHoenig.DF, g.DistDF)
	number(t, "Evans–Hoenig", s.EvansHoenig.X2, g.DistX2)
	number(t, "p of Evans–Hoenig", s.EvansHoenig.P, g.DistP)
	whole(t, "readings above", s.Above, g.Above)
	whole(t, "readings below", s.Below, g.Below)
	whole(t, "df of McNemar", s.McNemar.DF, g.McNemarDF)
	number(t, "McNemar", s.McNemar.X2, g.McNemarX2)
	number(t, "asymptotic p of McNemar", s.Asymptotic, g.McNemarP)
	if s.Above+s.Below >= exactBelow && s.McNemar.P != s.Asymptotic {
		t.Errorf("with %d pairs that differ p of McNemar is %v, want the asymptotic %v", s.Above+s.Below, s.McNemar.P, s.Asymptotic)
	}
}

func TestAgreementOfGoldenFile(t *testing.T) {
	// Golden 02, relative 1e-10: readings of 80 invented fish by three readers.
	var g goldenAgreement
	reference.Golden(t, "02-agreement", &g)
	data := reference.Data(t, "invented_readings.csv")
	var columns [3][]int
	for r, name := range []string{"reader_a", "reader_b", "reader_c"} {
		columns[r] = counts(t, data.Text(name))
	}
	all := make([]int, 0, 3*data.Rows)
	for i := range data.Rows {
		all = append(all, columns[0][i], columns[1][i], columns[2][i])
	}
	t.Run("all readings", func(t *testing.T) {
		s := Of(all, 3)
		g.Output.All.hold(t, s)
		whole(t, "number of fish read twice", s.ReadTwice, g.Output.All.ReadTwice)
	})
	pairs := [][2]int{{0, 1}, {0, 2}, {1, 2}}
	if len(g.Output.Pairs) != len(pairs) {
		t.Fatalf("the golden file has %d pairs, want %d", len(g.Output.Pairs), len(pairs))
	}
	for k, want := range g.Output.Pairs {
		t.Run("pair "+strconv.Itoa(k), func(t *testing.T) {
			p := Compare(columns[pairs[k][0]], columns[pairs[k][1]])
			want.goldenSummary.hold(t, p.Summary)
			whole(t, "number of pairs", p.ReadTwice, want.Pairs)
			want.Mean.hold(t, "mean difference", p.Difference)
			want.goldenSymmetry.hold(t, p.Symmetry)
			whole(t, "number of counts by a", len(p.ByAge), len(want.ByAge))
			for i, by := range want.ByAge {
				what := "bias at count " + strconv.Itoa(by.Age)
				whole(t, what, p.ByAge[i].AgeA, by.Age)
				number(t, what+": mean of b", record.Some(p.ByAge[i].MeanB), &by.MeanB)
				by.goldenMean.hold(t, what, p.ByAge[i].Difference)
			}
			if !slices.Equal(p.Table, slices.Concat(want.Table...)) {
				t.Errorf("the table is %v, want %v", p.Table, want.Table)
			}
		})
	}
}

func TestSymmetryOfGoldenTables(t *testing.T) {
	// Golden 02, relative 1e-10: public tables and small ones with empty cells.
	var g goldenAgreement
	reference.Golden(t, "02-agreement", &g)
	whole(t, "number of square tables", len(g.Output.Square), 8)
	for name, want := range g.Output.Square {
		t.Run(name, func(t *testing.T) {
			table := g.Input.Square[name]
			want.hold(t, SymmetryOf(slices.Concat(table...), len(table)))
		})
	}
}

// counts are a column of counts, an empty cell being a reading not made.
func counts(t *testing.T, texts []string) []int {
	t.Helper()
	out := make([]int, len(texts))
	for i, text := range texts {
		out[i] = NotRead
		if text != "" {
			n, err := strconv.Atoi(text)
			if err != nil {
				t.Fatalf("row %d holds %q, want a count", i+2, text)
			}
			out[i] = n
		}
	}
	return out
}

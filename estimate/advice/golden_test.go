package advice

import (
	"fmt"
	"math"
	"testing"

	"earstone/programme/record"
	"earstone/reference"
)

// golden is topic 12: R 4.2.2, uniroot on Baranov's equation, slopes checked numerically.
type golden struct {
	Input struct {
		Catch    [][]float64
		Natural  []float64 `json:"natural_mortality"`
		LastYear []float64 `json:"terminal_F_last_year"`
		Oldest   []float64 `json:"F_oldest_age_earlier_years"`
		Recruit  struct {
			Natural  []float64 `json:"natural_mortality"`
			Select   []float64 `json:"selectivity"`
			Caught   []float64 `json:"weight_catch"`
			Spawning []float64 `json:"weight_spawning"`
			Mature   []float64 `json:"maturity"`
			When     float64   `json:"spawning_fraction_of_year"`
		} `json:"per_recruit"`
		Projection struct {
			Recruits    float64
			Multipliers []float64
			Weight      []float64
			Mature      []float64 `json:"maturity"`
		}
	}
	Output struct {
		Pope, Exact struct{ N, F [][]float64 }
		Recruit     map[string]curve `json:"per_recruit"`
		Projection  []struct {
			Multiplier float64
			Years      []struct {
				N, Catch        []float64
				Yield, Spawning float64
			}
		}
	}
	Tolerance float64
}

type curve struct {
	F              []float64
	Slope          float64 `json:"slope_at_zero"`
	F01, Fmax, F40 float64
	YieldAt01      float64   `json:"yield_at_f01"`
	YieldAtMax     float64   `json:"yield_at_fmax"`
	SpawningAt01   float64   `json:"spawning_ratio_at_f01"`
	SpawningAtMax  float64   `json:"spawning_ratio_at_fmax"`
	Y              []float64 `json:"yield_per_recruit"`
	S              []float64 `json:"spawning_per_recruit"`
}

func read(t testing.TB) golden {
	t.Helper()
	var g golden
	reference.Golden(t, "12-cohorts", &g)
	return g
}

// within fails when a number is further from the golden one than the file says.
func (g *golden) within(t *testing.T, got, want float64, what string, args ...any) {
	t.Helper()
	if !(math.Abs(got-want) <= g.Tolerance*math.Max(1e-12, math.Abs(want))) {
		t.Errorf("%s = %v, want %v", fmt.Sprintf(what, args...), got, want)
	}
}

func flat(rows [][]float64) []float64 {
	var all []float64
	for _, row := range rows {
		all = append(all, row...)
	}
	return all
}

func TestCohortsAreTheGoldenOnes(t *testing.T) {
	g := read(t)
	terminal := Terminal{g.Input.Natural, g.Input.LastYear, g.Input.Oldest}
	c := flat(g.Input.Catch)
	for e, want := range map[Equation]struct{ N, F [][]float64 }{Pope: g.Output.Pope, Baranov: g.Output.Exact} {
		n, f := make([]float64, len(c)), make([]float64, len(c))
		Cohorts(e, n, f, c, terminal)
		for i, x := range flat(want.N) {
			g.within(t, n[i], x, "%v number %d", e, i)
			g.within(t, f[i], flat(want.F)[i], "%v mortality %d", e, i)
		}
	}
}

func (g *golden) schedule(plus bool) *Schedule {
	r := &g.Input.Recruit
	return &Schedule{r.Natural, r.Select, r.Caught, r.Spawning, r.Mature, r.When, plus}
}

func TestRecruitsAreTheGoldenOnes(t *testing.T) {
	g := read(t)
	for name, plus := range map[string]bool{"truncated": false, "plus_group": true} {
		s, want := g.schedule(plus), g.Output.Recruit[name]
		for i, f := range want.F {
			y, _, left := s.At(f)
			g.within(t, y, want.Y[i], "%s: yield a recruit at F %v", name, f)
			g.within(t, left, want.S[i], "%s: spawning a recruit at F %v", name, f)
		}
		p := s.Points()
		g.within(t, p.Yield0Slope, want.Slope, "%s: slope at 0", name)
		for what, pair := range map[string][2]float64{
			"F0.1": {p.F01.X, want.F01}, "Fmax": {p.Max.X, want.Fmax}, "F40": {p.F40.X, want.F40},
			"yield at F0.1": {p.YieldAt01.X, want.YieldAt01}, "yield at Fmax": {p.YieldAtMax.X, want.YieldAtMax},
			"spawning at F0.1": {p.SpawningAt01.X, want.SpawningAt01}, "spawning at Fmax": {p.SpawningAtMax.X, want.SpawningAtMax},
		} {
			g.within(t, pair[0], pair[1], "%s: %s", name, what)
		}
	}
}

func TestProjectionIsTheGoldenOne(t *testing.T) {
	g := read(t)
	in := g.Input.Projection
	p := Ahead{g.Input.Natural, g.Input.LastYear, in.Weight, in.Weight, in.Mature, 0, in.Recruits}
	ages, years := len(g.Input.Catch), len(g.Input.Catch[0])
	c := flat(g.Input.Catch)
	n, f := make([]float64, len(c)), make([]float64, len(c))
	Cohorts(Baranov, n, f, c, Terminal{g.Input.Natural, g.Input.LastYear, g.Input.Oldest})
	for _, want := range g.Output.Projection {
		now, catch := make([]float64, ages), make([]float64, ages)
		for a := range now {
			now[a] = n[a*years+years-1]
		}
		p.Year(now, catch, now, 1) // from the last year with data to the first without
		for y, year := range want.Years {
			for a, x := range year.N {
				g.within(t, now[a], x, "times %v, year %d: number %d", want.Multiplier, y, a)
			}
			yield, spawning := p.Year(now, catch, now, want.Multiplier)
			g.within(t, yield, year.Yield, "times %v, year %d: yield", want.Multiplier, y)
			g.within(t, spawning, year.Spawning, "times %v, year %d: spawning", want.Multiplier, y)
			for a, x := range year.Catch {
				g.within(t, catch[a], x, "times %v, year %d: catch %d", want.Multiplier, y, a)
			}
		}
	}
}

// North Sea whiting, year class 1974: catches in millions, M 0.2, F 0.5 at age 6.
func TestWhitingOf1974(t *testing.T) {
	d := reference.Published(t, "vpa-whiting.csv")
	c := d.Numbers("catch_millions")
	m := []float64{0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2}
	n, f := make([]float64, len(c)), make([]float64, len(c))
	Cohort(Baranov, n, f, c, m, 0.5)
	// Printed (from memory): Sparre & Venema, FAO tropical manual, first number 4390 and first F 0.16.
	if math.Abs(n[0]-4390) > 0.5 || math.Abs(f[0]-0.16) > 0.005 {
		t.Errorf("the 1974 year class begins with %.1f million and F %.3f, want 4390 and 0.16", n[0], f[0])
	}
	// Recomputed: R 4.2.2, uniroot.
	wantN := []float64{4389.7334, 3054.3768, 1728.5914, 465.1041, 141.6863, 54.4433, 22.2481}
	wantF := []float64{0.1627, 0.3693, 1.1128, 0.9886, 0.7565, 0.6949, 0.5}
	const tol = 0.5e-4
	for a := range c {
		if math.Abs(n[a]-wantN[a]) > tol || math.Abs(f[a]-wantF[a]) > tol {
			t.Errorf("age %d: %.4f million with F %.4f, want %.4f and %.4f", a, n[a], f[a], wantN[a], wantF[a])
		}
	}
	// Recomputed: R 4.2.2, which takes the terminal number from Baranov's equation as above.
	for a := 5; a >= 0; a-- {
		n[a], f[a] = Pope.before(c[a], 0.2, n[a+1])
	}
	popeN := []float64{4449.0388, 3100.5673, 1760.3696, 472.1879, 143.1935, 54.8031}
	popeF := []float64{0.1611, 0.3661, 1.1159, 0.9932, 0.7604, 0.7015}
	for a := range popeN {
		if math.Abs(n[a]-popeN[a]) > tol || math.Abs(f[a]-popeF[a]) > tol {
			t.Errorf("age %d by Pope: %.4f million with F %.4f, want %.4f and %.4f", a, n[a], f[a], popeN[a], popeF[a])
		}
	}
}

// steady is a life of constant weight and one M, caught from the first age, no oldest age.
func steady(m float64, ages int) *Schedule {
	one := make([]float64, ages)
	natural := make([]float64, ages)
	for a := range one {
		one[a], natural[a] = 1, m
	}
	return &Schedule{natural, one, one, one, one, 0, true}
}

func TestPointsInClosedForm(t *testing.T) {
	// Identity: Y/R = F/(F + M), so that F0.1 = M(√10 − 1) = 2.16227766 M, there is no Fmax, and
	// with spawning spread over the year (here at its start, times (1 − e^−Z)/Z) 40 % is at 1.5 M.
	const m = 0.2
	p := steady(m, 3).Points()
	if want := m * (math.Sqrt(10) - 1); math.Abs(p.F01.X-want) > 1e-9 {
		t.Errorf("F0.1 = %v, want %v", p.F01.X, want)
	}
	if p.Max.Known {
		t.Errorf("Fmax = %v, want that there is none", p.Max.X)
	}
	for _, f := range []float64{0, 0.1, 0.3, 2} {
		y, slope, _ := steady(m, 3).At(f)
		if want := f / (f + m); math.Abs(y-want) > 1e-12 {
			t.Errorf("yield at F %v = %v, want %v", f, y, want)
		}
		if want := m / (f + m) / (f + m); math.Abs(slope-want) > 1e-11 {
			t.Errorf("slope at F %v = %v, want %v", f, slope, want)
		}
	}
	// Spawners at the start of years: 1/(1 − e^−Z), at 40 % where 1 − e^−Z = 2.5 (1 − e^−M).
	if want := -math.Log1p(2.5*math.Expm1(-m)) - m; math.Abs(p.F40.X-want) > 1e-9 {
		t.Errorf("F40 = %v, want %v", p.F40.X, want)
	}
	// By hand: steps of a tenth of a year (M 0.02 a step) come near the continuous 1.5 M.
	if short := steady(m/100, 3).Points(); math.Abs(short.F40.X/(m/100)-1.5) > 0.005 {
		t.Errorf("F40 in short steps = %v M, want about 1.5 M", short.F40.X/(m/100))
	}
}

func TestPointsThatAreNotThere(t *testing.T) {
	s := steady(0.2, 3)
	s.Caught = make([]float64, 3)
	if p := s.Points(); p.F01.Known || p.Max.Known || !p.F40.Known {
		t.Errorf("fish of no weight have the points %+v, want F40 only", p)
	}
	s.Mature = make([]float64, 3)
	if p := s.Points(); p != (Points{Yield0Slope: 0, SpawningUnfished: 0, F40: record.Number{}}) {
		t.Errorf("fish that never spawn have the points %+v, want none", p)
	}
}

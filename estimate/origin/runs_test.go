package origin

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"earstone/statistics/stream"

	"pgregory.net/rapid"
)

// runs invents measurements of one material: offset of each run, and noise.
func runs(offsets []float64, measured int, noise float64, replicate int) (all []ReferenceAssay) {
	var s stream.Stream
	s.Reset(5, stream.Invention, replicate)
	for r, off := range offsets {
		for range measured {
			all = append(all, ReferenceAssay{Run: fmt.Sprintf("R%02d", r+1), Material: "chalk", Tracer: "d18O",
				Value: -2.2 + off + noise*s.Normal(), Expected: -2.2})
		}
	}
	return all
}

func TestOneBadRun(t *testing.T) {
	offsets := []float64{0.01, -0.02, 0, 0.35, 0.02, -0.01, 0.01}
	rows := JudgeRuns(runs(offsets, 4, 0.05, 1))
	for i, r := range rows {
		want := Within
		if i == 3 {
			want = OffsetOut
		}
		if r.Verdict != want {
			t.Errorf("run %s, offset %.3f within %.3f, SD %.3f within %.3f: %v, want %v", r.Run, r.Offset, r.OffsetLimit, r.SD, r.SDLimit, r.Verdict, want)
		}
	}
	if held := HoldOut(rows); len(held) != 1 || held[0] != (Held{"R04", "d18O"}) {
		t.Errorf("held out: %v, want R04 alone", held)
	}
}

func TestAScatteredRun(t *testing.T) {
	assays := runs(make([]float64, 6), 5, 0.05, 2)
	for i := range 5 { // run 1 scatters ten times as far around what is expected
		assays[i].Value = assays[i].Expected + []float64{-0.5, 0.5, -0.4, 0.4, 0.01}[i]
	}
	if v := JudgeRuns(assays)[0].Verdict; v != SpreadOut {
		t.Errorf("a run that scatters ten times as far: %v, want %v", v, SpreadOut)
	}
}

// In control, an offset is out once in 370 by the limits of a normal, and a spread once
// in 740: 4,000 runs, about 16 out by both, well under 40.
func TestRunsInControlStayIn(t *testing.T) {
	out := 0
	for replicate := range 400 {
		out += len(HoldOut(JudgeRuns(runs(make([]float64, 10), 4, 0.1, 10+replicate))))
	}
	if out > 40 {
		t.Errorf("%d of 4,000 runs in control are held out, want about 16", out)
	}
}

func TestRunsThatDifferAsTheyAlwaysDo(t *testing.T) {
	var s stream.Stream
	s.Reset(6, stream.Invention, 0)
	offsets := make([]float64, 20)
	for i := range offsets {
		offsets[i] = 0.1 * s.Normal()
	}
	if held := HoldOut(JudgeRuns(runs(offsets, 4, 0.02, 3))); len(held) > 1 {
		t.Errorf("%v are held out though all runs differ alike, want at most one", held)
	}
}

func TestTooLittleToJudgeRunsBy(t *testing.T) {
	for name, assays := range map[string][]ReferenceAssay{
		"one measurement":   runs([]float64{0.5}, 1, 0.1, 4),
		"one in each run":   runs([]float64{0.5, 0.1}, 1, 0.1, 4),
		"no scatter at all": {{"R01", "chalk", "d18O", 1, 1}, {"R01", "chalk", "d18O", 1, 1}},
	} {
		for _, r := range JudgeRuns(assays) {
			if r.Verdict != NotJudged || math.IsNaN(r.Offset) || math.IsNaN(r.SD) {
				t.Errorf("%s: %+v, want not judged and no NaN", name, r)
			}
		}
	}
	if rows := JudgeRuns(nil); rows != nil {
		t.Errorf("no measurements give %v, want nothing", rows)
	}
	// By hand: 1, 2, 3 over an expected 0 have offset 2 and SD 1; t on 2 degrees at Φ(3) is
	// 19.2069 (recomputed: its closed form, (2p − 1)√(2/(1 − (2p − 1)²))), and 19.2069/√3 = 11.0891.
	one := JudgeRuns([]ReferenceAssay{{"R", "m", "x", 1, 0}, {"R", "m", "x", 2, 0}, {"R", "m", "x", 3, 0}})[0]
	if one.Verdict != Within || one.Offset != 2 || one.SD != 1 || math.Abs(one.OffsetLimit-11.0891) > 1e-3 {
		t.Errorf("a lone run: %+v, want offset 2, SD 1, limit 11.0891", one)
	}
}

func TestDrift(t *testing.T) {
	offsets := make([]float64, 12)
	for i := range offsets {
		offsets[i] = 0.02 * float64(i)
	}
	d := Drifts(runs(offsets, 4, 0.03, 5))
	if len(d) != 1 || math.Abs(d[0].Slope-0.02) > 0.004 || d[0].P > 1e-4 || d[0].Runs != 12 {
		t.Errorf("a drift of 0.02 a run is seen as %+v", d)
	}
	if d := Drifts(runs(make([]float64, 2), 4, 0.03, 6)); d != nil {
		t.Errorf("two runs have a drift %v, want none", d)
	}
	flat := 0
	for replicate := range 200 {
		if Drifts(runs(make([]float64, 8), 3, 0.03, 100+replicate))[0].P < 0.05 {
			flat++
		}
	}
	if flat < 2 || flat > 22 { // 10 expected, SD 3.1
		t.Errorf("%d of 200 series without drift have p under 0.05, want about 10", flat)
	}
}

func TestRunsForgetUnitsAndShifts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		offsets := rapid.SliceOfN(rapid.Float64Range(-0.3, 0.3), 1, 8).Draw(t, "offsets")
		assays := runs(offsets, rapid.IntRange(1, 5).Draw(t, "measured"), 0.1, rapid.IntRange(0, 1<<20).Draw(t, "replicate"))
		other := slices.Clone(assays)
		for i := range other {
			other[i].Value, other[i].Expected = 1000*(other[i].Value+7), 1000*(other[i].Expected+7)
		}
		a, b := JudgeRuns(assays), JudgeRuns(other)
		for i := range a {
			if a[i].Verdict != b[i].Verdict || math.Abs(1000*a[i].Offset-b[i].Offset) > 1e-6 {
				t.Errorf("in other units run %d is %+v, want %+v", i, b[i], a[i])
			}
		}
	})
}

func ExampleJudgeRuns() {
	rows := JudgeRuns([]ReferenceAssay{
		{"March", "chalk", "d18O", -2.1, -2.2}, {"March", "chalk", "d18O", -2.3, -2.2}, {"March", "chalk", "d18O", -2.2, -2.2},
		{"April", "chalk", "d18O", -0.2, -2.2}, {"April", "chalk", "d18O", -0.4, -2.2}, {"April", "chalk", "d18O", -0.3, -2.2},
	})
	for _, r := range rows {
		fmt.Printf("%s: offset %.1f, SD %.1f, %v\n", r.Run, r.Offset, r.SD, r.Verdict)
	}
	// Output:
	// March: offset 0.0, SD 0.1, within
	// April: offset 1.9, SD 0.1, offset out
}

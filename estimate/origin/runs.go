package origin

import (
	"math"
	"slices"

	"earstone/statistics/dist"
	"earstone/statistics/interval"
)

// ReferenceAssay is a reference material measured in an assay run, in the unit in which
// its value is expected.
type ReferenceAssay struct {
	Run, Material, Tracer string
	Value, Expected       float64
}

// Verdict is what an assay run's reference material says of it.
type Verdict uint8

// The verdicts. The zero Verdict is that there is too little to judge by.
const (
	NotJudged Verdict = iota
	Within            // offset and scatter lie within the limits
	OffsetOut         // the offset from the expected value is too large
	SpreadOut         // the measurements scatter too far
)

var verdicts = [...]string{"not judged", "within", "offset out", "spread out"}

// String is the verdict in words.
func (v Verdict) String() string {
	if int(v) < len(verdicts) {
		return verdicts[v]
	}
	return "unknown verdict"
}

// AssayRun is one reference material and tracer in one run.
type AssayRun struct {
	Run, Material, Tracer string
	Measured              int
	Offset                float64 // mean of value − expected
	SD                    float64 // of value − expected; 0 where fewer than two were measured
	OffsetLimit           float64 // the offset is within ± this; 0: not judged
	SDLimit               float64 // 0: not judged
	Verdict               Verdict
}

// Held is a run whose values of a tracer are held out until a person decides.
type Held struct{ Run, Tracer string }

// Drift is the trend of the offset of a material over runs, in order.
type Drift struct {
	Material, Tracer string
	Runs             int
	Slope, SE        float64 // units a run, weighted by measurements
	P                float64 // of no trend, two-sided, t on runs − 2
}

// JudgeRuns judges assay runs by their reference materials. Runs are in the order in
// which they first appear; rows come by tracer, material and run, tracers and materials in
// the order of their first appearance.
//
// With s² the variance within runs of the same material and tracer, pooled over the other
// runs on ν degrees of freedom (its own where there is no other), a run of n measurements
// is out where |offset| exceeds the larger of t·s/√n, t the quantile of Student's t on ν
// at Φ(3), and 3 × 1.4826 times the median |offset| of the other runs where there are five
// or more, since a laboratory's runs differ by more than its measurements do; and where
// SD² exceeds s² F, F the quantile on (n − 1, ν) at Φ(3). The verdict of a run never rests
// on itself, so that one bad run can't widen its own limits.
//
// The control limits are those of Shewhart (1931) (common practice); methods, section 8.
func JudgeRuns(assays []ReferenceAssay) []AssayRun {
	var rows []AssayRun
	for _, series := range seriesOf(assays) {
		for i := range series {
			series[i].AssayRun.judge(series, i)
		}
		for _, r := range series {
			rows = append(rows, r.AssayRun)
		}
	}
	return rows
}

// series is the runs of one material and tracer.
type series []summary

type summary struct {
	AssayRun
	order   int // of the run among all
	squares float64
}

// seriesOf gathers measurements by tracer, material and run, each in the order of first
// appearance.
func seriesOf(assays []ReferenceAssay) []series {
	type pair struct{ tracer, material string }
	type cell struct {
		pair
		run string
	}
	runs, tracers := map[string]int{}, map[string]int{}
	at := map[cell]int{}
	var cells []cell
	var offsets [][]float64
	for _, a := range assays {
		number(runs, a.Run)
		number(tracers, a.Tracer)
		c := cell{pair{a.Tracer, a.Material}, a.Run}
		i, known := at[c]
		if !known {
			i = len(cells)
			at[c] = i
			cells, offsets = append(cells, c), append(offsets, nil)
		}
		offsets[i] = append(offsets[i], a.Value-a.Expected)
	}
	of := map[pair]int{}
	var all []series
	for i, c := range cells {
		if number(of, c.pair) == len(all) {
			all = append(all, nil)
		}
		all[of[c.pair]] = append(all[of[c.pair]], summarise(c.run, c.material, c.tracer, runs[c.run], offsets[i]))
	}
	for _, s := range all {
		slices.SortFunc(s, func(a, b summary) int { return a.order - b.order })
	}
	slices.SortStableFunc(all, func(a, b series) int { return tracers[a[0].Tracer] - tracers[b[0].Tracer] })
	return all
}

// number gives a new key the next number, and returns that of the key.
func number[K comparable](numbers map[K]int, key K) int {
	n, known := numbers[key]
	if !known {
		n = len(numbers)
		numbers[key] = n
	}
	return n
}

func summarise(run, material, tracer string, order int, off []float64) summary {
	r := summary{AssayRun: AssayRun{Run: run, Material: material, Tracer: tracer, Measured: len(off), Offset: off[0]}, order: order}
	if len(off) > 1 {
		r.Offset, r.SD = interval.MeanSD(off)
		r.squares = float64(len(off)-1) * r.SD * r.SD
	}
	return r
}

// judge holds run i of a series against the others.
func (r *AssayRun) judge(s series, i int) {
	squares, free := 0.0, 0
	var offsets []float64
	for j, other := range s {
		if j != i {
			squares += other.squares
			free += other.Measured - 1
			offsets = append(offsets, math.Abs(other.Offset))
		}
	}
	alone := free == 0
	if alone {
		squares, free = s[i].squares, r.Measured-1
	}
	if free == 0 || squares == 0 {
		return
	}
	const three = 0.99865010196837 // Φ(3)
	variance, n := squares/float64(free), float64(r.Measured)
	r.OffsetLimit = dist.TQuantile(three, float64(free)) * math.Sqrt(variance/n)
	if len(offsets) >= 5 {
		slices.Sort(offsets)
		r.OffsetLimit = math.Max(r.OffsetLimit, 3*1.4826*median(offsets))
	}
	r.Verdict = Within
	if r.Measured > 1 && !alone {
		r.SDLimit = math.Sqrt(variance * dist.FQuantile(three, n-1, float64(free)))
		if r.SD > r.SDLimit {
			r.Verdict = SpreadOut
		}
	}
	if math.Abs(r.Offset) > r.OffsetLimit {
		r.Verdict = OffsetOut
	}
}

// HoldOut lists the runs and tracers of which some material is out, in the order of rows.
func HoldOut(rows []AssayRun) (held []Held) {
	for _, r := range rows {
		h := Held{r.Run, r.Tracer}
		if r.Verdict > Within && !slices.Contains(held, h) {
			held = append(held, h)
		}
	}
	return held
}

// Drifts are the trends of the offsets of each material and tracer over runs, where there
// are at least three and not all lie on one line.
func Drifts(assays []ReferenceAssay) (drifts []Drift) {
	for _, s := range seriesOf(assays) {
		if len(s) < 3 {
			continue
		}
		weight, x, y := 0.0, 0.0, 0.0
		for _, r := range s {
			w := float64(r.Measured)
			weight, x, y = weight+w, x+w*float64(r.order), y+w*r.Offset
		}
		x, y = x/weight, y/weight
		xx, xy := 0.0, 0.0
		for _, r := range s {
			w, e := float64(r.Measured), float64(r.order)-x
			xx, xy = xx+w*e*e, xy+w*e*(r.Offset-y)
		}
		slope, rest := xy/xx, 0.0
		for _, r := range s {
			e := r.Offset - y - slope*(float64(r.order)-x)
			rest += float64(r.Measured) * e * e
		}
		free := float64(len(s) - 2)
		d := Drift{Material: s[0].Material, Tracer: s[0].Tracer, Runs: len(s), Slope: slope, SE: math.Sqrt(rest / free / xx)}
		if !(d.SE > 0) {
			continue
		}
		d.P = 2 * dist.TUpper(math.Abs(d.Slope/d.SE), free)
		drifts = append(drifts, d)
	}
	return drifts
}

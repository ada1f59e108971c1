package fishery

import (
	"math"

	"earstone/programme/date"
	"earstone/programme/record"
	"earstone/statistics/stream"
)

// sample is the core of a stone that goes into an assay run.
type sample struct {
	fish record.FishID
	side record.Side
	core [Tracers]float64 // what is in it, ‰
}

// writeAssays writes the fish of known nursery, and the assays of their stones and of
// the other stones of the assayed fish. Fish of the catch and of the baseline share the
// runs, mixed at random, so that no run's offset passes for a nursery.
func (f *Fishery) writeAssays(book *record.Book, e *Season, b int) {
	samples := make([]sample, 0, len(e.assayed)+f.settings.baselineFish())
	samples = f.takeOther(book, e, b, samples)
	samples = f.writeBaseline(book, b, samples)
	if len(samples) == 0 {
		return
	}
	draw := f.stream(b, forRun, 0)
	draw.Shuffle(len(samples), func(i, j int) { samples[i], samples[j] = samples[j], samples[i] })
	runs := (len(samples) + f.settings.RunSize - 1) / f.settings.RunSize
	drifting := make([]int, runs) // below DriftingRuns: drifts
	for i := range drifting {
		drifting[i] = i
	}
	draw.Shuffle(runs, func(i, j int) { drifting[i], drifting[j] = drifting[j], drifting[i] })
	book.Assays = make([]record.Assay, 0, Tracers*len(samples))
	for i, code := range codes("A", 3, runs) {
		r := f.startRun(&draw, code, drifting[i] < f.settings.DriftingRuns)
		r.assay(book, &draw, samples[i*f.settings.RunSize:min((i+1)*f.settings.RunSize, len(samples))])
	}
}

// takeOther takes the stones of the assayed fish that were not cut for age.
func (f *Fishery) takeOther(book *record.Book, e *Season, b int, to []sample) []sample {
	draw, chips := f.stream(b, forTracer, 0), f.stream(b, forStone, 2)
	for _, i := range e.assayed {
		x, one := &e.picked[i], book.Stones[i]
		k := int(e.nursery[i])
		n := &f.settings.Nurseries[k]
		other := record.Stone{Fish: one.Fish, Side: record.Left, Membrane: "off", Purpose: "chemistry", Row: len(book.Stones) + 2}
		if one.Side == record.Left {
			other.Side = record.Right
		}
		like := f.mass(float64(x.cm), x.age) // of no use beside the mass of the first stone, when that is told
		if one.MassMg.Known {
			like = one.MassMg.X
		}
		f.weigh(&other, &chips, like*math.Exp(0.02*chips.Normal()))
		book.Stones = append(book.Stones, other)
		mean := f.origins.mean[k*f.origins.cohorts+f.cohort(x)]
		to = append(to, sample{other.Fish, other.Side, n.around(&draw, mean, n.SD)})
	}
	return to
}

// unseen is how many year classes the baseline of a nursery lacks, one at least being
// there.
func (s *Settings) unseen() int {
	n := s.cohorts()
	return min(int(s.UnseenYears*float64(n)+0.5), n-1)
}

// baselineFish is how many fish of known nursery there are.
func (s *Settings) baselineFish() int {
	n := 0
	for _, k := range s.Nurseries {
		n += k.Baseline * (s.cohorts() - s.unseen())
	}
	return n
}

// writeBaseline writes the fish of known nursery: yearlings of no trip and no bank,
// neither measured nor read. Which year classes are lacking differs among nurseries.
func (f *Fishery) writeBaseline(book *record.Book, b int, to []sample) []sample {
	s, draw := &f.settings, f.stream(b, forBaseline, 0)
	n := s.baselineFish()
	if n == 0 {
		return to
	}
	names := codes("N", 5, n)
	book.Baseline = make([]record.Baseline, 0, n)
	seen := make([]bool, s.cohorts())
	for k := range s.Nurseries {
		nursery := &s.Nurseries[k]
		chooseSeen(&draw, seen, s.unseen())
		for c, there := range seen {
			for range nursery.Baseline {
				if !there {
					break
				}
				id := record.FishID(names[len(book.Baseline)])
				core := nursery.around(&draw, f.origins.mean[k*f.origins.cohorts+c], nursery.SD)
				to = append(to, f.yearling(book, &draw, id, s.yearClass(c), core))
				book.Baseline = append(book.Baseline, record.Baseline{
					Fish: id, Nursery: nursery.Name, YearClass: s.yearClass(c), Row: len(book.Baseline) + 2})
			}
		}
	}
	return to
}

// chooseSeen marks all but so many year classes as seen.
func chooseSeen(draw *stream.Stream, seen []bool, lacking int) {
	for c := range seen {
		seen[c] = draw.IntN(len(seen)-c) >= lacking
		if !seen[c] {
			lacking--
		}
	}
}

// yearling writes the card and the stone of a fish that was caught in its nursery in
// its second summer.
func (f *Fishery) yearling(book *record.Book, draw *stream.Stream, id record.FishID, yearClass int, core [Tracers]float64) sample {
	caught := f.settings.Calendar.BirthDay.In(yearClass).Serial() + 320 + draw.IntN(90)
	side := record.Left + record.Side(draw.IntN(2))
	book.Fish = append(book.Fish, record.Fish{
		Fish: id, Species: species, CaughtOn: date.FromSerial(caught), ReceivedOn: date.FromSerial(caught + 5 + draw.IntN(60)),
		Remark: "baseline: a yearling of known nursery", Row: len(book.Fish) + 2,
	})
	book.Stones = append(book.Stones, record.Stone{
		Fish: id, Side: side, Condition: "whole", Membrane: "off", Purpose: "chemistry", Row: len(book.Stones) + 2})
	return sample{id, side, core}
}

// materials are the reference materials of the invented laboratory, with what they hold.
var materials = []struct {
	name     string
	expected [Tracers]float64
}{
	{"carbonate 1", [Tracers]float64{-5.2, -1.6}},
	{"carbonate 2", [Tracers]float64{-11.4, 0.7}},
}

// run is an assay run: it reads too high by an offset and by a drift that grows from 0
// at its start.
type run struct {
	code   string
	offset [Tracers]float64
	drift  float64 // at the end
	sd     [Tracers]float64
}

func (f *Fishery) startRun(draw *stream.Stream, code string, drifts bool) run {
	r := run{code: code, sd: f.settings.AssaySD}
	for j := range r.offset {
		r.offset[j] = f.settings.RunSD * draw.Normal()
	}
	if drifts {
		r.drift = f.settings.RunDrift
	}
	return r
}

// read is what the run makes of a core at a time from 0 to 1; to a hundredth of a ‰.
func (r *run) read(draw *stream.Stream, x float64, tracer int, time float64) record.Number {
	x += r.offset[tracer] + r.drift*time + r.sd[tracer]*draw.Normal()
	return record.Some(math.Round(100*x) / 100)
}

// assay writes a run: its samples, and the reference materials at its start, in its
// middle and at its end.
func (r *run) assay(book *record.Book, draw *stream.Stream, samples []sample) {
	for i, of := range samples {
		for j, t := range tracers {
			book.Assays = append(book.Assays, record.Assay{
				Fish: of.fish, Side: of.side, Tracer: t.name, Unit: t.unit, Scale: t.scale, SD: record.Some(r.sd[j]), Run: r.code, Region: "core",
				Value: r.read(draw, of.core[j], j, (float64(i)+0.5)/float64(len(samples))), Row: len(book.Assays) + 2,
			})
		}
	}
	for _, time := range []float64{0, 0.5, 1} {
		for _, m := range materials {
			for j, t := range tracers {
				book.Standards = append(book.Standards, record.ReferenceAssay{
					Run: r.code, Material: m.name, Tracer: t.name, Unit: t.unit, Expected: record.Some(m.expected[j]),
					Value: r.read(draw, m.expected[j], j, time), Row: len(book.Standards) + 2,
				})
			}
		}
	}
}

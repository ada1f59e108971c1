package fishery

import (
	"math"
	"testing"

	"earstone/programme/date"
	"earstone/programme/record"
	"earstone/reading/age"
	"earstone/statistics/dist"
)

// classes gives each reading of a season its age class by methods, section 2, beside the
// true one.
func classes(t *testing.T, e *Season, each func(reader, true, read int)) {
	t.Helper()
	caught, ages, truth := map[record.FishID]date.Day{}, map[record.FishID]int{}, e.TrueAges()
	for i, fish := range e.book.Fish[:len(truth)] {
		caught[fish.Fish], ages[fish.Fish] = fish.CaughtOn, truth[i]
	}
	place := map[record.ReaderID]int{}
	for r, id := range e.book.Settings.Readers {
		place[id] = r
	}
	c := e.book.Settings.Calendars[species]
	for _, r := range e.book.Readings {
		a, trouble := age.Of(c, age.January, caught[r.Fish], r.Annuli, r.Edge)
		if trouble != age.None {
			t.Fatalf("reading %s of %d annuli on %s: %v", r.Reading, r.Annuli, caught[r.Fish], trouble)
		}
		each(place[r.Reader], ages[r.Fish], int(a.Class))
	}
}

// The counts of each reader are those of the normal of methods, section 4, cut into
// whole ages, with the CV and bias of the settings: χ² over all true ages and counts.
func TestReadersErrAsSet(t *testing.T) {
	s := sized(t, "season")
	s.Aged, s.Readings = 20_000, 60_000
	s.Readers[1] = Reader{ID: "R2", YoungestSD: 0.1, OldestSD: 1.2} // a line in place of a CV
	const most = 32
	n := make([][most][most]float64, len(s.Readers))
	for b := range 3 {
		classes(t, New(s, 51).Season(b), func(r, true, read int) { n[r][true][read]++ })
	}
	for r, reader := range s.Readers {
		x2, df := 0.0, 0.0
		for a := 1; a <= s.OldestAge; a++ {
			total := 0.0
			for _, k := range n[r][a] {
				total += k
			}
			mean := float64(a) * (1 + reader.Bias)
			sd := reader.CV * float64(a)
			if reader.OldestSD > 0 {
				sd = 0.1 + 1.1*float64(a-1)/15
			}
			rest, restGot := total, total
			for count := 2; count < most; count++ {
				p := dist.NormalCDF((float64(count)+0.5-mean)/sd) - dist.NormalCDF((float64(count)-0.5-mean)/sd)
				if want := total * p; want >= 5 {
					got := n[r][a][count]
					x2 += (got - want) * (got - want) / want
					df++
					rest -= want
					restGot -= got
				}
			}
			if rest >= 5 {
				x2 += (restGot - rest) * (restGot - rest) / rest
			} else {
				df--
			}
		}
		// The normal approximation of χ² is enough: 4 SE.
		if x2 > df+4*math.Sqrt(2*df) || df < 20 {
			t.Errorf("counts of reader %s against the error set: χ² = %.1f on %.0f df", reader.ID, x2, df)
		}
	}
}

// A reader without error hands in the truth, whatever the day: the calendar and the
// edges cost nothing.
func TestAccurateReadersHandInTheTruth(t *testing.T) {
	s := sized(t, "season")
	s.Readers = []Reader{{ID: "R1"}, {ID: "R2"}}
	s.Readings = 2 * s.Aged
	s.EdgeNoise = 0.3
	wrong, all := 0, 0
	classes(t, Invent(s, 52), func(_, true, read int) {
		all++
		if true != read {
			wrong++
		}
	})
	if wrong > 0 || all != s.Readings {
		t.Errorf("%d of %d readings by accurate readers are wrong, want 0 of %d", wrong, all, s.Readings)
	}
}

// Edges outside the windows are noisy as set, and never inside.
func TestEdgesAreNoisyOutsideTheWindowsOnly(t *testing.T) {
	s := sized(t, "season")
	s.Readers = []Reader{{ID: "R1"}, {ID: "R2"}}
	s.Readings = 2 * s.Aged
	s.EdgeNoise = 0.2
	e := Invent(s, 53)
	inside, outside, unlike := 0, 0, 0
	for i := range e.picked {
		first, second := e.book.Readings[2*i].Edge, e.book.Readings[2*i+1].Edge
		if e.fishery.edgeMatters(&e.picked[i]) {
			inside++
			if first != second {
				t.Errorf("two accurate readers see a %s and a %s edge on %s", first, second, e.book.Fish[i].CaughtOn)
			}
			continue
		}
		outside++
		if first != second {
			unlike++
		}
	}
	// One of two off: 2·0.2·0.8; both off and differing: at a partial edge only, half of
	// 0.2². Between 0.32 and 0.34 of some 4,000 fish, SE 0.0075.
	got := float64(unlike) / float64(outside)
	if got < 0.29 || got > 0.37 || inside < 500 {
		t.Errorf("edges of two readers differ for %.3f of %d fish outside the windows (%d inside), want 0.32 to 0.34", got, outside, inside)
	}
}

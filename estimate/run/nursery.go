package run

import (
	"earstone/estimate/origin"
	"earstone/estimate/resample"
	"earstone/estimate/tally"
	"earstone/statistics/stream"
)

// besideOrigin redraws the baseline and composes the catch again in every replicate.
type besideOrigin struct {
	found  *OriginFound
	stands *stands
	lone   []bool // trips that are alone in their group
}

// loneTrips are the trips that no draw moves, having no other to be drawn with.
func loneTrips(counts *tally.Counts) []bool {
	lone := make([]bool, len(counts.Trips))
	for _, group := range counts.Design.Groups() {
		if len(group) == 1 {
			lone[group[0]] = true
		}
	}
	return lone
}

// Size is the row of the composer, and whether the baseline gave no density and whether
// an iteration did not settle.
func (b *besideOrigin) Size() int { return b.found.Groups.NewComposer().Size() + told }

const told = 2

// Worker composes for one goroutine.
func (b *besideOrigin) Worker() resample.BesideWorker {
	return &originWorker{b, b.found.Groups.NewComposer(), make([]float64, len(b.stands.trip)), make([]float64, len(b.lone))}
}

type originWorker struct {
	*besideOrigin
	composer *origin.Composer
	times    []float64 // by mixed fish
	own      []float64 // of lone trips
}

// Evaluate composes the catch under a draw. A fish comes as often as its trip; the catch
// that it stands for stays, for a bin of one assayed fish would otherwise never vary. A
// trip that is alone in its stratum is as good as redrawn among trips like it: it comes
// as often as an exponential draw says, which has the variance 1 of a drawn trip.
func (w *originWorker) Evaluate(dst []float64, drawn *resample.Drawing) {
	loose := drawn.Stream(stream.Stones, partOrigin)
	for t, lone := range w.lone {
		w.own[t] = drawn.Trips[t]
		if lone && loose != nil {
			w.own[t] = loose.Exponential()
		}
	}
	for i, trip := range w.stands.trip {
		switch {
		case trip >= 0:
			w.times[i] = w.own[trip]
		case loose != nil:
			w.times[i] = loose.Exponential()
		default:
			w.times[i] = 1
		}
	}
	w.composer.Redraw(drawn.Stream(stream.Baseline, 0))
	last := len(dst) - told
	said := w.composer.Compose(dst[:last], w.times, drawn.Stream(stream.Baseline, partPooling))
	dst[last], dst[last+1] = flag(said.Unfit), flag(said.Unsettled)
}

// partPooling is a part of the stream baseline beside those that redraw it (0) and that
// simulate (1).
const partPooling = 2

func flag(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

package run

import (
	"earstone/estimate/origin"
	"earstone/estimate/resample"
	"earstone/statistics/stream"
)

// besideOrigin redraws the baseline and composes the catch again in every replicate.
type besideOrigin struct {
	found  *OriginFound
	stands *stands
}

// Size is the row of the composer, and whether the baseline gave no density and whether
// an iteration did not settle.
func (b *besideOrigin) Size() int { return b.found.Groups.NewComposer().Size() + told }

const told = 2

// Worker composes for one goroutine.
func (b *besideOrigin) Worker() resample.BesideWorker {
	return &originWorker{b, b.found.Groups.NewComposer(), b.stands.worker(), make([]float64, len(b.stands.trip))}
}

type originWorker struct {
	*besideOrigin
	composer *origin.Composer
	standing standing
	times    []float64 // by assayed fish
}

// Evaluate composes the catch under a draw. A fish comes as often as its trip and stands
// for the catch of its bin among those drawn, as it does in the estimate.
func (w *originWorker) Evaluate(dst []float64, drawn *resample.Drawing) {
	w.standing.times(w.times, drawn)
	w.standing.share(w.times, drawn.Fish)
	for i := range w.times {
		if f := &w.found.Fish[i]; f.Weight > 0 {
			w.times[i] /= f.Weight // the composer has it again
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

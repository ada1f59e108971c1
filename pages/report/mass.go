package report

import (
	"errors"

	"earstone/estimate/key"
	"earstone/pages/words"
)

// massSays tells whether stone mass says more of age than length does; empty where no
// stone of an aged fish was weighed.
func (k *told) massSays() string {
	w := k.s.Weighed
	switch {
	case k.s.NoWeighed != nil && !errors.Is(k.s.NoWeighed, key.ErrFewWeighed):
		return say("forms.mass.none", "why", k.s.NoWeighed.Error())
	case w == nil:
		return ""
	}
	fish := counted("fish", int(w.Scored.Fish+0.5))
	if !w.Scored.Wins() {
		return say("forms.mass.loses", "fish", fish)
	}
	says := say("forms.mass.wins", "fish", fish, "better", words.Figure(w.Scored.With-w.Scored.Alone, 3), "se", words.Figure(w.Scored.BetterSE, 3))
	if len(w.Fish) > 0 {
		says = join(says, say("forms.mass.fish", "fish", counted("fishWere", len(w.Fish))))
	}
	return says
}

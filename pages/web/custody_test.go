package web

import (
	"context"
	"testing"

	"earstone/store/history"
)

// TestStepsOfAStoneSayTheirDayAlike: whichever page writes a step, its day is "on", so
// that the way of a stone can be read as one list.
func TestStepsOfAStoneSayTheirDayAlike(t *testing.T) {
	p := serving(t, "mara")
	v := p.visitor(t)
	if status, body, _ := v.send("/intake", card(codeOf(7))); status >= 400 {
		t.Fatalf("a card is answered with %d: %s", status, problems(body))
	}
	steps := 0
	err := p.store.Each(context.Background(), history.Custody, func(r *history.Record) error {
		steps++
		for _, name := range []string{"fish", "side", "step", "on"} {
			if r.Fields()[name] == "" {
				t.Errorf("the step %v does not say its %s", r.Fields(), name)
			}
		}
		return nil
	})
	if err != nil || steps != 2 {
		t.Errorf("a card with two stones left %d steps (%v), want that both were received", steps, err)
	}
}

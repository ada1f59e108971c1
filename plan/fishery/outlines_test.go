package fishery

import (
	"testing"

	"earstone/programme/outline"
)

func TestBanksHaveOutlines(t *testing.T) {
	seen := map[string]bool{}
	for i := range 12 {
		text := outlineOf(i, 12)
		if rings, err := outline.Read(text); err != nil || len(rings) != 1 || len(rings[0]) < 12 {
			t.Errorf("bank %d has the outline %s (%v), want one ring of six corners or more", i, text, err)
		}
		if seen[text] {
			t.Errorf("bank %d has the outline of another", i)
		}
		seen[text] = true
	}
}

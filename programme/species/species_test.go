package species

import (
	"strings"
	"testing"

	"earstone/programme/measure"
	"earstone/programme/record"
)

func TestEveryFactHasItsSourceAndWasRead(t *testing.T) {
	for i, line := range strings.Split(strings.TrimSpace(table), "\n")[1:] {
		if !strings.Contains(line, ",read,") {
			t.Errorf("row %d is no fact that was read in its source: %s", i+2, line)
		}
	}
	for _, code := range Codes() {
		facts, ok := Of(code)
		if !ok || facts.ScientificName == "" || facts.EnglishName == "" {
			t.Errorf("species %s has no names: %+v", code, facts)
		}
		for _, c := range facts.Conversions {
			if _, err := measure.NewEquation(c); err != nil || c.Source == "" {
				t.Errorf("an equation of %s can't be used: %v (source %q)", code, err, c.Source)
			}
		}
	}
}

func TestBluefinFacts(t *testing.T) {
	// Source: Cort et al. (2013), abstract, printed: 319.93 cm; credible K between 1.4 and 2.6.
	facts, ok := Of("BFT")
	if !ok || len(facts.MaximumLength) != 1 || facts.MaximumLength[0].X != 319.93 {
		t.Errorf("maximum length = %+v, want 319.93 cm", facts.MaximumLength)
	}
	if len(facts.Condition) != 1 || facts.Condition[0].Low != 1.4 || facts.Condition[0].High != 2.6 {
		t.Errorf("credible condition = %+v, want 1.4 to 2.6", facts.Condition)
	}
	// Cort et al. (2015) print three weight equations: a programme has to choose.
	c := measure.NewConverter(nil, Conversions([]record.Species{"BFT"}))
	if n := len(c.Ambiguous("BFT", "straight_fork", "round")); n != 3 {
		t.Errorf("%d weight equations of bluefin stand side by side, want 3", n)
	}
	if _, ok := Of("XXX"); ok || len(Codes()) != 9 {
		t.Errorf("species %v are known, want 9 without XXX", Codes())
	}
}

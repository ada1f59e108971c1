package report

import (
	"errors"
	"fmt"
	"strings"

	"earstone/estimate/key"
	"earstone/estimate/run"
	"earstone/pages/words"
)

// told is one species on its way to the page.
type told struct {
	*teller
	s    *run.Species
	name string // of its parts of the page: species-1
}

func (t *teller) chapter(i int, s *run.Species) chapter {
	k := &told{t, s, fmt.Sprintf("species-%d", i+1)}
	c := chapter{ID: k.name, Heading: string(s.Species), Intro: k.intro()}
	parts := []section{
		k.answer(), k.notices(), k.places(), k.changes(), k.growth(), k.mortality(), k.origin(), k.nurseries(), k.budgetSection(), k.consequences(), k.keySection(), k.lengths(), k.formsSection(), k.spreadSection(),
		k.readers(), k.ageingError(), k.edges(), k.drift(), k.cohorts(), k.strata(),
	}
	for _, part := range parts {
		if part.Heading != "" {
			c.Sections = append(c.Sections, part)
		}
	}
	return c
}

// section opens a section of the species.
func (k *told) section(id, heading string) section {
	return section{ID: k.name + "-" + id, Heading: heading}
}

// intro says what was sampled.
func (k *told) intro() string {
	c := k.s.Counts
	if c == nil || len(c.Trips)+len(c.Cells)+c.Aged == 0 && c.Measured == 0 {
		return "Of this species nothing was caught, measured or aged in these records."
	}
	fish := int(c.Measured + 0.5)
	return fmt.Sprintf("%s, %s and %s stand behind these numbers; the catch is told in %s.",
		plural(len(c.Trips), "sampled trip", "sampled trips"),
		plural(fish, "measured fish", "measured fish"), plural(c.Aged, "aged fish", "aged fish"),
		plural(len(c.Cells), "stratum", "strata"))
}

// missing says why there is no catch at age.
func (k *told) missing() string {
	var why []string
	c := k.s.Counts
	if c == nil || len(c.Cells) == 0 {
		why = append(why, fmt.Sprintf("catch.csv tells no catch of it. Add a row for each %s, with the number of fish or their weight.",
			orElse(list(k.o.Settings.Strata), "stratum")))
	}
	if c == nil || c.Measured == 0 {
		why = append(why, "No fish of it was measured on a sampled trip. Add the length counts of at least one trip to lengths.csv.")
	}
	if k.s.Key == nil {
		why = append(why, k.withoutKey())
	}
	if len(why) == 0 {
		why = append(why, "It was not asked for, or no trip with lengths belongs to a stratum with a catch.")
	}
	return fmt.Sprintf("There is no catch at age of %s. %s", k.s.Species, strings.Join(why, " "))
}

func orElse(text, other string) string {
	if text == "" {
		return other
	}
	return text
}

// withoutKey says why no key could be made.
func (k *told) withoutKey() string {
	aged := 0
	if k.s.Counts != nil {
		aged = k.s.Counts.Aged
	}
	fish := plural(len(k.s.Ages), "fish", "fish")
	switch {
	case aged > 0 && k.s.NoKey != nil:
		return sentence("No key could be made: " + reason(k.s.NoKey))
	case len(k.s.Ages) == 0:
		return "fish.csv holds no fish of it. Add the fish whose stones were read, with date and length."
	case aged > 0:
		return "The key was not asked for."
	}
	return fmt.Sprintf("Of %s none has both an age and a length; ages.csv says of each what is missing.", fish)
}

// reason is why there is no key.
func reason(err error) string {
	var trouble *key.Trouble
	if errors.As(err, &trouble) {
		return trouble.Reason.String()
	}
	return err.Error()
}

// count writes a number of fish that need not be whole.
func count(fish float64) string { return words.Figure(fish, 0) }

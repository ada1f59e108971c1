package report

import (
	"fmt"
	"strings"

	"earstone/estimate/run"
	"earstone/pages/words"
	"earstone/programme/record"
)

// settings are all that was declared, in full.
func (t *teller) settings() *table {
	s := &t.o.Settings
	of := &table{Summary: "All settings of the programme and of the run", Caption: "What was declared, and what was taken where nothing was.", Head: append(text("Setting"), sentences("Value")...), Paper: true}
	add := func(name, value string) { of.Rows = append(of.Rows, []string{name, orElse(value, "none")}) }
	var species []string
	for _, code := range s.Species {
		species = append(species, string(code))
	}
	add("Species", list(species))
	add("Age convention", s.AgeConvention)
	for _, code := range s.Species {
		if c, ok := s.Calendars[code]; ok {
			add("Calendar of "+string(code), calendar(c))
		}
	}
	add("Length bins", bins(s.LengthBin))
	add("Strata", list(s.Strata))
	add("Ladder of lengths", ladder(s.Ladders.Lengths))
	add("Ladder of the key", ladder(s.Ladders.Key))
	add("Key", t.keySettings())
	if s.PlusGroup > 0 {
		add("Plus group", "age "+words.Count(s.PlusGroup)+" and older")
	} else {
		add("Plus group", "")
	}
	add("Agreed age", agreed(s.AgreedAge))
	var readers []string
	for _, r := range t.o.Readers {
		readers = append(readers, string(r))
	}
	add("Readers", list(readers))
	add("Drawn again within trips", yes(s.Resample.Fish))
	var parts []string
	for _, p := range t.o.Options.Only {
		parts = append(parts, string(p))
	}
	add("Parts of the job", orElse(list(parts), "all"))
	add("Replicates, seed, level", fmt.Sprintf("%s, %d, %s", words.Count(t.o.Options.Replicates), t.o.Options.Seed, level(t.o.Options.Level)))
	return t.table(of)
}

func calendar(c record.Calendar) string {
	return fmt.Sprintf("born on %s; annulus on %s, ±%d days; first annulus at %s years", dayOf(c.BirthDay), dayOf(c.AnnulusDay), c.AnnulusWindowDays, words.Figure(c.FirstAnnulusAge, 2))
}

func bins(b record.LengthBin) string {
	if !(b.Width > 0) {
		return ""
	}
	return edge(b.Width) + " " + b.Unit + ", " + strings.ReplaceAll(b.Kind.String(), "_", " ") + " length"
}

func ladder(rungs [][]string) string {
	var said []string
	for _, rung := range rungs {
		said = append(said, orElse(list(rung), "all together"))
	}
	return strings.Join(said, " → ")
}

func (t *teller) keySettings() string {
	s := t.o.Settings.Key
	form := s.Form
	if s.AgeingError {
		form += ", of true ages"
	} else if form != "" {
		form += ", of agreed ages"
	}
	if asked := t.o.Options.Key; asked != "" {
		for _, known := range run.Forms() {
			if known == asked {
				form = formName(asked) + " (asked for in this run)"
			}
		}
	}
	edges := "bins beyond the aged lengths stay unaged"
	if s.EdgeBins {
		edges = "bins beyond the aged lengths take the edge bin's"
	}
	return fmt.Sprintf("%s; at least %s a cell; %s", orElse(form, "not declared"), plural(s.LeastFish, "fish", "fish"), edges)
}

func agreed(a record.AgreedAge) string {
	says := a.Rule
	if a.Expert != "" {
		says += " " + string(a.Expert)
	}
	switch a.Tie {
	case "reread":
		says += "; a tie is read again"
	case "lower_reader":
		says += "; a tie goes towards the reader listed first"
	}
	return says
}

func yes(is bool) string {
	if is {
		return "lengths too"
	}
	return "no: the trip as a whole"
}

package main

import (
	"path/filepath"

	"earstone/estimate/run"
	"earstone/pages/words"
	"earstone/programme/finding"
	"earstone/programme/record"
)

// trueCatch is the known catch of an invented fishery at an age.
func (r *results) trueCatch(of record.Species, year, age int) (fish float64, known bool) {
	ages := r.truth[of][year]
	if age >= len(ages) {
		return 0, false
	}
	return ages[age], true
}

// mostYears is how many years the headline shows; the report shows all.
const mostYears = 3

// tell prints the headline: the catch at age by year, what it rests on, where the rest is.
func (r *results) tell(to *output, out string) (status, error) {
	page := filepath.Join(out, "report.html")
	if to.json {
		return r.objects(to, page)
	}
	ended := done
	held, of := 0, 0
	for _, s := range r.outcome.Species {
		if s.Catch != nil {
			h, n := r.count(s)
			held, of = held+h, of+n
			r.tellYears(to, s)
			if !agedAny(s.Catch) {
				to.say("No fish of the catch has an age: no aged fish lies where a key of it could reach. Age some of the lengths that are caught, or lengthen the ladder of the key.")
				ended = found
			}
		}
		r.tellOrigins(to, s)
		r.tellGrowth(to, s)
		for _, sentence := range restsOn(r.outcome, s) {
			to.say("- %s", sentence)
		}
		if why := missing(r.outcome, s); why != nil {
			to.sentences(why)
			ended = found
		}
	}
	if of > 0 {
		to.say("\nOf %d intervals %d hold the known truth (%s %%); 95 %% is what they claim over many seasons.", of, held, words.Figure(100*float64(held)/float64(of), 0))
	}
	r.tellWarnings(to)
	to.say("\nThe report lies in %s, the tables beside it.", page)
	return ended, nil
}

// agedAny tells whether any fish of the catch has an age.
func agedAny(c *run.CatchFound) bool {
	for i := range c.Years {
		for _, e := range c.Years[i].Number {
			if e.Value.X > 0 {
				return true
			}
		}
	}
	return false
}

// mostWarnings is how many warnings stand below the headline; run.json has all.
const mostWarnings = 20

// tellWarnings prints what was warned of, but strata that are filled: those are told by
// their share of the catch.
func (r *results) tellWarnings(to *output) {
	warned := lines(r.found.Without(func(f finding.Finding) bool {
		return f.Severity < finding.Warning || f.Kind == finding.NoSample && f.Facts[0] != ""
	}))
	if len(warned) > 0 {
		to.say("")
	}
	for _, line := range warned[:min(len(warned), mostWarnings)] {
		to.say("%s", line)
	}
	if n := r.warnings(); n > 0 {
		to.say("\n%s on the way; run.json lists all.", several(n, "warning"))
	}
}

func (r *results) tellYears(to *output, s *run.Species) {
	years := s.Catch.Years
	if hidden := len(years) - mostYears; hidden > 0 {
		to.say("The last %d of %d years of %s; the others are in the report.", mostYears, len(years), s.Species)
		years = years[hidden:]
	}
	for i := range years {
		place := &years[i]
		year := int(place.Cell.Year)
		to.say("\n%s, %d: catch at age in fish, intervals of %s %%\n", s.Species, year, words.Figure(100*r.outcome.Options.Level, 0))
		hidden, few := 0.0, false
		g := grid{head: []string{"age", "fish", "from", "to", "CV %", "share %"}}
		if r.truth != nil {
			g.head = append(g.head, "truth", "held")
		}
		for a, e := range place.Number {
			if r.nobody(s.Species, e, year, a) {
				hidden = max(hidden, e.High.X)
				continue
			}
			few = few || weakCV(e)
			row := []string{s.Catch.Ages[a], number(e.Value), number(e.Low), number(e.High), cv(e), ""}
			if place.Share[a].Value.Known {
				row[5] = words.Figure(100*place.Share[a].Value.X, 1)
			}
			if r.truth != nil {
				row = append(row, r.told(s.Species, e, year, a)...)
			}
			g.add(row...)
		}
		if u := place.Unaged; u.Value.X >= 0.5 {
			g.add("none", number(u.Value), number(u.Low), number(u.High), cv(u), "")
		}
		t := place.Total
		if t.Low == t.High { // the catch was told without a CV: it has no interval of its own
			t.Low, t.High, t.SE = record.Number{}, record.Number{}, record.Number{}
		}
		g.add("all", number(t.Value), number(t.Low), number(t.High), cv(t), "")
		to.say("%s", g.text())
		if few {
			to.say("A dash stands for a CV of fewer than %d degrees of freedom, which would say too little; the interval has them in it.", leastFreedom)
		}
		if hidden >= 0.5 {
			to.say("Ages of which no fish was found are left out; up to %s fish of one of them could have been missed by chance (the report has them).", words.Figure(hidden, 0))
		}
	}
}

// leastFreedom is the degrees of freedom below which a CV says less than it seems to.
const leastFreedom = 5

func weakCV(e run.Estimate) bool { return e.SE.Known && e.Freedom > 0 && e.Freedom < leastFreedom }

// nobody tells that an age was neither found nor, as far as is known, there.
func (r *results) nobody(of record.Species, e run.Estimate, year, age int) bool {
	fish, _ := r.trueCatch(of, year, age)
	return e.Value.X == 0 && fish == 0
}

// told is the known truth beside an estimate, and whether the interval holds it.
func (r *results) told(of record.Species, e run.Estimate, year, age int) []string {
	fish, known := r.trueCatch(of, year, age)
	switch {
	case !known:
		return []string{"", ""}
	case !e.Low.Known:
		return []string{words.Figure(fish, 0), "no interval"}
	case holds(e, fish):
		return []string{words.Figure(fish, 0), "yes"}
	}
	return []string{words.Figure(fish, 0), "no"}
}

func holds(e run.Estimate, fish float64) bool {
	return e.Low.Known && e.Low.X <= fish && fish <= e.High.X
}

// count counts the intervals of all years that hold the truth; an age that nobody caught
// is no trial.
func (r *results) count(s *run.Species) (held, of int) {
	for i := range s.Catch.Years {
		for a, e := range s.Catch.Years[i].Number {
			if fish, _ := r.trueCatch(s.Species, int(s.Catch.Years[i].Cell.Year), a); fish > 0 {
				of++
				if holds(e, fish) {
					held++
				}
			}
		}
	}
	return held, of
}

func number(n record.Number) string {
	if !n.Known {
		return ""
	}
	return words.Figure(n.X, 0)
}

func cv(e run.Estimate) string {
	if weakCV(e) && e.Value.X > 0 {
		return "-"
	}
	if !e.SE.Known || e.Value.X <= 0 || e.SE.X < 1e-9*e.Value.X { // nothing moved it: no spread is known
		return ""
	}
	return words.Figure(100*e.SE.X/e.Value.X, 0)
}

// headlineObject is one age of the headline as JSON.
type headlineObject struct {
	Species string   `json:"species"`
	Year    int      `json:"year"`
	Age     string   `json:"age"`
	Number  *float64 `json:"number"`
	SE      *float64 `json:"se"`
	Low     *float64 `json:"low"`
	High    *float64 `json:"high"`
	Level   float64  `json:"level"`
	Filled  float64  `json:"filled_share"`
	Truth   *float64 `json:"truth,omitempty"`
}

// endObject is the last line.
type endObject struct {
	Report   string   `json:"report"`
	Rests    []string `json:"rests_on"`
	Missing  []string `json:"missing"`
	Warnings int      `json:"warnings"`
}

func (r *results) objects(to *output, page string) (status, error) {
	end := endObject{Report: page, Rests: []string{}, Missing: []string{}, Warnings: r.warnings()}
	for _, s := range r.outcome.Species {
		end.Rests = append(end.Rests, restsOn(r.outcome, s)...)
		end.Missing = append(end.Missing, missing(r.outcome, s)...)
		if err := r.originObjects(to, s); err != nil {
			return failed, err
		}
		if s.Catch == nil {
			continue
		}
		for i := range s.Catch.Years {
			place := &s.Catch.Years[i]
			for a, e := range place.Number {
				object := headlineObject{Species: string(s.Species), Year: int(place.Cell.Year), Age: s.Catch.Ages[a],
					Number: known(e.Value), SE: known(e.SE), Low: known(e.Low), High: known(e.High), Level: e.Level, Filled: place.Filled}
				if fish, known := r.trueCatch(s.Species, object.Year, a); known {
					object.Truth = &fish
				}
				if err := to.object(object); err != nil {
					return failed, err
				}
			}
		}
	}
	if err := to.object(end); err != nil {
		return failed, err
	}
	if len(end.Missing) > 0 {
		return found, nil
	}
	return done, nil
}

func known(n record.Number) *float64 {
	if !n.Known {
		return nil
	}
	return &n.X
}

// plural is "1 entry", "12 entries".
func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return words.Count(n) + " " + many
}

// percentOf is a share in words, "under 0.1 %" where it is not nothing.
func percentOf(share float64) string {
	switch {
	case share <= 0:
		return "0 %"
	case share < 0.001:
		return "Under 0.1 %"
	}
	return words.Figure(100*share, 1) + " %"
}

// warnings is how many warnings stand behind the results.
func (r *results) warnings() int { return r.found.Of(finding.Warning) }

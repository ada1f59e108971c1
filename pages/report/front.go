package report

import (
	"strconv"
	"strings"

	"earstone/estimate/run"
	"earstone/pages/words"
	"earstone/programme/finding"
)

// teller makes the page of one outcome.
type teller struct {
	o       *run.Outcome
	about   About
	numbers map[string]int // of figures and tables so far
}

// tell makes all that the templates see.
func tell(o *run.Outcome, about About) page {
	t := &teller{o: o, about: about, numbers: map[string]int{}}
	if t.about.Found == nil {
		t.about.Found = &o.Found
	}
	name := o.Settings.Name
	if name == "" {
		name = "A programme without a name"
	}
	v := page{
		Title: name + ": catch at age", Kicker: "Catch at age from ear stones", Programme: name, Style: sheet,
		Facts: t.facts(), Inputs: t.inputs(),
	}
	for i, s := range o.Species {
		v.Chapters = append(v.Chapters, t.chapter(i, s))
	}
	if len(v.Chapters) == 0 {
		v.Nothing = "The programme names no species, so that nothing was estimated."
	}
	v.Standfirst = t.standfirst()
	v.Methods, v.Cautions = t.methods(), t.cautions()
	v.Settings = t.settings()
	v.Foot = t.foot()
	return v
}

// next is the number of the next figure or table.
func (t *teller) next(what string) int {
	t.numbers[what]++
	return t.numbers[what]
}

// figure numbers a picture, and the table behind it.
func (t *teller) figure(f figure) figure {
	n := strconv.Itoa(t.next("figure"))
	f.ID, f.Label = "figure-"+n, "Figure "+n
	f.Table = t.table(f.Table)
	return f
}

func (t *teller) table(of *table) *table {
	if of != nil {
		of.ID = "table-" + strconv.Itoa(t.next("table"))
	}
	return of
}

func (t *teller) standfirst() string {
	var species, years []string
	seen := map[int]bool{}
	for _, s := range t.o.Species {
		species = append(species, string(s.Species))
		if s.Counts == nil {
			continue
		}
		for _, year := range s.Counts.Years {
			if !seen[year] {
				seen[year] = true
				years = append(years, strconv.Itoa(year))
			}
		}
	}
	if n := len(years); n > 1 {
		years = []string{years[0] + " to " + years[n-1]}
	}
	return strings.TrimSuffix(list(species)+", "+list(years), ", ")
}

func (t *teller) facts() []fact {
	var facts []fact
	add := func(name, value string) {
		if value != "" {
			facts = append(facts, fact{name, value})
		}
	}
	add("Made on", t.about.Made)
	add("Run", t.about.Name)
	add("Replicates", words.Count(t.o.Options.Replicates))
	add("Seed", strconv.FormatUint(t.o.Options.Seed, 10))
	add("Intervals", level(t.o.Options.Level))
	if t.about.Engine != "" {
		add("Engine", "Earstone "+t.about.Engine)
	}
	return facts
}

// short is how many signs of a hash tell one file from another.
const short = 12

func (t *teller) inputs() *table {
	if len(t.about.Inputs) == 0 {
		return nil
	}
	of := table{Summary: "What was read: " + plural(len(t.about.Inputs), "file", "files"), Paper: true,
		Caption: "Files of the run. A file is the same when its SHA-256 begins the same; run.json has them whole.",
		Head:    append(text("File", "SHA-256 begins"), figures("Rows", "Bytes")...)}
	for _, in := range t.about.Inputs {
		rows := none
		if in.Rows > 0 {
			rows = words.Count(in.Rows)
		}
		hash := in.SHA256
		if hash == "" {
			hash = none
		}
		of.Rows = append(of.Rows, []string{in.File, hash[:min(short, len(hash))], rows, words.Count(int(in.Bytes))})
	}
	return t.table(&of)
}

func (t *teller) foot() string {
	foot := "An estimate from samples; not an assessment of a stock."
	if t.about.Engine != "" {
		foot = join(foot, "Made by Earstone "+t.about.Engine+".")
	}
	if warnings := t.about.Found.Of(finding.Warning); warnings > 0 {
		foot = join(foot, "The records gave "+plural(warnings, "warning", "warnings")+"; run.json has each.")
	}
	return foot
}

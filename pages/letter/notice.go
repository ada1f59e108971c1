package letter

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"earstone/pages/words"
	"earstone/programme/date"
	"earstone/programme/record"
)

// notice is the season on one page, in words and bars.
type notice struct {
	Language, Direction        string
	Style                      template.CSS
	Title, Programme, Date     string
	Counts                     []string // fish, ages, contributors
	AgesTitle, Axis, AgesSays  string
	Ages                       []bar // by age, gaps included
	OriginTitle, OriginSays    string
	Origins                    []bar
	Thanks, Named, Next, Small string
}

// bar is one bar; Share is of the longest bar, or of all, 0 to 1.
type bar struct {
	Name  string
	Count int
	Share float64
	Said  string // beside the bar
	Range string // the interval, when there is one
}

// Percent is the length of the bar.
func (b bar) Percent() string { return strconv.FormatFloat(100*b.Share, 'f', 1, 64) }

// sayNotice puts the season into words. names are by contributor; only those who let
// their name be printed are named.
func (s *Season) sayNotice(language string, names map[string]string, on date.Day) notice {
	p, _ := words.PrintedIn(language)
	n := notice{
		Language: p.Code, Direction: direction(p), Title: p.Say("notice.title", "year", strconv.Itoa(s.Year)), Programme: s.Programme, Date: p.Date(on),
		AgesTitle: p.Say("notice.ages"), Axis: p.Say("notice.axis"), OriginTitle: p.Say("notice.origin"),
		Next: p.Say("notice.next"), Small: p.Say("notice.small"), Thanks: p.Say("notice.thanks"),
	}
	species := s.mostAged()
	aged, people := 0, map[string]bool{}
	for _, f := range s.fish {
		if f.Age.Age.Known {
			aged++
		}
		if f.contributor != "" {
			people[f.contributor] = true
		}
	}
	n.Counts = []string{p.Many("notice.fish", len(s.fish)), p.Many("notice.aged", aged), p.Many("notice.people", len(people))}
	if len(s.ages) > 1 {
		n.Title += " (" + string(species) + ")"
	}
	s.ageBars(&n, p, species)
	s.originBars(&n, p, species)
	n.Named = s.named(p, people, names)
	return n
}

// mostAged is the species with the most ages; of equals the first by its code.
func (s *Season) mostAged() (most record.Species) {
	var all []record.Species
	for species := range s.ages {
		all = append(all, species)
	}
	slices.Sort(all)
	for _, species := range all {
		if most == "" || len(s.ages[species]) > len(s.ages[most]) {
			most = species
		}
	}
	return most
}

// mostBars is how many bars fit on the page; older fish are counted in the last.
const mostBars = 36

func (s *Season) ageBars(n *notice, p *words.Printed, species record.Species) {
	ages := s.ages[species]
	if len(ages) == 0 {
		return
	}
	young, old := int(ages[0]), int(ages[len(ages)-1])
	counts := make([]int, old-young+1)
	for _, a := range ages {
		counts[int(a)-young]++
	}
	commonest := slices.Index(counts, slices.Max(counts)) // before old ages are put together
	n.AgesSays = p.Say("notice.commonest", "n", p.Number(float64(counts[commonest]), 0), "age", strconv.Itoa(young+commonest))
	together := len(counts) > mostBars
	for len(counts) > mostBars {
		last := len(counts) - 1
		counts[last-1] += counts[last]
		counts = counts[:last]
	}
	most := slices.Max(counts)
	for i, c := range counts {
		name := strconv.Itoa(young + i)
		if together && i == len(counts)-1 {
			name += "+"
		}
		n.Ages = append(n.Ages, bar{Name: name, Count: c, Share: float64(c) / float64(most)})
	}
	oldest, cohort := ages[len(ages)-1], 0
	for _, f := range s.fish {
		if f.Species == species && f.Age.Age.Known && f.Age.Age.X == oldest {
			cohort = f.Age.Cohort
		}
	}
	if cohort > 0 {
		n.AgesSays += space(p) + p.Say("notice.oldest", "age", p.Number(oldest, 0), "year", strconv.Itoa(cohort))
	}
}

// originBars are the shares of the catch where the run has them, or else of the fish that
// were assayed.
func (s *Season) originBars(n *notice, p *words.Printed, species record.Species) {
	shares := s.shares(species)
	for _, x := range shares {
		name := x.Nursery
		if name == "outside the baseline" {
			name = p.Say("notice.outside")
		}
		b := bar{Name: name, Share: min(max(x.Value.X, 0), 1), Said: percent(p, x.Value.X)}
		if x.Low.Known && x.High.Known {
			b.Range = p.Say("notice.range", "low", percent(p, x.Low.X), "high", percent(p, x.High.X))
		}
		n.Origins = append(n.Origins, b)
	}
	if len(shares) > 0 {
		n.OriginSays = p.Say("notice.origin_catch")
		return
	}
	s.calledBars(n, p, species)
}

func (s *Season) calledBars(n *notice, p *words.Printed, species record.Species) {
	calls, total := map[string]int{}, 0
	for _, f := range s.fish {
		if f.Species == species && len(f.Origins) > 0 {
			calls[f.Origins[0].Call]++
			total++
		}
	}
	var names []string
	for call := range calls {
		names = append(names, call)
	}
	slices.Sort(names)
	for _, call := range names {
		name := call
		switch call {
		case "unclear":
			name = p.Say("notice.unclear")
		case "outside":
			name = p.Say("notice.outside")
		}
		n.Origins = append(n.Origins, bar{Name: name, Count: calls[call], Share: float64(calls[call]) / float64(total), Said: p.Number(float64(calls[call]), 0)})
	}
	if total > 0 {
		n.OriginSays = p.Say("notice.origin_fish", "n", p.Number(float64(total), 0))
	}
}

// shares are those of the season, one method: of the year when the run has it, or else of
// all years together.
func (s *Season) shares(species record.Species) (found []Share) {
	for _, year := range []int{s.Year, 0} {
		for _, x := range s.run.Shares {
			if x.Species == species && x.Year == year && x.Value.Known && (len(found) == 0 || x.Method == found[0].Method) {
				found = append(found, x)
			}
		}
		if len(found) > 0 {
			return found
		}
	}
	return nil
}

// percent is a share in hundredths; one that is not nothing is never told as nothing.
func percent(p *words.Printed, x float64) string {
	if x > 0 && x < 0.005 {
		return "< 1"
	}
	return p.Number(math.Round(100*x), 0)
}

// mostNames is how many signs of names fit on the page; whoever comes after is counted.
const mostNames = 1200

// named thanks by name those who let theirs be printed, and counts the others.
func (s *Season) named(p *words.Printed, people map[string]bool, names map[string]string) string {
	var list []string
	room := mostNames
	for i := range s.book.Contributors {
		c := &s.book.Contributors[i]
		if name := names[c.Contributor]; people[c.Contributor] && c.PublishConsent == record.Yes && name != "" && utf8.RuneCountInString(name) <= room {
			list = append(list, name)
			room -= utf8.RuneCountInString(name) + len(", ")
		}
	}
	others := len(people) - len(list)
	switch {
	case len(people) == 0:
		return ""
	case len(list) == 0:
		return p.Many("notice.all", len(people))
	}
	text := p.Say("notice.named", "names", strings.Join(list, ", "))
	if others > 0 {
		text += space(p) + p.Many("notice.others", others)
	}
	return text
}

//go:embed notice.html
var noticePage string

//go:embed notice.css
var noticeStyle string

var noticeTemplate = template.Must(template.New("notice").Parse(noticePage))

// NoticeHTML is the season on one page, for a screen or to print on one sheet.
func (s *Season) NoticeHTML(language string, names map[string]string, on date.Day) ([]byte, error) {
	n := s.sayNotice(language, names, on)
	n.Style = template.CSS(noticeStyle + s.sheetRule())
	var out bytes.Buffer
	if err := noticeTemplate.Execute(&out, n); err != nil {
		return nil, fmt.Errorf("laying out the notice: %w", err)
	}
	return out.Bytes(), nil
}

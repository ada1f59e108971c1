package letter

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"earstone/pages/words"
	"earstone/programme/date"
	"earstone/programme/record"
)

// To is whom a letter goes to, beside the code: from a list that is not kept.
type To struct {
	Name  string   // empty: the contributor's code stands in its place
	Lines []string // of the address
}

// text is a letter in words, whatever it is laid out on.
type text struct {
	Language, Direction        string
	Title, Season, Date        string
	Address                    []string
	Dear, Thanks               string
	Fish                       []said
	Why, Privacy, Wrong, Yours string
	Programme                  string
}

// said is one fish in words.
type said struct {
	Label string
	Facts []fact
	Head  string   // the age, or that there is none
	Says  []string // paragraphs
}

// fact is a name and a value.
type fact struct{ Name, Value string }

// say puts a letter into words.
func (s *Season) say(l Letter, to To, on date.Day) text {
	p, _ := words.PrintedIn(l.Language)
	name := to.Name
	if name == "" {
		name = p.Say("letter.contributor", "code", l.Contributor)
	}
	t := text{
		Language: p.Code, Direction: direction(p), Title: p.Say("letter.title"),
		Season: p.Say("letter.season", "year", strconv.Itoa(s.Year)), Date: p.Date(on), Address: to.Lines,
		Dear: p.Say("letter.dear", "name", name), Thanks: p.Many("letter.thanks", len(l.Fish), "programme", s.Programme),
		Why: p.Say("letter.why"), Privacy: p.Say("letter.privacy"), Wrong: p.Say("letter.wrong"), Yours: p.Say("letter.yours"), Programme: s.Programme,
	}
	if to.Name != "" {
		t.Address = append([]string{to.Name}, to.Lines...)
	}
	for _, f := range l.Fish {
		t.Fish = append(t.Fish, f.say(p))
	}
	return t
}

func direction(p *words.Printed) string {
	if p.RightLeft {
		return "rtl"
	}
	return "ltr"
}

func (f Fish) say(p *words.Printed) said {
	one := said{Label: string(f.Label), Facts: []fact{{p.Say("letter.caught"), p.Date(f.Caught)}}}
	if f.Area != "" {
		one.Facts = append(one.Facts, fact{p.Say("letter.area"), f.Area})
	}
	if f.Length.Value.Known {
		kind := "letter.kind." + f.Length.Kind.String()
		if f.Length.Kind != record.CurvedFork && f.Length.Kind != record.StraightFork {
			kind = "letter.kind.other"
		}
		one.Facts = append(one.Facts, fact{p.Say("letter.length"), tidy(p, f.Length.Value.X) + " " + f.Length.Unit + " (" + p.Say(kind) + ")"})
	}
	head, rests := f.age(p)
	one.Head = head
	for _, sentences := range [][]string{rests, append([]string{f.origin(p)}, f.compared(p)...)} {
		if len(sentences) > 0 {
			one.Says = append(one.Says, strings.Join(sentences, space(p)))
		}
	}
	return one
}

// tidy is a length with one decimal, or with none when it is whole.
func tidy(p *words.Printed, x float64) string {
	if x == math.Round(x) {
		return p.Number(x, 0)
	}
	return p.Number(x, 1)
}

// age tells the age with what it rests on.
func (f Fish) age(p *words.Printed) (head string, says []string) {
	a := f.Age
	if !a.Age.Known {
		if slices.Contains(a.Flags, "unresolved") {
			return p.Say("letter.unsettled"), nil
		}
		return p.Say("letter.noage"), nil
	}
	head = p.Many("letter.age", int(a.Age.X))
	if a.Cohort > 0 {
		head += space(p) + p.Say("letter.born", "year", strconv.Itoa(a.Cohort))
	}
	if slices.Contains(a.Flags, "known_age") {
		return head, []string{p.Say("letter.known")}
	}
	if a.Annuli.Known && a.Annuli.X == math.Round(a.Annuli.X) {
		says = append(says, p.Many("letter.rings", int(a.Annuli.X)))
	}
	if a.Readings > 0 {
		says = append(says, p.Many("letter.readings", a.Readings))
	}
	return head, says
}

// space is what stands between two sentences.
func space(p *words.Printed) string {
	if p.Code == "ja" {
		return ""
	}
	return " "
}

// origin tells the nursery with how likely it is.
func (f Fish) origin(p *words.Printed) string {
	if len(f.Origins) == 0 {
		return p.Say("letter.nochemistry")
	}
	likeliest := f.Origins[0]
	switch call := likeliest.Call; {
	case call == "outside":
		return p.Say("letter.outside")
	case call == "unclear" || call != likeliest.Nursery || !likeliest.Value.Known:
		var list []string
		for _, o := range f.Origins {
			if o.Value.Known {
				list = append(list, p.Say("letter.chance", "nursery", o.Nursery, "chance", strconv.Itoa(chance(o.Value.X))))
			}
		}
		return p.Say("letter.unclear", "list", strings.Join(list, "; "))
	}
	return p.Say("letter.from", "nursery", likeliest.Nursery, "chance", strconv.Itoa(chance(likeliest.Value.X)))
}

// chance is a probability in hundredths, never none and never all: it is no certainty.
func chance(x float64) int { return min(max(int(math.Round(100*x)), 1), 99) }

// compared tells how the fish stands among those of the season.
func (f Fish) compared(p *words.Printed) (says []string) {
	if f.Younger.N > 0 {
		says = append(says, p.Many("letter.byage", f.Younger.N, "share", strconv.Itoa(f.Younger.Share())))
	}
	if f.Shorter.N > 0 {
		says = append(says, p.Many("letter.bylength", f.Shorter.N, "share", strconv.Itoa(f.Shorter.Share())))
	}
	if f.Younger.N == 0 && f.Age.Age.Known {
		says = append(says, p.Say("letter.toofew"))
	}
	return says
}

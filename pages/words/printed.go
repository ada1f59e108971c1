package words

import (
	"embed"
	"encoding/json"
	"fmt"
	"io/fs"
	"slices"
	"strconv"
	"strings"

	"earstone/programme/date"
)

//go:embed printed/*.json
var printed embed.FS

// Printed are the texts of what is printed and sent, in one language: cards, the guide,
// letters, the season on one page. A language is one file in printed; a text that it
// lacks is said in English.
type Printed struct {
	Code      string            `json:"language"`
	Name      string            `json:"name"`      // of the language, in itself
	RightLeft bool              `json:"rightleft"` // written from right to left
	Plural    string            `json:"plural"`    // which of the plural rules it has
	Decimal   string            `json:"decimal"`   // the sign between a number and its decimals
	Thousands string            `json:"thousands"`
	Months    []string          `json:"months"`
	Day       map[string]string `json:"day"`
	Texts     map[string]string `json:"texts"`
}

// plurals are the rules by which languages choose the form of a counted word (Unicode
// CLDR, cardinal rules of whole numbers, from memory).
var plurals = map[string]func(n int) string{
	"none":   func(int) string { return "other" },
	"one":    func(n int) string { return when(n == 1, "one") },
	"french": func(n int) string { return when(n <= 1, "one") },
	"arabic": func(n int) string {
		switch {
		case n == 0:
			return "zero"
		case n == 1:
			return "one"
		case n == 2:
			return "two"
		case n%100 >= 3 && n%100 <= 10:
			return "few"
		case n%100 >= 11:
			return "many"
		}
		return "other"
	},
	"slavic": func(n int) string {
		switch {
		case n%10 == 1 && n%100 != 11:
			return "one"
		case n%10 >= 2 && n%10 <= 4 && (n%100 < 12 || n%100 > 14):
			return "few"
		}
		return "many"
	},
}

func when(is bool, form string) string {
	if is {
		return form
	}
	return "other"
}

var everyPrinted = loadPrinted()

func loadPrinted() map[string]*Printed {
	names, err := fs.Glob(printed, "printed/*.json")
	if err != nil {
		panic("words: " + err.Error())
	}
	all := map[string]*Printed{}
	for _, name := range names {
		content, err := printed.ReadFile(name)
		if err != nil {
			panic("words: " + err.Error())
		}
		p := &Printed{}
		if err := json.Unmarshal(content, p); err != nil {
			panic("words: " + name + ": " + err.Error())
		}
		if plurals[p.Plural] == nil {
			panic("words: " + name + " has no plural rule")
		}
		all[p.Code] = p
	}
	return all
}

// PrintedLanguages are the codes of the languages in which letters are written.
func PrintedLanguages() []string {
	var codes []string
	for code := range everyPrinted {
		codes = append(codes, code)
	}
	slices.Sort(codes)
	return codes
}

// PrintedIn are the texts of a language: of pt for pt-BR. Without the language ok is
// false and the texts are English.
func PrintedIn(language string) (p *Printed, ok bool) {
	code, _, _ := strings.Cut(strings.ToLower(strings.ReplaceAll(strings.TrimSpace(language), "_", "-")), "-")
	if p, ok = everyPrinted[code]; ok {
		return p, true
	}
	return everyPrinted["en"], false
}

// Say is a text with its placeholders filled: names and values in turn. It panics when
// no language has the text: that is a mistake of ours. Values are not looked through.
func (p *Printed) Say(key string, pairs ...string) string {
	text, ok := p.Texts[key]
	if !ok {
		text, ok = everyPrinted["en"].Texts[key]
	}
	if !ok {
		panic("words: nothing is said of " + key)
	}
	for i := 0; i < len(pairs); i += 2 {
		pairs[i] = "{" + pairs[i] + "}"
	}
	return strings.NewReplacer(pairs...).Replace(text)
}

// Many is Say for a counted thing: the form of KEY for n (KEY.one, KEY.other, ...), its
// {n} filled. Where there is a KEY.zero, it tells of none in any language.
func (p *Printed) Many(key string, n int, pairs ...string) string {
	form := key + "." + plurals[p.Plural](n)
	if _, ok := p.Texts[key+".zero"]; ok && n == 0 {
		form = key + ".zero"
	}
	if _, ok := p.Texts[form]; !ok {
		form = key + ".other"
	}
	return p.Say(form, append([]string{"n", p.Number(float64(n), 0)}, pairs...)...)
}

// Number is a number with so many decimals, as the language writes it.
func (p *Printed) Number(x float64, decimals int) string {
	return parted(strconv.FormatFloat(x, 'f', decimals, 64), p.Thousands, p.Decimal, 5)
}

// Date is a date as the language writes it, as far as it is known.
func (p *Printed) Date(d date.Day) string {
	form := map[date.Precision]string{date.Unknown: "unknown", date.Year: "year", date.Month: "month", date.Full: "full"}[d.Precision()]
	month := ""
	if d.Month() > 0 {
		month = p.Months[d.Month()-1]
	}
	first := strconv.Itoa(d.DayOfMonth())
	if special, ok := p.Day["first"]; ok && d.DayOfMonth() == 1 {
		first = special
	}
	return strings.NewReplacer("{day}", first, "{month}", month, "{year}", fmt.Sprint(d.Year()), "{m}", strconv.Itoa(d.Month())).Replace(p.Day[form])
}

package words

import (
	"maps"
	"regexp"
	"slices"
	"strings"
	"testing"

	"earstone/programme/date"
)

var hole = regexp.MustCompile(`\{[^}]*\}`)

func holes(text string) []string {
	all := hole.FindAllString(text, -1)
	slices.Sort(all)
	return slices.Compact(all)
}

// forms that a counted text may have.
var forms = []string{"zero", "one", "two", "few", "many", "other"}

func form(key string) (stem, of string) {
	at := strings.LastIndexByte(key, '.')
	if at > 0 && slices.Contains(forms, key[at+1:]) && key != "letter.kind.other" {
		return key[:at], key[at+1:]
	}
	return key, ""
}

func TestEveryLanguageSaysWhatALetterSays(t *testing.T) {
	english := everyPrinted["en"]
	for code, p := range everyPrinted {
		if len(p.Months) != 12 || p.Name == "" || p.Decimal == "" || p.Day["full"] == "" || p.Day["month"] == "" || p.Day["year"] == "" || p.Day["unknown"] == "" {
			t.Errorf("%s: months, name, decimal sign or days are missing", code)
		}
		for key, text := range english.Texts {
			stem, of := form(key)
			if !strings.HasPrefix(key, "letter.") && !strings.HasPrefix(key, "notice.") {
				continue
			}
			if of == "" {
				if said, ok := p.Texts[key]; !ok || said == "" || !slices.Equal(holes(said), holes(text)) {
					t.Errorf("%s: %s says %q, with other placeholders than %q", code, key, said, text)
				}
				continue
			}
			if _, ok := p.Texts[stem+".other"]; !ok {
				t.Errorf("%s: %s has no form for other numbers", code, stem)
			}
		}
		for key, said := range p.Texts {
			stem, of := form(key)
			if of == "" {
				if _, ok := english.Texts[key]; !ok {
					t.Errorf("%s: nobody asks for %s", code, key)
				}
				continue
			}
			whole, ok := english.Texts[stem+".other"]
			if !ok {
				t.Errorf("%s: nobody asks for %s", code, key)
			}
			for _, h := range holes(said) {
				if !slices.Contains(holes(whole), h) && h != "{n}" {
					t.Errorf("%s: %s has the placeholder %s, which nobody fills", code, key, h)
				}
			}
			for _, h := range holes(whole) { // the number itself may be a word in a form
				if h != "{n}" && !strings.Contains(said, h) {
					t.Errorf("%s: %s lacks the placeholder %s", code, key, h)
				}
			}
		}
	}
}

func TestPrintedIn(t *testing.T) {
	for language, want := range map[string]string{"en": "en", "EN-gb": "en", "": "en", "xx": "en"} {
		p, ok := PrintedIn(language)
		if p.Code != want || ok != strings.HasPrefix(strings.ToLower(language), want) {
			t.Errorf("texts for %q are in %s, %t", language, p.Code, ok)
		}
	}
	if got := PrintedLanguages(); !slices.Equal(got, slices.Sorted(maps.Keys(everyPrinted))) {
		t.Errorf("the languages are %v", got)
	}
}

func TestPluralsOfLanguages(t *testing.T) {
	// Unicode CLDR, cardinal rules (from memory).
	for rule, want := range map[string]map[int]string{
		"one":    {0: "other", 1: "one", 2: "other", 21: "other"},
		"french": {0: "one", 1: "one", 2: "other"},
		"none":   {1: "other", 5: "other"},
		"arabic": {0: "zero", 1: "one", 2: "two", 3: "few", 10: "few", 11: "many", 99: "many", 100: "other", 102: "other", 103: "few", 111: "many"},
		"slavic": {1: "one", 2: "few", 5: "many", 11: "many", 12: "many", 21: "one", 22: "few", 112: "many"},
	} {
		for n, form := range want {
			if got := plurals[rule](n); got != form {
				t.Errorf("%s: the form for %d is %s, want %s", rule, n, got, form)
			}
		}
	}
}

func TestPrintedNumbersAndDates(t *testing.T) {
	en, _ := PrintedIn("en")
	for want, got := range map[string]string{"12,345.5": en.Number(12345.5, 1), "1234": en.Number(1234, 0), "−0.5": en.Number(-0.5, 1)} {
		if got != want {
			t.Errorf("the number reads %q, want %q", got, want)
		}
	}
	month, _ := date.Parse("2031-06")
	for want, day := range map[string]date.Day{"15 June 2031": date.On(2031, 6, 15), "June 2031": month, "date unknown": {}} {
		if got := en.Date(day); got != want {
			t.Errorf("%v reads %q, want %q", day, got, want)
		}
	}
	fr, _ := PrintedIn("fr-CA")
	ja, _ := PrintedIn("ja")
	ar, _ := PrintedIn("ar_EG")
	for want, got := range map[string]string{
		"1er mai 2031": fr.Date(date.On(2031, 5, 1)), "12\u202f345,5": fr.Number(12345.5, 1), "2031年5月2日": ja.Date(date.On(2031, 5, 2)),
		"Il avait 1 an.": fr.Many("letter.age", 1), "9歳でした。": ja.Many("letter.age", 9),
		"كان عمرها سنتين.": ar.Many("letter.age", 2), "كان عمرها 9 سنوات.": ar.Many("letter.age", 9), "كان عمرها 12 سنة.": ar.Many("letter.age", 12),
	} {
		if got != want {
			t.Errorf("the text reads %q, want %q", got, want)
		}
	}
	if !ar.RightLeft || fr.RightLeft {
		t.Error("Arabic runs from right to left, and French does not")
	}
	if got := en.Many("letter.age", 1); got != "It was 1 year old." {
		t.Errorf("one year reads %q", got)
	}
	if got := en.Say("letter.dear", "name", "{n} & co"); got != "Dear {n} & co," {
		t.Errorf("a name with braces reads %q", got)
	}
}

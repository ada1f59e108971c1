package words

import (
	"io/fs"
	"regexp"
	"slices"
	"strings"
	"testing"

	"earstone/programme/date"
	"earstone/programme/finding"
)

// languages are all catalogues.
func languages(t *testing.T) (all []*Language) {
	t.Helper()
	names, err := fs.Glob(files, "*.json")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		all = append(all, mustLoad(strings.TrimSuffix(name, ".json")))
	}
	return all
}

func TestEveryKindHasItsSentences(t *testing.T) {
	for _, l := range languages(t) {
		for _, kind := range finding.Kinds() {
			if _, ok := l.Kinds[string(kind)]; !ok {
				t.Errorf("%s: nothing is said of %s", l.Code, kind)
			}
		}
		if len(l.Months) != 12 || len(l.Ordinals) < 10 {
			t.Errorf("%s: %d months and %d ordinals", l.Code, len(l.Months), len(l.Ordinals))
		}
		for name, said := range l.Kinds {
			kind, _, _ := strings.Cut(name, ".")
			if !slices.Contains(finding.Kinds(), finding.Kind(kind)) {
				t.Errorf("%s: there is no finding %s", l.Code, name)
			}
			for what, texts := range map[string][]string{"says": said.Says, "expected": said.Expected, "remedy": said.Remedy} {
				wellFormed(t, l.Code+": "+name+": "+what, texts)
			}
		}
	}
}

var placeholder = regexp.MustCompile(`^(value|column|words|nearest|range|lookalike|leave|card|[0-3])$`)

func wellFormed(t *testing.T, what string, texts []string) {
	t.Helper()
	if len(texts) == 0 {
		t.Errorf("%s has no text", what)
	}
	for _, text := range texts {
		if text == "" {
			t.Errorf("%s has an empty text", what)
		}
		for _, part := range strings.Split(text, "{")[1:] {
			name, _, closed := strings.Cut(part, "}")
			if !closed || !placeholder.MatchString(name) {
				t.Errorf("%s has the placeholder {%s", what, part)
			}
		}
	}
}

func TestLinesAsAPersonReadsThem(t *testing.T) {
	at := finding.Place{File: "fish.csv", Row: 812, Column: "length"}
	for _, c := range []struct {
		f    finding.Finding
		want string
	}{
		{finding.Finding{Kind: finding.NotNumber, Place: at, Value: "2l4", Facts: []string{"214"}},
			`fish.csv, row 812, length: "2l4" is not a number. Was 214 meant? The second sign is the letter l.`},
		{finding.Finding{Kind: finding.NotNumber, Place: at, Value: "2,5", Facts: []string{"2.5"}},
			`fish.csv, row 812, length: "2,5" is not a number. Was 2.5 meant?`},
		{finding.Finding{Kind: finding.NotNumber, Place: at, Value: "long\n{0}", Facts: []string{""}},
			`fish.csv, row 812, length: "long {0}" is not a number. Write digits with a decimal point, and nothing else; leave the cell empty when it is not known.`},
		{finding.Finding{Kind: finding.NotListed, Place: finding.Place{File: "season.xlsx#fish", Row: 4, Column: "sex"}, Value: "f", Facts: []string{"F", "M", "F"}},
			`season.xlsx, sheet fish, row 4, sex: "f" is none of the words that are taken here. Was F meant?`},
		{finding.Finding{Kind: finding.UnknownSetting, Place: finding.Place{File: "programme.json", Row: 3, Column: "spceies"}, Value: "spceies", Facts: []string{"species"}},
			`programme.json, line 3, spceies: There is no setting of this name. Was species meant?`},
		{finding.Finding{Kind: finding.NotReadable, Place: finding.Place{File: "trips.csv"}, Facts: []string{"utf_16"}},
			`trips.csv: The file is written in UTF-16. Save it as "CSV UTF-8".`},
	} {
		if got := Line(c.f); got != c.want {
			t.Errorf("the line reads\n%s\nwant\n%s", got, c.want)
		}
	}
	for want, facts := range map[string][]string{"from 1 to 5": {"1", "5"}, "more than 0": {">0", ""}, "0 or more": {"0", ""}, "9 at most": {"", "9"}} {
		if got := Expected(finding.Finding{Kind: finding.OutOfRange, Facts: facts}); got != want {
			t.Errorf("the range %q reads %q, want %q", facts, got, want)
		}
	}
}

func TestFigures(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{Count(12345678), "12\u202F345\u202F678"}, {Count(-1234), "−1\u202F234"}, {Count(999), "999"},
		{Figure(1234.5, -2), "1\u202F200"}, {Figure(-0.001, 1), "0.0"}, {Figure(0.125, 2), "0.12"},
	} {
		if c.got != c.want {
			t.Errorf("the figure reads %q, want %q", c.got, c.want)
		}
	}
}

func TestDates(t *testing.T) {
	month, _ := date.Parse("2031-06")
	for want, day := range map[string]date.Day{"15 June 2031": date.On(2031, 6, 15), "June 2031": month, "date unknown": {}} {
		if got := English.Date(day); got != want {
			t.Errorf("%v reads %q, want %q", day, got, want)
		}
	}
}

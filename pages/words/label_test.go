package words

import (
	"strings"
	"testing"

	"earstone/programme/label"
)

func TestLabelsInWords(t *testing.T) {
	en, _ := PrintedIn("en")
	for text, want := range map[string]string{
		"QB-00412-T":   "QB-00412-T",
		"qb 412 t":     "Read as QB-00412-T.",
		"QB-OO412-T":   "Read as QB-00412-T: O was taken for 0, which looks like it.",
		"":             "There is no label here.",
		"hello":        "This is no label: a label has two to four letters, a number and a check letter, such as QB-00412-T.",
		"QB-00412-S":   "\"S\" stands in no label: the letters are ABCDEFHJKMNPQRTVWXY, and a number has digits alone.",
		"QB-00412":     "The check letter at the end is missing. Type the label whole, such as QB-00412-T.",
		"QB-00421-T":   "The check letter does not fit: a sign is wrong, or two are swapped. Was QB-00412-T meant?",
		"QB-00419-T":   "The check letter does not fit: a sign is wrong. Look at the vial again.",
		"QB-0000000-A": "The number of a label is from 1 to 9,999,999.",
	} {
		if got := en.Label(label.Parse(text)); got != want {
			t.Errorf("%q is answered with\n%s\nwant\n%s", text, got, want)
		}
	}
	for _, remark := range label.Remarks() {
		for _, language := range PrintedLanguages() {
			p, _ := PrintedIn(language)
			if said := p.Label(label.Reading{Remark: remark}); strings.Contains(said, "{") {
				t.Errorf("%s, %v: %q has a placeholder that nobody fills", language, remark, said)
			}
		}
	}
}

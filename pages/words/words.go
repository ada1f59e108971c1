// Package words holds what a person reads: plain sentences, numbers and dates, made from
// a catalogue for each language.
//
// A language is one JSON file. Each text of a finding has alternatives, and the first
// whose placeholders all have something to say is taken: {value}, {column}, the facts
// {0}, {1}, {2}, and {words}, {nearest}, {range}, {lookalike}, which are made from them;
// {leave} has something to say where the cell may be empty, {card} where it is one of a
// record.
package words

import (
	"embed"
	"encoding/json"
	"strconv"
	"strings"
	"unicode"

	"earstone/programme/finding"
)

//go:embed *.json
var files embed.FS

// Language is one catalogue.
type Language struct {
	Code      string            `json:"language"`
	Place     map[string]string `json:"place"`
	Lookalike string            `json:"lookalike"`
	Leave     string            `json:"leave"` // the cell empty
	Card      string            `json:"card"`  // that a record was written from
	Ordinals  []string          `json:"ordinals"`
	Range     map[string]string `json:"range"`
	Months    []string          `json:"months"`
	Day       map[string]string `json:"day"`
	Kinds     map[string]texts  `json:"kinds"`
}

// texts of one kind of finding, or of one kind with its first fact.
type texts struct {
	Says     []string `json:"says"`
	Expected []string `json:"expected"`
	Remedy   []string `json:"remedy"`
}

// English is the language in which everything is said first.
var English = mustLoad("en")

func mustLoad(code string) *Language {
	content, err := files.ReadFile(code + ".json")
	if err != nil {
		panic("words: " + err.Error())
	}
	l := &Language{}
	if err := json.Unmarshal(content, l); err != nil {
		panic("words: " + code + ": " + err.Error())
	}
	return l
}

// Expected says what should have stood there.
func Expected(f finding.Finding) string { return English.Expected(f) }

// Remedy says what to do.
func Remedy(f finding.Finding) string { return English.Remedy(f) }

// Line tells a finding whole: place, what is wrong, what to do.
func Line(f finding.Finding) string { return English.Line(f) }

// Expected says what should have stood there.
func (l *Language) Expected(f finding.Finding) string {
	return l.choose(f, l.of(f).Expected)
}

// Remedy says what to do.
func (l *Language) Remedy(f finding.Finding) string { return l.choose(f, l.of(f).Remedy) }

// Says tells what is wrong, without its place.
func (l *Language) Says(f finding.Finding) string { return l.choose(f, l.of(f).Says) }

// Line is: fish.csv, row 812, length: "2l4" is not a number. Was 214 meant? ...
func (l *Language) Line(f finding.Finding) string {
	return l.Where(f.Place) + ": " + l.Says(f) + " " + l.Remedy(f)
}

// Where names a place: file, sheet, row and column as far as they are known.
func (l *Language) Where(p finding.Place) string {
	file, sheet, inWorkbook := strings.Cut(oneLine(p.File), "#")
	parts := []string{file}
	if inWorkbook {
		parts = append(parts, strings.ReplaceAll(l.Place["sheet"], "{name}", sheet))
	}
	if p.Row > 0 {
		row := "row"
		if strings.HasSuffix(file, ".json") {
			row = "line"
		}
		parts = append(parts, strings.ReplaceAll(l.Place[row], "{n}", strconv.Itoa(p.Row)))
	}
	if p.Column != "" {
		parts = append(parts, oneLine(p.Column))
	}
	return strings.Join(parts, ", ")
}

// of are the texts of a finding: those of its kind and first fact, or of its kind.
func (l *Language) of(f finding.Finding) texts {
	if len(f.Facts) > 0 {
		if special, ok := l.Kinds[string(f.Kind)+"."+f.Facts[0]]; ok {
			return special
		}
	}
	return l.Kinds[string(f.Kind)]
}

// choose fills the first text whose placeholders all have something to say, and the
// last one when none has.
func (l *Language) choose(f finding.Finding, from []string) string {
	for i, text := range from {
		if filled, whole := l.fill(f, text); whole || i == len(from)-1 {
			return filled
		}
	}
	return ""
}

// fill puts values into the placeholders of a text; whole is false when one is empty.
// Values are never looked through for placeholders.
func (l *Language) fill(f finding.Finding, text string) (filled string, whole bool) {
	var b strings.Builder
	whole = true
	for {
		before, rest, found := strings.Cut(text, "{")
		b.WriteString(before)
		if !found {
			return b.String(), whole
		}
		name, after, _ := strings.Cut(rest, "}")
		value := l.value(f, name)
		if name != "words" { // a closed list of ours, told whole
			value = oneLine(value)
		}
		whole = whole && value != ""
		b.WriteString(value)
		text = after
	}
}

func (l *Language) value(f finding.Finding, name string) string {
	switch name {
	case "value":
		return f.Value
	case "column":
		return f.Place.Column
	case "leave":
		if f.Must {
			return ""
		}
		return l.Leave
	case "card":
		if isSettings(f.Place.File) {
			return ""
		}
		return l.Card
	case "words":
		return strings.Join(f.Facts[:max(0, len(f.Facts)-1)], ", ")
	case "nearest":
		return fact(f, len(f.Facts)-1)
	case "range":
		return l.rangeOf(fact(f, 0), fact(f, 1))
	case "lookalike":
		return l.lookalike(f.Value, fact(f, 0))
	}
	n, err := strconv.Atoi(name)
	if err != nil {
		panic("words: no placeholder is called " + name)
	}
	return fact(f, n)
}

// isSettings tells the places of settings, a file or a sheet, from those of records.
func isSettings(file string) bool {
	return strings.HasSuffix(file, ".json") || strings.HasSuffix(strings.ToLower(file), "#programme")
}

func fact(f finding.Finding, n int) string {
	if n < 0 || n >= len(f.Facts) {
		return ""
	}
	return f.Facts[n]
}

func (l *Language) rangeOf(low, high string) string {
	above, open := strings.CutPrefix(low, ">")
	key := "both"
	switch {
	case open && high == "":
		key = "above"
	case open:
		key = "above_to"
	case high == "":
		key = "low"
	case low == "":
		key = "high"
	}
	if low == "" && high == "" {
		return ""
	}
	return strings.NewReplacer("{low}", above, "{high}", high).Replace(l.Range[key])
}

// lookalike points out the first letter that stands where a digit was meant.
func (l *Language) lookalike(value, likely string) string {
	a, b := []rune(value), []rune(likely)
	if len(a) != len(b) {
		return ""
	}
	for i := range a {
		if a[i] != b[i] && unicode.IsLetter(a[i]) && i < len(l.Ordinals) {
			return strings.NewReplacer("{ordinal}", l.Ordinals[i], "{letter}", string(a[i])).Replace(l.Lookalike)
		}
	}
	return ""
}

// longest is how much of a cell is shown in a sentence, in signs.
const longest = 80

// oneLine keeps a value from breaking the sentence that it stands in.
func oneLine(text string) string {
	short := []rune(strings.ToValidUTF8(text, "\uFFFD"))
	if len(short) > longest {
		short = append(short[:longest-1], '…')
	}
	for i, r := range short {
		if unicode.IsControl(r) || r == '\u2028' || r == '\u2029' || unicode.Is(unicode.Bidi_Control, r) {
			short[i] = ' '
		}
	}
	return string(short)
}

// Plain is a text without signs that act instead of being read: control signs other than
// line feed and tab, and those that turn the direction of the text around them.
func Plain(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\n' && r != '\t' || unicode.Is(unicode.Bidi_Control, r) {
			return -1
		}
		return r
	}, text)
}

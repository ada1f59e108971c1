package estimate

import (
	"crypto/rand"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"earstone/estimate/run"
	"earstone/pages/web/frame"
	"earstone/pages/words"
)

// Asked is what a run is asked for. It is kept with the run, so that the same can be
// asked for again.
type Asked struct {
	Parts      []run.Part `json:"parts"` // none: all
	Replicates int        `json:"replicates"`
	Seed       uint64     `json:"seed"`
	Key        string     `json:"key"` // form of the key; empty: the programme's
}

// What is asked for when nothing is typed, and within which bounds.
const (
	usualReplicates = 1000
	leastReplicates = 40 // fewer give no interval
	mostReplicates  = 100000
	mostSeed        = 1 << 53 // larger ones lose digits in other programs
)

// partDoes says what each part of the job makes.
var partDoes = map[run.Part]string{
	run.Agreement: "agreement: readers against each other",
	run.Key:       "key: age given length",
	run.Catch:     "catch: catch at age, mean size at age",
	run.Growth:    "growth: length at age",
	run.Mortality: "mortality: catch curves, longevity",
	run.Origin:    "origin: nurseries",
	run.Budget:    "budget: whose variance it is",
	run.Advice:    "advice: consequences, not an assessment",
}

// form is the form that starts a run.
type form struct {
	Parts, Replicates, Seed, Key frame.Field
	Open                         bool // the settings are shown from the start
}

func newForm(a Asked) form {
	f := form{
		Parts: frame.Field{Name: "part", Label: "Parts of the job", Kind: "checks", Span: "whole", Hint: "Each brings what it rests on."},
		Replicates: frame.Field{Name: "replicates", Label: "Replicates", Value: strconv.Itoa(a.Replicates), Number: true,
			Hint: "How many times the season is drawn again."},
		Seed: frame.Field{Name: "seed", Label: "Seed", Value: strconv.FormatUint(a.Seed, 10), Number: true, Hint: "The same seed gives the same numbers."},
		Key:  frame.Field{Name: "key", Label: "Form of the key", Kind: "select", Span: "wide"},
	}
	for _, part := range run.Parts() {
		f.Parts.Options = append(f.Parts.Options, frame.Option{Value: string(part), Text: partDoes[part], Chosen: len(a.Parts) == 0 || slices.Contains(a.Parts, part)})
	}
	f.Key.Options = []frame.Option{{Value: "", Text: "as the programme says", Chosen: a.Key == ""}}
	for _, key := range run.Forms() {
		f.Key.Options = append(f.Key.Options, frame.Option{Value: key, Text: strings.ReplaceAll(key, "_", ", "), Chosen: key == a.Key})
	}
	return f
}

// read is what was typed; the form tells beside each field what can't be.
func read(r *frame.Request) (Asked, form, bool) {
	a := Asked{Replicates: usualReplicates, Seed: 1, Key: r.Typed("key")}
	for _, part := range run.Parts() {
		if slices.Contains(r.Form["part"], string(part)) {
			a.Parts = append(a.Parts, part)
		}
	}
	if len(a.Parts) == len(run.Parts()) {
		a.Parts = nil
	}
	f := newForm(a)
	f.Open = true
	good := wholeIn(&f.Replicates, r.Typed("replicates"), leastReplicates, mostReplicates, func(n uint64) { a.Replicates = int(n) })
	good = wholeIn(&f.Seed, r.Typed("seed"), 0, mostSeed, func(n uint64) { a.Seed = n }) && good
	if a.Key != "" && !slices.Contains(run.Forms(), a.Key) {
		f.Key.Problems, good = []frame.Problem{{Says: "There is no such form.", Do: "Choose one of the list.", Grave: true}}, false
	}
	frame.Begin([]frame.Field{f.Parts}, []frame.Field{f.Replicates}, []frame.Field{f.Seed}, []frame.Field{f.Key})
	return a, f, good
}

// wholeIn reads a whole number within bounds; an empty field keeps what is usual.
func wholeIn(field *frame.Field, typed string, low, high uint64, keep func(uint64)) bool {
	typed = strings.Map(func(r rune) rune {
		if strings.ContainsRune(" ,\u00a0\u202f", r) {
			return -1
		}
		return r
	}, typed)
	if typed == "" {
		return true
	}
	field.Value = typed
	n, err := strconv.ParseUint(typed, 10, 64)
	if err != nil || n < low || n > high {
		field.Problems = []frame.Problem{{Says: "This is no whole number that can be used here.",
			Do: fmt.Sprintf("Take one from %s to %s.", words.Count(int(low)), words.Count(int(high))), Grave: true}}
		return false
	}
	keep(n)
	return true
}

// fresh is a seed that nobody chose.
func fresh() (uint64, error) {
	var b [4]byte
	if _, err := rand.Read(b[:]); err != nil {
		return 0, fmt.Errorf("drawing a seed: %w", err)
	}
	return uint64(binary.LittleEndian.Uint32(b[:])), nil
}

// of reads what a kept run was asked for; one that can't be read is shown as nothing.
func askedOf(text json.RawMessage) (a Asked) {
	if json.Unmarshal(text, &a) != nil {
		return Asked{}
	}
	return a
}

// settings say in short what a run was asked for.
func (a Asked) settings() string {
	said := []string{words.Count(a.Replicates) + " replicates", "seed " + strconv.FormatUint(a.Seed, 10)}
	if a.Key != "" {
		said = append(said, "key "+strings.ReplaceAll(a.Key, "_", ", "))
	}
	if len(a.Parts) > 0 {
		var names []string
		for _, part := range a.Parts {
			names = append(names, string(part))
		}
		said = append(said, "only "+strings.Join(names, ", "))
	}
	return strings.Join(said, "; ")
}

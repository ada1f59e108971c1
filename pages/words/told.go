package words

import (
	"embed"
	"encoding/json"
	"fmt"
	"strings"
)

//go:embed told/*.json
var toldFiles embed.FS

// Told are the sentences of the report in one language, by name. A sentence has
// placeholders in curly brackets; a counted word has the names KEY.one and KEY.many.
type Told map[string]string

// Report is what the report says in English.
var Report = mustTell("en")

func mustTell(code string) Told {
	content, err := toldFiles.ReadFile("told/" + code + ".json")
	if err != nil {
		panic("words: " + err.Error())
	}
	t := Told{}
	if err := json.Unmarshal(content, &t); err != nil {
		panic("words: told/" + code + ": " + err.Error())
	}
	return t
}

// Say is the sentence of this name, its placeholders filled: names and values in turn.
// Values are not looked through for placeholders. It panics when there is no such
// sentence, when a placeholder stays empty-handed and when a value has no place: those
// are mistakes of ours.
func (t Told) Say(name string, pairs ...string) string {
	text, ok := t[name]
	if !ok {
		panic("words: the report has no sentence " + name)
	}
	values := map[string]string{}
	for i := 0; i+1 < len(pairs); i += 2 {
		values[pairs[i]] = pairs[i+1]
	}
	used := map[string]bool{}
	var b strings.Builder
	for {
		before, rest, found := strings.Cut(text, "{")
		b.WriteString(before)
		if !found {
			break
		}
		key, after, _ := strings.Cut(rest, "}")
		value, given := values[key]
		if !given {
			panic("words: " + name + " is not told its {" + key + "}")
		}
		b.WriteString(value)
		used[key], text = true, after
	}
	if len(used) != len(values) {
		panic(fmt.Sprintf("words: %s has no place for one of %v", name, pairs))
	}
	return b.String()
}

// Count is a number with its word: KEY.one for one, KEY.many for others, with {n}.
func (t Told) Count(name string, n int) string {
	if n == 1 {
		return t.Say(name+".one", "n", Count(n))
	}
	return t.Say(name+".many", "n", Count(n))
}

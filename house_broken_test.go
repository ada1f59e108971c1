package house_test

import (
	"reflect"
	"slices"
	"strings"
	"testing"
)

// sound is a made-up tree that keeps every rule.
func sound() tree {
	made := func(name string, imports ...string) unit {
		p := name[strings.LastIndex(name, "/")+1:]
		return unit{
			path: name, name: p,
			comments: []string{"Package " + p + " holds one idea.\n\nAnd this says more of it.\n"},
			files:    []file{{path: name + "/" + p + ".go", lines: 120, imports: imports}},
		}
	}
	main := made("cmd/earstone", "os", "log/slog", "time", "github.com/alecthomas/kong", "golang.org/x/term",
		"earstone/store/tables", "earstone/estimate/run")
	main.name, main.comments = "main", []string{"Command earstone does the whole job.\n"}
	main.files[0].clock, main.files[0].starts = []int{9}, []int{12}
	resample := made("estimate/resample", "sync", "earstone/statistics/stream", "earstone/estimate/key")
	resample.files[0].starts = []int{40}
	return tree{
		order: []entry{
			{"statistics/stream", "random numbers"}, {"statistics/dist", "densities"},
			{"programme/record", "what people write down"},
			{"estimate/key", "age-length keys"}, {"estimate/resample", "replicates"}, {"estimate/run", "the chain"},
			{"store/tables", "records in"}, {"cmd/earstone", "main"}, {"reference", "numbers for tests"},
		},
		packages: []unit{
			main,
			made("estimate/key", "math", "slices", "earstone/statistics/dist", "earstone/programme/record", "gonum.org/v1/gonum/mat"),
			resample,
			made("estimate/run", "time", "earstone/estimate/resample"),
			made("programme/record"),
			made("reference", "embed", "testing"),
			made("statistics/dist", "math", "earstone/statistics/stream", "gonum.org/v1/gonum/stat/distuv"),
			made("statistics/stream", "math/bits"),
			made("store/tables", "os", "earstone/programme/record", "github.com/xuri/excelize/v2", "golang.org/x/text/encoding/charmap"),
		},
		libraries: []string{"github.com/alecthomas/kong", "github.com/xuri/excelize/v2", "gonum.org/v1/gonum"},
		texts:     []text{{"docs/developers.md", []string{"The map.", "A framework/works page."}}},
	}
}

// at is the package of a made-up tree under a path that it has.
func (h tree) at(p string) *unit {
	return &h.packages[slices.IndexFunc(h.packages, func(u unit) bool { return u.path == p })]
}

// imported lets a package import something more.
func imported(p, what string) func(*tree) {
	return func(h *tree) { f := &h.at(p).files[0]; f.imports = append(f.imports, what) }
}

func TestSoundTreeHasNoComplaint(t *testing.T) {
	for _, r := range rules {
		for _, complaint := range r.of(sound()) {
			t.Errorf("Rule %q complains of a sound tree: %s", r.name, complaint)
		}
	}
}

func TestEachBreachIsSeen(t *testing.T) {
	breaches := []struct {
		rule   string
		breach func(*tree)
		says   string // the complaint's own words
	}{
		{"map names every package", func(h *tree) { h.order = h.order[1:] }, "statistics/stream is missing from the map"},
		{"map names every package", func(h *tree) { h.order = append(h.order, entry{"plan/budget", "shares"}) }, "no such package"},
		{"map names every package", func(h *tree) { h.order = append(h.order, h.order[0]) }, "names statistics/stream twice"},
		{"map names every package", func(h *tree) { h.order[3].sentence = "" }, "does not say what estimate/key holds"},

		{"imports go down the map", imported("statistics/stream", "earstone/statistics/dist"), "statistics/stream imports statistics/dist"},
		{"imports go down the map", imported("estimate/key", "earstone/estimate/resample"), "estimate/key imports estimate/resample"},

		{"folders keep to themselves", imported("programme/record", "earstone/statistics/dist"), "programme/record imports statistics/dist"},
		{"folders keep to themselves", imported("statistics/dist", "earstone/programme/record"), "statistics/dist imports programme/record"},
		{"folders keep to themselves", imported("store/tables", "earstone/estimate/key"), "only what lies in store or programme"},

		{"engine touches nothing outside", imported("estimate/key", "os"), "imports os"},
		{"engine touches nothing outside", imported("estimate/key", "os/exec"), "imports os/exec"},
		{"engine touches nothing outside", imported("estimate/run", "net/http"), "imports net/http"},
		{"engine touches nothing outside", imported("estimate/run", "database/sql"), "imports database/sql"},
		{"engine touches nothing outside", imported("programme/record", "log"), "imports log:"},
		{"engine touches nothing outside", imported("programme/record", "log/slog"), "imports log/slog"},
		{"engine touches nothing outside", imported("programme/record", "html/template"), "imports html/template"},
		{"engine touches nothing outside", imported("statistics/stream", "math/rand"), "imports math/rand:"},
		{"engine touches nothing outside", imported("statistics/stream", "math/rand/v2"), "imports math/rand/v2"},
		{"engine touches nothing outside", imported("statistics/stream", "crypto/rand"), "imports crypto/rand"},

		{"engine reads no clock", func(h *tree) { h.at("estimate/run").files[0].clock = []int{31} }, "estimate/run/run.go, line 31, reads the clock"},
		{"engine starts goroutines in one place", func(h *tree) { h.at("estimate/key").files[0].starts = []int{8} }, "estimate/key/key.go, line 8, starts a goroutine"},

		{"library has one owner", imported("cmd/earstone", "github.com/xuri/excelize/v2"), "excelize/v2 is imported by cmd/earstone and store/tables"},
		{"library has one owner", imported("store/tables", "golang.org/x/term"), "golang.org/x/term is imported by"},
		{"library has one owner", func(h *tree) {
			imported("cmd/earstone", "gonum.org/v1/gonum/mat")(h)
			imported("store/tables", "gonum.org/v1/gonum/stat")(h)
		}, "gonum.org/v1/gonum is imported by cmd/earstone and store/tables"},

		{"packages for tests serve tests", imported("estimate/key", "earstone/reference"), "estimate/key imports reference"},
		{"packages for tests serve tests", imported("cmd/earstone", "earstone/store/storetest"), "cmd/earstone imports store/storetest"},

		{"package comment opens with a sentence", func(h *tree) { h.at("estimate/key").comments = nil }, "has 0 package comments"},
		{"package comment opens with a sentence", func(h *tree) { u := h.at("estimate/key"); u.comments = append(u.comments, u.comments...) }, "has 2 package comments"},
		{"package comment opens with a sentence", func(h *tree) { h.at("estimate/key").comments[0] = "Holds keys.\n" }, `opens "Holds keys."`},
		{"package comment opens with a sentence", func(h *tree) { h.at("estimate/key").comments[0] = "Package keys holds keys.\n" }, `opens with "Package key "`},
		{"package comment opens with a sentence", func(h *tree) { h.at("estimate/key").comments[0] = "Package key holds keys\n" }, "one whole sentence"},
		{"package comment opens with a sentence", func(h *tree) { h.at("cmd/earstone").comments[0] = "Package main runs.\n" }, `opens with "Command "`},

		{"package name says something", func(h *tree) { h.at("estimate/key").path = "estimate/util" }, "called util"},
		{"package name says something", func(h *tree) { h.at("estimate/key").name = "helpers" }, "called helpers"},

		{"file keeps its bound", func(h *tree) { h.at("estimate/key").files[0].lines = 501 }, "has 501 lines"},
		{"file keeps its bound", func(h *tree) { h.long = map[string]string{"estimate/key/key.go": "one table"} }, "take it out"},

		{"text names no host", func(h *tree) { h.texts[0].lines[1] = "GOPROXY=https://PROXY." + "golang.org" }, "docs/developers.md, line 2"},
		{"text names no host", func(h *tree) { h.texts[0].lines[0] = "cd /" + "work/tree" }, "docs/developers.md, line 1"},
	}
	seen := map[string]bool{}
	for _, b := range breaches {
		i := slices.IndexFunc(rules, func(r rule) bool { return r.name == b.rule })
		if i < 0 {
			t.Fatalf("There is no rule %q to break.", b.rule)
		}
		seen[b.rule] = true
		h := sound()
		b.breach(&h)
		complaints := rules[i].of(h)
		if len(complaints) != 1 || !strings.Contains(complaints[0], b.says) {
			t.Errorf("Rule %q, broken once, says %q, want one complaint with the words %q.", b.rule, complaints, b.says)
		}
	}
	for _, r := range rules {
		if !seen[r.name] {
			t.Errorf("No breach shows that rule %q can fail.", r.name)
		}
	}
}

func TestLongFileWithReasonIsKept(t *testing.T) {
	h := sound()
	h.at("estimate/key").files[0].lines = bound + 1
	h.long = map[string]string{"estimate/key/key.go": "one table of published equations"}
	if complaints := filesKeepBound(h); len(complaints) != 0 {
		t.Errorf("A long file with its reason is complained of: %q", complaints)
	}
}

func TestInspectSeesClockAndGoroutines(t *testing.T) {
	const source = `// Package made is made up.
package made

import (
	"sync"
	hours "time"
)

func f(wait *sync.WaitGroup, time interface{ Now() int }) hours.Duration {
	go func() {}()
	wait.Go(func() {})
	_ = time.Now() // not the clock: a value of that name
	begun := hours.Now()
	stamp := hours.Now
	_ = stamp
	return begun.Sub(begun) + 3*hours.Second
}
`
	f, comment, owner := inspect(t, "made/made.go", []byte(source))
	want := file{path: "made/made.go", lines: 17, imports: []string{"sync", "time"}, starts: []int{10, 11}, clock: []int{13, 14}}
	if !reflect.DeepEqual(f, want) {
		t.Errorf("inspect sees %+v, want %+v", f, want)
	}
	if comment != "Package made is made up.\n" || owner != "made" {
		t.Errorf("inspect reads comment %q of package %q, want the made-up ones", comment, owner)
	}
}

func TestParseMapTakesTheFencedListAlone(t *testing.T) {
	const page = "# Page\n\nstatistics/not here\n\n```map\n# a folder\nstatistics/stream   random numbers, keyed\n\nkey\n```\n\n```text\nstatistics/later no\n```\n"
	want := []entry{{"statistics/stream", "random numbers, keyed"}, {"key", ""}}
	if got := parseMap(page); !slices.Equal(got, want) {
		t.Errorf("parseMap = %q, want %q", got, want)
	}
}

func TestLibraryIsTheLongestModule(t *testing.T) {
	modules := []string{"github.com/a/b", "github.com/a/b/v2", "golang.org/x/text"}
	for _, c := range []struct{ imported, want string }{
		{"encoding/csv", ""},
		{"earstone/estimate/key", ""},
		{"github.com/a/b/part", "github.com/a/b"},
		{"github.com/a/b/v2/part", "github.com/a/b/v2"},
		{"github.com/a/bc", "github.com/a/bc"},
		{"golang.org/x/text/message", "golang.org/x/text/message"},
	} {
		if got := library(c.imported, modules); got != c.want {
			t.Errorf("%s comes from library %q, want %q", c.imported, got, c.want)
		}
	}
}

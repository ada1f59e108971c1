package frame

import (
	"errors"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"testing/fstest"
)

// halfAt is the half width at the right end of a part, read from its outline.
func halfAt(t *testing.T, p part) (half float64) {
	t.Helper()
	_, end, _ := strings.Cut(p.Flow, " L100 ")
	if _, err := fmt.Sscanf(end, "%f", &half); err != nil {
		t.Fatalf("reading the outline %q: %v", p.Flow, err)
	}
	return middle - half
}

func TestBandIsAsWideAsItsStones(t *testing.T) {
	f := Flow{Season: 2031, Reached: map[Stage]int{Intake: 1200, Bench: 600, Read: 0}}
	parts := f.parts(Bench, func(s Stage) string { return map[Stage]string{Intake: "/intake", Bench: "/bench"}[s] })
	if len(parts) != len(Stages()) {
		t.Fatalf("the band has %d parts, want one a stage", len(parts))
	}
	// By hand: 29 for all, half of it for half; a thread of 1.4 where none came.
	for i, want := range []struct {
		half         float64
		count, waits string
		here, later  bool
	}{{1.4, "", "", false, true}, {29, "1\u202F200", "", false, false}, {14.5, "600", "600", true, false}, {1.4, "0", "600", false, false}, {1.4, "", "", false, true}} {
		p := parts[i]
		if got := halfAt(t, p); got < want.half-.06 || got > want.half+.06 || p.Count != want.count || p.Waits != want.waits || p.Here != want.here || p.Later != want.later {
			t.Errorf("%s is %.1f wide with %q stones, %q waiting, here %v, later %v; want %+v", p.Name, got, p.Count, p.Waits, p.Here, p.Later, want)
		}
	}
	empty := Flow{Reached: map[Stage]int{Intake: 0, Bench: 0, Read: 0}}
	for _, p := range empty.parts(NoStage, func(Stage) string { return "" }) {
		if strings.Contains(p.Flow, "NaN") || halfAt(t, p) > 1.5 {
			t.Errorf("with no stone at all %s is drawn as %s", p.Name, p.Flow)
		}
	}
}

func TestLayoutStandsOnNothingAndOnEverything(t *testing.T) {
	page := Parse(Intake, fstest.MapFS{"page.html": {Data: []byte(`{{define "body"}}{{range .}}{{template "field" .}}{{end}}{{end}}`)}}, "page.html")
	path := func(Stage) string { return "" }
	hostile := `"><script>'`
	var all []Field
	for _, kind := range []string{"", "password", "select", "area", "checks", "choice", "search"} {
		all = append(all, Field{Name: "a" + kind, Kind: kind},
			Field{Name: "b" + kind, Kind: kind, Label: hostile, Hint: hostile, Value: hostile, Options: []Option{{hostile, hostile, true}}, Suggest: []string{hostile},
				Problems: []Problem{{hostile, hostile, true}, {hostile, hostile, false}}, Focus: true, Needed: true, Code: true, Number: true, Scan: true, Fill: "off", Span: "wide"})
	}
	for _, view := range [][]Field{nil, all} {
		for _, around := range []Surroundings{{Path: path}, {Programme: hostile, Path: path, Solo: true, Links: []Link{{"/a", hostile}}, Seek: true, Sought: hostile, Flow: Flow{Season: 2031, Reached: map[Stage]int{Intake: 2}}}} {
			around.Who.ID, around.Who.Name = around.Programme, around.Programme
			got, err := around.Render(page.Show(hostile, view))
			if err != nil {
				t.Fatalf("drawing %d fields: %v", len(view), err)
			}
			if strings.Contains(string(got), "<script>") || strings.Contains(string(got), "ZgotmplZ") {
				t.Errorf("what was typed becomes part of the page:\n%s", got)
			}
		}
	}
}

func TestKeyboardBeginsAtWhatIsWrong(t *testing.T) {
	first, more := []Field{{Name: "fish", Focus: true}, {Name: "length"}}, []Field{{Name: "weight", Problems: []Problem{{}}}, {Name: "sex", Problems: []Problem{{}}}}
	Begin(first, more)
	if first[0].Focus || !more[0].Focus || more[1].Focus {
		t.Errorf("the keyboard begins at %+v %+v, want weight", first, more)
	}
	fine := []Field{{Name: "fish", Focus: true}}
	Begin(fine)
	if !fine[0].Focus {
		t.Error("with nothing wrong the keyboard leaves its field")
	}
}

func TestErrorsAreToldInWords(t *testing.T) {
	known := errors.New("store: known")
	words := func(err error) (Trouble, bool) {
		return Trouble{http.StatusConflict, "Known.", "Do."}, errors.Is(err, known)
	}
	for err, want := range map[error]int{
		NotThere: http.StatusNotFound, fmt.Errorf("asking: %w", TooMuch): http.StatusRequestEntityTooLarge,
		&http.MaxBytesError{Limit: 1}: http.StatusRequestEntityTooLarge, fmt.Errorf("keeping: %w", known): http.StatusConflict,
		errors.New("sql: connection to /secret/place lost"): http.StatusInternalServerError,
	} {
		a := OfTrouble(err, words)
		if a.Status != want || strings.Contains(fmt.Sprint(a.View), "secret") {
			t.Errorf("%v is told as %d %v, want %d and nothing of the error itself", err, a.Status, a.View, want)
		}
	}
}

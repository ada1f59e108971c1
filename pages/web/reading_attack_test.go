package web

import (
	"fmt"
	"net/http"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"earstone/programme/record"
	"earstone/store/accounts"
	"earstone/store/history"
	"earstone/store/tables"
)

// atOnce posts forms at one time and gives the status of each answer, 0 where there was none.
func (v *visitor) atOnce(posts ...func() (path string, form url.Values)) []int {
	statuses := make([]int, len(posts))
	client := *v.Client
	client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	var all sync.WaitGroup
	for i, post := range posts {
		path, form := post()
		all.Go(func() {
			r, err := http.NewRequest(http.MethodPost, v.at+path, strings.NewReader(form.Encode()))
			if err != nil {
				return
			}
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			r.Header.Set("Sec-Fetch-Site", "same-origin")
			if got, err := client.Do(r); err == nil {
				statuses[i] = got.StatusCode
				_ = got.Body.Close() // nothing of it was read
			}
		})
	}
	all.Wait()
	return statuses
}

// underGlass deals mara a sitting without pictures and gives its label.
func (p *place) underGlass(t testing.TB, v *visitor, more url.Values) string {
	t.Helper()
	form := url.Values{"reader": {"mara"}, "choose": {"unread_by_reader"}, "most": {"15"}, "controls": {"0"}, "how": {"glass"}}
	for name, value := range more {
		form[name] = value
	}
	status, body, h := v.send("/read/deal", form)
	label, dealt := strings.CutPrefix(h.Get("Location"), "/read?dealt=")
	if !dealt {
		t.Fatalf("dealing is answered with %d: %s", status, problems(body))
	}
	return label
}

func counted(annuli string) url.Values {
	return url.Values{"do": {"keep"}, "annuli": {annuli}, "edge": {"partial"}, "readability": {"4"}}
}

// TestNoCountIsLostInSilence: of two counts of one turn sent at once one is kept, and who
// sent the other is told; the same sent twice is kept once and no mistake.
func TestNoCountIsLostInSilence(t *testing.T) {
	p := serving(t, "mara")
	p.season(t, 30)
	v := p.visitor(t)
	label := p.underGlass(t, v, nil)
	for turn := range 8 {
		_, _, h := v.ask("/read/" + label)
		at := h.Get("Location")
		send := func(annuli string) func() (string, url.Values) {
			return func() (string, url.Values) { return at, counted(annuli) }
		}
		got := v.atOnce(send("3"), send("9"))
		if sorted := slices.Sorted(slices.Values(got)); !slices.Equal(sorted, []int{http.StatusSeeOther, http.StatusConflict}) {
			t.Fatalf("turn %d: counts of 3 and 9 sent at once are answered with %v, want one kept (303) and one refused (409)", turn+1, got)
		}
		kept, lost := "3", "9"
		if got[0] == http.StatusConflict {
			kept, lost = lost, kept
		}
		ticket := at[strings.LastIndex(at, "/")+1:]
		found := p.where(t, history.Readings, "reading", label+"-"+ticket)
		if len(found) != 1 || found[0].Fields()["annuli"] != kept {
			t.Errorf("turn %d: %d readings are kept, want one of %s annuli", turn+1, len(found), kept)
		}
		if status, body, _ := v.send(at, counted(lost)); status != http.StatusConflict || !strings.Contains(body, kept+" annuli") {
			t.Errorf("turn %d: another count later is answered with %d, want 409 and the count that is kept", turn+1, status)
		}
		if status, _, _ := v.send(at, counted(kept)); status != http.StatusSeeOther {
			t.Errorf("turn %d: the same count again is answered with %d, want 303", turn+1, status)
		}
	}
}

// TestRenamingTakesReadingsOfThisMomentAlong: a fish that gets another label while its
// reading is kept has its reading under the new one.
func TestRenamingTakesReadingsOfThisMomentAlong(t *testing.T) {
	p := serving(t, "mara")
	p.season(t, 30)
	v := p.visitor(t)
	label := p.underGlass(t, v, nil)
	_, tray, _ := v.ask("/read/" + label + "/tray")
	for i, code := range regexp.MustCompile(`QB-[A-Z0-9-]+-L1`).FindAllString(tray, -1) {
		id, after := p.fish(t, strings.TrimSuffix(code, "-L1")), codeOf(100+i)
		rename := p.correction(t, id)
		rename.Set("fish", after)
		_, _, h := v.ask("/read/" + label)
		got := v.atOnce(func() (string, url.Values) { return h.Get("Location"), counted("3") },
			func() (string, url.Values) { return "/fish/" + id + "/correct", rename })
		if !slices.Equal(got, []int{http.StatusSeeOther, http.StatusSeeOther}) {
			t.Fatalf("a count and a new label at once are answered with %v, want both kept", got)
		}
		for _, one := range p.where(t, history.Readings, "preparation", code) {
			if of := one.Fields()["fish"]; of != after {
				t.Errorf("%s is a reading of fish %s, which is called %s now", one.Fields()["reading"], of, after)
			}
		}
	}
}

// TestReadersReadUnderTheirCode: the settings list R1 and R2, accounts have small letters. The
// code is chosen when a sitting is dealt and stays; an account that is called like a code has it.
func TestReadersReadUnderTheirCode(t *testing.T) {
	p := serving(t, "")
	p.season(t, 30)
	s := record.Defaults()
	s.Name, s.Species, s.Readers = "Quarrow Banks ear-stone programme", []record.Species{"BFT"}, []record.ReaderID{"R1", "R2"}
	text, err := tables.SettingsJSON(s)
	must0(t, err)
	p.supersede(t, history.Settings, history.Fields{"programme": "programme", "programme.json": string(text)})
	p.account(t, "admin", accounts.Administrator)
	p.account(t, "carla", accounts.Coordinator)
	for _, name := range []string{"reda", "r2"} {
		p.account(t, name, accounts.Reader)
	}
	carla, reda, r2 := p.signedIn(t, "carla"), p.signedIn(t, "reda"), p.signedIn(t, "r2")
	deal := url.Values{"reader": {"reda"}, "choose": {"unread_by_reader"}, "most": {"2"}, "controls": {"0"}, "how": {"glass"}, "code": {"R9"}}
	if status, body, _ := carla.send("/read/deal", deal); status != http.StatusUnprocessableEntity || !strings.Contains(body, "R1, R2") {
		t.Errorf("a code that the settings do not list is answered with %d, want %d and those they do", status, http.StatusUnprocessableEntity)
	}
	deal.Set("code", "R1")
	_, _, h := carla.send("/read/deal", deal)
	first := strings.TrimPrefix(h.Get("Location"), "/read?dealt=")
	begin := func(v *visitor) string {
		_, _, h := v.send("/read", url.Values{"how": {"glass"}})
		return strings.TrimPrefix(h.Get("Location"), "/read/")
	}
	for _, c := range []struct {
		v             *visitor
		sitting, want string
	}{{reda, first, "R1"}, {reda, begin(reda), "R1"}, {r2, begin(r2), "R2"}} {
		_, _, h := c.v.ask("/read/" + c.sitting)
		c.v.send(h.Get("Location"), counted("4"))
		found := p.where(t, history.Readings, "session", c.sitting)
		if len(found) != 1 || found[0].Fields()["reader"] != c.want {
			t.Errorf("the sitting %q left %d readings %v, want one by %s", c.sitting, len(found), found, c.want)
		}
	}
}

// TestTablesTellWhatReadingsSay: every column that a sitting fills is told of in docs/tables.md,
// and so are the words of the further one.
func TestTablesTellWhatReadingsSay(t *testing.T) {
	page, err := os.ReadFile("../../docs/tables.md")
	must0(t, err)
	p := serving(t, "")
	drawn := p.sections(t, 6, here)
	p.sitting(t, "S-test", "odd", 6, true)
	p.account(t, "admin", accounts.Administrator)
	p.account(t, "odd", accounts.Reader)
	p.through(t, drawn)
	told := ""
	for line := range strings.Lines(string(page)) {
		if strings.HasPrefix(line, "| `readings.csv`") || strings.Contains(line, "`suggestions`") {
			told += line
		}
	}
	for _, one := range p.where(t, history.Readings, "session", "S-test") {
		for column, text := range one.Fields() {
			if !regexp.MustCompile(`\b` + column + `\b`).MatchString(told) {
				t.Errorf("docs/tables.md does not tell of the column %s of readings", column)
			}
			if column == "suggestions" && !strings.Contains(told, fmt.Sprintf("`%s`", text)) {
				t.Errorf("docs/tables.md does not tell what suggestions %q means", text)
			}
		}
	}
}

package web

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"earstone/estimate/run"
	"earstone/programme/date"
	"earstone/programme/record"
	"earstone/store/book"
	"earstone/store/history"
	"earstone/store/tables"
)

// readers keeps the readings of two people on the fish of a season: they differ by one on
// every third, and bo by two more on the last.
func (p *place) readers(t testing.TB, n int) {
	t.Helper()
	s := record.Defaults()
	s.Name, s.Species, s.Readers = "Quarrow Banks ear-stone programme", []record.Species{"BFT"}, []record.ReaderID{"ada", "bo"}
	birth, _ := date.ParseAnniversary("06-01")
	s.Calendars = map[record.Species]record.Calendar{"BFT": {BirthDay: birth, AnnulusDay: birth, AnnulusWindowDays: 45, FirstAnnulusAge: 1}}
	text, err := tables.SettingsJSON(s)
	must0(t, err)
	p.supersede(t, history.Settings, history.Fields{"programme": "programme", "programme.json": string(text)})
	for i := 1; i <= n; i++ {
		prep := codeOf(i) + "-L1"
		for r, who := range []string{"ada", "bo"} {
			annuli := 3 + i%7
			if who == "bo" && i%3 == 0 {
				annuli++
			}
			if who == "bo" && i == n {
				annuli += 2
			}
			p.keep(t, &history.Entry{Kind: history.Readings, Fields: history.Fields{"reading": fmt.Sprintf("%s-%d", who, i), "fish": codeOf(i), "side": "L", "preparation": prep, "image": prep + "-P1",
				"reader": who, "read_at": fmt.Sprintf("2024-03-%02d", 1+i%20+r), "annuli": strconv.Itoa(annuli), "edge": "partial", "blind": "true"}})
		}
	}
}

// supersede puts the only record of a kind in the place of what was there.
func (p *place) supersede(t testing.TB, kind history.Kind, f history.Fields) {
	t.Helper()
	e := &history.Entry{Kind: kind, Fields: f, Why: "a test"}
	must0(t, p.store.Each(context.Background(), kind, func(r *history.Record) error {
		e.Subject = r.Subject
		for _, h := range r.Heads {
			e.Supersedes = append(e.Supersedes, h.ID)
		}
		return nil
	}))
	p.keep(t, e)
}

// noEquations converts nothing: agreement asks for no length.
type noEquations struct{}

func (noEquations) Length(record.Species, record.Length, record.LengthBin) (x, sd float64, ok bool) {
	return 0, 0, false
}
func (noEquations) Weight(record.Species, float64, record.LengthBin) (kg float64, ok bool) {
	return 0, false
}

// TestAgreementEqualsTheEngines: every number of the page is that of agreement.csv, to the last digit.
func TestAgreementEqualsTheEngines(t *testing.T) {
	p := serving(t, "mara")
	quiet := here
	quiet.quiet = true
	p.sections(t, 12, quiet)
	p.readers(t, 12)
	programme, err := book.Read(context.Background(), p.store)
	must0(t, err)
	o, err := run.Run(context.Background(), programme, noEquations{}, run.Options{Only: []run.Part{run.Agreement}})
	must0(t, err)
	of := map[string]float64{}
	for _, table := range o.Tables() {
		if table.Name != "agreement" {
			continue
		}
		for _, e := range table.Estimate {
			of[strings.Join(e.ID[1:], "|")] = e.Value.X
		}
	}
	status, body, _ := p.visitor(t).ask("/settle")
	if status != http.StatusOK {
		t.Fatalf("the page Settle is answered with %d: %s", status, problems(body))
	}
	tree, err := html.Parse(strings.NewReader(body))
	must0(t, err)
	seen := 0
	for n := range tree.Descendants() {
		if n.Type != html.ElementNode || n.Data != "data" {
			continue
		}
		var value, name string
		for _, a := range n.Attr {
			if a.Key == "value" {
				value = a.Val
			}
			if a.Key == "data-of" {
				name = a.Val
			}
		}
		seen++
		x, err := strconv.ParseFloat(value, 64)
		if want, there := of[name]; err != nil || !there || x != want {
			t.Errorf("the page gives %s as %s, agreement.csv as %v (there: %v)", name, value, want, there)
		}
	}
	if seen < 20 || !strings.Contains(body, `class="chart"`) {
		t.Errorf("the page gives %d numbers of agreement and a picture: %v; want 20 or more, and one", seen, strings.Contains(body, `class="chart"`))
	}
}

// TestJointReadingSettles: two readings that tie leave a fish open; a joint one gives it an
// age by the programme's rule, which is recorded with the rule and the readings.
func TestJointReadingSettles(t *testing.T) {
	p := serving(t, "mara")
	quiet := here
	quiet.quiet = true
	quiet.counts = ""
	p.sections(t, 4, quiet)
	p.readers(t, 4)
	v := p.visitor(t)
	at := "/settle/" + p.fish(t, codeOf(3))
	_, body, _ := v.ask("/settle")
	if !strings.Contains(body, at) || !strings.Contains(body, "no age yet, a tie") {
		t.Fatalf("counts of 6 and 7 are not among what wants settling: %s", between(body, "<main", "</main>"))
	}
	_, body, _ = v.ask(at)
	if !strings.Contains(body, "<image") || !strings.Contains(body, "ada") || !strings.Contains(body, "bo") {
		t.Errorf("the page of the fish shows %s, want the section and both readers", between(body, "<main", "</main>"))
	}
	tile := between(body, `<image href="`, `"`)
	if status, _, h := v.ask(tile); status != http.StatusOK || h.Get("Content-Type") != "image/jpeg" {
		t.Errorf("the tile %s is answered with %d as %s", tile, status, h.Get("Content-Type"))
	}
	if status, _, _ := v.send(at, url.Values{"annuli": {""}, "edge": {"wide"}}); status != http.StatusUnprocessableEntity {
		t.Errorf("a joint reading without a count is answered with %d, want 422", status)
	}
	if status, body, _ := v.send(at, url.Values{"annuli": {"7"}, "edge": {"partial"}, "remark": {"the third is a check"}, "on": {"ada-3"}}); status != http.StatusSeeOther {
		t.Fatalf("a joint reading is answered with %d: %s", status, problems(body))
	}
	joint := p.where(t, history.Readings, "reader", "joint")
	if len(joint) != 1 || joint[0].Fields()["blind"] != "false" || joint[0].Fields()["annuli"] != "7" || joint[0].Fields()["preparation"] != codeOf(3)+"-L1" {
		t.Fatalf("the joint reading is kept as %v", joint)
	}
	agreed := p.where(t, history.Agreed, "fish", codeOf(3))
	if len(agreed) != 1 {
		t.Fatalf("%d agreed ages are recorded of the fish, want 1", len(agreed))
	}
	if f := agreed[0].Fields(); f["annuli"] != "7" || !strings.Contains(f["readings"], "ada-3;bo-3;J-") || !strings.Contains(f["rule"], "median") || f["on"] == "" {
		t.Errorf("the agreed age is recorded as %v", f)
	}
	if _, _, h := v.send("/settle", nil); h.Get("Location") == "/settle?recorded=0" {
		t.Error("the ages of the other fish are not recorded")
	}
	if _, _, h := v.send("/settle", nil); h.Get("Location") != "/settle?recorded=0" {
		t.Errorf("recording again leads to %s, want nothing to record", h.Get("Location"))
	}
	if status, _, _ := v.send(at+"/reference", url.Values{"preparation": {codeOf(3) + "-L1"}}); status != http.StatusSeeOther || len(p.where(t, history.References, "preparation", codeOf(3)+"-L1")) != 1 {
		t.Errorf("putting a preparation into the reference collection is answered with %d", status)
	}
}

// TestDriftStopsReadings: what a reader counts after control readings ran out of their limits
// settles nothing until somebody says why it may.
func TestDriftStopsReadings(t *testing.T) {
	p := serving(t, "mara")
	p.season(t, 2)
	p.readers(t, 2)
	day := date.On(2024, 6, 1).Serial()
	for i := range 60 {
		annuli := 8
		if i > 35 {
			annuli = 11
		}
		p.keep(t, &history.Entry{Kind: history.Readings, Fields: history.Fields{"reading": fmt.Sprintf("c-%d", i), "fish": codeOf(1), "side": "L", "preparation": codeOf(1) + "-L1", "reader": "bo",
			"read_at": date.FromSerial(day + i).String(), "annuli": strconv.Itoa(annuli), "edge": "partial", "control": "true", "blind": "true"}})
	}
	late := date.FromSerial(day + 70).String()
	p.keep(t, &history.Entry{Kind: history.Readings, Fields: history.Fields{"reading": "late", "fish": codeOf(2), "side": "L", "preparation": codeOf(2) + "-L1", "reader": "bo",
		"read_at": late, "annuli": "12", "edge": "partial", "blind": "true"}})
	v := p.visitor(t)
	at := "/settle/" + p.fish(t, codeOf(2))
	_, body, _ := v.ask("/settle")
	if !strings.Contains(body, "Out of the limits") || !strings.Contains(body, `class="breach"`) {
		t.Fatalf("the page says nothing of the drift: %s", between(body, "<main", "</main>"))
	}
	if _, body, _ := v.ask(at); !strings.Contains(body, "does not settle") {
		t.Errorf("the late reading is not marked: %s", between(body, "<tbody>", "</tbody>"))
	}
	if status, _, _ := v.send("/settle/readers", url.Values{"reader": {"bo"}, "why": {" "}}); status != http.StatusUnprocessableEntity {
		t.Errorf("without a reason a reader counts again: %d", status)
	}
	if status, _, _ := v.send("/settle/readers", url.Values{"reader": {"bo"}, "why": {"the lamp was replaced"}}); status != http.StatusSeeOther {
		t.Errorf("with a reason it is answered with %d", status)
	}
	_, body, _ = v.ask("/settle")
	_, fish, _ := v.ask(at)
	if strings.Contains(body, "Out of the limits") || strings.Contains(fish, "does not settle") {
		t.Error("after the reason was kept the reader is still held")
	}
}

package web

import (
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"earstone/pages/letter"
	"earstone/programme/record"
	"earstone/store/accounts"
	"earstone/store/history"
	"earstone/store/jobs"
)

// toldInTests gives one fish an age, whatever the run.
func toldInTests(fs.FS) (letter.Run, error) {
	return letter.Run{Ages: []letter.Age{{Fish: record.FishID(codeOf(1)), Species: "BFT", Age: record.Some(7), Cohort: 2018, Readings: 2}}}, nil
}

// senders keeps three contributors with fish: one who wants a letter, one who wants none
// and one who was not asked.
func (p *place) senders(t testing.TB) {
	t.Helper()
	for code, consent := range map[string]string{"C-101": "true", "C-102": "false", "C-103": ""} {
		p.keep(t, &history.Entry{Kind: history.Contributors, Fields: history.Fields{"contributor": code, "kind": "crew", "language": "en", "contact_consent": consent}})
	}
	for i, code := range []string{"C-101", "C-101", "C-102", "C-103"} {
		p.keep(t, &history.Entry{Kind: history.Fish, Fields: history.Fields{"fish": codeOf(i + 1), "species": "BFT", "caught_on": "2025-06-0" + string(rune('1'+i)), "area": "Skell",
			"contributor": code, "length": "17" + string(rune('1'+i)), "length_unit": "cm", "length_kind": "curved_fork", "remark": "seen at 43.21, -8.76 by Orla"}})
	}
}

// TestEachIsToldOfTheirOwn: a letter holds the fish of its contributor and of nobody else,
// no remark and no position; who did not say yes gets none.
func TestEachIsToldOfTheirOwn(t *testing.T) {
	p := serving(t, "mara")
	p.senders(t)
	v := p.visitor(t)
	_, list, _ := v.ask("/back")
	for _, said := range []string{`href="/back/letter/C-101?year=2025"`, "wants none", "was not asked", `href="/back/notice?year=2025"`, `href="/back"`} {
		if !strings.Contains(list, said) {
			t.Errorf("the list of contributors does not say %q", said)
		}
	}
	status, page, h := v.ask("/back/letter/C-101?year=2025")
	if status != http.StatusOK || !strings.Contains(h.Get("Content-Security-Policy"), "sandbox") {
		t.Fatalf("the letter gives %d under %q", status, h.Get("Content-Security-Policy"))
	}
	for _, own := range []string{codeOf(1), codeOf(2)} {
		if !strings.Contains(page, own) {
			t.Errorf("the letter does not hold its contributor's fish %s", own)
		}
	}
	_, notice, _ := v.ask("/back/notice?year=2025")
	_, batch, _ := v.ask("/back/letters?year=2025")
	for what, text := range map[string]string{"letter": page, "batch": batch, "notice": notice} {
		for _, secret := range []string{codeOf(3), codeOf(4), "43.21", "-8.76", "Orla", "C-102", "C-103"} {
			if strings.Contains(text, secret) {
				t.Errorf("the %s tells %s, which is not its to tell", what, secret)
			}
		}
	}
	for _, code := range []string{"C-102", "C-103", "C-999"} {
		if status, body, _ := v.ask("/back/letter/" + code); status != http.StatusNotFound || strings.Contains(body, codeOf(3)) || strings.Contains(body, codeOf(4)) {
			t.Errorf("%s, who did not say yes, has a letter: %d", code, status)
		}
	}
}

// TestLettersTellTheLastRun: ages come from the newest run that is done.
func TestLettersTellTheLastRun(t *testing.T) {
	p := serving(t, "mara")
	p.senders(t)
	v := p.visitor(t)
	if _, body, _ := v.ask("/back/letter/C-101"); strings.Contains(body, "2018") {
		t.Error("before any run a letter tells a year of birth")
	}
	id := strings.TrimPrefix(p.run(t, v, "7", jobs.Done), "/estimate/")
	if err := os.WriteFile(filepath.Join(p.dir, "runs", id, "results", "ages.csv"), []byte("fish\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	if _, body, _ := v.ask("/back/letter/C-101"); !strings.Contains(body, "2018") {
		t.Error("after a run the letter does not tell the year of birth that the run found")
	}
	if _, body, _ := v.ask("/back"); !strings.Contains(body, "those of the run of") {
		t.Error("the list does not say which run its ages are of")
	}
}

// TestLettersAreNotForReaders: letters tell lengths, days and places.
func TestLettersAreNotForReaders(t *testing.T) {
	p := serving(t, "")
	p.account(t, "mara", accounts.Administrator)
	p.account(t, "odd", accounts.Reader)
	p.senders(t)
	v := p.signedIn(t, "odd")
	for _, path := range []string{"/back", "/back/letters", "/back/letter/C-101", "/back/notice"} {
		if status, body, _ := v.ask(path); status != http.StatusForbidden || strings.Contains(body, codeOf(1)) {
			t.Errorf("a reader who asks for %s gets %d", path, status)
		}
	}
}

package web

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"

	"earstone/pages/web/season"
	"earstone/store/accounts"
	"earstone/store/history"
)

func card(label string) url.Values {
	return url.Values{"fish": {label}, "species": {"BFT"}, "length": {"214"}, "length_unit": {"cm"}, "length_kind": {"curved_fork"},
		"area": {"Skell"}, "contributor": {"C-014"}, "caught_on": {"2024-06-14"}, "received_on": {"2024-06-20"}, "stones": {"both"}}
}

// count is how many records of a kind there are.
func (p *place) count(t testing.TB, kind history.Kind) (n int) {
	t.Helper()
	if err := p.store.Each(context.Background(), kind, func(*history.Record) error { n++; return nil }); err != nil {
		t.Fatal(err)
	}
	return n
}

// TestOtherSitesCanDoNothing: a form or a script of another site, with the cookie of
// somebody who is signed in or at a machine without accounts, changes nothing.
func TestOtherSitesCanDoNothing(t *testing.T) {
	p := serving(t, "mara")
	v := p.visitor(t)
	for _, h := range []http.Header{
		{"Sec-Fetch-Site": {"cross-site"}},
		{"Sec-Fetch-Site": {"same-site"}},
		{"Origin": {"https://quarrow.example"}},
		{"Origin": {"null"}},
	} {
		r, err := http.NewRequest(http.MethodPost, p.URL+"/intake", strings.NewReader(card(codeOf(1)).Encode()))
		if err != nil {
			t.Fatal(err)
		}
		r.Header = h.Clone()
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		if status, _, _ := v.do(r); status != http.StatusForbidden {
			t.Errorf("a form with %v is answered with %d, want %d", h, status, http.StatusForbidden)
		}
	}
	if n := p.count(t, history.Fish); n != 0 {
		t.Errorf("other sites kept %d fish, want none", n)
	}
	if status, body, _ := v.send("/intake", card(codeOf(1))); status != http.StatusSeeOther {
		t.Errorf("the form of the page itself is answered with %d, want %d: %s", status, http.StatusSeeOther, problems(body))
	}
}

// TestStrangeNamesAreRefused: the name of another site can be made to lead to this machine.
func TestStrangeNamesAreRefused(t *testing.T) {
	p := serving(t, "mara")
	for host, want := range map[string]int{"quarrow.example": 421, "quarrow.example:8731": 421, "127.0.0.1.quarrow.example": 421, "localhost:19731.quarrow.example": 421, "127.0.0.1:80.quarrow.example": 421, "localhost:99999": 421, "localhost:+80": 421, "": 421,
		"localhost": 200, "localhost:1": 200, "127.0.0.1:9": 200, "[::1]:9": 200, "LOCALHOST.": 200} {
		r, err := http.NewRequest(http.MethodGet, p.URL+"/intake", nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Host = host
		if host == "" {
			r.Host = "."
		}
		if status, _, _ := p.visitor(t).do(r); status != want {
			t.Errorf("asked by the name %q it answers %d, want %d", host, status, want)
		}
	}
}

// TestWhoLeavesIsNoTrouble: a browser that goes before its page is drawn leaves nothing in
// the log that somebody would be called for.
func TestWhoLeavesIsNoTrouble(t *testing.T) {
	p := serving(t, "mara")
	var log bytes.Buffer
	s := &server{Site: Site{Store: p.store, Accounts: p.register, Now: time.Now, Log: slog.New(slog.NewTextHandler(&log, nil))}, flow: season.New(p.store, time.Now)}
	left, leave := context.WithCancel(t.Context())
	leave()
	in := httptest.NewRequestWithContext(left, http.MethodGet, "/account", nil)
	mara := accounts.Person{ID: "mara", Roles: accounts.Everybody}
	if _, err := s.around(in, mara); err == nil {
		t.Fatal("the season is counted for somebody who left, so that this test proves nothing")
	}
	s.send(httptest.NewRecorder(), in, mara, accountPage.Show("Your account", newAccount(mara)), nil)
	if log.Len() > 0 {
		t.Errorf("the log says %q of a browser that left, want nothing", log.String())
	}
	broken := httptest.NewRequest(http.MethodGet, "/account", nil)
	if err := p.store.Close(); err != nil {
		t.Fatal(err)
	}
	s.send(httptest.NewRecorder(), broken, mara, accountPage.Show("Your account", newAccount(mara)), nil)
	if !strings.Contains(log.String(), "counting the season") {
		t.Errorf("the log says %q of a store that fails, want the counting of the season", log.String())
	}
}

// TestPeopleTellsWhoseCountsAreNotBlind: of every set of roles with that of a reader, the
// page says what the route table lets them see.
func TestPeopleTellsWhoseCountsAreNotBlind(t *testing.T) {
	p := serving(t, "")
	p.account(t, "mara", accounts.Administrator)
	seen := []string{"GET /fish/{fish}", "GET /estimate/{run}/beneath", "GET /read/{sitting}/tray", "GET /data/{file}", "GET /settle/{fish}", "GET /intake"}
	for _, beside := range append(accounts.Each(), 0) {
		roles, blind := accounts.Reader|beside, true
		for _, r := range (&server{Site: Site{Store: p.store, Accounts: p.register}}).table() {
			blind = blind && !(slices.Contains(seen, r.method+" "+r.path) && roles.Has(r.may))
		}
		id := fmt.Sprint("reader-", uint8(roles), "-", uint8(beside))
		p.account(t, id, roles)
		_, page, _ := p.signedIn(t, "mara").ask("/people")
		if row := between(page, `/people/`+id+`"`, "</tr>"); strings.Contains(row, "not blind") == blind || row == "" {
			t.Errorf("a person who is %s is blind: %v, but the page says %q", roles, blind, row)
		}
	}
}

// TestNobodyRaisesThemselves: no form field and no address gives a person another role.
func TestNobodyRaisesThemselves(t *testing.T) {
	p := serving(t, "")
	p.account(t, "mara", accounts.Administrator)
	p.account(t, "odd", accounts.Reader)
	v := p.signedIn(t, "odd")
	raise := url.Values{"person": {"odd2"}, "role": {"administrator"}, "password": {password}, "name": {"odd"}}
	for _, path := range []string{"/people", "/people/odd", "/people/mara", "/people/mara/password", "/people/odd/sessions", "/sign-in?role=administrator"} {
		if status, _, _ := v.send(path, raise); path != "/sign-in?role=administrator" && status != http.StatusForbidden {
			t.Errorf("a reader who sends %s is answered with %d, want %d", path, status, http.StatusForbidden)
		}
	}
	people, err := p.register.People(context.Background())
	if err != nil || len(people) != 2 || people[1].Roles != accounts.Reader {
		t.Errorf("afterwards the accounts are %v (%v), want mara and the reader odd", people, err)
	}
	// Roles that are taken away end with the sessions that had them.
	b := p.signedIn(t, "odd")
	if err := p.register.Change(context.Background(), "mara", accounts.Person{ID: "odd", Roles: accounts.Analyst}); err != nil {
		t.Fatal(err)
	}
	if status, _, _ := b.ask("/find"); status != http.StatusSeeOther {
		t.Errorf("after a change of roles an old session is answered with %d, want to sign in anew", status)
	}
}

// TestOwnPasswordWantsTheOldOne: a browser that was left open gives nobody the account.
func TestOwnPasswordWantsTheOldOne(t *testing.T) {
	p := serving(t, "")
	p.account(t, "odd", accounts.Administrator|accounts.Reader)
	v, elsewhere := p.signedIn(t, "odd"), p.signedIn(t, "odd")
	const fresh = "four brown otters"
	for current, want := range map[string]int{"": 422, "a guess of it": 422} {
		if status, _, _ := v.send("/account", url.Values{"current": {current}, "password": {fresh}}); status != want {
			t.Errorf("with the old password %q a new one is answered with %d, want %d", current, status, want)
		}
	}
	if status, _, _ := v.send("/account", url.Values{"current": {password}, "password": {"short"}}); status != 422 {
		t.Errorf("a short new password is answered with %d, want 422", status)
	}
	if status, body, _ := v.send("/account", url.Values{"current": {password}, "password": {fresh}}); status != http.StatusSeeOther {
		t.Fatalf("a new password is answered with %d: %s", status, problems(body))
	}
	if status, _, _ := elsewhere.ask("/account"); status != http.StatusSeeOther {
		t.Errorf("after a new password another session is answered with %d, want to sign in anew", status)
	}
	if _, _, err := p.register.SignIn(context.Background(), "odd", fresh, ""); err != nil {
		t.Errorf("signing in with the new password gives %v", err)
	}
}

// TestSoloEndsWithTheFirstAccount: once somebody has an account, nobody gets in without.
func TestSoloEndsWithTheFirstAccount(t *testing.T) {
	p := serving(t, "mara")
	v := p.visitor(t)
	if status, _, _ := v.ask("/people"); status != http.StatusOK {
		t.Fatalf("without accounts the page of accounts answers %d, want %d", status, http.StatusOK)
	}
	if status, _, _ := v.send("/people", url.Values{"person": {"odd"}, "role": {"reader"}, "password": {password}}); status != http.StatusUnprocessableEntity {
		t.Errorf("a first account that is no administrator's is answered with %d, want %d", status, http.StatusUnprocessableEntity)
	}
	if status, _, _ := v.send("/people", url.Values{"person": {"mara"}, "role": {"administrator"}, "password": {password}}); status != http.StatusSeeOther {
		t.Fatalf("making the first account is answered with %d", status)
	}
	for _, path := range []string{"/people", "/intake", "/find"} {
		if status, _, h := v.ask(path); status != http.StatusSeeOther || !strings.HasPrefix(h.Get("Location"), "/sign-in") {
			t.Errorf("with an account there, %s answers %d to %q without signing in", path, status, h.Get("Location"))
		}
	}
}

func TestListeningForOthersWantsSafety(t *testing.T) {
	p := serving(t, "mara")
	ctx := context.Background()
	if err := Listening(ctx, p.register, true, false, nil); err != nil {
		t.Errorf("listening on loopback is refused: %v", err)
	}
	if err := Listening(ctx, p.register, false, true, []string{"quarrow.example"}); !errors.Is(err, ErrNotSafe) {
		t.Errorf("listening without an administrator gives %v, want %v", err, ErrNotSafe)
	}
	p.account(t, "mara", accounts.Administrator)
	for _, c := range []struct {
		encrypted bool
		names     []string
		refused   bool
	}{{false, []string{"quarrow.example"}, true}, {true, nil, true}, {true, []string{"quarrow.example"}, false}} {
		if err := Listening(ctx, p.register, false, c.encrypted, c.names); errors.Is(err, ErrNotSafe) != c.refused {
			t.Errorf("listening with an encrypted way %v and the names %v gives %v", c.encrypted, c.names, err)
		}
	}
}

// scripts are what somebody would like to smuggle into a page.
var scripts = []string{`"><script>alert(1)</script>`, `' onmouseover='alert(1)`, `</textarea><img src=x onerror=alert(1)>`, `{{.}}`, `javascript:alert(1)`}

// TestScriptStaysText: what was written into any field comes back as text on every page.
func TestScriptStaysText(t *testing.T) {
	p := serving(t, "mara")
	v := p.visitor(t)
	for i, script := range scripts {
		label := "X" + script
		form := card(label)
		for _, column := range []string{"area", "gear", "trip", "contributor", "remark"} {
			form.Set(column, script)
		}
		_, body, _ := v.send("/intake", form)
		form.Set("seen", between(body, `name="seen" value="`, `"`))
		if status, body, _ := v.send("/intake", form); status != http.StatusSeeOther {
			t.Fatalf("keeping a card full of script number %d is answered with %d: %s", i, status, problems(body))
		}
		id := p.fish(t, label)
		correction := url.Values{"head": p.heads(t, id), "why": {script}}
		for k, values := range form {
			correction[k] = values
		}
		correction.Set("length", "215")
		correction.Del("seen")
		if status, body, _ := v.send("/fish/"+id+"/correct", correction); status != http.StatusSeeOther {
			t.Fatalf("correcting a card full of script is answered with %d: %s", status, problems(body))
		}
		if status, body, _ := v.send("/bench/placed", url.Values{"fish": {label}, "sides": {"all"}, "place": {script}}); status != http.StatusSeeOther {
			t.Fatalf("laying away a stone in a box full of script is answered with %d: %s", status, problems(body))
		}
		for _, path := range []string{"/intake", "/intake?after=" + id, "/intake?stones=" + url.QueryEscape(script), "/intake?took=" + url.QueryEscape(script), "/fish/" + id, "/fish/" + id + "/correct", "/bench",
			"/bench/placed?" + url.Values{"place": {script}, "kept": {script}}.Encode(), "/find?" + url.Values{"q": {"curved"}}.Encode(), "/find?" + url.Values{"q": {script}}.Encode(),
			"/sign-in?" + url.Values{"next": {script}}.Encode()} {
			_, body, h := v.ask(path)
			harmless(t, path, body, h)
		}
	}
	for _, script := range scripts {
		_, body, h := v.send("/intake/table", url.Values{"sheet": {"fish,length," + `"` + strings.ReplaceAll(script, `"`, `""`) + `"` + "\n" + codeOf(9) + `,"` + strings.ReplaceAll(script, `"`, `""`) + `",x` + "\n"}})
		harmless(t, "/intake/table", body, h)
		_, body, h = v.send("/people", url.Values{"person": {script}, "name": {script}, "role": {"administrator"}, "password": {password}})
		harmless(t, "/people", body, h)
	}
}

// harmless tells when a page holds script that none of ours wrote, or may load any.
func harmless(t *testing.T, path, body string, h http.Header) {
	t.Helper()
	tree, err := html.Parse(strings.NewReader(body))
	if err != nil {
		t.Fatalf("reading the page %s: %v", path, err)
	}
	ours := 0
	for n := range tree.Descendants() {
		if n.Type != html.ElementNode {
			continue
		}
		if n.Data == "script" {
			ours++
		}
		if n.Data == "img" || n.Data == "style" || n.Data == "iframe" {
			t.Errorf("the page %s holds the element %s", path, n.Data)
		}
		for _, a := range n.Attr {
			if strings.HasPrefix(a.Key, "on") || a.Key == "style" || strings.HasPrefix(strings.TrimSpace(strings.ToLower(a.Val)), "javascript:") && a.Key != "value" {
				t.Errorf("the page %s holds <%s %s=%q>", path, n.Data, a.Key, a.Val)
			}
		}
	}
	if ours != 1 {
		t.Errorf("the page %s holds %d scripts, want ours alone", path, ours)
	}
	policy := h.Get("Content-Security-Policy")
	if !strings.Contains(policy, "script-src 'self'") || !strings.Contains(policy, "default-src 'none'") || strings.Contains(policy, "unsafe") {
		t.Errorf("the page %s has the policy %q", path, policy)
	}
}

// problems are the complaints on a page.
func problems(body string) (all []string) {
	for _, part := range strings.Split(body, `<div class="wrong"`)[1:] {
		all = append(all, between(part, ">", "</div>"))
	}
	return all
}

func between(text, from, to string) string {
	_, rest, _ := strings.Cut(text, from)
	found, _, _ := strings.Cut(rest, to)
	return found
}

// heads are the entries that hold of a fish.
func (p *place) heads(t testing.TB, id string) (all []string) {
	t.Helper()
	subject, err := history.ParseID(id)
	if err != nil {
		t.Fatal(err)
	}
	record, err := p.store.Current(context.Background(), subject)
	if err != nil {
		t.Fatal(err)
	}
	for _, h := range record.Heads {
		all = append(all, h.ID.String())
	}
	return all
}

// TestPathsLeadNowhere: no address leads out of what is served.
func TestPathsLeadNowhere(t *testing.T) {
	p := serving(t, "mara")
	v := p.visitor(t)
	for _, path := range []string{"/assets/x/earstone.css", "/assets/x/../../go.mod", "/assets/%2e%2e/%2e%2e/etc/passwd", "/assets/../accounts.sqlite", "/accounts.sqlite", "/programme.sqlite",
		"/pictures/", "/.git/config", "/fish/..%2f..%2faccounts.sqlite", "/fish/00000000-0000-0000-0000-000000000000", "/bench/..%2fpeople", "/bench/unheard", "/people/..%2f..%2fx", "/intake/table/x"} {
		if status, body, _ := v.ask(path); status == http.StatusOK || strings.Contains(body, "SQLite format") || strings.Contains(body, "root:") {
			t.Errorf("asked for %s it answers %d", path, status)
		}
	}
}

// TestLargeFormsAreRefused: what is sent is bounded, and told so.
func TestLargeFormsAreRefused(t *testing.T) {
	p := serving(t, "mara")
	v := p.visitor(t)
	form := card(codeOf(1))
	form.Set("remark", strings.Repeat("x", usualBody))
	if status, body, _ := v.send("/intake", form); status != http.StatusRequestEntityTooLarge || !strings.Contains(body, "in parts") {
		t.Errorf("a card of more than %d bytes is answered with %d, want %d", usualBody, status, http.StatusRequestEntityTooLarge)
	}
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	part, err := w.CreateFormFile("file", "cards.csv")
	if err != nil {
		t.Fatal(err)
	}
	_, _ = part.Write(bytes.Repeat([]byte("x"), tableBody+1))
	_ = w.Close()
	r, err := http.NewRequest(http.MethodPost, p.URL+"/intake/table", &b)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", w.FormDataContentType())
	if status, _, _ := v.do(r); status != http.StatusRequestEntityTooLarge {
		t.Errorf("a table of more than %d bytes is answered with %d, want %d", tableBody, status, http.StatusRequestEntityTooLarge)
	}
	if n := p.count(t, history.Fish); n != 0 {
		t.Errorf("of what was too large %d fish are kept, want none", n)
	}
}

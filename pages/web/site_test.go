package web

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"earstone/programme/label"
	"earstone/programme/record"
	"earstone/store/accounts"
	"earstone/store/history"
	"earstone/store/jobs"
	"earstone/store/pictures"
	"earstone/store/sqlite"
	"earstone/store/tables"
)

const password = "seven grey herons"

// place is a served programme of a test, with its store and its accounts.
type place struct {
	*httptest.Server
	store    *sqlite.Store
	register *accounts.Register
	pictures *pictures.Folder
	dir      string
	runs     *jobs.Folder
}

// serving serves an invented programme. solo is the person who needs no account; "" when
// everybody signs in.
func serving(t testing.TB, solo string) *place {
	t.Helper()
	ctx, dir := context.Background(), filepath.Join(t.TempDir(), "quarrow")
	if err := sqlite.Create(ctx, dir); err != nil {
		t.Fatal(err)
	}
	store, err := sqlite.Open(ctx, dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { store.Close() })
	db, err := sqlite.Database(filepath.Join(dir, "accounts.sqlite"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	register, err := accounts.Open(ctx, db, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	folder, err := pictures.Open(filepath.Join(dir, sqlite.Pictures))
	if err != nil {
		t.Fatal(err)
	}
	p := &place{store: store, register: register, pictures: folder, dir: dir, runs: runsIn(t, dir)}
	p.settings(t)
	handler, err := New(ctx, Site{Store: store, Accounts: register, Runs: p.runs, Told: toldInTests, Pictures: folder, Programme: "Quarrow Banks ear-stone programme",
		Now: time.Now, Log: slog.New(slog.NewTextHandler(io.Discard, nil)), Solo: solo})
	if err != nil {
		t.Fatal(err)
	}
	p.Server = httptest.NewServer(handler)
	t.Cleanup(p.Close)
	return p
}

// keep appends entries of one person.
func (p *place) keep(t testing.TB, entries ...*history.Entry) {
	t.Helper()
	for i, e := range entries {
		if e.Who == "" {
			e.Who = "mara"
		}
		if e.When.IsZero() {
			e.When = time.Now().Add(time.Duration(i-len(entries)) * time.Second)
		}
	}
	if err := p.store.Append(context.Background(), entries...); err != nil {
		t.Fatal(err)
	}
}

// settings writes what the programme says of itself, and its lists.
func (p *place) settings(t testing.TB) {
	t.Helper()
	s := record.Defaults()
	s.Name, s.Species = "Quarrow Banks ear-stone programme", []record.Species{"BFT"}
	text, err := tables.SettingsJSON(s)
	if err != nil {
		t.Fatal(err)
	}
	entries := []*history.Entry{{Kind: history.Settings, Fields: history.Fields{"programme": "programme", "programme.json": string(text)}}}
	for _, area := range []string{"Quarrow", "Skell", "Dunmarrow"} {
		entries = append(entries, &history.Entry{Kind: history.Areas, Fields: history.Fields{"area": area}})
	}
	for _, who := range []string{"C-014", "C-022", "C-031"} {
		entries = append(entries, &history.Entry{Kind: history.Contributors, Fields: history.Fields{"contributor": who, "kind": "crew"}})
	}
	p.keep(t, entries...)
}

func codeOf(n int) string {
	c, ok := label.New("QB", n)
	if !ok {
		panic(fmt.Sprintf("no code of number %d", n))
	}
	return c.String()
}

// season keeps n fish of this year with both stones; of every second one a section, of
// every third a reading.
func (p *place) season(t testing.TB, n int) {
	t.Helper()
	year := time.Now().Year() - 1
	var entries []*history.Entry
	add := func(kind history.Kind, fields history.Fields) {
		entries = append(entries, &history.Entry{Kind: kind, Fields: fields})
	}
	for i := 1; i <= n; i++ {
		code, day := codeOf(i), fmt.Sprintf("%d-%02d-%02d", year, 5+i%5, 1+i%28)
		add(history.Fish, history.Fields{"fish": code, "species": "BFT", "caught_on": day, "received_on": day,
			"area": []string{"Quarrow", "Skell", "Dunmarrow"}[i%3], "contributor": []string{"C-014", "C-022", "C-031"}[i%3],
			"length": fmt.Sprint(160 + 7*i%90), "length_unit": "cm", "length_kind": "curved_fork"})
		for _, side := range []string{"L", "R"} {
			add(history.Stones, history.Fields{"fish": code, "side": side, "condition": "whole", "place": "box 3"})
			add(history.Custody, history.Fields{"fish": code, "side": side, "step": "received", "on": day})
		}
		if i%3 != 0 {
			add(history.Preparations, history.Fields{"preparation": code + "-L1", "fish": code, "side": "L", "kind": "section", "thickness_um": "400"})
		}
		if i%4 == 0 {
			add(history.Readings, history.Fields{"reading": fmt.Sprintf("R-%d", i), "fish": code, "side": "L", "preparation": code + "-L1",
				"reader": "odd", "read_at": day, "annuli": fmt.Sprint(5 + i%9), "edge": "partial", "readability": "4"})
		}
		if len(entries) > 5000 || i == n {
			p.keep(t, entries...)
			entries = entries[:0]
		}
	}
}

// account makes an account with the password of the tests.
func (p *place) account(t testing.TB, id string, roles accounts.Roles) {
	t.Helper()
	if err := p.register.Add(context.Background(), "", accounts.Person{ID: id, Name: id, Roles: roles}, password); err != nil {
		t.Fatalf("adding %s: %v", id, err)
	}
}

// visitor is a browser without script: it keeps cookies and follows no redirect by itself.
type visitor struct {
	*http.Client
	t  testing.TB
	at string
}

func (p *place) visitor(t testing.TB) *visitor {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	return &visitor{&http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}, t, p.URL}
}

// signedIn is a visitor with a session.
func (p *place) signedIn(t testing.TB, id string) *visitor {
	t.Helper()
	v := p.visitor(t)
	if status, _, _ := v.send("/sign-in", url.Values{"person": {id}, "password": {password}}); status != http.StatusSeeOther {
		t.Fatalf("signing in as %s gives %d, want %d", id, status, http.StatusSeeOther)
	}
	return v
}

func (v *visitor) do(r *http.Request) (status int, body string, h http.Header) {
	v.t.Helper()
	got, err := v.Client.Do(r)
	if err != nil {
		v.t.Fatal(err)
	}
	defer got.Body.Close()
	text, err := io.ReadAll(got.Body)
	if err != nil {
		v.t.Fatal(err)
	}
	return got.StatusCode, string(text), got.Header
}

func (v *visitor) ask(path string) (int, string, http.Header) {
	v.t.Helper()
	r, err := http.NewRequest(http.MethodGet, v.at+path, nil)
	if err != nil {
		v.t.Fatal(err)
	}
	return v.do(r)
}

// send posts a form as a page of this site does.
func (v *visitor) send(path string, form url.Values) (int, string, http.Header) {
	v.t.Helper()
	r, err := http.NewRequest(http.MethodPost, v.at+path, strings.NewReader(form.Encode()))
	if err != nil {
		v.t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	return v.do(r)
}

// fish is the identity of the fish that bears a label.
func (p *place) fish(t testing.TB, label string) string {
	t.Helper()
	found, err := p.store.Where(context.Background(), history.Query{Kind: history.Fish, Field: "fish", Value: label})
	if err != nil || len(found) != 1 {
		t.Fatalf("%d fish bear the label %s (%v), want 1", len(found), label, err)
	}
	return found[0].Subject.String()
}

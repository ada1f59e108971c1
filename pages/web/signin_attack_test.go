package web

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"earstone/pages/web/phone"
	"earstone/store/accounts"
)

// TestSessionCannotBePlanted: a token that was in the browser before signing in is none
// afterwards.
func TestSessionCannotBePlanted(t *testing.T) {
	p := serving(t, "")
	p.account(t, "mara", accounts.Administrator)
	v := p.visitor(t)
	at, err := url.Parse(p.URL)
	if err != nil {
		t.Fatal(err)
	}
	v.Jar.SetCookies(at, []*http.Cookie{{Name: "earstone", Value: "planted", Path: "/"}})
	status, _, h := v.send("/sign-in", url.Values{"person": {"mara"}, "password": {password}, "next": {"/people"}})
	if status != http.StatusSeeOther || h.Get("Location") != "/people" {
		t.Fatalf("signing in gives %d to %q", status, h.Get("Location"))
	}
	cookie := h.Get("Set-Cookie")
	for _, part := range []string{"HttpOnly", "SameSite=Lax", "Path=/"} {
		if !strings.Contains(cookie, part) {
			t.Errorf("the cookie %q lacks %s", cookie, part)
		}
	}
	if strings.Contains(cookie, "planted") {
		t.Errorf("the planted token is used on: %q", cookie)
	}
	thief := p.visitor(t)
	thief.Jar.SetCookies(at, []*http.Cookie{{Name: "earstone", Value: "planted", Path: "/"}})
	if status, _, _ := thief.ask("/people"); status != http.StatusSeeOther {
		t.Errorf("with the planted token the page of accounts answers %d, want %d", status, http.StatusSeeOther)
	}
	old := v.Jar.Cookies(at)
	if status, _, _ := v.send("/sign-out", nil); status != http.StatusSeeOther {
		t.Errorf("signing out answers %d", status)
	}
	thief.Jar.SetCookies(at, old)
	if status, _, _ := thief.ask("/people"); status != http.StatusSeeOther {
		t.Errorf("after signing out the old token still opens the page of accounts: %d", status)
	}
}

func TestSigningInLeadsNowhereElse(t *testing.T) {
	for next, want := range map[string]string{"/bench": "/bench", "/find?q=skell": "/find?q=skell", "https://quarrow.example": "/", "//quarrow.example": "/",
		`/\quarrow.example`: "/", "javascript:alert(1)": "/", "": "/", "bench": "/", "/x\r\nSet-Cookie: a=b": "/"} {
		if got := localPath(next); got != want {
			t.Errorf("after signing in %q leads to %q, want %q", next, got, want)
		}
	}
}

// TestGuessingIsSlowed: after a few tries an account takes no password, right or wrong,
// from anywhere, and an address can try no other account.
func TestGuessingIsSlowed(t *testing.T) {
	p := serving(t, "")
	p.account(t, "mara", accounts.Administrator)
	v := p.visitor(t)
	tooMany := 0
	for i := range paceOfBoth.atOnce + 4 {
		status, body, _ := v.send("/sign-in", url.Values{"person": {"mara"}, "password": {fmt.Sprintf("guess number %d", i)}})
		if strings.Contains(body, "guess number") {
			t.Error("the page shows the password that was typed")
		}
		if status == http.StatusTooManyRequests {
			tooMany++
		} else if status != http.StatusUnauthorized {
			t.Errorf("a wrong password is answered with %d, want %d", status, http.StatusUnauthorized)
		}
	}
	if tooMany != 4 {
		t.Errorf("of %d tries %d were turned away, want 4", paceOfBoth.atOnce+4, tooMany)
	}
	if status, _, _ := v.send("/sign-in", url.Values{"person": {"mara"}, "password": {password}}); status != http.StatusTooManyRequests {
		t.Errorf("the right password after too many wrong ones is answered with %d, want %d", status, http.StatusTooManyRequests)
	}
	if status, _, _ := p.visitor(t).send("/sign-in", url.Values{"person": {"odd"}, "password": {"x"}}); status != http.StatusUnauthorized {
		t.Errorf("another name from the same address is answered with %d, want %d", status, http.StatusUnauthorized)
	}
}

func TestTriesAreBoundedByNameAndByAddress(t *testing.T) {
	at := time.Date(2031, 6, 15, 8, 0, 0, 0, time.UTC)
	for what, c := range map[string]struct {
		key  func(i int) (name, address string)
		want int
	}{
		"one name from many addresses": {func(i int) (string, string) { return "mara", fmt.Sprint(i) }, 30},
		"many names from one address":  {func(i int) (string, string) { return fmt.Sprint(i), "192.0.2.1" }, 300},
	} {
		tries, allowed := newTries(func() time.Time { return at }), 0
		for i := range 1000 {
			if tries.allow(c.key(i)) {
				allowed++
			}
		}
		if allowed != c.want {
			t.Errorf("of 1000 tries with %s %d are let through at once, want %d", what, allowed, c.want)
		}
	}
	tries := newTries(func() time.Time { return at })
	for range paceOfBoth.atOnce {
		tries.allow("mara", "192.0.2.1")
	}
	at = at.Add(paceOfBoth.every)
	if !tries.allow("mara", "192.0.2.1") || tries.allow("mara", "192.0.2.1") {
		t.Errorf("after %s not exactly one more try is let through", paceOfBoth.every)
	}
}

// TestTriesTakeLittleMemory: neither endless names nor endless addresses make the server
// remember without end, and none of them makes it remember a long text.
func TestTriesTakeLittleMemory(t *testing.T) {
	at := time.Date(2031, 6, 15, 8, 0, 0, 0, time.UTC)
	tries := newTries(func() time.Time { return at })
	for i := range 5000 {
		tries.allow(fmt.Sprint(i), "192.0.2.1")
	}
	if n := len(tries.both.of) + len(tries.name.of); n > 2*paceOfAddress.atOnce {
		t.Errorf("5000 names from one address are remembered %d times, want no more than it may try", n)
	}
	tries.allow("mara", "192.0.2.7")
	for i := range mostRemembered + 5000 {
		tries.allow(fmt.Sprint(i), fmt.Sprint("10.0.", i))
		tries.allow("mara", "192.0.2.7")
		tries.due(phone.OfGuesses, fmt.Sprint(i), 1)
	}
	for what, p := range map[string]*paced{"both": tries.both, "name": tries.name, "address": tries.address, "guesses": tries.phones[phone.OfGuesses]} {
		if len(p.of) != mostRemembered || p.last.Len() != mostRemembered {
			t.Errorf("after a flood %d are remembered by %s, %d of them in order, want %d", len(p.of), what, p.last.Len(), mostRemembered)
		}
	}
	if tries.allow("mara", "192.0.2.7") {
		t.Error("a flood of others lets who goes on trying begin anew")
	}
}

// TestWhatNamesNoAccountCostsNothing: a text that no account can be named by is refused
// before it is counted, so that it takes no tries from others at one address.
func TestWhatNamesNoAccountCostsNothing(t *testing.T) {
	p := serving(t, "")
	p.account(t, "mara", accounts.Administrator)
	for i := range paceOfAddress.atOnce + 20 {
		long := fmt.Sprint(i, " ", strings.Repeat("x", 6000))
		if status, _, _ := p.visitor(t).send("/sign-in", url.Values{"person": {long}, "password": {"x"}}); status != http.StatusUnauthorized {
			t.Fatalf("endless name %d is answered with %d, want %d", i, status, http.StatusUnauthorized)
		}
	}
	p.signedIn(t, "mara")
}

// TestOneAddressServesAHarbour: a few dozen wrong names from one address lock nobody else
// out who sits behind it.
func TestOneAddressServesAHarbour(t *testing.T) {
	p := serving(t, "")
	p.account(t, "mara", accounts.Administrator)
	for i := range 60 {
		p.visitor(t).send("/sign-in", url.Values{"person": {fmt.Sprintf("guess-%d", i)}, "password": {"x"}})
	}
	p.signedIn(t, "mara")
}

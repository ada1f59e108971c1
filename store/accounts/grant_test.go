package accounts

import (
	"errors"
	"strings"
	"testing"
	"time"
)

func give(t *testing.T, r *Register, name string) Token {
	t.Helper()
	token, err := r.Give(t.Context(), "mara", name)
	if err != nil {
		t.Fatalf("giving a token to %s: %v", name, err)
	}
	return token
}

func program(t *testing.T, r *Register, token Token) string {
	t.Helper()
	name, err := r.Program(t.Context(), token)
	if err != nil {
		t.Fatal(err)
	}
	return name
}

func TestTokenHoldsUntilItIsWithdrawn(t *testing.T) {
	r, c := open(t)
	add(t, r, "mara", Administrator)
	token, other := give(t, r, "season report"), give(t, r, "map")
	if token == other || len(token) < 40 {
		t.Fatalf("two tokens are %q and %q, want two that nobody can guess", token, other)
	}
	c.at = c.at.Add(time.Hour)
	if got := program(t, r, token); got != "season report" {
		t.Errorf("the token belongs to %q, want season report", got)
	}
	all, err := r.Grants(t.Context())
	if err != nil || len(all) != 2 || all[1].Name != "season report" || all[1].By != "mara" || !all[1].Used.Equal(c.at) || !all[0].Used.IsZero() {
		t.Errorf("the grants are %+v (%v)", all, err)
	}
	for _, wrong := range []Token{"", "earstone-", token + "x", Token(strings.ToLower(string(token)))} {
		if got := program(t, r, wrong); got != "" {
			t.Errorf("the token %q belongs to %q, want nothing", wrong, got)
		}
	}
	if err := r.Withdraw(t.Context(), "mara", "season report"); err != nil {
		t.Fatal(err)
	}
	if program(t, r, token) != "" || program(t, r, other) != "map" {
		t.Error("withdrawing one token does not end it alone")
	}
	if err := r.Withdraw(t.Context(), "mara", "season report"); !errors.Is(err, ErrUnknown) {
		t.Errorf("withdrawing twice gives %v, want %v", err, ErrUnknown)
	}
	trail, err := r.Trail(t.Context(), 1)
	if err != nil || trail[0].Deed != Withdrawn || trail[0].Whom != "season report" || trail[0].Who != "mara" {
		t.Errorf("the trail ends with %+v (%v)", trail, err)
	}
}

// TestTokenIsNoSession: a program's token opens no session, and a session's is no
// program's.
func TestTokenIsNoSession(t *testing.T) {
	r, _ := open(t)
	add(t, r, "mara", Administrator)
	if p := whose(t, r, give(t, r, "map")); p.ID != "" {
		t.Errorf("a program's token is the session of %q", p.ID)
	}
	if name := program(t, r, signIn(t, r, "mara", "")); name != "" {
		t.Errorf("a session's token is the program %q", name)
	}
}

func TestTokenIsKeptAsHash(t *testing.T) {
	r, _ := open(t)
	token := give(t, r, "map")
	var kept string
	if err := r.db.QueryRow(`SELECT token FROM grants`).Scan(&kept); err != nil || strings.Contains(kept, string(token[9:])) || len(kept) != 64 {
		t.Errorf("the token is kept as %q (%v), want a hash", kept, err)
	}
}

func TestNamesOfTokens(t *testing.T) {
	r, _ := open(t)
	give(t, r, "map")
	for name, want := range map[string]error{" map ": ErrTaken, "": ErrBadGrant, "  ": ErrBadGrant, "a\nb": ErrBadGrant, strings.Repeat("a", 61): ErrBadGrant} {
		if _, err := r.Give(t.Context(), "mara", name); !errors.Is(err, want) {
			t.Errorf("a token named %q gives %v, want %v", name, err, want)
		}
	}
}

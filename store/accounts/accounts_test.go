package accounts

import (
	"database/sql"
	"errors"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	_ "modernc.org/sqlite"
)

const good = "seven grey herons"

// clock is a time that a test moves.
type clock struct{ at time.Time }

func (c *clock) now() time.Time { return c.at }

// open makes a register in a folder of the test.
func open(t *testing.T) (*Register, *clock) {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+filepath.Join(t.TempDir(), "accounts.db")+"?_pragma=foreign_keys(1)&_txlock=immediate")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	c := &clock{time.Date(2031, 6, 15, 8, 0, 0, 0, time.UTC)}
	r, err := Open(t.Context(), db, c.now)
	if err != nil {
		t.Fatal(err)
	}
	return r, c
}

func add(t *testing.T, r *Register, id string, roles Roles) {
	t.Helper()
	if err := r.Add(t.Context(), "", Person{ID: id, Name: id, Roles: roles}, good); err != nil {
		t.Fatalf("adding %s: %v", id, err)
	}
}

func signIn(t *testing.T, r *Register, id string, before Token) Token {
	t.Helper()
	_, token, err := r.SignIn(t.Context(), id, good, before)
	if err != nil {
		t.Fatalf("signing in as %s: %v", id, err)
	}
	return token
}

func whose(t *testing.T, r *Register, token Token) Person {
	t.Helper()
	p, err := r.Whose(t.Context(), token)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestAccountsThatAreRefused(t *testing.T) {
	r, _ := open(t)
	for _, c := range []struct {
		why      string
		person   Person
		password string
		want     error
	}{
		{"a first account that is no administrator's", Person{ID: "mara", Roles: Reader}, good, ErrNoRole},
		{"an account without a role", Person{ID: "mara"}, good, ErrNoRole},
		{"a name with a blank", Person{ID: "ma ra", Roles: Administrator}, good, ErrBadID},
		{"a name that leads out of a folder", Person{ID: "../mara", Roles: Administrator}, good, ErrBadID},
		{"a name of one sign", Person{ID: "m", Roles: Administrator}, good, ErrBadID},
		{"a short password", Person{ID: "mara", Roles: Administrator}, "eleven sign", ErrWeak},
		{"a password that is the name", Person{ID: "mara.of.skell", Roles: Administrator}, "Mara.of.Skell", ErrWeak},
		{"an endless password", Person{ID: "mara", Roles: Administrator}, strings.Repeat("x", 201), ErrWeak},
	} {
		if err := r.Add(t.Context(), "", c.person, c.password); !errors.Is(err, c.want) {
			t.Errorf("%s gives %v, want %v", c.why, err, c.want)
		}
	}
	if empty, err := r.Empty(t.Context()); !empty || err != nil {
		t.Errorf("after refusals the register is empty: %v (%v), want true", empty, err)
	}
	add(t, r, "mara", Administrator)
	if err := r.Add(t.Context(), "", Person{ID: "mara", Roles: Reader}, good); !errors.Is(err, ErrTaken) {
		t.Errorf("a second account of one name gives %v, want %v", err, ErrTaken)
	}
}

func TestSessionIsOfWhoSignedIn(t *testing.T) {
	r, _ := open(t)
	add(t, r, "mara", Administrator|Reader)
	token := signIn(t, r, "mara", "")
	if p := whose(t, r, token); p.ID != "mara" || p.Roles != Administrator|Reader {
		t.Errorf("the session is %q's with %q, want mara's with reader and administrator", p.ID, p.Roles)
	}
	for _, forged := range []Token{"", "x", token + "x", Token(token.hash())} {
		if p := whose(t, r, forged); p.ID != "" {
			t.Errorf("the token %q is %s's, want nobody's", forged, p.ID)
		}
	}
	var kept int
	if err := r.db.QueryRow(`SELECT COUNT(*) FROM sessions WHERE token = $1`, string(token)).Scan(&kept); err != nil || kept != 0 {
		t.Errorf("the token itself is kept %d times (%v), want only its hash", kept, err)
	}
}

func TestSigningInEndsTheSessionBefore(t *testing.T) {
	r, _ := open(t)
	add(t, r, "mara", Administrator)
	first := signIn(t, r, "mara", "")
	second := signIn(t, r, "mara", first)
	if first == second || whose(t, r, first).ID != "" || whose(t, r, second).ID != "mara" {
		t.Error("signing in again keeps the session before, or its token")
	}
	planted := Token("a token that somebody else chose")
	if got := signIn(t, r, "mara", planted); got == planted || whose(t, r, planted).ID != "" {
		t.Error("a token that was there before signing in becomes a session")
	}
}

func TestWrongSignInsTellNothing(t *testing.T) {
	r, _ := open(t)
	add(t, r, "mara", Administrator)
	add(t, r, "odd", Reader)
	if err := r.Change(t.Context(), "mara", Person{ID: "odd", Roles: Reader, Closed: true}); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ id, password string }{{"mara", "wrong wrong wrong"}, {"nobody", good}, {"odd", good}, {"", ""}, {"mara' OR '1'='1", good}} {
		p, token, err := r.SignIn(t.Context(), c.id, c.password, "")
		if !errors.Is(err, ErrWrong) || token != "" || p.ID != "" {
			t.Errorf("signing in as %q gives %v, %q, %v, want nobody, no token, %v", c.id, p, token, err, ErrWrong)
		}
	}
	refused, err := r.Refusals(t.Context(), 100)
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]int{}
	for _, one := range refused {
		got[one.Whom] = one.Times
	}
	// What names no account may be a password in the wrong field, and is not kept.
	if want := map[string]int{"mara": 1, "nobody": 1, "odd": 1, "something that names no account": 2}; !maps.Equal(got, want) {
		t.Errorf("the refusals are %v, want %v", got, want)
	}
}

// TestRefusalsHideNothing: any number of refusals leaves what was done where it can be read.
func TestRefusalsHideNothing(t *testing.T) {
	r, c := open(t)
	add(t, r, "mara", Administrator)
	for range 150 {
		c.at = c.at.Add(time.Second)
		if err := r.note(t.Context(), r.db, Entry{Deed: Refused, Whom: "mara"}); err != nil {
			t.Fatal(err)
		}
	}
	if err := r.note(t.Context(), r.db, Entry{Deed: Refused, Whom: "odd"}); err != nil {
		t.Fatal(err)
	}
	if trail, err := r.Trail(t.Context(), 100); err != nil || len(trail) != 1 || trail[0].Deed != Added {
		t.Errorf("after 151 refusals the trail is %v (%v), want that mara was added", trail, err)
	}
	refused, err := r.Refusals(t.Context(), 100)
	if want := []Refusal{{"odd", 1, c.at}, {"mara", 150, c.at}}; err != nil || !slices.EqualFunc(refused, want, func(a, b Refusal) bool {
		return a.Whom == b.Whom && a.Times == b.Times && a.Last.Equal(b.Last)
	}) {
		t.Errorf("the refusals are %v (%v), want %v", refused, err, want)
	}
	for index, query := range map[string]string{
		"trail_deeds":    `SELECT at FROM trail WHERE deed <> 'was refused' ORDER BY entry DESC LIMIT 100`,
		"trail_refusals": `SELECT at FROM trail WHERE deed = 'was refused' ORDER BY entry DESC LIMIT 100`,
	} {
		var id, parent, unused int
		var plan string
		if err := r.db.QueryRowContext(t.Context(), "EXPLAIN QUERY PLAN "+query).Scan(&id, &parent, &unused, &plan); err != nil || !strings.Contains(plan, index) {
			t.Errorf("%s is planned as %q (%v), want it to use %s", query, plan, err, index)
		}
	}
}

func TestSessionsRunOut(t *testing.T) {
	r, c := open(t)
	add(t, r, "mara", Administrator)
	token := signIn(t, r, "mara", "")
	c.at = c.at.Add(idle - time.Second)
	if whose(t, r, token).ID != "mara" {
		t.Error("a session that was used within its time is gone")
	}
	c.at = c.at.Add(idle + time.Second)
	if whose(t, r, token).ID != "" {
		t.Error("a session that was not used for longer than idle goes on")
	}
	token = signIn(t, r, "mara", "")
	for begun := c.at; c.at.Sub(begun) <= longest; c.at = c.at.Add(idle / 2) {
		whose(t, r, token)
	}
	if whose(t, r, token).ID != "" {
		t.Error("a session that is always used never ends")
	}
}

func TestSessionsAreRevoked(t *testing.T) {
	for _, c := range []struct {
		what string
		do   func(*testing.T, *Register) error
	}{
		{"signing out", func(t *testing.T, r *Register) error { return nil }},
		{"ending them", func(t *testing.T, r *Register) error { return r.EndSessions(t.Context(), "mara", "odd") }},
		{"other roles", func(t *testing.T, r *Register) error {
			return r.Change(t.Context(), "mara", Person{ID: "odd", Roles: Reader})
		}},
		{"another password", func(t *testing.T, r *Register) error {
			return r.SetPassword(t.Context(), "mara", "odd", good+" more")
		}},
	} {
		r, _ := open(t)
		add(t, r, "mara", Administrator)
		add(t, r, "odd", Bench)
		token := signIn(t, r, "odd", "")
		do := c.do
		if c.what == "signing out" {
			do = func(t *testing.T, r *Register) error { return r.SignOut(t.Context(), "odd", token) }
		}
		if err := do(t, r); err != nil {
			t.Fatalf("%s: %v", c.what, err)
		}
		if whose(t, r, token).ID != "" {
			t.Errorf("after %s the session goes on", c.what)
		}
		if trail, err := r.Trail(t.Context(), 1); err != nil || len(trail) != 1 || trail[0].Whom != "odd" {
			t.Errorf("after %s the trail ends with %v (%v), want a line on odd", c.what, trail, err)
		}
	}
}

func TestLastAdministratorStays(t *testing.T) {
	r, _ := open(t)
	add(t, r, "mara", Administrator)
	for _, p := range []Person{{ID: "mara", Roles: Reader}, {ID: "mara", Roles: Administrator, Closed: true}} {
		if err := r.Change(t.Context(), "mara", p); !errors.Is(err, ErrLastAdmin) {
			t.Errorf("changing the last administrator to %v gives %v, want %v", p, err, ErrLastAdmin)
		}
	}
	if there, err := r.HasAdministrator(t.Context()); !there || err != nil {
		t.Errorf("there is an administrator: %v (%v), want true", there, err)
	}
	if err := r.Change(t.Context(), "mara", Person{ID: "nobody", Roles: Reader}); !errors.Is(err, ErrUnknown) {
		t.Errorf("changing nobody gives %v, want %v", err, ErrUnknown)
	}
}

func TestPasswordsAreSalted(t *testing.T) {
	r, _ := open(t)
	one, err := r.hash(t.Context(), good)
	if err != nil {
		t.Fatal(err)
	}
	other, err := r.hash(t.Context(), good)
	if err != nil {
		t.Fatal(err)
	}
	if one == other || !strings.HasPrefix(one, "$argon2id$v=19$m=19456,t=2,p=1$") {
		t.Errorf("two hashes of one password are %q and %q", one, other)
	}
	for _, broken := range []string{"", "plain", "$argon2id$v=19$m=19456,t=0,p=1$AAAA$AAAA", "$argon2id$v=19$m=99999999,t=2,p=1$AAAA$AAAA"} {
		if fits, err := r.fits(t.Context(), "plain", broken); fits || err == nil {
			t.Errorf("the kept password %q fits: %v, %v", broken, fits, err)
		}
	}
}

func TestRolesByWord(t *testing.T) {
	var all Roles
	for _, one := range Each() {
		back, ok := ParseRole(one.String())
		if !ok || back != one {
			t.Errorf("the role %q reads back as %v", one, back)
		}
		all |= one
	}
	if all != Everybody {
		t.Errorf("the roles one by one make %q, want %q", all, Everybody)
	}
	if _, ok := ParseRole("captain"); ok {
		t.Error("captain is taken for a role")
	}
}

func TestOwnPasswordWantsTheOneUntilNow(t *testing.T) {
	r, _ := open(t)
	add(t, r, "mara", Administrator)
	const fresh = "four brown otters"
	for id, current := range map[string]string{"mara": good + "x", "nobody": good, "": ""} {
		if err := r.SetOwnPassword(t.Context(), id, current, fresh); !errors.Is(err, ErrWrong) {
			t.Errorf("a new password for %q, told %q as the old one, gives %v, want %v", id, current, err, ErrWrong)
		}
	}
	if err := r.SetOwnPassword(t.Context(), "mara", good, "short"); !errors.Is(err, ErrWeak) {
		t.Errorf("a short new password gives %v, want %v", err, ErrWeak)
	}
	token := signIn(t, r, "mara", "")
	if err := r.SetOwnPassword(t.Context(), "mara", good, fresh); err != nil {
		t.Fatalf("the right password gives %v", err)
	}
	if whose(t, r, token).ID != "" {
		t.Error("a session outlives the password under which it began")
	}
	if _, _, err := r.SignIn(t.Context(), "mara", fresh, ""); err != nil {
		t.Errorf("signing in with the new password gives %v", err)
	}
}

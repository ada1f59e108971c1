package accounts

import (
	"errors"
	"testing"
	"testing/synctest"
)

// TestWhatChangedMeanwhileCounts: a password that is changed, or an account that is closed,
// while a password still waits to be hashed, ends that try as well. The test holds every
// place for hashing until the change is done.
func TestWhatChangedMeanwhileCounts(t *testing.T) {
	for what, try := range map[string]func(*testing.T, *Register) error{
		"signing in": func(t *testing.T, r *Register) error {
			_, token, err := r.SignIn(t.Context(), "odd", good, "")
			if token != "" {
				t.Errorf("signing in beside a change tells the token %q, want none", token)
			}
			return err
		},
		"a new password of one's own": func(t *testing.T, r *Register) error {
			return r.SetOwnPassword(t.Context(), "odd", good, "four brown otters")
		},
	} {
		for change, statement := range map[string]string{
			"another password": `UPDATE people SET password = $1 WHERE person = 'odd'`,
			"closing it":       `UPDATE people SET closed = 1 WHERE person = 'odd' AND password <> $1`,
		} {
			synctest.Test(t, func(t *testing.T) {
				r, _ := open(t)
				add(t, r, "mara", Administrator)
				add(t, r, "odd", Reader)
				fresh, err := r.hash(t.Context(), "nine pale storks")
				if err != nil {
					t.Fatal(err)
				}
				for range hashers {
					r.hashing <- struct{}{}
				}
				ended := make(chan error, 1)
				go func() { ended <- try(t, r) }()
				synctest.Wait() // it read the kept password, and waits for its turn
				if _, err := r.db.ExecContext(t.Context(), statement, fresh); err != nil {
					t.Fatal(err)
				}
				for range hashers {
					<-r.hashing
				}
				if err := <-ended; !errors.Is(err, ErrWrong) {
					t.Errorf("%s beside %s gives %v, want %v", what, change, err, ErrWrong)
				}
				if open, err := r.Sessions(t.Context()); err != nil || open["odd"] != 0 {
					t.Errorf("%s beside %s leaves %d sessions (%v), want none", what, change, open["odd"], err)
				}
				var kept string
				if err := r.db.QueryRowContext(t.Context(), `SELECT password FROM people WHERE person = 'odd'`).Scan(&kept); err != nil {
					t.Fatal(err)
				}
				if change == "another password" && kept != fresh {
					t.Errorf("%s beside %s puts a third password in its place", what, change)
				}
				if refused, err := r.Refusals(t.Context(), 9); err != nil || len(refused) != 1 || refused[0].Whom != "odd" {
					t.Errorf("%s beside %s is refused as %v (%v), want one refusal of odd", what, change, refused, err)
				}
			})
		}
	}
}

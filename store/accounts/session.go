package accounts

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"database/sql"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"time"
)

// How long a session lasts: unused, and at most.
const (
	idle    = 12 * time.Hour
	longest = 7 * 24 * time.Hour
	noting  = time.Minute // use is noted no more often than this
)

// Token is what a browser keeps of a session. The register keeps only its hash: who
// reads the database can't sign in with it.
type Token string

func (t Token) hash() string {
	sum := sha256.Sum256([]byte(t))
	return hex.EncodeToString(sum[:])
}

// noAccount is a kept password that fits nothing, so that an unknown name takes as long
// as a wrong password.
const noAccount = "$argon2id$v=19$m=19456,t=2,p=1$AAAAAAAAAAAAAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"

// SignIn begins a session with a fresh token; one that the browser had before is ended.
// ErrWrong tells neither whether the name exists nor whether it is closed.
func (r *Register) SignIn(ctx context.Context, id, password string, before Token) (Person, Token, error) {
	var kept string
	var p Person
	var roles, closed int64
	err := r.db.QueryRowContext(ctx, `SELECT person, name, roles, closed, password FROM people WHERE person = $1`, id).
		Scan(&p.ID, &p.Name, &roles, &closed, &kept)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		kept = noAccount
	case err != nil:
		return Person{}, "", fmt.Errorf("looking for an account: %w", err)
	}
	fits, err := r.fits(ctx, password, kept)
	if err != nil {
		return Person{}, "", err
	}
	if !fits || closed != 0 || p.ID == "" {
		return Person{}, "", errors.Join(ErrWrong, r.note(ctx, r.db, Entry{Who: "", Deed: Refused, Whom: shortened(id)}))
	}
	p.Roles = Roles(roles)
	token, err := r.begin(ctx, p.ID, kept, before)
	switch {
	case errors.Is(err, ErrWrong):
		return Person{}, "", errors.Join(err, r.note(ctx, r.db, Entry{Who: "", Deed: Refused, Whom: p.ID}))
	case err != nil:
		return Person{}, "", err
	}
	return p, token, nil
}

// still holds what was checked against a kept password to what is kept now, for the rest of
// a transaction: ErrWrong when the password was changed or the account closed meanwhile.
// Hashing takes long enough for either. It writes the row, since that locks it in both
// databases; reading it would not in PostgreSQL.
func still(ctx context.Context, tx *sql.Tx, id, kept string) error {
	result, err := tx.ExecContext(ctx, `UPDATE people SET password = password WHERE person = $1 AND password = $2 AND closed = 0`, id, kept)
	if err != nil {
		return fmt.Errorf("looking for the account %s again: %w", id, err)
	}
	if n, err := result.RowsAffected(); err != nil || n == 0 {
		return errors.Join(ErrWrong, err)
	}
	return nil
}

// begin makes the session of somebody whose password fitted the kept one.
func (r *Register) begin(ctx context.Context, id, kept string, before Token) (Token, error) {
	raw := make([]byte, 32)
	if _, err := rand.Read(raw); err != nil {
		return "", fmt.Errorf("drawing a token: %w", err)
	}
	token, now := Token(base64.RawURLEncoding.EncodeToString(raw)), r.now()
	err := r.change(ctx, func(tx *sql.Tx) error {
		if err := still(ctx, tx, id, kept); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, `DELETE FROM sessions WHERE token = $1 OR begun_at < $2 OR seen_at < $3`,
			before.hash(), now.Add(-longest).Unix(), now.Add(-idle).Unix())
		if err != nil {
			return fmt.Errorf("ending old sessions: %w", err)
		}
		_, err = tx.ExecContext(ctx, `INSERT INTO sessions (token, person, begun_at, seen_at) VALUES ($1, $2, $3, $4)`,
			token.hash(), id, now.Unix(), now.Unix())
		if err != nil {
			return fmt.Errorf("beginning a session: %w", err)
		}
		return r.note(ctx, tx, Entry{Who: id, Deed: SignedIn, Whom: id})
	})
	if err != nil {
		return "", err
	}
	return token, nil
}

// Whose is the person of a session that lasts; nobody when there is none.
func (r *Register) Whose(ctx context.Context, token Token) (Person, error) {
	if token == "" {
		return Person{}, nil
	}
	var p Person
	var roles, closed, begun, seen int64
	err := r.db.QueryRowContext(ctx, `
		SELECT p.person, p.name, p.roles, p.closed, s.begun_at, s.seen_at
		FROM   sessions AS s
		JOIN   people AS p ON p.person = s.person
		WHERE  s.token = $1`, token.hash()).Scan(&p.ID, &p.Name, &roles, &closed, &begun, &seen)
	if errors.Is(err, sql.ErrNoRows) {
		return Person{}, nil
	}
	if err != nil {
		return Person{}, fmt.Errorf("looking for a session: %w", err)
	}
	now := r.now()
	if closed != 0 || now.Sub(time.Unix(begun, 0)) > longest || now.Sub(time.Unix(seen, 0)) > idle {
		return Person{}, nil
	}
	if now.Sub(time.Unix(seen, 0)) > noting {
		if _, err := r.db.ExecContext(ctx, `UPDATE sessions SET seen_at = $1 WHERE token = $2`, now.Unix(), token.hash()); err != nil {
			return Person{}, fmt.Errorf("noting the use of a session: %w", err)
		}
	}
	p.Roles = Roles(roles)
	return p, nil
}

// SignOut ends one session.
func (r *Register) SignOut(ctx context.Context, id string, token Token) error {
	return r.change(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, `DELETE FROM sessions WHERE token = $1`, token.hash()); err != nil {
			return fmt.Errorf("ending a session: %w", err)
		}
		return r.note(ctx, tx, Entry{Who: id, Deed: SignedOut, Whom: id})
	})
}

// EndSessions ends all sessions of a person at once, wherever they are signed in.
func (r *Register) EndSessions(ctx context.Context, by, id string) error {
	return r.change(ctx, func(tx *sql.Tx) error {
		if err := endSessions(ctx, tx, id); err != nil {
			return err
		}
		return r.note(ctx, tx, Entry{Who: by, Deed: Revoked, Whom: id})
	})
}

func endSessions(ctx context.Context, from asks, id string) error {
	if _, err := from.ExecContext(ctx, `DELETE FROM sessions WHERE person = $1`, id); err != nil {
		return fmt.Errorf("ending the sessions of %s: %w", id, err)
	}
	return nil
}

// Sessions are how many sessions each person has that last.
func (r *Register) Sessions(ctx context.Context) (map[string]int, error) {
	now := r.now()
	rows, err := r.db.QueryContext(ctx, `
		SELECT   person, COUNT(*)
		FROM     sessions
		WHERE    begun_at >= $1
		AND      seen_at >= $2
		GROUP BY person
		ORDER BY person`, now.Add(-longest).Unix(), now.Add(-idle).Unix())
	if err != nil {
		return nil, fmt.Errorf("counting sessions: %w", err)
	}
	defer rows.Close()
	open := map[string]int{}
	for rows.Next() {
		var id string
		var n int
		if err := rows.Scan(&id, &n); err != nil {
			return nil, fmt.Errorf("counting sessions: %w", err)
		}
		open[id] = n
	}
	return open, rows.Err()
}

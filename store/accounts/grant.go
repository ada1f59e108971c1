package accounts

import (
	"context"
	"crypto/rand"
	"database/sql"
	"encoding/base64"
	"errors"
	"fmt"
	"strings"
	"time"
)

// Grant lets a program read, and nothing else, until it is withdrawn. Its token is told
// once and kept as a hash.
type Grant struct {
	Name  string // what it is for
	By    string // who gave it
	Given time.Time
	Used  time.Time // zero: never; noted no more often than once a minute
}

// What is done to grants stands in the trail.
const (
	Granted   Deed = "gave a token to"
	Withdrawn Deed = "withdrew the token of"
)

// ErrBadGrant is a name that no token can have.
var ErrBadGrant = errors.New("accounts: a token is named by 1 to 60 signs that say what it is for")

// grantMark opens every token of a grant, so that whoever finds one knows what it is.
const grantMark = "earstone-"

// grants is made when it is not there.
const grants = `CREATE TABLE IF NOT EXISTS grants (
	token    TEXT PRIMARY KEY,
	name     TEXT NOT NULL UNIQUE,
	given_by TEXT NOT NULL,
	given_at BIGINT NOT NULL,
	used_at  BIGINT NOT NULL
)`

// Give makes a grant and tells its token, which can't be told again. ErrTaken when another
// grant bears the name.
func (r *Register) Give(ctx context.Context, by, name string) (Token, error) {
	name = strings.TrimSpace(name)
	if name == "" || len([]rune(name)) > 60 || strings.ContainsFunc(name, func(c rune) bool { return c < ' ' || c == 0x7f }) {
		return "", ErrBadGrant
	}
	raw := make([]byte, 32)
	if _, err := rand.Read(raw); err != nil {
		return "", fmt.Errorf("drawing a token: %w", err)
	}
	token := Token(grantMark + base64.RawURLEncoding.EncodeToString(raw))
	return token, r.change(ctx, func(tx *sql.Tx) error {
		taken, err := r.count(ctx, tx, `SELECT COUNT(*) FROM grants WHERE name = $1`, name)
		if err != nil {
			return err
		}
		if taken > 0 {
			return ErrTaken
		}
		_, err = tx.ExecContext(ctx, `INSERT INTO grants (token, name, given_by, given_at, used_at) VALUES ($1, $2, $3, $4, 0)`,
			token.hash(), name, by, r.now().Unix())
		if err != nil {
			return fmt.Errorf("giving a token: %w", err)
		}
		return r.note(ctx, tx, Entry{Who: by, Deed: Granted, Whom: name})
	})
}

// Withdraw ends a grant at once.
func (r *Register) Withdraw(ctx context.Context, by, name string) error {
	return r.change(ctx, func(tx *sql.Tx) error {
		result, err := tx.ExecContext(ctx, `DELETE FROM grants WHERE name = $1`, name)
		if err != nil {
			return fmt.Errorf("withdrawing a token: %w", err)
		}
		if n, err := result.RowsAffected(); err != nil || n == 0 {
			return errors.Join(ErrUnknown, err)
		}
		return r.note(ctx, tx, Entry{Who: by, Deed: Withdrawn, Whom: name})
	})
}

// Grants are those that hold, by name.
func (r *Register) Grants(ctx context.Context) ([]Grant, error) {
	rows, err := r.db.QueryContext(ctx, `SELECT name, given_by, given_at, used_at FROM grants ORDER BY name`)
	if err != nil {
		return nil, fmt.Errorf("reading the tokens: %w", err)
	}
	defer rows.Close()
	var all []Grant
	for rows.Next() {
		var g Grant
		var given, used int64
		if err := rows.Scan(&g.Name, &g.By, &given, &used); err != nil {
			return nil, fmt.Errorf("reading a token: %w", err)
		}
		g.Given = time.Unix(given, 0)
		if used > 0 {
			g.Used = time.Unix(used, 0)
		}
		all = append(all, g)
	}
	return all, rows.Err()
}

// Program is the name of the grant that a token belongs to; empty when there is none, or
// it was withdrawn.
func (r *Register) Program(ctx context.Context, token Token) (string, error) {
	var name string
	var used int64
	err := r.db.QueryRowContext(ctx, `SELECT name, used_at FROM grants WHERE token = $1`, token.hash()).Scan(&name, &used)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return "", nil
	case err != nil:
		return "", fmt.Errorf("looking for a token: %w", err)
	}
	if now := r.now(); now.Sub(time.Unix(used, 0)) > noting {
		if _, err := r.db.ExecContext(ctx, `UPDATE grants SET used_at = $1 WHERE token = $2`, now.Unix(), token.hash()); err != nil {
			return "", fmt.Errorf("noting the use of a token: %w", err)
		}
	}
	return name, nil
}

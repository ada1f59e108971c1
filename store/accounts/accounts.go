// Package accounts keeps the people of a programme, with their roles, sessions and the
// trail of what was done to either; beside them the tokens under which programs read.
//
// It lives in a database of its own, apart from the records, so that no export and no
// copy of the records carries a password or a name. The SQL is one text for SQLite and
// PostgreSQL; whoever opens the database brings the driver.
package accounts

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"sync/atomic"
	"time"
)

// Person is somebody with an account. The zero value is nobody and may do nothing.
type Person struct {
	ID     string // what is typed to sign in, and what records name
	Name   string
	Roles  Roles
	Closed bool // may not sign in
}

// Troubles that a page tells in its own words.
var (
	ErrWrong     = errors.New("accounts: name and password do not belong together")
	ErrTaken     = errors.New("accounts: there is such an account already")
	ErrUnknown   = errors.New("accounts: there is no such account")
	ErrLastAdmin = errors.New("accounts: nobody else is an administrator")
	ErrBadID     = errors.New("accounts: an account is named by 2 to 40 small letters, digits, dots or hyphens, a letter first")
	ErrWeak      = errors.New("accounts: a password has 12 to 200 signs and is not the name of the account")
	ErrNoRole    = errors.New("accounts: an account has at least one role, and the first account is an administrator")
)

// Register is the accounts of one programme; its methods are safe for use from several
// goroutines.
type Register struct {
	db      *sql.DB
	now     func() time.Time
	hashing chan struct{} // bounds the memory that hashing takes
	notes   atomic.Uint32
}

// hashers is how many passwords are hashed at a time: each takes 19 MiB.
const hashers = 4

// schema is made when it is not there. Times are seconds since 1970; text is as typed.
var schema = []string{
	`CREATE TABLE IF NOT EXISTS people (
		person   TEXT PRIMARY KEY,
		name     TEXT NOT NULL,
		roles    INTEGER NOT NULL,
		closed   INTEGER NOT NULL,
		password TEXT NOT NULL
	)`,
	`CREATE TABLE IF NOT EXISTS sessions (
		token    TEXT PRIMARY KEY,
		person   TEXT NOT NULL REFERENCES people (person),
		begun_at BIGINT NOT NULL,
		seen_at  BIGINT NOT NULL
	)`,
	`CREATE INDEX IF NOT EXISTS sessions_of ON sessions (person)`,
	`CREATE TABLE IF NOT EXISTS trail (
		entry  TEXT PRIMARY KEY,
		at     BIGINT NOT NULL,
		who    TEXT NOT NULL,
		deed   TEXT NOT NULL,
		whom   TEXT NOT NULL,
		detail TEXT NOT NULL
	)`,
	// A flood of refusals must not make the few deeds slow to find.
	`CREATE INDEX IF NOT EXISTS trail_deeds ON trail (entry) WHERE deed <> 'was refused'`,
	`CREATE INDEX IF NOT EXISTS trail_refusals ON trail (entry) WHERE deed = 'was refused'`,
	grants,
}

// Open takes a database for the accounts and makes the tables that are missing.
func Open(ctx context.Context, db *sql.DB, now func() time.Time) (*Register, error) {
	for _, statement := range schema {
		if _, err := db.ExecContext(ctx, statement); err != nil {
			return nil, fmt.Errorf("making the tables of the accounts: %w", err)
		}
	}
	return &Register{db: db, now: now, hashing: make(chan struct{}, hashers)}, nil
}

// Empty tells whether nobody has an account yet.
func (r *Register) Empty(ctx context.Context) (bool, error) {
	n, err := r.count(ctx, r.db, `SELECT COUNT(*) FROM people`)
	return n == 0, err
}

// HasAdministrator tells whether somebody who may sign in is an administrator.
func (r *Register) HasAdministrator(ctx context.Context) (bool, error) {
	n, err := r.count(ctx, r.db, openAdministrators, int64(Administrator))
	return n > 0, err
}

const openAdministrators = `SELECT COUNT(*) FROM people WHERE closed = 0 AND (roles & $1) <> 0`

// People are all accounts by their names for signing in.
func (r *Register) People(ctx context.Context) ([]Person, error) {
	rows, err := r.db.QueryContext(ctx, `SELECT person, name, roles, closed FROM people ORDER BY person`)
	if err != nil {
		return nil, fmt.Errorf("reading the accounts: %w", err)
	}
	defer rows.Close()
	var all []Person
	for rows.Next() {
		p, err := scanPerson(rows)
		if err != nil {
			return nil, fmt.Errorf("reading an account: %w", err)
		}
		all = append(all, p)
	}
	return all, rows.Err()
}

// Add makes an account. The first one must be an administrator's. by is who adds it.
func (r *Register) Add(ctx context.Context, by string, p Person, password string) error {
	switch {
	case !GoodID(p.ID):
		return ErrBadID
	case p.Roles == 0:
		return ErrNoRole
	case weak(p.ID, password):
		return ErrWeak
	}
	hash, err := r.hash(ctx, password)
	if err != nil {
		return err
	}
	return r.change(ctx, func(tx *sql.Tx) error {
		n, err := r.count(ctx, tx, `SELECT COUNT(*) FROM people`)
		if err != nil {
			return err
		}
		if n == 0 && !p.Roles.Has(Administrator) {
			return ErrNoRole
		}
		taken, err := r.count(ctx, tx, `SELECT COUNT(*) FROM people WHERE person = $1`, p.ID)
		if err != nil {
			return err
		}
		if taken > 0 {
			return ErrTaken
		}
		_, err = tx.ExecContext(ctx, `INSERT INTO people (person, name, roles, closed, password) VALUES ($1, $2, $3, 0, $4)`,
			p.ID, p.Name, int64(p.Roles), hash)
		if err != nil {
			return fmt.Errorf("adding the account %s: %w", p.ID, err)
		}
		return r.note(ctx, tx, Entry{Who: by, Deed: Added, Whom: p.ID, Detail: p.Roles.String()})
	})
}

// Change gives an account another name, other roles, or closes it; its sessions end, so
// that no role outlives its taking away.
func (r *Register) Change(ctx context.Context, by string, p Person) error {
	if p.Roles == 0 {
		return ErrNoRole
	}
	return r.change(ctx, func(tx *sql.Tx) error {
		result, err := tx.ExecContext(ctx, `UPDATE people SET name = $1, roles = $2, closed = $3 WHERE person = $4`,
			p.Name, int64(p.Roles), whether(p.Closed), p.ID)
		if err != nil {
			return fmt.Errorf("changing the account %s: %w", p.ID, err)
		}
		if n, err := result.RowsAffected(); err != nil || n == 0 {
			return errors.Join(ErrUnknown, err)
		}
		left, err := r.count(ctx, tx, openAdministrators, int64(Administrator))
		if err != nil {
			return err
		}
		if left == 0 {
			return ErrLastAdmin
		}
		if err := endSessions(ctx, tx, p.ID); err != nil {
			return err
		}
		detail := p.Roles.String()
		if p.Closed {
			detail = "closed"
		}
		return r.note(ctx, tx, Entry{Who: by, Deed: Changed, Whom: p.ID, Detail: detail})
	})
}

// SetPassword gives an account another password, and ends its sessions.
func (r *Register) SetPassword(ctx context.Context, by, id, password string) error {
	if weak(id, password) {
		return ErrWeak
	}
	hash, err := r.hash(ctx, password)
	if err != nil {
		return err
	}
	return r.change(ctx, func(tx *sql.Tx) error { return r.setPassword(ctx, tx, by, id, hash) })
}

// SetOwnPassword gives somebody another password who tells the one until now, and ends
// their sessions: ErrWrong when that is another, or was changed while this waited.
func (r *Register) SetOwnPassword(ctx context.Context, id, current, password string) error {
	var kept string
	err := r.db.QueryRowContext(ctx, `SELECT password FROM people WHERE person = $1 AND closed = 0`, id).Scan(&kept)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		kept = noAccount
	case err != nil:
		return fmt.Errorf("looking for an account: %w", err)
	}
	fits, err := r.fits(ctx, current, kept)
	switch {
	case err != nil:
		return err
	case !fits || kept == noAccount:
		return errors.Join(ErrWrong, r.note(ctx, r.db, Entry{Who: id, Deed: Refused, Whom: id}))
	case weak(id, password):
		return ErrWeak
	}
	hash, err := r.hash(ctx, password)
	if err != nil {
		return err
	}
	err = r.change(ctx, func(tx *sql.Tx) error {
		if err := still(ctx, tx, id, kept); err != nil {
			return err
		}
		return r.setPassword(ctx, tx, id, id, hash)
	})
	if errors.Is(err, ErrWrong) {
		return errors.Join(err, r.note(ctx, r.db, Entry{Who: id, Deed: Refused, Whom: id}))
	}
	return err
}

func (r *Register) setPassword(ctx context.Context, tx *sql.Tx, by, id, hash string) error {
	result, err := tx.ExecContext(ctx, `UPDATE people SET password = $1 WHERE person = $2`, hash, id)
	if err != nil {
		return fmt.Errorf("changing the password of %s: %w", id, err)
	}
	if n, err := result.RowsAffected(); err != nil || n == 0 {
		return errors.Join(ErrUnknown, err)
	}
	if err := endSessions(ctx, tx, id); err != nil {
		return err
	}
	return r.note(ctx, tx, Entry{Who: by, Deed: NewPassword, Whom: id})
}

// change does something in a transaction.
func (r *Register) change(ctx context.Context, what func(*sql.Tx) error) error {
	tx, err := r.db.BeginTx(ctx, nil)
	if err != nil {
		return fmt.Errorf("changing the accounts: %w", err)
	}
	defer tx.Rollback() //nolint:errcheck // after Commit it does nothing
	if err := what(tx); err != nil {
		return err
	}
	if err := tx.Commit(); err != nil {
		return fmt.Errorf("changing the accounts: %w", err)
	}
	return nil
}

// asks is what a database and a transaction can both do.
type asks interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
	ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error)
}

func (r *Register) count(ctx context.Context, from asks, query string, args ...any) (n int, err error) {
	if err := from.QueryRowContext(ctx, query, args...).Scan(&n); err != nil {
		return 0, fmt.Errorf("counting accounts: %w", err)
	}
	return n, nil
}

func scanPerson(row interface{ Scan(...any) error }) (p Person, err error) {
	var roles, closed int64
	err = row.Scan(&p.ID, &p.Name, &roles, &closed)
	p.Roles, p.Closed = Roles(roles), closed != 0
	return p, err
}

func whether(yes bool) int64 {
	if yes {
		return 1
	}
	return 0
}

// GoodID tells whether an account can be named so: see ErrBadID.
func GoodID(id string) bool {
	if len(id) < 2 || len(id) > 40 || id[0] < 'a' || id[0] > 'z' {
		return false
	}
	return strings.Trim(id, "abcdefghijklmnopqrstuvwxyz0123456789.-") == ""
}

package accounts

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"fmt"
	"time"
)

// Deed is what was done; the trail of records is kept with the records.
type Deed string

// The deeds.
const (
	SignedIn    Deed = "signed in"
	SignedOut   Deed = "signed out"
	Refused     Deed = "was refused"
	Added       Deed = "added"
	Changed     Deed = "changed"
	NewPassword Deed = "set a password for"
	Revoked     Deed = "ended the sessions of"
)

// Entry is one line of the trail: when, who, what, to whom.
type Entry struct {
	At     time.Time
	Who    string // empty: nobody was signed in
	Deed   Deed
	Whom   string
	Detail string
}

// note appends an entry. Its key opens with the time and a count, so that entries of one
// moment keep the order in which they were made.
func (r *Register) note(ctx context.Context, to asks, e Entry) error {
	now, chance := r.now(), make([]byte, 4)
	if _, err := rand.Read(chance); err != nil {
		return fmt.Errorf("naming an entry of the trail: %w", err)
	}
	key := fmt.Sprintf("%016x-%08x-%s", now.UnixNano(), r.notes.Add(1), hex.EncodeToString(chance))
	_, err := to.ExecContext(ctx, `INSERT INTO trail (entry, at, who, deed, whom, detail) VALUES ($1, $2, $3, $4, $5, $6)`,
		key, now.Unix(), e.Who, string(e.Deed), e.Whom, e.Detail)
	if err != nil {
		return fmt.Errorf("writing the trail: %w", err)
	}
	return nil
}

// Trail are the last entries, the newest first. Refusals are apart: anybody can cause them
// without an account, and would push out what was done.
func (r *Register) Trail(ctx context.Context, most int) ([]Entry, error) {
	rows, err := r.db.QueryContext(ctx, `
		SELECT   at, who, deed, whom, detail
		FROM     trail
		WHERE    deed <> 'was refused'
		ORDER BY entry DESC
		LIMIT    $1`, most)
	if err != nil {
		return nil, fmt.Errorf("reading the trail: %w", err)
	}
	defer rows.Close()
	var entries []Entry
	for rows.Next() {
		var e Entry
		var at int64
		var deed string
		if err := rows.Scan(&at, &e.Who, &deed, &e.Whom, &e.Detail); err != nil {
			return nil, fmt.Errorf("reading the trail: %w", err)
		}
		e.At, e.Deed = time.Unix(at, 0), Deed(deed)
		entries = append(entries, e)
	}
	return entries, rows.Err()
}

// Refusal is how often somebody was refused among the last tries that were.
type Refusal struct {
	Whom  string
	Times int
	Last  time.Time
}

// foldedRefusals is how many refusals are folded to those of each name.
const foldedRefusals = 10_000

// Refusals are those of most names, alike ones folded, the latest first. They count the
// last 10,000 refusals.
func (r *Register) Refusals(ctx context.Context, most int) ([]Refusal, error) {
	rows, err := r.db.QueryContext(ctx, `
		SELECT   whom, COUNT(*), MAX(at)
		FROM     (SELECT entry, at, whom FROM trail WHERE deed = 'was refused' ORDER BY entry DESC LIMIT $1) AS latest
		GROUP BY whom
		ORDER BY MAX(entry) DESC
		LIMIT    $2`, foldedRefusals, most)
	if err != nil {
		return nil, fmt.Errorf("reading who was refused: %w", err)
	}
	defer rows.Close()
	var all []Refusal
	for rows.Next() {
		var one Refusal
		var at int64
		if err := rows.Scan(&one.Whom, &one.Times, &at); err != nil {
			return nil, fmt.Errorf("reading who was refused: %w", err)
		}
		one.Last = time.Unix(at, 0)
		all = append(all, one)
	}
	return all, rows.Err()
}

// shortened is what was typed as a name, to a length that a line can bear. It may be a
// password typed into the wrong field: what can't be the name of an account is not kept.
func shortened(typed string) string {
	if !GoodID(typed) {
		return "something that names no account"
	}
	return typed
}

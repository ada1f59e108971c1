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

// Trail are the last entries, the newest first.
func (r *Register) Trail(ctx context.Context, most int) ([]Entry, error) {
	rows, err := r.db.QueryContext(ctx, `SELECT at, who, deed, whom, detail FROM trail ORDER BY entry DESC LIMIT $1`, most)
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

// shortened is what was typed as a name, to a length that a line can bear. It may be a
// password typed into the wrong field: what can't be the name of an account is not kept.
func shortened(typed string) string {
	if !GoodID(typed) {
		return "something that names no account"
	}
	return typed
}

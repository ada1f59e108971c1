package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"

	"earstone/store/history"
)

// asks is what a query can be put to: a database, a transaction, a connection.
type asks interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// scanEntries hands over rows of journalColumns and closes them.
func scanEntries(rows *sql.Rows, each func(at int64, e *history.Entry) error) error {
	defer rows.Close()
	var in scanned
	for rows.Next() {
		if err := in.scan(rows); err != nil {
			return err
		}
		if err := each(in.at, &in.Entry); err != nil {
			return err
		}
	}
	return rows.Err()
}

// scanned is one row of the journal while it is read.
type scanned struct {
	at int64
	history.Entry
	id, subject, supersedes, from, digest sql.RawBytes
	kind, payload                         sql.RawBytes
	written                               int64
}

func (in *scanned) scan(rows *sql.Rows, more ...any) error {
	in.Entry = history.Entry{}
	to := append([]any{&in.at, &in.id, &in.kind, &in.subject, &in.supersedes, &in.Who, &in.written, &in.from, &in.Row, &in.payload, &in.digest}, more...)
	if err := rows.Scan(to...); err != nil {
		return err
	}
	if len(in.id) != 16 || len(in.subject) != 16 || len(in.from) != 16 || len(in.digest) != 32 || len(in.supersedes)%16 != 0 {
		return fmt.Errorf("entry at position %d: %w", in.at, history.ErrDamaged)
	}
	copy(in.ID[:], in.id)
	copy(in.Subject[:], in.subject)
	copy(in.Import[:], in.from)
	copy(in.Digest[:], in.digest)
	for rest := in.supersedes; len(rest) > 0; rest = rest[16:] {
		in.Supersedes = append(in.Supersedes, history.ID(rest[:16]))
	}
	in.Kind = history.Kind(in.kind)
	in.When = time.UnixMicro(in.written).UTC()
	if err := in.Open(in.payload); err != nil {
		return fmt.Errorf("%w: %w", err, history.ErrDamaged)
	}
	return nil
}

// Current is the record of a subject: see history.Store.
func (s *Store) Current(ctx context.Context, subject history.ID) (history.Record, error) {
	entries, err := s.History(ctx, subject)
	if err != nil {
		return history.Record{}, err
	}
	return history.Resolve(entries), nil
}

// History is every entry of a subject: see history.Store.
func (s *Store) History(ctx context.Context, subject history.ID) ([]history.Entry, error) {
	all, err := entriesOf(ctx, s.readers, subject)
	if err != nil {
		return nil, fmt.Errorf("reading record %s: %w", subject, told(err))
	}
	if len(all) == 0 {
		return nil, fmt.Errorf("record %s: %w", subject, history.ErrNotFound)
	}
	return all, nil
}

func entriesOf(ctx context.Context, db asks, subject history.ID) (all []history.Entry, err error) {
	rows, err := db.QueryContext(ctx, "SELECT "+journalColumns+" FROM journal AS j WHERE j.subject = ? ORDER BY j.position", subject[:])
	if err != nil {
		return nil, err
	}
	err = scanEntries(rows, func(_ int64, e *history.Entry) error {
		all = append(all, *e)
		return nil
	})
	return all, err
}

// Each hands over every record of a kind: see history.Store.
func (s *Store) Each(ctx context.Context, kind history.Kind, each func(*history.Record) error) error {
	err := s.records(ctx, each, `
		SELECT `+journalColumns+`, c.heads
		FROM current AS c JOIN journal AS j ON j.position = c.head
		WHERE c.kind = ? AND c.heads > 0
		ORDER BY c.subject`, string(kind))
	if err != nil {
		return fmt.Errorf("reading %s: %w", kind, told(err))
	}
	return nil
}

// records hands over the records of a query for journalColumns and heads, all of one
// moment. Those of several heads are read whole.
func (s *Store) records(ctx context.Context, each func(*history.Record) error, query string, args ...any) error {
	tx, err := s.readers.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return err
	}
	defer tx.Rollback() // it only read
	rows, err := tx.QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	var in scanned
	var heads int
	one := history.Record{Heads: make([]history.Entry, 1)}
	for rows.Next() {
		if err := in.scan(rows, &heads); err != nil {
			return err
		}
		record := &one
		if heads > 1 {
			entries, err := entriesOf(ctx, tx, in.Subject)
			if err != nil {
				return err
			}
			whole := history.Resolve(entries)
			record = &whole
		} else {
			one.Kind, one.Subject, one.Heads = in.Kind, in.Subject, one.Heads[:1]
			one.Heads[0] = in.Entry
		}
		if err := each(record); err != nil {
			return err
		}
	}
	return rows.Err()
}

// Where are the records that a field says something of: see history.Store.
func (s *Store) Where(ctx context.Context, ask history.Query) (all []history.Record, err error) {
	if !history.IsIndexed(ask.Field) {
		return nil, fmt.Errorf("asking for %s by %q: only %s can be asked for", ask.Kind, ask.Field, strings.Join(history.Indexed(), ", "))
	}
	most := ask.Most
	if most <= 0 {
		most = -1
	}
	of, to := "l.value = ?3", ask.Value
	if ask.Prefix {
		of, to = "l.value >= ?3 AND l.value < ?5", ask.Value+"\U0010FFFF"
	}
	keep := func(r *history.Record) error {
		kept := *r
		kept.Heads = append([]history.Entry(nil), r.Heads...)
		all = append(all, kept)
		return nil
	}
	err = s.records(ctx, keep, `
		SELECT `+journalColumns+`, c.heads
		FROM (SELECT DISTINCT l.subject
		      FROM lookup AS l
		      WHERE l.kind = ?1 AND l.field = ?2 AND `+of+` AND l.subject > ?4
		      ORDER BY l.subject
		      LIMIT ?6) AS found
		JOIN current AS c ON c.subject = found.subject
		JOIN journal AS j ON j.position = c.head
		ORDER BY c.subject`, string(ask.Kind), ask.Field, ask.Value, ask.After[:], to, most)
	if err != nil {
		return nil, fmt.Errorf("asking for %s by %s: %w", ask.Kind, ask.Field, told(err))
	}
	return all, nil
}

// Conflicts are the records with more heads than one: see history.Store.
func (s *Store) Conflicts(ctx context.Context) (all []history.Record, err error) {
	keep := func(r *history.Record) error {
		all = append(all, *r) // read whole, so that it is a copy
		return nil
	}
	err = s.records(ctx, keep, `
		SELECT `+journalColumns+`, c.heads
		FROM current AS c JOIN journal AS j ON j.position = c.head
		WHERE c.heads > 1
		ORDER BY c.subject`)
	if err != nil {
		return nil, fmt.Errorf("reading conflicts: %w", told(err))
	}
	return all, nil
}

// Recent are the last entries: see history.Store.
func (s *Store) Recent(ctx context.Context, most int) (all []history.Entry, err error) {
	rows, err := s.readers.QueryContext(ctx, "SELECT "+journalColumns+" FROM journal AS j ORDER BY j.position DESC LIMIT ?", most)
	if err == nil {
		err = scanEntries(rows, func(_ int64, e *history.Entry) error {
			all = append(all, *e)
			return nil
		})
	}
	if err != nil {
		return nil, fmt.Errorf("reading the last entries: %w", told(err))
	}
	return all, nil
}

// Journal hands over every entry behind a position: see history.Store.
func (s *Store) Journal(ctx context.Context, after int64, each func(*history.Entry) error) (next int64, err error) {
	next = after
	rows, err := s.readers.QueryContext(ctx, "SELECT "+journalColumns+" FROM journal AS j WHERE j.position > ? ORDER BY j.position", after)
	if err == nil {
		err = scanEntries(rows, func(at int64, e *history.Entry) error {
			if err := each(e); err != nil {
				return err
			}
			next = at
			return nil
		})
	}
	if err != nil {
		return next, fmt.Errorf("reading the journal: %w", told(err))
	}
	return next, nil
}

// Find looks for a text from one box: see history.Store.
func (s *Store) Find(ctx context.Context, text string, most int) (hits []history.Hit, err error) {
	text = strings.TrimSpace(text)
	words := phrases(text)
	if words == "" || most <= 0 {
		return nil, nil
	}
	if hits, err = s.named(ctx, text, most); err == nil && len(hits) < most {
		var more []history.Hit
		more, err = s.worded(ctx, words, most)
		for _, hit := range more {
			if len(hits) < most && !contains(hits, hit.Subject) {
				hits = append(hits, hit)
			}
		}
	}
	if err != nil {
		return nil, fmt.Errorf("looking for %q: %w", text, told(err))
	}
	return hits, nil
}

func contains(hits []history.Hit, subject history.ID) bool {
	for i := range hits {
		if hits[i].Subject == subject {
			return true
		}
	}
	return false
}

// namedKinds are the kinds whose records are called by their own name, in the order in
// which a person looks for them.
var namedKinds = []history.Kind{history.Fish, history.Trips, history.Contributors, history.Preparations,
	history.Images, history.Readings, history.Areas, history.Kits}

// named finds the records that are called just so.
func (s *Store) named(ctx context.Context, text string, most int) (hits []history.Hit, err error) {
	for _, kind := range namedKinds {
		records, err := s.Where(ctx, history.Query{Kind: kind, Field: history.LabelField(kind), Value: text, Most: most - len(hits)})
		if err != nil {
			return nil, err
		}
		for i := range records {
			fields := records[i].Fields()
			hits = append(hits, history.Hit{Kind: kind, Subject: records[i].Subject, Label: history.Label(kind, fields), Text: history.Words(kind, fields)})
		}
		if len(hits) >= most {
			break
		}
	}
	return hits, nil
}

// worded finds records by the beginnings of their words, in the order of their making.
func (s *Store) worded(ctx context.Context, words string, most int) (hits []history.Hit, err error) {
	rows, err := s.readers.QueryContext(ctx, `
		SELECT c.kind, c.subject, w.text, j.payload
		FROM (SELECT rowid, text FROM words WHERE words MATCH ? ORDER BY rowid LIMIT ?) AS w
		JOIN current AS c ON c.number = w.rowid
		JOIN journal AS j ON j.position = c.head
		ORDER BY w.rowid`, words, most)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var hit history.Hit
		var subject, payload []byte
		if err := rows.Scan(&hit.Kind, &subject, &hit.Text, &payload); err != nil {
			return nil, err
		}
		copy(hit.Subject[:], subject)
		var e history.Entry
		if err := e.Open(payload); err != nil {
			return nil, errors.Join(err, history.ErrDamaged)
		}
		hit.Label = history.Label(hit.Kind, e.Fields)
		hits = append(hits, hit)
	}
	return hits, rows.Err()
}

// phrases is the question to the index of words: each word of a text as a phrase whose
// last part may go on, once. Signs that part words are left to the index.
func phrases(text string) string {
	var all []string
	for _, word := range strings.Fields(text) {
		if strings.ContainsFunc(word, func(r rune) bool { return unicode.IsLetter(r) || unicode.IsNumber(r) }) {
			if phrase := `"` + strings.ReplaceAll(strings.ToLower(word), `"`, `""`) + `"*`; !slices.Contains(all, phrase) {
				all = append(all, phrase)
			}
		}
	}
	return strings.Join(all, " AND ")
}

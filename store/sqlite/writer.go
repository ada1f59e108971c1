package sqlite

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"slices"

	"earstone/store/history"
)

// writer is the one connection that writes, with its statements. Its methods are called
// under the lock of the store, between begin and the end of a transaction.
type writer struct {
	conn *sql.Conn

	last, addEntry, blank                  *sql.Stmt
	entries, place, addCurrent, setCurrent *sql.Stmt
	taken, addLookup, dropLookup, known    *sql.Stmt
	addWords, setWords, dropWords          *sql.Stmt
	checkpoint                             *sql.Stmt
	changes, mergeWords                    *sql.Stmt

	unsafe error // why writing would not wait for the disk any more
}

const journalColumns = "j.position, j.id, j.kind, j.subject, j.supersedes, j.who, j.written_at, j.import, j.row, j.payload, j.digest"

func newWriter(ctx context.Context, db *sql.DB) (*writer, error) {
	conn, err := db.Conn(ctx)
	if err != nil {
		return nil, err
	}
	w := &writer{conn: conn}
	for _, s := range []struct {
		to   **sql.Stmt
		text string
	}{
		{&w.last, "SELECT chain FROM journal ORDER BY position DESC LIMIT 1"},
		{&w.addEntry, `INSERT INTO journal (id, kind, subject, supersedes, who, written_at, import, row, payload, digest, hash, chain)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`},
		{&w.blank, "UPDATE journal SET payload = NULL WHERE id = ?"},
		{&w.known, "SELECT 1 FROM journal WHERE id = ?"},
		{&w.entries, "SELECT " + journalColumns + " FROM journal AS j WHERE j.subject = ? ORDER BY j.position"},
		{&w.place, "SELECT number FROM current WHERE subject = ?"},
		{&w.addCurrent, "INSERT INTO current (subject, kind, head, heads) VALUES (?, ?, ?, ?)"},
		{&w.setCurrent, "UPDATE current SET kind = ?, head = ?, heads = ? WHERE number = ?"},
		{&w.taken, "SELECT subject FROM lookup WHERE kind = ? AND field = ? AND value = ? AND subject <> ? LIMIT 1"},
		{&w.addLookup, "INSERT OR IGNORE INTO lookup (kind, field, value, subject) VALUES (?, ?, ?, ?)"},
		{&w.dropLookup, "DELETE FROM lookup WHERE kind = ? AND field = ? AND value = ? AND subject = ?"},
		{&w.addWords, "INSERT INTO words (rowid, text) VALUES (?, ?)"},
		{&w.setWords, "UPDATE words SET text = ? WHERE rowid = ?"},
		{&w.dropWords, "DELETE FROM words WHERE rowid = ?"},
		{&w.checkpoint, "PRAGMA wal_checkpoint(TRUNCATE)"},
		{&w.changes, "SELECT total_changes()"},
		{&w.mergeWords, "INSERT INTO words (words, rank) VALUES ('merge', ?)"},
	} {
		if *s.to, err = conn.PrepareContext(ctx, s.text); err != nil {
			return nil, errors.Join(err, w.close())
		}
	}
	return w, nil
}

func (w *writer) close() error {
	var all []error
	for _, s := range []*sql.Stmt{w.last, w.addEntry, w.blank, w.known, w.entries, w.place, w.addCurrent, w.setCurrent,
		w.taken, w.addLookup, w.dropLookup, w.addWords, w.setWords, w.dropWords, w.checkpoint, w.changes, w.mergeWords} {
		if s != nil {
			all = append(all, s.Close())
		}
	}
	return errors.Join(append(all, w.conn.Close())...)
}

// always is the context of single statements: a transaction ends whole or not at all by
// asking its own context between entries, and is never cut within a statement.
var always = context.Background()

// within runs a transaction: what do has done is on the disk when it returns nil, and
// has not been when it returns an error.
func (w *writer) within(ctx context.Context, do func() error) error {
	if err := errors.Join(ctx.Err(), w.unsafe); err != nil {
		return err
	}
	if _, err := w.conn.ExecContext(always, "BEGIN IMMEDIATE"); err != nil {
		return err
	}
	if err := do(); err != nil {
		return errors.Join(err, w.rollback())
	}
	if _, err := w.conn.ExecContext(always, "COMMIT"); err != nil {
		return errors.Join(err, w.rollback())
	}
	return nil
}

// rollback undoes a transaction; some troubles, as a full disk, have undone it already.
func (w *writer) rollback() error {
	return w.conn.Raw(func(of any) error {
		_, err := of.(driver.ExecerContext).ExecContext(always, "ROLLBACK", nil)
		if err != nil && told(err) == err && !errors.Is(err, driver.ErrBadConn) {
			return nil // no transaction is active
		}
		return err
	})
}

// subject is a subject that is written to in the transaction at hand: its entries with
// their positions, those of before and the fresh ones.
type subject struct {
	entries   []history.Entry
	positions map[history.ID]int64
	before    int // how many were there
}

// batch are the subjects of a transaction, in the order in which they came up.
type batch struct {
	w     *writer
	of    map[history.ID]*subject
	order []history.ID
	chain history.Hash

	removes bool // a record is removed in it
}

func (w *writer) newBatch() (*batch, error) {
	b := &batch{w: w, of: map[history.ID]*subject{}}
	var chain []byte
	if err := w.last.QueryRowContext(always).Scan(&chain); err != nil && !errors.Is(err, sql.ErrNoRows) {
		return nil, err
	}
	copy(b.chain[:], chain)
	return b, nil
}

// subject is the subject of an entry; a fresh one can have nothing there yet.
func (b *batch) subject(id history.ID, fresh bool) (*subject, error) {
	if s := b.of[id]; s != nil {
		return s, nil
	}
	s := &subject{positions: map[history.ID]int64{}}
	if !fresh {
		rows, err := b.w.entries.QueryContext(always, id[:])
		if err != nil {
			return nil, err
		}
		err = scanEntries(rows, func(at int64, e *history.Entry) error {
			s.entries = append(s.entries, *e)
			s.positions[e.ID] = at
			return nil
		})
		if err != nil {
			return nil, err
		}
		s.before = len(s.entries)
	}
	b.of[id] = s
	b.order = append(b.order, id)
	return s, nil
}

// add writes a sealed entry into the journal. Of a subject that was removed no payload is
// written.
func (b *batch) add(s *subject, e *history.Entry) error {
	if e.Kind != history.Removals && removed(s.entries) {
		_ = e.Open(nil)
	}
	payload, err := e.Payload()
	if err != nil {
		return err
	}
	hash := e.Hash()
	b.chain = b.chain.Link(hash)
	var text any
	if payload != nil {
		text = string(payload)
	}
	done, err := b.w.addEntry.ExecContext(always, e.ID[:], string(e.Kind), e.Subject[:], joined(e.Supersedes), e.Who,
		e.When.UnixMicro(), e.Import[:], e.Row, text, e.Digest[:], hash[:], b.chain[:])
	if err != nil {
		return err
	}
	b.removes = b.removes || e.Kind == history.Removals
	at, err := done.LastInsertId()
	if err != nil {
		return err
	}
	s.entries = append(s.entries, *e)
	s.positions[e.ID] = at
	return nil
}

func joined(ids []history.ID) []byte {
	all := make([]byte, 0, 16*len(ids))
	for _, id := range ids {
		all = append(all, id[:]...)
	}
	return all
}

// settle writes what is derived from the journal for all subjects of the batch.
func (b *batch) settle() error {
	for _, id := range b.order {
		if err := b.derive(id, b.of[id]); err != nil {
			return fmt.Errorf("deriving record %s: %w", id, err)
		}
	}
	return nil
}

// derive sets what is derived of one subject: where it stands, what it is found by. A
// removed one is blanked first.
func (b *batch) derive(id history.ID, s *subject) error {
	was := derivedOf(s.entries[:s.before])
	if err := b.blank(s); err != nil {
		return err
	}
	is := derivedOf(s.entries)
	var number int64
	switch err := b.w.place.QueryRowContext(always, id[:]).Scan(&number); {
	case errors.Is(err, sql.ErrNoRows):
		done, err := b.w.addCurrent.ExecContext(always, id[:], string(is.kind), s.positions[is.head], is.heads)
		if err != nil {
			return err
		}
		if number, err = done.LastInsertId(); err != nil {
			return err
		}
	case err != nil:
		return err
	default:
		if _, err := b.w.setCurrent.ExecContext(always, string(is.kind), s.positions[is.head], is.heads, number); err != nil {
			return err
		}
	}
	return b.w.find(id, number, was, is)
}

// blank takes the payload from all entries of a subject that was removed.
func (b *batch) blank(s *subject) error {
	if !removed(s.entries) {
		return nil
	}
	for i := range s.entries {
		e := &s.entries[i]
		if e.Kind == history.Removals || e.Removed {
			continue
		}
		if _, err := b.w.blank.ExecContext(always, e.ID[:]); err != nil {
			return err
		}
		_ = e.Open(nil)
	}
	return nil
}

func removed(entries []history.Entry) bool {
	return slices.ContainsFunc(entries, func(e history.Entry) bool { return e.Kind == history.Removals })
}

// find writes the difference in what a record is found by.
func (w *writer) find(id history.ID, number int64, was, is derived) error {
	for _, l := range was.lookup {
		if !slices.Contains(is.lookup, l) {
			if _, err := w.dropLookup.ExecContext(always, string(l.kind), l.field, l.value, id[:]); err != nil {
				return err
			}
		}
	}
	for _, l := range is.lookup {
		if !slices.Contains(was.lookup, l) {
			if _, err := w.addLookup.ExecContext(always, string(l.kind), l.field, l.value, id[:]); err != nil {
				return err
			}
		}
	}
	var err error
	switch {
	case was.words == is.words:
	case was.words == "":
		_, err = w.addWords.ExecContext(always, number, is.words)
	case is.words == "":
		_, err = w.dropWords.ExecContext(always, number)
	default:
		_, err = w.setWords.ExecContext(always, is.words, number)
	}
	return err
}

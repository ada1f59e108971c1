package sqlite

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"hash/maphash"
	"path/filepath"
	"slices"

	"earstone/store/history"
)

// Verify proves the store: see history.Store.
func (s *Store) Verify(ctx context.Context, progress func(done, of int)) (history.Proof, error) {
	// A connection that is fresh: one that searched before checks the index of words
	// against totals that it remembers.
	db, err := openReader(filepath.Join(s.dir, File), s.mode)
	if err != nil {
		return history.Proof{}, told(err)
	}
	defer db.Close()
	proof, err := prove(ctx, db, progress)
	if err != nil {
		return proof, fmt.Errorf("verifying the programme %s: %w", s.dir, told(err))
	}
	return proof, nil
}

// mostDamage is how much damage is told piece by piece.
const mostDamage = 1000

// prover goes through a file that may be damaged anywhere.
type prover struct {
	tx    *sql.Tx
	proof history.Proof
	chain history.Hash
	lost  bool // an entry could not be read, so that the chain can't be followed over it
}

// prove reads everything in one state of the file. Damage is found, not an error.
func prove(ctx context.Context, db *sql.DB, progress func(done, of int)) (history.Proof, error) {
	conn, err := db.Conn(ctx)
	if err != nil {
		return damagedWhole(err)
	}
	defer conn.Close()
	tx, err := conn.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return damagedWhole(err)
	}
	defer tx.Rollback() // it only read
	p := &prover{tx: tx}
	var first, last sql.NullInt64
	if err := tx.QueryRowContext(ctx, "SELECT MIN(position), MAX(position) FROM journal").Scan(&first, &last); err != nil {
		return damagedWhole(err)
	}
	if err := p.journal(ctx, first.Int64, last.Int64, progress); err != nil {
		return p.proof, err
	}
	p.proof.Head = p.chain
	if err := p.pages(ctx); err != nil {
		return p.proof, err
	}
	if len(p.proof.Damage) > 0 { // what is derived from damaged entries says nothing more
		return p.proof, nil
	}
	return p.proof, p.derived(ctx)
}

// damagedWhole tells a file that can't be read at all.
func damagedWhole(err error) (history.Proof, error) {
	if err = told(err); errors.Is(err, history.ErrDamaged) {
		return history.Proof{Damage: []history.Damage{{What: "file", How: "it can't be read as a programme at all"}}}, nil
	}
	return history.Proof{}, err
}

func (p *prover) add(d history.Damage) {
	if len(p.proof.Damage) < mostDamage {
		p.proof.Damage = append(p.proof.Damage, d)
	}
}

// stretch is how many entries are read by one query: where it trips over damage, its
// entries are asked for one by one.
const stretch = 1000

func (p *prover) journal(ctx context.Context, first, last int64, progress func(done, of int)) error {
	if last == 0 {
		return nil
	}
	for from := first; from <= last; from += stretch {
		if err := ctx.Err(); err != nil {
			return err
		}
		to := min(from+stretch-1, last)
		next, err := p.read(ctx, from, to)
		for err != nil && next <= to {
			if told(err) == err && !errors.Is(err, history.ErrDamaged) {
				return err
			}
			p.lost = true
			p.proof.Entries++
			p.add(history.Damage{What: "entry", Position: next, How: "it can't be read"})
			next, err = p.read(ctx, next+1, to)
		}
		if progress != nil {
			progress(int(to-first+1), int(last-first+1))
		}
	}
	return nil
}

// read goes through the entries from one position to another and tells the position at
// which it could not go on.
func (p *prover) read(ctx context.Context, from, to int64) (next int64, err error) {
	next = from
	if from > to {
		return next, nil
	}
	rows, err := p.tx.QueryContext(ctx, "SELECT "+journalColumns+", j.hash, j.chain FROM journal AS j WHERE j.position BETWEEN ? AND ? ORDER BY j.position", from, to)
	if err != nil {
		return next, err
	}
	defer rows.Close()
	var in scanned
	var hash, chain sql.RawBytes
	for rows.Next() {
		if err := in.scan(rows, &hash, &chain); err != nil {
			next = max(next, in.at)
			return next, err
		}
		for ; next < in.at; next++ {
			p.lost = true
			p.add(history.Damage{What: "chain", Position: next, How: "an entry is missing here"})
		}
		p.entry(&in, history.Hash(padded(hash)), history.Hash(padded(chain)))
		next = in.at + 1
	}
	return next, rows.Err()
}

func padded(b []byte) []byte { return append(b[:len(b):len(b)], make([]byte, 32)...)[:32] }

// entry holds one entry against its hashes.
func (p *prover) entry(in *scanned, hash, chain history.Hash) {
	p.proof.Entries++
	how := flaw(&in.Entry)
	is := in.Hash()
	if how == "" && is != hash {
		how = "it is not as it was written"
	}
	linked := p.chain.Link(is)
	switch {
	case how != "":
		p.lost = true
		p.add(history.Damage{What: "entry", Position: in.at, Entry: in.ID, Kind: in.Kind, Label: history.Label(in.Kind, in.Fields), How: how})
	case linked != chain && !p.lost:
		p.lost = true
		p.add(history.Damage{What: "chain", Position: in.at, Entry: in.ID, Kind: in.Kind, Label: history.Label(in.Kind, in.Fields),
			How: "entries before it were taken away, put in or put into another order"})
		p.proof.Whole++
	default:
		p.lost = false
		p.proof.Whole++
	}
	p.chain = chain // from here the chain goes on, so that one damage is told once
}

// flaw tells what is wrong with an entry by itself; empty when nothing is.
func flaw(e *history.Entry) string {
	if e.Removed {
		return ""
	}
	payload, err := e.Payload()
	if err != nil || sha256.Sum256(payload) != e.Digest {
		return "what it says is not what was written"
	}
	return ""
}

// pages asks SQLite to go through its own pages.
func (p *prover) pages(ctx context.Context) error {
	rows, err := p.tx.QueryContext(ctx, "PRAGMA integrity_check(20)")
	if err == nil {
		defer rows.Close()
		for rows.Next() {
			var said string
			if err = rows.Scan(&said); err != nil {
				break
			}
			if said != "ok" {
				p.add(history.Damage{What: "file", How: said})
			}
		}
		err = errors.Join(err, rows.Err())
	}
	if err = told(err); errors.Is(err, history.ErrDamaged) {
		p.add(history.Damage{What: "file", How: "its pages can't be gone through"})
		return nil
	}
	return err
}

// stands is the row of a subject in current, with its words.
type stands struct {
	kind        history.Kind
	head, heads int64
	words       string
}

// derived holds what records are found by against the entries that it follows from.
func (p *prover) derived(ctx context.Context) error {
	current, err := p.current(ctx)
	if err != nil {
		return err
	}
	rows, err := p.tx.QueryContext(ctx, "SELECT "+journalColumns+" FROM journal AS j ORDER BY j.subject, j.position")
	if err != nil {
		return err
	}
	var of []history.Entry
	positions := map[history.ID]int64{}
	seed, found := maphash.MakeSeed(), uint64(0)
	check := func() {
		if len(of) > 0 {
			found += p.subject(of, positions, current, seed)
		}
		of = of[:0]
		clear(positions)
	}
	err = scanEntries(rows, func(at int64, e *history.Entry) error {
		if len(of) > 0 && of[0].Subject != e.Subject {
			check()
		}
		of = append(of, *e)
		positions[e.ID] = at
		return nil
	})
	if err != nil {
		return err
	}
	check()
	if len(current) > 0 {
		p.add(history.Damage{What: "index", How: "it names records that are not there"})
	}
	return p.lookups(ctx, seed, found)
}

// current is what stands in current of every subject.
func (p *prover) current(ctx context.Context) (map[history.ID]stands, error) {
	rows, err := p.tx.QueryContext(ctx, "SELECT c.subject, c.kind, c.head, c.heads, w.text FROM current AS c LEFT JOIN words AS w ON w.rowid = c.number")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	all := map[history.ID]stands{}
	var subject sql.RawBytes
	for rows.Next() {
		var one stands
		var words sql.NullString
		if err := rows.Scan(&subject, &one.kind, &one.head, &one.heads, &words); err != nil {
			return nil, err
		}
		one.words = words.String
		var id history.ID
		copy(id[:], subject)
		all[id] = one
	}
	return all, rows.Err()
}

// subject holds the derived row of one subject against its entries and takes it out of
// current. It gives the sum of the hashes of its lookups: sums, since these come in
// another order from their table.
func (p *prover) subject(entries []history.Entry, positions map[history.ID]int64, current map[history.ID]stands, seed maphash.Seed) (sum uint64) {
	want, id := derivedOf(entries), entries[0].Subject
	for i := range entries {
		if e := &entries[i]; e.Removed && !removed(entries) {
			p.proof.Whole--
			p.add(history.Damage{What: "entry", Position: positions[e.ID], Entry: e.ID, Kind: e.Kind, How: "what it says is gone, and no removal says why"})
		}
	}
	is, there := current[id]
	delete(current, id)
	if !there || is != (stands{want.kind, positions[want.head], int64(want.heads), want.words}) {
		p.add(history.Damage{What: "index", Entry: want.head, Kind: want.kind, How: "what the record is found by does not fit it"})
	}
	for i, l := range want.lookup {
		if !slices.Contains(want.lookup[:i], l) { // heads of a conflict may say the same
			sum += maphash.Comparable(seed, lookedUp{l, id})
		}
	}
	return sum
}

type lookedUp struct {
	lookup
	subject history.ID
}

// lookups holds the table of lookups against the sum that the entries give.
func (p *prover) lookups(ctx context.Context, seed maphash.Seed, want uint64) error {
	rows, err := p.tx.QueryContext(ctx, "SELECT kind, field, value, subject FROM lookup")
	if err != nil {
		return err
	}
	defer rows.Close()
	var sum uint64
	var subject sql.RawBytes
	for rows.Next() {
		var one lookedUp
		if err := rows.Scan(&one.kind, &one.field, &one.value, &subject); err != nil {
			return err
		}
		copy(one.subject[:], subject)
		sum += maphash.Comparable(seed, one)
	}
	if sum != want {
		p.add(history.Damage{What: "index", How: "what records are found by does not fit them"})
	}
	return rows.Err()
}

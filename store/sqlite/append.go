package sqlite

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"earstone/store/history"
)

// errReader is a store that was opened for reading.
var errReader = errors.New("the programme was opened for reading only")

// askEvery is how many entries are written between two questions whether to stop.
const askEvery = 256

// Append keeps all entries or none: see history.Store.
func (s *Store) Append(ctx context.Context, entries ...*history.Entry) error {
	err := s.write(ctx, func(b *batch) error {
		for i, e := range entries {
			if i%askEvery == 0 && ctx.Err() != nil {
				return ctx.Err()
			}
			if i%askEvery == 0 && i > 0 && s.Progress != nil {
				s.Progress(i, len(entries))
			}
			if err := b.append(e); err != nil {
				return err
			}
		}
		return b.settle()
	})
	if err != nil {
		return fmt.Errorf("keeping %s: %w", several(len(entries), "entry", "entries"), told(err))
	}
	return nil
}

// write runs a batch in a transaction; what it removed is taken out of the log of writes
// after it.
func (s *Store) write(ctx context.Context, do func(*batch) error) error {
	if s.w == nil {
		return errReader
	}
	s.writing.Lock()
	defer s.writing.Unlock()
	removes := false
	err := s.w.within(ctx, func() error {
		b, err := s.w.newBatch()
		if err != nil {
			return err
		}
		err = do(b)
		removes = b.removes
		return err
	})
	if err != nil {
		return err
	}
	s.keeper.written()
	if !removes {
		return nil
	}
	s.keeper.moving.Lock()
	defer s.keeper.moving.Unlock()
	return s.w.forget()
}

// append writes one entry as a person or a program means it: knowing what is there.
func (b *batch) append(e *history.Entry) error {
	fresh := !e.Subject.Known()
	if err := e.Seal(); err != nil {
		return err
	}
	s, err := b.subject(e.Subject, fresh)
	if err != nil {
		return err
	}
	if err := current(s, e); err != nil {
		return err
	}
	if err := b.free(e); err != nil {
		return err
	}
	if err := b.add(s, e); err != nil {
		return err
	}
	if fresh && len(s.entries) == 1 { // derived at once, so that the next entry finds its name taken
		b.order = b.order[:len(b.order)-1]
		delete(b.of, e.Subject)
		return b.derive(e.Subject, s)
	}
	return nil
}

// current asks whether an entry supersedes all that it must, and nothing else.
func current(s *subject, e *history.Entry) error {
	superseded := map[history.ID]bool{}
	for i := range s.entries {
		for _, id := range s.entries[i].Supersedes {
			superseded[id] = true
		}
	}
	for i := range s.entries {
		was := &s.entries[i]
		switch {
		case was.Kind == history.Removals:
			return fmt.Errorf("record %s: %w", e.Subject, history.ErrNotFound)
		case was.ID == e.ID:
			return fmt.Errorf("entry %s was kept already: %w", e.ID, history.ErrStale)
		case (!superseded[was.ID] || e.Kind == history.Removals) && !slices.Contains(e.Supersedes, was.ID):
			return fmt.Errorf("record %s: %w", e.Subject, history.ErrStale)
		case was.Kind != e.Kind && e.Kind != history.Removals:
			return fmt.Errorf("record %s is one of %s, not of %s: %w", e.Subject, was.Kind, e.Kind, history.ErrNotFound)
		}
	}
	for _, id := range e.Supersedes {
		if _, there := s.positions[id]; !there {
			return fmt.Errorf("entry %s, which %s supersedes, is none of its record: %w", id, e.ID, history.ErrNotFound)
		}
	}
	if e.Kind == history.Removals && len(s.entries) == 0 {
		return fmt.Errorf("record %s: %w", e.Subject, history.ErrNotFound)
	}
	return nil
}

// free asks whether the name that an entry gives its record is free.
func (b *batch) free(e *history.Entry) error {
	label := history.Label(e.Kind, e.Fields)
	if label == "" || e.Kind == history.Removals {
		return nil
	}
	rows, err := b.w.taken.QueryContext(always, string(e.Kind), history.LabelField(e.Kind), label, e.Subject[:])
	if err != nil {
		return err
	}
	taken := rows.Next()
	if err := errors.Join(rows.Err(), rows.Close()); err != nil {
		return err
	}
	if taken {
		return fmt.Errorf("%s %q: %w", e.Kind, label, history.ErrTaken)
	}
	return nil
}

// Merge adds entries of another store: see history.Store.
func (s *Store) Merge(ctx context.Context, entries ...*history.Entry) (added int, err error) {
	err = s.write(ctx, func(b *batch) error {
		for i, e := range entries {
			if i%askEvery == 0 && ctx.Err() != nil {
				return ctx.Err()
			}
			fresh, err := b.merge(e)
			if err != nil {
				return err
			}
			if fresh {
				added++
			}
		}
		return b.settle()
	})
	if err != nil {
		return 0, fmt.Errorf("joining %s: %w", several(len(entries), "entry", "entries"), told(err))
	}
	return added, nil
}

// merge writes one entry of another store unless it is here; it must be as it was sealed.
func (b *batch) merge(e *history.Entry) (fresh bool, err error) {
	if how := flaw(e); how != "" {
		return false, fmt.Errorf("entry %s of the other programme %s: %w", e.ID, how, history.ErrDamaged)
	}
	s, err := b.subject(e.Subject, false)
	if err != nil {
		return false, err
	}
	if _, here := s.positions[e.ID]; here {
		return false, nil
	}
	one := *e
	return true, b.add(s, &one)
}

// forget takes what was removed out of the log of writes, so that no file holds it. While
// someone reads what was, the log stays until a later writing or the end of the process.
func (w *writer) forget() error {
	var busy, pages, moved int
	if err := w.checkpoint.QueryRowContext(always).Scan(&busy, &pages, &moved); err != nil {
		return fmt.Errorf("taking what was removed out of the log: %w", err)
	}
	return nil
}

func several(n int, one, many string) string {
	if n == 1 {
		return "one " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

package sqlite

import (
	"database/sql"
	"errors"
	"sync"
	"sync/atomic"
	"time"
)

// keeper does what may wait, so that whoever keeps a card need not wait for it: it merges
// the index of words, and moves the log of writes into the file. It ends with the store.
type keeper struct {
	wake, stop, ended chan struct{}
	moving            sync.Mutex // of the log: SQLite refuses a second one; locked after Store.writing
	halted            sync.Once
	last              atomic.Int64 // when something was written
	db                *sql.DB      // the connection that moves it, beside the one that writes
}

// Every write leaves a small part of the index of words. SQLite would merge them, and
// move the log, within the write that makes the measure full: one card in a hundred took
// 30 to 150 ms of processor time so, the more the larger the programme.
const (
	portion = 16                     // pages of the index merged while writers wait
	quiet   = time.Second            // without a write: nobody types
	breath  = 2 * time.Millisecond   // between two portions when nobody does
	busy    = 100 * time.Millisecond // else: the next card to be synced takes the pages of a portion to the disk
	rest    = 250 * time.Millisecond // when all is merged
	logRest = time.Second            // between two movings of the log
	logFull = 65536                  // pages of the log (256 MB) at which writers wait until all is moved
)

// keepOn starts the keeper of a store.
func (s *Store) keepOn(path string) (err error) {
	k := &keeper{wake: make(chan struct{}, 1), stop: make(chan struct{}), ended: make(chan struct{})}
	if k.db, err = sql.Open("sqlite", dsn(path, "mode=rw&"+writerPragmas)); err != nil {
		return err
	}
	k.db.SetMaxOpenConns(1)
	s.keeper = k
	go func() {
		defer close(k.ended)
		s.keepHouse()
	}()
	return nil
}

// written tells the keeper that there may be something to do.
func (k *keeper) written() {
	k.last.Store(time.Now().UnixNano())
	k.comeBack()
}

// pause is how long to wait with the next portion when the last one took so long. A word
// that most fish have can't be merged by halves, so that some portions are large: they
// get a twentieth of the time when people type, and half of it when nobody does.
func (k *keeper) pause(took time.Duration) time.Duration {
	if time.Since(time.Unix(0, k.last.Load())) > quiet {
		return max(breath, took)
	}
	return max(busy, 20*took)
}

// comeBack has the keeper look for what is left.
func (k *keeper) comeBack() {
	select {
	case k.wake <- struct{}{}:
	default: // it knows
	}
}

// halt lets the keeper finish its portion, and no more.
func (k *keeper) halt() {
	k.halted.Do(func() { close(k.stop) })
	<-k.ended
}

// waits until the time is over; false: the store is being closed.
func (k *keeper) waits(d time.Duration) bool {
	select {
	case <-k.stop:
		return false
	case <-time.After(d):
		return true
	}
}

// keepHouse does a bit after the other while there is something to do. Trouble is left
// to the next write, which meets it, too, and can tell somebody.
func (s *Store) keepHouse() {
	var moved time.Time
	for {
		select {
		case <-s.keeper.stop:
			return
		case <-s.keeper.wake:
		}
		begun := time.Now()
		more, err := s.mergeSome()
		took := time.Since(begun)
		late := time.Since(moved) >= logRest
		if late {
			_ = s.moveLog()
			moved = time.Now()
		}
		pause := rest
		if err == nil && more {
			pause = s.keeper.pause(took)
		}
		if more || !late {
			s.keeper.comeBack()
		}
		if !s.keeper.waits(pause) {
			return
		}
	}
}

// mergeSome merges one portion of the index of words, and tells whether more is left.
func (s *Store) mergeSome() (more bool, err error) {
	s.writing.Lock()
	defer s.writing.Unlock()
	return s.w.merge()
}

// merge does not wait for the disk: a merging that a loss of power takes back has taken
// nothing away, and what is kept after it is synced with it.
func (w *writer) merge() (more bool, err error) {
	if w.unsafe != nil {
		return false, w.unsafe
	}
	if _, err := w.conn.ExecContext(always, "PRAGMA synchronous = NORMAL"); err != nil {
		return false, err
	}
	defer func() {
		if _, back := w.conn.ExecContext(always, "PRAGMA synchronous = FULL"); back != nil {
			w.unsafe = back
			err = errors.Join(err, back)
		}
	}()
	var before, after int64
	if err := w.changes.QueryRowContext(always).Scan(&before); err != nil {
		return false, err
	}
	if _, err := w.mergeWords.ExecContext(always, portion); err != nil {
		return false, err
	}
	if err := w.changes.QueryRowContext(always).Scan(&after); err != nil {
		return false, err
	}
	return after-before >= 2, nil // sqlite.org, "FTS5", the merge command: less, and nothing was to be done
}

// moveLog moves the log of writes into the file while others write. One that has grown
// nevertheless, since they wrote all the time, is moved while they wait, so that it can
// begin anew.
func (s *Store) moveLog() error {
	pages, err := s.keeper.move()
	if err != nil || pages < logFull {
		return err
	}
	s.writing.Lock()
	defer s.writing.Unlock()
	_, err = s.keeper.move()
	return err
}

// move tells how many pages the log had.
func (k *keeper) move() (pages int, err error) {
	k.moving.Lock()
	defer k.moving.Unlock()
	var busy, moved int
	err = k.db.QueryRowContext(always, "PRAGMA wal_checkpoint(PASSIVE)").Scan(&busy, &pages, &moved)
	return pages, err
}

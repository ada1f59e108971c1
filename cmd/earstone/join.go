package main

import (
	"context"
	"errors"
	"path/filepath"

	"earstone/store/history"
	"earstone/store/pictures"
	"earstone/store/sqlite"
)

// joinedAtOnce is how many entries are kept in one piece; a join that was stopped goes on
// when it is asked for again.
const joinedAtOnce = 5000

// join brings what another folder of the same programme holds into this one: its journal
// and its pictures. Whatever the order and however often, what both hold afterwards is
// the same; what contradicts itself is listed for a person to settle.
func (in *importTakes) join(ctx context.Context, to *output, store *sqlite.Store) (ended status, err error) {
	from := in.File[0]
	switch {
	case len(in.File) > 1:
		return wrongUse, errors.New("a programme is joined alone: give no other file with it")
	case in.DryRun:
		return wrongUse, errors.New("--dry-run is for tables: to try a join, join into a copy that earstone backup and earstone restore made")
	}
	other, err := sqlite.Read(ctx, from)
	if err != nil {
		return failed, err
	}
	defer func() { err = errors.Join(err, other.Close()) }()
	to.begin("verifying the other programme")
	proof, err := other.Verify(ctx, nil)
	if err != nil {
		return failed, err
	}
	if len(proof.Damage) > 0 {
		if !to.json {
			to.say("Nothing was joined: the other programme is damaged.")
		}
		return to.damage(proof.Damage)
	}
	if err := sameBeginning(ctx, store, other); err != nil {
		return failed, err
	}
	added, err := joinEntries(ctx, to, store, other, proof.Entries)
	if err != nil {
		return failed, err
	}
	if err := joinPictures(ctx, from, in.Into, store); err != nil {
		return failed, err
	}
	if to.json {
		err = to.object(joinObject{from, proof.Entries, added})
	} else {
		to.say("%s: %s, %s of them new in %s.", from, plural(proof.Entries, "entry", "entries"), plural(added, "entry", "entries"), in.Into)
	}
	if err != nil {
		return failed, err
	}
	return to.conflicts(ctx, store)
}

// joinObject is what a programme brought, as JSON.
type joinObject struct {
	Programme string `json:"programme"`
	Entries   int    `json:"entries"`
	New       int    `json:"new"`
}

// sameBeginning refuses a programme that never was the same as this one: the two would
// stand side by side in it for good.
func sameBeginning(ctx context.Context, store, other history.Store) error {
	var first [2]history.ID
	for i, s := range []history.Store{store, other} {
		_, err := s.Journal(ctx, 0, func(e *history.Entry) error {
			first[i] = e.Subject
			return errSeen
		})
		if err != nil && !errors.Is(err, errSeen) {
			return err
		}
	}
	if !first[0].Known() || !first[1].Known() {
		return nil // one of them is empty yet
	}
	for _, ask := range []struct {
		in history.Store
		id history.ID
	}{{store, first[1]}, {other, first[0]}} {
		_, err := ask.in.Current(ctx, ask.id)
		if !errors.Is(err, history.ErrNotFound) {
			return err
		}
	}
	return errors.New("the two never were one programme: earstone export writes the tables of the other, and earstone import takes those in")
}

// errSeen ends a reading of the journal.
var errSeen = errors.New("seen")

// joinEntries hands the journal of the other programme over, piece by piece.
func joinEntries(ctx context.Context, to *output, store, other history.Store, of int) (added int, err error) {
	var piece []*history.Entry
	handed := 0
	merge := func() error {
		n, err := store.Merge(ctx, piece...)
		added, handed, piece = added+n, handed+len(piece), piece[:0]
		if tell := to.told(); tell != nil {
			tell("joining", handed, of)
		}
		return err
	}
	_, err = other.Journal(ctx, 0, func(e *history.Entry) error {
		one := *e
		piece = append(piece, &one)
		if len(piece) == joinedAtOnce {
			return merge()
		}
		return nil
	})
	if err == nil && len(piece) > 0 {
		err = merge()
	}
	return added, err
}

// joinPictures brings the pictures over that records name and only the other has.
func joinPictures(ctx context.Context, from, into string, store history.Store) error {
	folder, err := pictures.Open(filepath.Join(into, sqlite.Pictures))
	if err != nil {
		return err
	}
	dir := filepath.Join(from, sqlite.Pictures)
	other, err := pictures.Open(dir)
	if err != nil {
		return err
	}
	return store.Each(ctx, history.Images, func(r *history.Record) error {
		name, hash := pictureName(r.Fields()["file"]), r.Fields()["sha256"]
		if name == "" || hasPicture(folder, filepath.Join(into, sqlite.Pictures), name, hash) {
			return ctx.Err()
		}
		picture, err := pictureFile(other, dir, name, hash)
		if err != nil {
			return ctx.Err() // neither has it: earstone verify tells of it
		}
		defer picture.Close()
		var refused *pictures.Refusal
		if _, err = folder.Take(ctx, picture); !errors.As(err, &refused) {
			return err
		}
		again, err := pictureFile(other, dir, name, hash)
		if err != nil {
			return err
		}
		return errors.Join(keepFile(again, name, filepath.Join(into, sqlite.Pictures)), again.Close())
	})
}

// conflictObject is a record that was changed on both sides, as JSON.
type conflictObject struct {
	Kind    string           `json:"kind"`
	Label   string           `json:"label,omitempty"`
	Subject string           `json:"subject"`
	Heads   []history.Fields `json:"heads"`
}

// conflicts lists the records that were changed on both sides; found when there are any.
func (to *output) conflicts(ctx context.Context, store history.Store) (status, error) {
	all, err := store.Conflicts(ctx)
	if err != nil {
		return failed, err
	}
	for _, r := range all {
		label := history.Label(r.Kind, r.Fields())
		if !to.json {
			to.say("conflict: %s %s was changed on both sides: settle it on its page", r.Kind, label)
			continue
		}
		one := conflictObject{Kind: string(r.Kind), Label: label, Subject: r.Subject.String()}
		for i := range r.Heads {
			one.Heads = append(one.Heads, r.Heads[i].Fields)
		}
		if err := to.object(one); err != nil {
			return failed, err
		}
	}
	if len(all) > 0 {
		return found, nil
	}
	if !to.json {
		to.say("Nothing contradicts itself.")
	}
	return done, nil
}

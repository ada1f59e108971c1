package main

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"earstone/store/history"
	"earstone/store/sqlite"
)

// removeTakes are the arguments of remove.
type removeTakes struct {
	Src   string `arg:"" name:"SRC" help:"The programme: a folder made by earstone new."`
	Kind  string `arg:"" name:"KIND" help:"What the record is of: contributors, fish, trips, readings, preparations, images, areas or kits."`
	Label string `arg:"" name:"LABEL" help:"What it is called, exactly."`
	Why   string `help:"The reason, which is kept in place of the record." required:"" placeholder:"REASON"`
	writes
}

func removeCommand() command {
	var in removeTakes
	return command{
		name:    "remove",
		does:    "Take what a record says away for privacy, for good; that it was there is kept.",
		example: "earstone remove quarrow-banks contributors C-014 --why 'asked to be forgotten, 2031-06-02'",
		takes:   &in,
		run:     func(ctx context.Context, to *output) (status, error) { return in.remove(ctx, to) },
	}
}

// removable are the kinds whose records have a name to remove them by.
var removable = []history.Kind{history.Contributors, history.Fish, history.Trips, history.Readings,
	history.Preparations, history.Images, history.Areas, history.Kits}

func (in *removeTakes) remove(ctx context.Context, to *output) (ended status, err error) {
	kind := history.Kind(in.Kind)
	if !isRemovable(kind) {
		return wrongUse, fmt.Errorf("%q is no kind of record that has a name: see earstone remove --help", in.Kind)
	}
	if strings.TrimSpace(in.Why) == "" {
		return wrongUse, errors.New("--why says nothing: the reason stays where the record was")
	}
	store, err := sqlite.Open(ctx, in.Src)
	if err != nil {
		return failed, err
	}
	defer func() { err = errors.Join(err, store.Close()) }()
	field := history.LabelField(kind)
	records, err := store.Where(ctx, history.Query{Kind: kind, Field: field, Value: in.Label})
	if err != nil {
		return failed, err
	}
	if len(records) == 0 {
		return found, fmt.Errorf("no record of %s is called %q in %s: nothing was removed", kind, in.Label, in.Src)
	}
	var removals []*history.Entry
	for i := range records {
		removal, err := in.removal(ctx, to, store, records[i].Subject)
		if err != nil {
			return failed, err
		}
		removals = append(removals, removal)
	}
	if err := store.Append(ctx, removals...); err != nil {
		return failed, err
	}
	to.say("%s %s is removed, with all its history. Backups and exports made before still hold it: make a new backup, and destroy the old ones.", kind, in.Label)
	return done, in.stillNamed(ctx, to, store, field)
}

func isRemovable(kind history.Kind) bool {
	for _, one := range removable {
		if one == kind {
			return true
		}
	}
	return false
}

// removal is the entry that takes the place of everything that was said of a record.
func (in *removeTakes) removal(ctx context.Context, to *output, store history.Store, subject history.ID) (*history.Entry, error) {
	entries, err := store.History(ctx, subject)
	if err != nil {
		return nil, err
	}
	removal := &history.Entry{Kind: history.Removals, Subject: subject, Who: in.who(), When: to.clock(), Why: in.Why}
	for i := range entries {
		removal.Supersedes = append(removal.Supersedes, entries[i].ID)
	}
	return removal, nil
}

// stillNamed tells how many other records name what was removed: they keep its code, and
// a person decides whether that says too much.
func (in *removeTakes) stillNamed(ctx context.Context, to *output, store history.Store, field string) error {
	for _, kind := range []history.Kind{history.Trips, history.Fish, history.Stones, history.Preparations, history.Images,
		history.Readings, history.Assays, history.KnownAges, history.Custody, history.Kits} {
		records, err := store.Where(ctx, history.Query{Kind: kind, Field: field, Value: in.Label})
		if err != nil {
			return err
		}
		if len(records) > 0 {
			to.say("It is still named in %s of %s, where only its code stands.", plural(len(records), "record", "records"), kind)
		}
	}
	return nil
}

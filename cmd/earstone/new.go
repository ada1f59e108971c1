package main

import (
	"context"
	"errors"
	"fmt"

	"earstone/programme/record"
	"earstone/store/book"
	"earstone/store/sqlite"
)

// newTakes are the arguments of new.
type newTakes struct {
	Dir     string   `arg:"" name:"DIR" help:"The folder to make."`
	Name    string   `help:"What the programme is called." placeholder:"NAME"`
	Species []string `help:"Its species, by the FAO ASFIS code; may be given several times." placeholder:"CODE"`
	writes
}

// writes are the arguments of a command that writes to a programme.
type writes struct {
	Who string `help:"Who writes; else the name by which you are signed in to this machine." placeholder:"CODE"`
}

// who is the code under which entries of the command line are kept.
func (w writes) who() string {
	if w.Who != "" {
		return w.Who
	}
	return whoSits()
}

func newCommand() command {
	var in newTakes
	return command{
		name: "new",
		does: "Start a programme: a folder that keeps records and pictures.",
		example: "earstone new quarrow-banks --name 'Quarrow Banks' --species BFT\n" +
			"earstone new quarrow-banks && earstone import tables --into quarrow-banks",
		takes: &in,
		run:   func(ctx context.Context, to *output) (status, error) { return in.make(ctx, to) },
	}
}

func (in *newTakes) make(ctx context.Context, to *output) (_ status, err error) {
	if (in.Name == "") != (len(in.Species) == 0) {
		return wrongUse, errors.New("--name and --species go together; without both, the programme takes its settings from the programme.json that is imported")
	}
	if err := sqlite.Create(ctx, in.Dir); err != nil {
		return failed, err
	}
	if in.Name != "" {
		if err := in.declare(ctx, to); err != nil {
			return failed, err
		}
	}
	to.say("%s is ready. earstone import FILE... --into %s takes tables in; earstone serve %s opens its pages.", in.Dir, in.Dir, in.Dir)
	return done, nil
}

// declare keeps the settings of a programme that has declared nothing else.
func (in *newTakes) declare(ctx context.Context, to *output) (err error) {
	settings := record.Defaults()
	settings.Name = in.Name
	for _, code := range in.Species {
		settings.Species = append(settings.Species, record.Species(code))
	}
	e, err := book.SettingsEntry(settings, nil)
	if err != nil {
		return err
	}
	e.Who, e.When = in.who(), to.clock()
	store, err := sqlite.Open(ctx, in.Dir)
	if err != nil {
		return err
	}
	if err := store.Append(ctx, e); err != nil {
		return errors.Join(fmt.Errorf("keeping the settings: %w", err), store.Close())
	}
	return store.Close()
}

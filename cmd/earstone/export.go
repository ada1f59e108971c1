package main

import (
	"context"
	"errors"
	"fmt"

	"earstone/programme/finding"
	"earstone/programme/record"
	"earstone/store/sqlite"
	"earstone/store/tables"
)

// exportTakes are the arguments of export.
type exportTakes struct {
	Src  string `arg:"" name:"SRC" help:"${src}"`
	Out  string `arg:"" name:"OUT" help:"The folder to write; it must not be there yet, or be empty."`
	Form string `help:"How tables are written: ${enum}." enum:"csv,xlsx,parquet,dwc" default:"csv"`
}

func exportCommand() command {
	var in exportTakes
	return command{
		name: "export",
		does: "Write a programme as plain tables, from which import makes the same again.",
		example: "earstone export quarrow-banks tables\n" +
			"earstone export quarrow-banks for-the-analyst --form parquet",
		takes: &in,
		run:   func(ctx context.Context, to *output) (status, error) { return in.write(ctx, to) },
	}
}

func (in *exportTakes) write(ctx context.Context, to *output) (_ status, err error) {
	if within(in.Out, in.Src) {
		return wrongUse, fmt.Errorf("OUT %s lies in the programme itself: choose another folder", in.Out)
	}
	to.begin("reading " + in.Src)
	p, err := openProgramme(in.Src, to.today())
	if err != nil {
		return failed, err
	}
	defer p.close()
	out, err := tables.CreateEmpty(in.Out)
	if err != nil {
		return failed, err
	}
	defer func() { err = errors.Join(err, out.Discard()) }()
	to.begin("writing " + in.Out)
	if err := out.WriteAs(in.Form, p.book, stopping{ctx, p.tables}.Lengths); err != nil {
		return failed, err
	}
	if unsound := p.tables.Findings(); unsound.Of(finding.Error) > 0 {
		ended, err := to.findings(unsound)
		to.say("Nothing was written: mend the errors first.")
		return ended, err
	}
	if sqlite.Is(in.Src) {
		if err := givePictures(ctx, in.Src, p.book, out.Folder); err != nil {
			return failed, err
		}
	}
	if err := out.Commit(); err != nil {
		return failed, err
	}
	to.say("Written to %s.", in.Out)
	return done, nil
}

// stopping is a source whose length counts end when the work is stopped.
type stopping struct {
	ctx context.Context
	of  record.Source
}

func (s stopping) Lengths(each func(*record.LengthCount) error) error {
	return s.of.Lengths(func(c *record.LengthCount) error {
		if err := s.ctx.Err(); err != nil {
			return err
		}
		return each(c)
	})
}

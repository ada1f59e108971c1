package main

import (
	"context"
)

// checkTakes are the arguments of check.
type checkTakes struct {
	Src  string `arg:"" name:"SRC" help:"${src}"`
	JSON bool   `help:"Print one JSON object a problem: file, row, column, value, expected, remedy, severity."`
}

func check() command {
	var in checkTakes
	return command{
		name:    "check",
		does:    "Hold every record against every rule and tell all problems.",
		example: "earstone check quarrow-banks",
		takes:   &in,
		run:     func(ctx context.Context, to *output) (status, error) { return in.check(ctx, to) },
	}
}

func (in *checkTakes) check(ctx context.Context, to *output) (status, error) {
	to.json = in.JSON
	to.begin("reading " + in.Src)
	p, err := openProgramme(in.Src, to.today())
	if err != nil {
		return failed, err
	}
	defer p.close()
	found, err := p.look(ctx)
	if err != nil {
		return failed, err
	}
	return to.findings(found)
}

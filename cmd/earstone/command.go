package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/alecthomas/kong"

	"earstone/estimate/run"
	"earstone/pages/words"
)

// command is one thing that earstone does.
type command struct {
	name, does, example string
	takes               any // a struct of arguments and flags, filled before run is called
	run                 func(ctx context.Context, to *output) (status, error)
}

// status is how a command ended, as the shell is told.
type status int

// The statuses, as docs/tables.md and every --help tell them.
const (
	done     status = iota // all went well
	found                  // there are problems in the data
	wrongUse               // the command line can't be understood
	failed                 // the surroundings failed, or the work was stopped
)

// srcHelp tells what SRC may be, for commands that read a programme however it is kept.
const srcHelp = "The programme: a folder made by earstone new, a folder of tables, or one .xlsx workbook."

const describes = `The age of the catch from ear stones: what a cooperative otolith programme sends, and what it owes.

Exit status: 0 done, 1 problems found in the data, 2 wrong use, 3 failed or stopped.`

// obey does what the arguments say.
func obey(ctx context.Context, args []string, to *output) status {
	all := commands()
	helped := false
	options := []kong.Option{
		kong.Name("earstone"), kong.Description(describes), kong.Writers(to.out, to.err),
		kong.Vars{"forms": strings.Join(run.Forms(), ","), "parts": parts(), "src": srcHelp},
		kong.Exit(func(int) { helped = true }), // it calls this after --help alone
		kong.ConfigureHelp(kong.HelpOptions{Compact: true}),
		kong.Help(help(all)),
	}
	for _, c := range all {
		options = append(options, kong.DynamicCommand(c.name, c.does, "", c.takes))
	}
	parser, err := kong.New(&struct{}{}, options...)
	if err != nil {
		panic(err) // a mistake in a struct of ours
	}
	if len(args) == 0 {
		args = []string{"--help"}
		defer fmt.Fprintln(to.err, "earstone: say what to do: earstone demo, for a beginning")
		_, _ = parser.Parse(args)
		return wrongUse
	}
	line, err := parser.Parse(args)
	if flag := negative(args); err != nil && flag != "" {
		err = fmt.Errorf("%s takes a number that is not negative", flag)
	}
	switch {
	case helped:
		return done
	case err != nil:
		fmt.Fprintf(to.err, "earstone: %s\nearstone --help, or earstone COMMAND --help, tells more.\n", err)
		return wrongUse
	}
	chosen := all[slices.IndexFunc(all, func(c command) bool { return c.name == line.Selected().Name })]
	return to.end(ctx, chosen)
}

// negative is the flag that is given a negative number, which reads like another flag.
func negative(args []string) string {
	for i, arg := range args[1:] {
		if _, err := strconv.ParseFloat(arg, 64); err == nil && arg[0] == '-' && strings.HasPrefix(args[i], "--") {
			return args[i]
		}
	}
	return ""
}

// end runs a command and tells what went wrong with it.
func (to *output) end(ctx context.Context, c command) (ended status) {
	defer func() {
		if trouble := recover(); trouble != nil {
			to.clear()
			fmt.Fprintf(to.err, "earstone: %s ended at a mistake of its own (%v); nothing half done was left behind. Please report it with what you asked for.\n", c.name, trouble)
			ended = failed
		}
	}()
	ended, err := c.run(ctx, to)
	to.clear()
	if err == nil {
		err = to.lost()
	}
	switch {
	case errors.Is(err, context.Canceled):
		fmt.Fprintf(to.err, "earstone: %s was stopped before its end; nothing half done was left behind.\n", c.name)
		return failed
	case err != nil:
		fmt.Fprintf(to.err, "earstone: %s\n", words.Plain(err.Error()))
		if ended == done || to.lost() != nil {
			return failed
		}
		return ended
	}
	return ended
}

// help is the usual help with an example below it.
func help(all []command) kong.HelpPrinter {
	return func(options kong.HelpOptions, line *kong.Context) error {
		if err := kong.DefaultHelpPrinter(options, line); err != nil {
			return err
		}
		example := "earstone demo"
		for _, c := range all {
			if at := line.Selected(); at != nil && at.Name == c.name {
				example = c.example
			}
		}
		_, err := fmt.Fprintf(line.Stdout, "\nExample:\n  %s\n", strings.ReplaceAll(example, "\n", "\n  "))
		return err
	}
}

// parts are the parts of the job that --only takes.
func parts() string {
	var names []string
	for _, part := range run.Parts() {
		names = append(names, string(part))
	}
	return strings.Join(names, ",")
}

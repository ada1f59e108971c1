// Command earstone turns the records of a cooperative otolith programme into catch at age.
//
// A programme is a folder of plain tables (docs/tables.md) or a history (docs/store.md).
// "earstone check" tells every problem in it, "earstone estimate" writes what it is worth,
// "earstone serve" opens its pages, "earstone demo" does the job on an invented programme
// whose truth is known. Here clock, seed, files and the terminal meet; what is computed
// stands in the packages that are called.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
)

// version is the version of the program and of its engine; the linker sets it.
var version = "unversioned"

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // a second interrupt ends the program at once
	os.Exit(int(obey(ctx, os.Args[1:], newOutput(os.Stdout, os.Stderr))))
}

// commands are all commands, in the order in which help tells them.
func commands() []command {
	return []command{
		demo(), newCommand(), serve(), importCommand(), exportCommand(), check(), estimate(), plan(), rehearse(),
		labels(), guide(), letters(), backupCommand(), restoreCommand(), verifyCommand(), removeCommand(), versionCommand(),
	}
}

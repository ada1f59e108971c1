// Package jobs does work in the background, one piece at a time.
//
// A piece of work is asked for once and then belongs to the queue: it waits, runs, and
// ends done, stopped or failed, or is left behind by a server that ended under it. What
// was asked for is kept with it, so that it can be done again. Whoever asks sees a Queue;
// a database can stand behind it as well as the folder of one process (Folder).
package jobs

import (
	"context"
	"encoding/json"
	"errors"
	"io/fs"
	"strings"
	"time"
)

// State is how far a piece of work has come.
type State string

// The states. A server that ends while work waits or runs leaves it behind.
const (
	Waiting State = "waiting"
	Running State = "running"
	Done    State = "done"
	Stopped State = "stopped" // by a person
	Failed  State = "failed"  // Says tells why
	Left    State = "left"    // behind, by a server that ended
)

// Open tells a state that will still change by itself.
func (s State) Open() bool { return s == Waiting || s == Running }

// Job is one piece of work.
type Job struct {
	ID    string
	Kind  string          // which work does it
	Asked json.RawMessage // what it was asked for, as that work reads it
	By    string          // who asked
	State State
	Says  []string // what came of it, or why nothing did, in plain sentences

	At    time.Time // asked for
	Begun time.Time // zero: not yet
	Ended time.Time // zero: not yet

	Stage      string // of work that runs
	Steps, Of  int    // of that stage; Of 0: it counts none
	StageSince time.Time
}

// Left is how long the stage of a running job will take from now on, judged by the steps
// that are done; false when that can't be told yet.
func (j Job) Left(now time.Time) (time.Duration, bool) {
	gone := now.Sub(j.StageSince)
	if j.State != Running || j.Steps <= 0 || j.Of <= j.Steps || gone < time.Second/2 {
		return 0, false
	}
	return time.Duration(float64(gone) / float64(j.Steps) * float64(j.Of-j.Steps)), true
}

// Progress is what work reports to: so many steps of a stage are done; of 0 counts none.
type Progress func(stage string, steps, of int)

// Work does one kind of job. Its results go into folder, whole or not at all; the same job
// may be begun there again after a stop. It ends soon after ctx does. says is what came of
// it; an error that is Refused says why it can't be done, any other is a failure of the
// surroundings.
type Work func(ctx context.Context, j Job, folder string, progress Progress) (says []string, err error)

// Refused is why work can't be done as it was asked for, in plain sentences.
type Refused []string

func (r Refused) Error() string { return strings.Join(r, " ") }

// Queue takes work and tells how it goes. Its methods are safe for several goroutines.
type Queue interface {
	// Ask puts work at the end of the queue, ErrMany when too much waits already.
	Ask(ctx context.Context, kind string, asked json.RawMessage, by string) (Job, error)

	// Job is one piece of work, ErrNone when there is none of this ID.
	Job(ctx context.Context, id string) (Job, error)

	// Jobs are all pieces of work, the newest first.
	Jobs(ctx context.Context) ([]Job, error)

	// Stop ends work that waits or runs; of any other it changes nothing.
	Stop(ctx context.Context, id string) error

	// Again puts work that was stopped, failed or left behind into the queue once more,
	// as it was asked for. Of any other it changes nothing.
	Again(ctx context.Context, id string) error

	// Results are the files of work that is done, ErrNone before that.
	Results(ctx context.Context, id string) (fs.FS, error)
}

// The troubles of a queue.
var (
	ErrNone = errors.New("jobs: there is no such work")
	ErrMany = errors.New("jobs: too much work waits already")
)

package jobs

import (
	"cmp"
	"context"
	"crypto/rand"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"time"
)

// Folder is the queue of one process. Each job has a folder of its own, named by its ID,
// with job.json and below results what the work wrote; no other process may have the
// queue open at the same time.
type Folder struct {
	dir   string
	works map[string]Work
	now   func() time.Time
	log   *slog.Logger

	mu      sync.Mutex
	jobs    map[string]*Job
	waiting []string // IDs in the order in which they were asked for
	cancel  context.CancelCauseFunc
	running string // ID of the job that cancel ends
	closed  bool

	wake  chan struct{}
	ended chan struct{}
	end   context.CancelFunc
}

var _ Queue = (*Folder)(nil)

const (
	jobFile       = "job.json"
	resultsFolder = "results"
	mostWaiting   = 20
)

// errStopped is why a job ends that a person stopped.
var errStopped = errors.New("jobs: stopped")

// Open takes up the queue in a folder, which need not be there yet, and begins to work.
// What an earlier process left behind is marked so, and is not begun by itself. Close
// ends the work at hand and waits for that.
func Open(dir string, works map[string]Work, now func() time.Time, log *slog.Logger) (*Folder, error) {
	q := &Folder{dir: dir, works: works, now: now, log: log, jobs: map[string]*Job{}, wake: make(chan struct{}, 1), ended: make(chan struct{})}
	if err := q.load(); err != nil {
		return nil, fmt.Errorf("taking up the work in %s: %w", dir, err)
	}
	ctx, end := context.WithCancel(context.Background())
	q.end = end
	go q.work(ctx)
	return q, nil
}

// load reads the jobs that are there. A folder whose job.json can't be read is passed
// over with a word in the log: it keeps nobody from working.
func (q *Folder) load() error {
	entries, err := os.ReadDir(q.dir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	for _, e := range entries {
		if !e.IsDir() || !goodID(e.Name()) {
			continue
		}
		text, err := os.ReadFile(filepath.Join(q.dir, e.Name(), jobFile))
		j := &Job{}
		if err == nil {
			err = json.Unmarshal(text, j)
		}
		if err != nil || j.ID != e.Name() {
			q.log.Warn("passing over work that can't be read", "job", e.Name(), "error", err)
			continue
		}
		if j.State.Open() {
			j.State, j.Stage = Left, ""
			if err := q.keep(j); err != nil {
				return err
			}
		}
		q.jobs[j.ID] = j
	}
	return nil
}

// Close ends the work at hand, which the next process finds left behind.
func (q *Folder) Close() {
	q.mu.Lock()
	q.closed = true
	q.mu.Unlock()
	q.end()
	<-q.ended
}

// work does one job after another.
func (q *Folder) work(ctx context.Context) {
	defer close(q.ended)
	for {
		id, of, ok := q.next(ctx)
		if ok {
			q.do(of, id)
			continue
		}
		select {
		case <-ctx.Done():
			return
		case <-q.wake:
		}
	}
}

// next takes the first of the queue and marks it as running.
func (q *Folder) next(ctx context.Context) (id string, of context.Context, ok bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if len(q.waiting) == 0 || ctx.Err() != nil {
		return "", nil, false
	}
	id, q.waiting = q.waiting[0], q.waiting[1:]
	j := q.jobs[id]
	j.State, j.Begun, j.Ended, j.Says = Running, q.now(), time.Time{}, nil
	j.Stage, j.Steps, j.Of, j.StageSince = "", 0, 0, j.Begun
	q.kept(j)
	of, q.cancel = context.WithCancelCause(ctx)
	q.running = id
	return id, of, true
}

// do does a job and keeps what came of it.
func (q *Folder) do(ctx context.Context, id string) {
	q.mu.Lock()
	j := *q.jobs[id]
	q.mu.Unlock()
	says, err := q.run(ctx, j)
	stopped := errors.Is(context.Cause(ctx), errStopped)
	left := ctx.Err() != nil && !stopped
	q.mu.Lock()
	defer q.mu.Unlock()
	q.cancel(nil)
	q.running = ""
	if err != nil && left {
		return // the process ends: on the disk the job still runs, and is found left behind
	}
	end := q.jobs[id]
	end.Ended, end.Stage, end.Says = q.now(), "", says
	var refused Refused
	switch {
	case err == nil:
		end.State = Done
	case stopped:
		end.State, end.Says = Stopped, nil
	case errors.As(err, &refused):
		end.State, end.Says = Failed, refused
	default:
		end.State, end.Says = Failed, []string{"Something around the program failed. The reason stands in the log of the server."}
		q.log.Error("doing work in the background", "job", id, "kind", j.Kind, "error", err)
	}
	q.kept(end)
}

// run calls the work. A mistake of ours in it ends the job and not the server.
func (q *Folder) run(ctx context.Context, j Job) (says []string, err error) {
	defer func() {
		if fault := recover(); fault != nil {
			err = fmt.Errorf("a mistake in the program: %v", fault)
		}
	}()
	work, known := q.works[j.Kind]
	if !known {
		return nil, Refused{"This server knows no work of the kind " + j.Kind + "."}
	}
	return work(ctx, j, q.results(j.ID), func(stage string, steps, of int) { q.progress(j.ID, stage, steps, of) })
}

func (q *Folder) progress(id, stage string, steps, of int) {
	q.mu.Lock()
	defer q.mu.Unlock()
	j := q.jobs[id]
	if j.Stage != stage {
		j.Stage, j.StageSince = stage, q.now()
	}
	j.Steps, j.Of = steps, of
}

// Ask puts work at the end of the queue.
func (q *Folder) Ask(_ context.Context, kind string, asked json.RawMessage, by string) (Job, error) {
	chance := make([]byte, 3)
	if _, err := rand.Read(chance); err != nil {
		return Job{}, fmt.Errorf("naming work: %w", err)
	}
	q.mu.Lock()
	defer q.mu.Unlock()
	if len(q.waiting) >= mostWaiting {
		return Job{}, ErrMany
	}
	now := q.now().UTC()
	j := &Job{ID: now.Format("20060102-150405-") + hex.EncodeToString(chance), Kind: kind, Asked: asked, By: by, State: Waiting, At: now}
	if err := q.keep(j); err != nil {
		return Job{}, fmt.Errorf("keeping what was asked for: %w", err)
	}
	q.jobs[j.ID] = j
	q.enqueue(j.ID)
	return *j, nil
}

func (q *Folder) enqueue(id string) {
	q.waiting = append(q.waiting, id)
	select {
	case q.wake <- struct{}{}:
	default: // it is awake
	}
}

// Job is one piece of work.
func (q *Folder) Job(_ context.Context, id string) (Job, error) {
	q.mu.Lock()
	defer q.mu.Unlock()
	j, there := q.jobs[id]
	if !there {
		return Job{}, ErrNone
	}
	return *j, nil
}

// Jobs are all pieces of work, the newest first.
func (q *Folder) Jobs(context.Context) ([]Job, error) {
	q.mu.Lock()
	defer q.mu.Unlock()
	all := make([]Job, 0, len(q.jobs))
	for _, j := range q.jobs {
		all = append(all, *j)
	}
	slices.SortFunc(all, func(a, b Job) int { return cmp.Or(b.At.Compare(a.At), cmp.Compare(b.ID, a.ID)) })
	return all, nil
}

// Stop ends work that waits or runs.
func (q *Folder) Stop(_ context.Context, id string) error {
	q.mu.Lock()
	defer q.mu.Unlock()
	j, there := q.jobs[id]
	switch {
	case !there:
		return ErrNone
	case q.running == id:
		q.cancel(errStopped)
	case j.State == Waiting:
		q.waiting = slices.DeleteFunc(q.waiting, func(other string) bool { return other == id })
		before := *j
		j.State, j.Ended = Stopped, q.now()
		if err := q.keep(j); err != nil {
			*j = before
			q.enqueue(id)
			return fmt.Errorf("stopping work: %w", err)
		}
	}
	return nil
}

// Again puts work that ended without results into the queue once more.
func (q *Folder) Again(_ context.Context, id string) error {
	q.mu.Lock()
	defer q.mu.Unlock()
	j, there := q.jobs[id]
	switch {
	case !there:
		return ErrNone
	case j.State.Open() || j.State == Done:
		return nil
	case len(q.waiting) >= mostWaiting:
		return ErrMany
	}
	again := *j
	again.State, again.Says, again.Begun, again.Ended = Waiting, nil, time.Time{}, time.Time{}
	if err := q.keep(&again); err != nil {
		return fmt.Errorf("keeping what was asked for: %w", err)
	}
	*j = again
	q.enqueue(id)
	return nil
}

// Results are the files of work that is done.
func (q *Folder) Results(_ context.Context, id string) (fs.FS, error) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if j, there := q.jobs[id]; !there || j.State != Done {
		return nil, ErrNone
	}
	return os.DirFS(q.results(id)), nil
}

func (q *Folder) results(id string) string { return filepath.Join(q.dir, id, resultsFolder) }

// kept keeps a change that can't be taken back; where the disk refuses, the log has it.
func (q *Folder) kept(j *Job) {
	if err := q.keep(j); err != nil {
		q.log.Error("keeping how work goes", "job", j.ID, "state", j.State, "error", err)
	}
}

// keep writes job.json whole: under another name first, so that a crash leaves the old
// one or the new.
func (q *Folder) keep(j *Job) error {
	text, err := json.MarshalIndent(j, "", "  ")
	if err != nil {
		return err
	}
	dir := filepath.Join(q.dir, j.ID)
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return err
	}
	file, err := os.CreateTemp(dir, "."+jobFile+".*")
	if err != nil {
		return err
	}
	defer os.Remove(file.Name()) // after the rename there is nothing of this name
	if _, err := file.Write(append(text, '\n')); err != nil {
		return errors.Join(err, file.Close())
	}
	if err := errors.Join(file.Sync(), file.Close()); err != nil {
		return err
	}
	return os.Rename(file.Name(), filepath.Join(dir, jobFile))
}

// goodID tells a name that Ask gives from any other.
func goodID(name string) bool {
	at, err := time.Parse("20060102-150405", name[:min(len(name), 15)])
	chance, hexErr := hex.DecodeString(name[min(len(name), 16):])
	return err == nil && hexErr == nil && !at.IsZero() && len(name) == 22 && len(chance) == 3 && name[15] == '-'
}

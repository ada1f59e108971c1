package jobs

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

var quiet = slog.New(slog.NewTextHandler(io.Discard, nil))

// opened is a queue with one kind of work.
func opened(t *testing.T, dir string, work Work) *Folder {
	t.Helper()
	q, err := Open(dir, map[string]Work{"count": work}, time.Now, quiet)
	if err != nil {
		t.Fatal(err)
	}
	return q
}

func ask(t *testing.T, q Queue, asked string) string {
	t.Helper()
	j, err := q.Ask(context.Background(), "count", json.RawMessage(asked), "mara")
	if err != nil {
		t.Fatal(err)
	}
	return j.ID
}

// becomes waits until a job has a state.
func becomes(t *testing.T, q Queue, id string, want State) Job {
	t.Helper()
	var j Job
	for limit := time.Now().Add(10 * time.Second); time.Now().Before(limit); {
		var err error
		if j, err = q.Job(context.Background(), id); err != nil {
			t.Fatal(err)
		}
		if j.State == want {
			return j
		}
		time.Sleep(time.Millisecond)
	}
	t.Fatalf("the job is %s after 10 seconds, want %s", j.State, want)
	return j
}

// held is work that writes a file once it is let go, and how often it was begun.
type held struct {
	begun chan string
	goOn  chan error
}

func newHeld() *held { return &held{make(chan string, 50), make(chan error, 50)} }

func (h *held) work(ctx context.Context, j Job, folder string, progress Progress) ([]string, error) {
	progress("counting", 1, 4)
	h.begun <- j.ID
	select {
	case <-ctx.Done():
		return nil, ctx.Err()
	case err := <-h.goOn:
		if err != nil {
			return nil, err
		}
	}
	if err := os.MkdirAll(folder, 0o777); err != nil {
		return nil, err
	}
	return []string{"Counted."}, os.WriteFile(filepath.Join(folder, "n.txt"), j.Asked, 0o666)
}

func TestOneAtATimeInTheOrderAsked(t *testing.T) {
	h := newHeld()
	q := opened(t, t.TempDir(), h.work)
	defer q.Close()
	first, second := ask(t, q, `1`), ask(t, q, `2`)
	if got := <-h.begun; got != first {
		t.Fatalf("the work begins with %s, want the first that was asked for, %s", got, first)
	}
	j := becomes(t, q, first, Running)
	if j.Stage != "counting" || j.Steps != 1 || j.Of != 4 || j.By != "mara" {
		t.Errorf("the running job is told as %+v", j)
	}
	if j, _ := q.Job(context.Background(), second); j.State != Waiting || len(h.begun) != 0 {
		t.Errorf("while one job runs the next is %s, want waiting", j.State)
	}
	if _, err := q.Results(context.Background(), first); !errors.Is(err, ErrNone) {
		t.Errorf("a job that runs has results (%v)", err)
	}
	h.goOn <- nil
	becomes(t, q, first, Done)
	h.goOn <- nil
	j = becomes(t, q, second, Done)
	results, err := q.Results(context.Background(), second)
	if err != nil {
		t.Fatal(err)
	}
	if text, err := fs.ReadFile(results, "n.txt"); err != nil || string(text) != "2" || j.Says[0] != "Counted." {
		t.Errorf("the second job wrote %q (%v) and says %q", text, err, j.Says)
	}
	all, err := q.Jobs(context.Background())
	if err != nil || len(all) != 2 || all[0].At.Before(all[1].At) {
		t.Errorf("the jobs are %+v (%v), want the newest first", all, err)
	}
}

func TestStopAndAgain(t *testing.T) {
	h := newHeld()
	q := opened(t, t.TempDir(), h.work)
	defer q.Close()
	first, second := ask(t, q, `1`), ask(t, q, `2`)
	<-h.begun
	for _, id := range []string{second, first} {
		if err := q.Stop(context.Background(), id); err != nil {
			t.Fatal(err)
		}
		becomes(t, q, id, Stopped)
	}
	if len(h.begun) != 0 {
		t.Error("a job that was stopped while it waited is begun")
	}
	if err := q.Again(context.Background(), first); err != nil {
		t.Fatal(err)
	}
	<-h.begun
	h.goOn <- nil
	if j := becomes(t, q, first, Done); string(j.Asked) != "1" {
		t.Errorf("a job that is done again was asked for %s, want 1", j.Asked)
	}
	if err := q.Again(context.Background(), first); err != nil {
		t.Fatal(err)
	}
	if j, _ := q.Job(context.Background(), first); j.State != Done {
		t.Errorf("a job that is done becomes %s when it is asked for again", j.State)
	}
	for _, err := range []error{q.Stop(context.Background(), "none"), q.Again(context.Background(), "none")} {
		if !errors.Is(err, ErrNone) {
			t.Errorf("of a job that is not there one is told %v, want %v", err, ErrNone)
		}
	}
}

// TestServerThatEndsLeavesWorkBehind: what ran and what waited is found and told so, what
// was done stays, and all of it can be done again.
func TestServerThatEndsLeavesWorkBehind(t *testing.T) {
	dir, h := t.TempDir(), newHeld()
	q := opened(t, dir, h.work)
	finished := ask(t, q, `1`)
	<-h.begun
	h.goOn <- nil
	becomes(t, q, finished, Done)
	ran, waited := ask(t, q, `2`), ask(t, q, `3`)
	<-h.begun
	q.Close()
	if err := os.MkdirAll(filepath.Join(dir, "20311231-235959-abcdef"), 0o777); err != nil { // begun, and killed before job.json
		t.Fatal(err)
	}
	q = opened(t, dir, h.work)
	defer q.Close()
	for id, want := range map[string]State{finished: Done, ran: Left, waited: Left} {
		if j, err := q.Job(context.Background(), id); err != nil || j.State != want {
			t.Errorf("after a restart job %s is %s (%v), want %s", id, j.State, err, want)
		}
	}
	if len(h.begun) != 0 {
		t.Error("what was left behind is begun by itself")
	}
	if err := q.Again(context.Background(), ran); err != nil {
		t.Fatal(err)
	}
	<-h.begun
	h.goOn <- nil
	becomes(t, q, ran, Done)
}

func TestFailuresAreTold(t *testing.T) {
	h := newHeld()
	q := opened(t, t.TempDir(), h.work)
	defer q.Close()
	refused, broken := ask(t, q, `1`), ask(t, q, `2`)
	h.goOn <- Refused{"The records hold an error."}
	h.goOn <- errors.New("disk /secret is gone")
	if j := becomes(t, q, refused, Failed); j.Says[0] != "The records hold an error." {
		t.Errorf("work that was refused says %q", j.Says)
	}
	if j := becomes(t, q, broken, Failed); len(j.Says) != 1 || strings.Contains(j.Says[0], "secret") {
		t.Errorf("work that failed says %q, want words for a person", j.Says)
	}
}

func TestMistakeInWorkEndsTheJobOnly(t *testing.T) {
	q := opened(t, t.TempDir(), func(context.Context, Job, string, Progress) ([]string, error) { panic("wrong shape") })
	defer q.Close()
	becomes(t, q, ask(t, q, `1`), Failed)
	becomes(t, q, ask(t, q, `2`), Failed)
	if j, err := q.Ask(context.Background(), "unknown", nil, "mara"); err != nil || len(becomes(t, q, j.ID, Failed).Says) != 1 {
		t.Errorf("work of an unknown kind does not say that it is (%v)", err)
	}
}

func TestTooMuchWaits(t *testing.T) {
	h := newHeld()
	q := opened(t, t.TempDir(), h.work)
	defer q.Close()
	ask(t, q, `0`)
	<-h.begun
	for range mostWaiting {
		ask(t, q, `1`)
	}
	if _, err := q.Ask(context.Background(), "count", nil, "mara"); !errors.Is(err, ErrMany) {
		t.Errorf("with %d jobs waiting one more is answered with %v, want %v", mostWaiting, err, ErrMany)
	}
}

func TestTimeLeft(t *testing.T) {
	since := time.Date(2031, 6, 1, 12, 0, 0, 0, time.UTC)
	j := Job{State: Running, Steps: 25, Of: 100, StageSince: since}
	// By hand: 25 of 100 took 10 s, so 75 take 30 s.
	if left, ok := j.Left(since.Add(10 * time.Second)); !ok || left != 30*time.Second {
		t.Errorf("%v are left (%v), want 30 s", left, ok)
	}
	for _, unknown := range []Job{{State: Running, Of: 100, StageSince: since}, {State: Done, Steps: 25, Of: 100, StageSince: since}, {State: Running, StageSince: since}} {
		if left, ok := unknown.Left(since.Add(time.Minute)); ok {
			t.Errorf("of %+v %v are left, want unknown", unknown, left)
		}
	}
}

func TestNamesOfJobs(t *testing.T) {
	for name, want := range map[string]bool{"20311231-235959-abcdef": true, "20311331-235959-abcdef": false, "20311231-235959": false, "..": false, "": false, "20311231-235959-abcdeg": false, "20311231-235959_abcdef": false} {
		if got := goodID(name); got != want {
			t.Errorf("%q is the name of a job: %v, want %v", name, got, want)
		}
	}
}

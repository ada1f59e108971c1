package sqlite

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"earstone/store/history"
	"earstone/store/storetest"
)

// crashDir names, in a process that is going to be killed, the programme to write to.
const crashDir = "EARSTONE_TEST_CRASH_DIR"

func TestMain(m *testing.M) {
	if dir := os.Getenv(crashDir); dir != "" {
		writeUntilKilled(dir)
	}
	if dir := os.Getenv(readOnlyDir); dir != "" {
		os.Exit(openReadOnly(dir))
	}
	os.Exit(m.Run())
}

// writeUntilKilled keeps cards, whole boxes of stones and corrections from three sides,
// and prints the identity of each that was acknowledged.
func writeUntilKilled(dir string) {
	ctx := context.Background()
	s, err := Open(ctx, dir)
	if err != nil {
		fmt.Println("trouble", err)
		os.Exit(1)
	}
	var printing sync.Mutex
	acknowledge := func(what string, id history.ID, err error) {
		printing.Lock()
		defer printing.Unlock()
		if err != nil {
			fmt.Println("trouble", err)
			os.Exit(1)
		}
		fmt.Println(what, id)
	}
	go func() { // cards, each corrected at once
		for {
			e := card(history.NewID().String())
			err := s.Append(ctx, e) // it gives the entry its identity
			acknowledge("entry", e.ID, err)
			next := card(e.Fields["fish"])
			next.Subject, next.Supersedes, next.Why = e.Subject, []history.ID{e.ID}, "measured again"
			err = s.Append(ctx, next)
			acknowledge("entry", next.ID, err)
		}
	}()
	go func() { // boxes of three stones and more, all or none
		for {
			box := history.NewID()
			var stones []*history.Entry
			for range 3 {
				stones = append(stones, &history.Entry{Kind: history.Stones, Who: "ana", When: storetest.Noon, Fields: history.Fields{"place": box.String()}})
			}
			acknowledge("box", box, s.Append(ctx, stones...))
		}
	}()
	for { // a large batch, so that many a kill falls into one
		box := history.NewID()
		var many []*history.Entry
		for range 3 {
			e := card(history.NewID().String())
			e.Fields["place"] = box.String()
			e.Fields["remark"] = strings.Repeat("a long remark ", 400)
			many = append(many, e)
		}
		acknowledge("box", box, s.Append(ctx, many...))
	}
}

func card(label string) *history.Entry {
	return &history.Entry{Kind: history.Fish, Who: "ana", When: storetest.Noon, Fields: history.Fields{
		"fish": label, "species": "BFT", "trip": "118", "caught_on": "2031-06-02", "length": "214", "length_unit": "cm",
		"length_kind": "curved_fork", "contributor": "c-17", "area": "Skell"}}
}

// TestKilledWriterLosesNothing kills a writer under load at random moments. Whatever it
// acknowledged must be there afterwards, nothing half, and all of it provable.
func TestKilledWriterLosesNothing(t *testing.T) {
	kills, each := 200, 10
	if testing.Short() {
		kills = 20
	}
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	chance := rand.New(rand.NewPCG(seed, 0))
	acknowledged, boxes := 0, 0
	var dir string
	for kill := range kills {
		if kill%each == 0 { // a fresh programme now and then, so that proving it stays quick
			dir = t.TempDir()
			if err := Create(context.Background(), dir); err != nil {
				t.Fatal(err)
			}
		}
		said := killed(t, dir, time.Duration(chance.Int64N(int64(45*time.Millisecond))))
		n, whole := survived(t, dir, said)
		acknowledged, boxes = acknowledged+n, boxes+whole
		if t.Failed() {
			t.Fatalf("after kill %d", kill)
		}
	}
	if acknowledged < kills {
		t.Errorf("%d kills came upon %d acknowledged entries: that is no load", kills, acknowledged)
	}
	t.Logf("%d kills, %d acknowledged entries and boxes, %d boxes whole", kills, acknowledged, boxes)
}

// killed runs a writer, kills it so long after its first acknowledgement, and answers
// the lines that it printed whole.
func killed(t *testing.T, dir string, after time.Duration) (said []string) {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), crashDir+"="+dir)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	in := bufio.NewReader(out)
	var kill *time.Timer
	for {
		line, err := in.ReadString('\n')
		if errors.Is(err, io.EOF) || err != nil {
			break // a half line was not acknowledged
		}
		if kill == nil {
			kill = time.AfterFunc(after, func() { _ = cmd.Process.Kill() })
		}
		said = append(said, strings.TrimSpace(line))
	}
	_ = cmd.Wait() // it was killed
	return said
}

// survived opens the programme as the next process would.
func survived(t *testing.T, dir string, said []string) (acknowledged, boxes int) {
	t.Helper()
	ctx := context.Background()
	s, err := Open(ctx, dir)
	if err != nil {
		t.Errorf("after a kill the programme does not open: %v", err)
		return 0, 0
	}
	defer s.Close()
	entries, inBox := map[string]bool{}, map[string]int{}
	if _, err := s.Journal(ctx, 0, func(e *history.Entry) error {
		entries[e.ID.String()] = true
		if box := e.Fields["place"]; box != "" {
			inBox[box]++
		}
		return nil
	}); err != nil {
		t.Error(err)
	}
	for _, line := range said {
		what, id, _ := strings.Cut(line, " ")
		switch {
		case what == "trouble":
			t.Errorf("the writer had trouble: %s", id)
		case what == "entry" && !entries[id]:
			t.Errorf("entry %s was acknowledged and is not there", id)
		case what == "box" && inBox[id] == 0:
			t.Errorf("box %s was acknowledged and is not there", id)
		}
		acknowledged++
	}
	for box, n := range inBox {
		if n != 3 {
			t.Errorf("box %s holds %d of its 3 records", box, n)
		}
		boxes++
	}
	proof, err := s.Verify(ctx, nil)
	if err != nil || len(proof.Damage) > 0 || proof.Whole != proof.Entries {
		t.Errorf("after a kill the programme is not whole: %+v (%v)", proof.Damage, err)
	}
	return acknowledged, boxes
}

func files(t testing.TB, dir string) []string {
	t.Helper()
	all, err := filepath.Glob(filepath.Join(dir, File+"*"))
	if err != nil {
		t.Fatal(err)
	}
	return all
}

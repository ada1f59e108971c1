package backup

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"earstone/store/history"
	"earstone/store/sqlite"
)

var noon = time.Date(2031, 9, 1, 12, 0, 0, 0, time.UTC)

func served(t *testing.T) (*sqlite.Store, string) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "quarrow")
	if err := sqlite.Create(context.Background(), dir); err != nil {
		t.Fatal(err)
	}
	s, err := sqlite.Open(context.Background(), dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s, dir
}

func stone(box int) *history.Entry {
	return &history.Entry{Kind: history.Stones, Who: "ana", When: noon, Fields: history.Fields{"place": fmt.Sprint(box), "fish": "QB-1"}}
}

// A backup that is made while boxes of two stones are kept holds each box whole or not at
// all, and every one that was acknowledged before it began.
func TestBackupWhileServing(t *testing.T) {
	ctx := context.Background()
	s, dir := served(t)
	stop := make(chan struct{})
	var acknowledged int
	var counting sync.Mutex
	var writing sync.WaitGroup
	writing.Go(func() {
		for box := 0; ; box++ {
			select {
			case <-stop:
				return
			default:
			}
			if err := s.Append(ctx, stone(box), stone(box)); err != nil {
				t.Errorf("keeping box %d: %v", box, err)
				return
			}
			counting.Lock()
			acknowledged = box + 1
			counting.Unlock()
		}
	})
	for i := range 5 {
		counting.Lock()
		before := acknowledged
		counting.Unlock()
		to := filepath.Join(t.TempDir(), "copy")
		proof, err := Make(ctx, dir, to, noon, nil)
		if err != nil {
			t.Fatalf("backup %d: %v", i, err)
		}
		if proof.Entries%2 != 0 || proof.Entries < 2*before {
			t.Errorf("backup %d holds %d entries, want pairs and at least %d", i, proof.Entries, 2*before)
		}
		back := filepath.Join(t.TempDir(), "back")
		if _, err := Restore(ctx, to, back, nil); err != nil {
			t.Fatalf("restoring backup %d: %v", i, err)
		}
		report, err := Verify(ctx, back, nil)
		if err != nil || len(report.Damage()) > 0 || report.Records.Head != proof.Head {
			t.Errorf("what backup %d brought back is %+v (%v), want the same entries", i, report, err)
		}
	}
	close(stop)
	writing.Wait()
}

func TestKitsComeBack(t *testing.T) {
	ctx := context.Background()
	_, dir := served(t)
	const kits = "kit,first,last\nK1,QB-00001-X,QB-00050-X\n"
	if err := os.WriteFile(filepath.Join(dir, kitsFile), []byte(kits), 0o600); err != nil {
		t.Fatal(err)
	}
	kept, back := filepath.Join(t.TempDir(), "backup"), filepath.Join(t.TempDir(), "back")
	if _, err := Make(ctx, dir, kept, noon, nil); err != nil {
		t.Fatal(err)
	}
	if _, err := Restore(ctx, kept, back, nil); err != nil {
		t.Fatal(err)
	}
	if got, err := os.ReadFile(filepath.Join(back, kitsFile)); err != nil || string(got) != kits {
		t.Errorf("the kits come back as %q (%v), want %q", got, err, kits)
	}
}

func TestDamagedBackupIsNotRestored(t *testing.T) {
	ctx := context.Background()
	s, dir := served(t)
	if err := s.Append(ctx, stone(1), stone(2)); err != nil {
		t.Fatal(err)
	}
	for name, spoil := range map[string]func(copy string) error{
		"a byte of the records": func(copy string) error {
			path := filepath.Join(copy, sqlite.File)
			content, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			content[len(content)-10] ^= 1
			return os.WriteFile(path, content, 0o666)
		},
		"no records": func(copy string) error { return os.Remove(filepath.Join(copy, sqlite.File)) },
		"no list":    func(copy string) error { return os.Remove(filepath.Join(copy, listFile)) },
		"a list that leads elsewhere": func(copy string) error {
			return os.WriteFile(filepath.Join(copy, listFile), []byte(`{"files": {"../../x": {"sha256": "", "bytes": 0}}}`), 0o666)
		},
		"a list cut short": func(copy string) error { return os.Truncate(filepath.Join(copy, listFile), 20) },
	} {
		to, back := filepath.Join(t.TempDir(), "copy"), filepath.Join(t.TempDir(), "back")
		if _, err := Make(ctx, dir, to, noon, nil); err != nil {
			t.Fatal(err)
		}
		if err := spoil(to); err != nil {
			t.Fatal(err)
		}
		if _, err := Restore(ctx, to, back, nil); err == nil {
			t.Errorf("a backup with %s was restored", name)
		}
		if _, err := os.Stat(back); !errors.Is(err, os.ErrNotExist) {
			t.Errorf("a backup with %s left something behind (%v)", name, err)
		}
	}
}

func TestBackupNeverReplaces(t *testing.T) {
	_, dir := served(t)
	to := t.TempDir()
	if err := os.WriteFile(filepath.Join(to, "mine.txt"), nil, 0o666); err != nil {
		t.Fatal(err)
	}
	if _, err := Make(context.Background(), dir, to, noon, nil); err == nil {
		t.Error("a backup was written into a folder that holds something")
	}
	left, err := os.ReadDir(to)
	if err != nil || len(left) != 1 {
		t.Errorf("the folder holds %v afterwards (%v), want what it held", left, err)
	}
}

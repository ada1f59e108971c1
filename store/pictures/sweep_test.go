package pictures

import (
	"os"
	"path/filepath"
	"testing"
	"time"
)

// A Take that was killed leaves its desk; one at work in another process must keep its.
func TestOpenSweepsOldDesksAlone(t *testing.T) {
	dir := t.TempDir()
	old, young, other := filepath.Join(dir, takingPrefix+"1"), filepath.Join(dir, takingPrefix+"2"), filepath.Join(dir, "ab")
	for _, desk := range []string{old, young, other} {
		if err := os.Mkdir(desk, 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(desk, originalFile), []byte("half a picture"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	then := time.Now().Add(-25 * time.Hour)
	for _, desk := range []string{old, other} {
		if err := os.Chtimes(desk, then, then); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := Open(dir); err != nil {
		t.Fatal(err)
	}
	for desk, want := range map[string]bool{old: false, young: true, other: true} {
		if _, err := os.Stat(desk); (err == nil) != want {
			t.Errorf("after Open the folder %s is there: %v, want %v", filepath.Base(desk), err == nil, want)
		}
	}
}

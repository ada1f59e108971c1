package chart

import (
	"flag"
	"os"
	"path/filepath"
	"testing"
)

var update = flag.Bool("update", false, "write the pictures under testdata anew")

// TestGolden holds every picture of the invented programme against the one last
// looked at. Recomputed by this package; look at the new ones after -update.
func TestGolden(t *testing.T) {
	for _, s := range samples() {
		file := filepath.Join("testdata", s.name+".svg")
		got := string(s.Draw().Alone())
		if *update {
			if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		want, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if got != string(want) {
			t.Errorf("%s differs from %s; run with -update, look at it, and keep it if it is right", s.name, file)
		}
	}
}

package report

import (
	"bytes"
	"flag"
	"os"
	"testing"
)

var keep = flag.String("keep", "", "write the page of the invented season to this file")

func TestSeasonIsOneSmallPage(t *testing.T) {
	o, about := seasonOne(t)
	var b bytes.Buffer
	if err := Write(&b, o, about); err != nil {
		t.Fatal(err)
	}
	if b.Len() > 2<<20 {
		t.Errorf("the page of a season holds %d bytes, want 2 MB at most", b.Len())
	}
	t.Log(b.Len())
	if *keep != "" {
		if err := os.WriteFile(*keep, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

package resample

import (
	"bytes"
	"context"
	"errors"
	"testing"
)

// breaks is work whose part 7 has a mistake.
func breaks(i int) {
	if i == 7 {
		var none []int
		none[i]++
	}
}

func TestPanicInAWorkerIsAnError(t *testing.T) {
	for _, workers := range []int{1, 2, 5} {
		err := Share(context.Background(), workers, 20, func(int, int) {}, breaks)
		var broken *Broken
		if !errors.As(err, &broken) || !bytes.Contains(broken.Stack, []byte("resample.breaks")) {
			t.Errorf("with %d workers a panic in one of them comes back as %v, want a *Broken with the place in its stack", workers, err)
		}
	}
}

func TestPanicUnderEachIsTheCallers(t *testing.T) {
	defer func() {
		if said, is := recover().(*Broken); !is || !bytes.Contains(said.Stack, []byte("resample.breaks")) {
			t.Errorf("a panic under Each reaches the caller as %v, want a *Broken with the place in its stack", said)
		}
	}()
	Each(3, 20, breaks)
	t.Error("Each went on after a panic in a part of its work")
}

func TestNothingIsBegunAfterAPanic(t *testing.T) {
	done := 0
	err := Share(context.Background(), 1, 20, nil, func(i int) { breaks(i); done++ })
	if err == nil || done != 7 {
		t.Errorf("one worker did %d parts and ended with %v, want the 7 before the one that broke", done, err)
	}
}

package resample

import (
	"fmt"
	"runtime/debug"
)

// Broken is a mistake of the program itself in one part of the work: a panic, which in a
// goroutine would have ended the process with all that other people do in it.
type Broken struct {
	Said  any    // what the panic said
	Stack []byte // where it was, for the log
}

func (b *Broken) Error() string { return fmt.Sprintf("a mistake of the program itself (%v)", b.Said) }

// sound does a part of the work; a panic in it is a *Broken.
func sound(work func()) (broken *Broken) {
	defer func() {
		if said := recover(); said != nil {
			broken = &Broken{said, debug.Stack()}
		}
	}()
	work()
	return nil
}

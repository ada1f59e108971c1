package intake

import (
	"context"
	"errors"
	"testing"
	"time"
)

// TestOneWorkbookIsOpenAtATime: a second one waits, as long as its sender does; text is not
// held up.
func TestOneWorkbookIsOpenAtATime(t *testing.T) {
	p := New(nil, nil, time.Now)
	p.workbook <- struct{}{} // somebody else's is open
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Millisecond)
	defer cancel()
	if _, _, err := p.cut(ctx, "sent.xlsx", []byte("PK")); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("a second workbook beside an open one gives %v, want that it waits until its time is over", err)
	}
	if grid, _, err := p.cut(t.Context(), "sent.csv", []byte("fish,length\nQB-00001-T,204\n")); err != nil || len(grid) != 2 {
		t.Errorf("text beside an open workbook is cut into %q (%v), want two rows", grid, err)
	}
	<-p.workbook
	if _, found, err := p.cut(t.Context(), "sent.xlsx", []byte("PK")); err != nil || len(found.All()) == 0 {
		t.Errorf("a workbook after the other gives %v (%v), want that it is looked at", found, err)
	}
}

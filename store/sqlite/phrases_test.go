package sqlite

import "testing"

func TestWordThatStandsTwiceIsAskedOnce(t *testing.T) {
	if got, want := phrases(`Skell head  skell "torn - HEAD`), `"skell"* AND "head"* AND """torn"*`; got != want {
		t.Errorf("the question is %s, want %s", got, want)
	}
}

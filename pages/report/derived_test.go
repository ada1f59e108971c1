package report

import (
	"testing"

	"earstone/estimate/run"
	"earstone/programme/record"
)

func TestDerivedLengthsAreTold(t *testing.T) {
	k := ofFour()
	if says := k.derivedSay(); says != "" {
		t.Errorf("without derived lengths the page says %q", says)
	}
	k.s.Derived = []run.DerivedLength{{Derived: run.Derived{SD: record.Some(2)}}}
	if says, want := k.derivedSay(), "1 fish was weighed and not measured: the length is what the weight equation gives turned round."; plain(says) != want {
		t.Errorf("the page says\n%s\nwant\n%s", plain(says), want)
	}
	k.s.Derived = append(k.s.Derived, run.DerivedLength{Derived: run.Derived{Extrapolated: true}})
	if says, want := k.derivedSay(), "2 fish were weighed and not measured: the length is what the weight equation gives turned round. Of these 1 fish is outside the lengths that the equation was made for. The equation has no published error, so that the error of 1 fish is in no interval."; plain(says) != want {
		t.Errorf("the page says\n%s\nwant\n%s", plain(says), want)
	}
}

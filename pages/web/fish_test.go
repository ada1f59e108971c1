package web

import (
	"context"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"earstone/store/history"
)

// correction is the form that corrects a fish, filled with what stands there.
func (p *place) correction(t testing.TB, id string) url.Values {
	t.Helper()
	subject, err := history.ParseID(id)
	if err != nil {
		t.Fatal(err)
	}
	record, err := p.store.Current(context.Background(), subject)
	if err != nil {
		t.Fatal(err)
	}
	form := url.Values{"head": p.heads(t, id), "why": {"misread"}}
	for column, text := range record.Fields() {
		form.Set(column, text)
	}
	return form
}

// TestSecondCorrectionIsTold: who corrects what somebody else corrected meanwhile is told
// so, and nothing of theirs is kept over it.
func TestSecondCorrectionIsTold(t *testing.T) {
	p := serving(t, "mara")
	p.season(t, 1)
	v, id := p.visitor(t), p.fish(t, codeOf(1))
	mine, theirs := p.correction(t, id), p.correction(t, id)
	theirs.Set("length", "199")
	mine.Set("length", "188")
	if status, body, _ := v.send("/fish/"+id+"/correct", theirs); status != http.StatusSeeOther {
		t.Fatalf("the first correction is answered with %d: %s", status, problems(body))
	}
	if status, body, _ := v.send("/fish/"+id+"/correct", mine); status != http.StatusConflict || !strings.Contains(body, "meanwhile") {
		t.Errorf("the second correction is answered with %d, want %d and a word of it", status, http.StatusConflict)
	}
	if got := p.fields(t, codeOf(1))["length"]; got != "199" {
		t.Errorf("the length is %s, want that of the first correction, 199", got)
	}
	for _, heads := range [][]string{nil, {"x"}, {history.NewID().String()}} {
		mine["head"] = heads
		if status, _, _ := v.send("/fish/"+id+"/correct", mine); status != http.StatusConflict {
			t.Errorf("a correction of the entries %q is answered with %d, want %d", heads, status, http.StatusConflict)
		}
	}
}

// TestLabelTakesItsStonesAlong: when a label was wrong, all that names it follows.
func TestLabelTakesItsStonesAlong(t *testing.T) {
	p := serving(t, "mara")
	p.season(t, 4)
	v, id := p.visitor(t), p.fish(t, codeOf(4))
	form := p.correction(t, id)
	form.Set("fish", codeOf(3))
	if status, body, _ := v.send("/fish/"+id+"/correct", form); status != http.StatusUnprocessableEntity || !strings.Contains(body, "already") {
		t.Errorf("the label of another fish is answered with %d, want %d and a word of it", status, http.StatusUnprocessableEntity)
	}
	form.Set("fish", codeOf(44))
	if status, body, _ := v.send("/fish/"+id+"/correct", form); status != http.StatusSeeOther {
		t.Fatalf("another label is answered with %d: %s", status, problems(body))
	}
	for kind, want := range map[history.Kind]int{history.Stones: 2, history.Preparations: 1, history.Readings: 1, history.Custody: 2} {
		for label, want := range map[string]int{codeOf(44): want, codeOf(4): 0} {
			found, err := p.store.Where(context.Background(), history.Query{Kind: kind, Field: "fish", Value: label})
			if err != nil || len(found) != want {
				t.Errorf("%d %s name the label %s (%v), want %d", len(found), kind, label, err, want)
			}
		}
	}
	if _, body, _ := v.ask("/fish/" + id); !strings.Contains(body, "R-4") {
		t.Error("under its new label the fish has lost its reading")
	}
}

// TestTwoTruthsAreShownAndSettled: entries that were written apart stand side by side
// until a person says what holds.
func TestTwoTruthsAreShownAndSettled(t *testing.T) {
	p := serving(t, "mara")
	p.season(t, 1)
	v, id := p.visitor(t), p.fish(t, codeOf(1))
	subject, err := history.ParseID(id)
	if err != nil {
		t.Fatal(err)
	}
	record, err := p.store.Current(context.Background(), subject)
	if err != nil {
		t.Fatal(err)
	}
	for _, length := range []string{"171", "172"} {
		fields := history.Fields{"fish": codeOf(1), "species": "BFT", "length": length, "length_unit": "cm", "length_kind": "curved_fork"}
		e := &history.Entry{Kind: history.Fish, Subject: subject, Supersedes: []history.ID{record.Heads[0].ID}, Fields: fields, Why: "measured again", Who: "boat " + length, When: time.Now()}
		if err := e.Seal(); err != nil {
			t.Fatal(err)
		}
		if _, err := p.store.Merge(context.Background(), e); err != nil {
			t.Fatal(err)
		}
	}
	if _, body, _ := v.ask("/fish/" + id); !strings.Contains(body, "Settle what holds") {
		t.Error("the page of a fish does not show that two things are said of it")
	}
	if _, body, _ := v.ask("/fish/" + id + "/correct"); !strings.Contains(body, "length 171") || !strings.Contains(body, "length 172") || strings.Count(body, `name="head"`) != 2 {
		t.Error("who settles is not shown both")
	}
	form := p.correction(t, id)
	form.Set("length", "172")
	if status, body, _ := v.send("/fish/"+id+"/correct", form); status != http.StatusSeeOther {
		t.Fatalf("settling is answered with %d: %s", status, problems(body))
	}
	if left, err := p.store.Conflicts(context.Background()); err != nil || len(left) != 0 {
		t.Errorf("after settling %d conflicts are left (%v)", len(left), err)
	}
}

// TestNewNamesAreAskedOnce: a place that no list holds is doubted, and put on its list
// when the card is kept as it is.
func TestNewNamesAreAskedOnce(t *testing.T) {
	p := serving(t, "mara")
	v := p.visitor(t)
	form := card(codeOf(1))
	form.Set("area", "Skel")
	form.Set("trip", "T-9")
	status, body, _ := v.send("/intake", form)
	if status != http.StatusUnprocessableEntity || !strings.Contains(body, "Skell") || p.count(t, history.Fish) != 0 {
		t.Fatalf("an unknown area is answered with %d, and %d fish are kept", status, p.count(t, history.Fish))
	}
	form.Set("seen", between(body, `name="seen" value="`, `"`))
	form.Set("length", "215") // not what was seen
	if status, _, _ := v.send("/intake", form); status != http.StatusUnprocessableEntity {
		t.Errorf("a doubt about another card is taken for seen: %d", status)
	}
	form.Set("length", "214")
	if status, body, _ := v.send("/intake", form); status != http.StatusSeeOther {
		t.Fatalf("the card kept as it is, is answered with %d: %s", status, problems(body))
	}
	if n := p.count(t, history.Areas); n != 4 {
		t.Errorf("the programme has %d areas, want 4", n)
	}
	form = card(codeOf(2))
	form.Set("area", "Skel")
	if status, body, _ := v.send("/intake", form); status != http.StatusSeeOther {
		t.Errorf("the second card from there is answered with %d: %s", status, problems(body))
	}
	if n := p.count(t, history.Stones); n != 4 {
		t.Errorf("two vials with both stones make %d stones, want 4", n)
	}
}

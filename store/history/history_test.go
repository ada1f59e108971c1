package history

import (
	"encoding/hex"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// The hash of an entry may never change, or no programme could be proved any more.
func TestHashIsNailedDown(t *testing.T) {
	e := Entry{ID: ID{1}, Kind: Fish, Subject: ID{2}, Supersedes: []ID{{3}}, Who: "ana", When: time.Date(2031, 6, 2, 12, 0, 0, 5000, time.UTC),
		Why: "<measured> again", Fields: Fields{"fish": "QB-1", "length": "214", "sex": ""}, Raw: Fields{"length": "214,0"}, Import: ID{4}, Row: 7, Salt: [16]byte{5}}
	if err := e.Seal(); err != nil {
		t.Fatal(err)
	}
	text, err := e.Payload()
	const wantText = `{"fields":{"fish":"QB-1","length":"214"},"raw":{"length":"214,0"},"salt":"BQAAAAAAAAAAAAAAAAAAAA==","why":"<measured> again"}`
	if err != nil || string(text) != wantText {
		t.Errorf("the payload is %s (%v), want %s", text, err, wantText)
	}
	// By the format, computed with sha256sum over the payload above.
	const wantDigest = "5f6a5f1d160bbaed4d3e3799a7f3b7bb20f22a906102bc722a0212a6be31c449"
	if got := e.Digest.String(); got != wantDigest {
		t.Errorf("the digest is %s, want %s", got, wantDigest)
	}
	// Our own, kept from the first version on.
	const wantHash = "dd808d4dad3f3b9bdb89909bf09a94803de4817bab2cbb9d2467ccf1cc106d01"
	if got := e.Hash().String(); got != wantHash {
		t.Errorf("the hash is %s, want %s", got, wantHash)
	}
}

func TestEveryPartOfAnEntryIsHashed(t *testing.T) {
	base := Entry{ID: ID{1}, Kind: Fish, Subject: ID{2}, Who: "ana", When: time.Unix(5, 0), Fields: Fields{"a": "b"}, Salt: [16]byte{5}}
	sealed := func(change func(*Entry)) Hash {
		e := base
		change(&e)
		if err := e.Seal(); err != nil {
			t.Fatal(err)
		}
		return e.Hash()
	}
	seen := map[Hash]string{sealed(func(*Entry) {}): "nothing"}
	for name, change := range map[string]func(*Entry){
		"id": func(e *Entry) { e.ID[9] = 1 }, "kind": func(e *Entry) { e.Kind = "fisha" }, "subject": func(e *Entry) { e.Subject[9] = 1 },
		"supersedes": func(e *Entry) { e.Supersedes, e.Why = []ID{{7}}, "w" }, "why": func(e *Entry) { e.Why = "w" },
		"who": func(e *Entry) { e.Who = "an" }, "when": func(e *Entry) { e.When = time.Unix(5, 1000) }, "import": func(e *Entry) { e.Import[0] = 1 },
		"row": func(e *Entry) { e.Row = 1 }, "fields": func(e *Entry) { e.Fields = Fields{"a": "c"} }, "raw": func(e *Entry) { e.Raw = Fields{"a": "b"} },
		"salt": func(e *Entry) { e.Salt[0] = 6 },
	} {
		h := sealed(change)
		if before, twice := seen[h]; twice {
			t.Errorf("an entry with another %s has the hash of one with another %s", name, before)
		}
		seen[h] = name
	}
}

func TestIDsComeInTheOrderOfTheirMaking(t *testing.T) {
	last := NewID()
	for range 10000 {
		next := NewID()
		if next.Compare(last) <= 0 {
			t.Fatalf("%s was made after %s", next, last)
		}
		last = next
	}
	back, err := ParseID(last.String())
	if err != nil || back != last {
		t.Errorf("%s reads back as %s (%v)", last, back, err)
	}
	for _, bad := range []string{"x", hex.EncodeToString(last[:]), "{" + last.String() + "}"} {
		if _, err := ParseID(bad); err == nil {
			t.Errorf("%q was taken for an identity", bad)
		}
	}
}

// What holds does not depend on the order in which entries are known, nor on hearing one
// twice.
func TestResolveIsOfTheSet(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		var entries []Entry
		for i := range rapid.IntRange(1, 8).Draw(r, "entries") {
			e := Entry{ID: ID{byte(i + 1)}, Kind: Fish, Subject: ID{9}, Fields: Fields{"length": rapid.SampledFrom([]string{"1", "2"}).Draw(r, "length")}}
			for j := range i {
				if rapid.IntRange(0, 3).Draw(r, "supersedes") == 0 {
					e.Supersedes = append(e.Supersedes, ID{byte(j + 1)})
				}
			}
			if i > 0 && rapid.IntRange(0, 9).Draw(r, "removal") == 0 {
				e.Kind, e.Fields = Removals, nil
			}
			entries = append(entries, e)
		}
		want := Resolve(slices.Clone(entries))
		mixed := append(rapid.Permutation(entries).Draw(r, "order"), entries[0])
		got := Resolve(mixed)
		same := slices.EqualFunc(got.Heads, want.Heads, func(a, b Entry) bool { return a.ID == b.ID })
		if got.Kind != want.Kind || !same {
			r.Fatalf("in another order the heads are %v, want %v", got.Heads, want.Heads)
		}
	})
}

func TestWordsLeaveMeasuredValuesOut(t *testing.T) {
	got := Words(Fish, Fields{"fish": "QB-1", "trip": "118", "length": "214", "remark": "torn", "caught_on": "2031-06-02", "geometry": "{}"})
	if want := "2031-06-02 QB-1 torn 118"; got != want {
		t.Errorf("a fish is found by %q, want %q", got, want)
	}
}

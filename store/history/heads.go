package history

import (
	"maps"
	"slices"
)

// Resolve is what holds of a subject, given all its entries in any order, some of them
// perhaps several times: the heads, one copy of each that says the same. It panics when
// there are none.
//
// A removal outweighs all: entries that were written without knowledge of it say nothing
// of someone who asked to be forgotten.
func Resolve(entries []Entry) Record {
	if len(entries) == 0 {
		panic("history: Resolve of no entry")
	}
	superseded := map[ID]bool{}
	for i := range entries {
		for _, id := range entries[i].Supersedes {
			superseded[id] = true
		}
	}
	var heads []Entry
	for _, e := range entries {
		if !superseded[e.ID] {
			heads = append(heads, e)
		}
	}
	slices.SortFunc(heads, func(a, b Entry) int { return a.ID.Compare(b.ID) })
	return Record{Kind: kindOf(entries), Subject: entries[0].Subject, Heads: distinct(heads)}
}

// distinct leaves out heads that say the same as one before them; where one is a removal
// it is the only head.
func distinct(heads []Entry) []Entry {
	if at := slices.IndexFunc(heads, func(e Entry) bool { return e.Kind == Removals }); at >= 0 {
		return heads[at : at+1]
	}
	kept := heads[:0]
	for _, e := range heads {
		same := func(other Entry) bool { return e.Kind == other.Kind && maps.Equal(e.Fields, other.Fields) }
		if !slices.ContainsFunc(kept, same) {
			kept = append(kept, e)
		}
	}
	return kept
}

// kindOf is the kind of a subject, which a removal does not change.
func kindOf(entries []Entry) Kind {
	kind := entries[0].Kind
	for i := range entries {
		if k := entries[i].Kind; k != Removals && (kind == Removals || k < kind) {
			kind = k
		}
	}
	return kind
}

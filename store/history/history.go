// Package history holds what was written down about a programme, entry by entry.
//
// Nothing is overwritten: an entry that corrects another supersedes it and says who, when
// and why. What holds of a record now is a function of the set of its entries alone, so
// that programmes which went apart join again by union, in any order and as often as one
// likes. Entries that were made without knowledge of each other stay side by side until a
// person settles them; no clock decides.
package history

import (
	"context"
	"errors"
	"time"
)

// Kind is what an entry is of. Records of tables have the name of their table; whoever
// keeps something else names it in the plural and in lower case. A field called label
// names a record of such a kind.
type Kind string

// The kinds that have a table of their own (docs/tables.md).
const (
	Areas        Kind = "areas"
	Contributors Kind = "contributors"
	Trips        Kind = "trips"
	Lengths      Kind = "lengths" // all length counts of one trip
	Catch        Kind = "catch"
	Fish         Kind = "fish"
	Stones       Kind = "stones"
	Preparations Kind = "preparations"
	Images       Kind = "images"
	Readings     Kind = "readings"
	Marks        Kind = "marks"
	KnownAges    Kind = "known_ages"
	Assays       Kind = "assays"
	Standards    Kind = "standards"
	Baseline     Kind = "baseline"
	Conversions  Kind = "conversions"
)

// The kinds that have none.
const (
	Settings   Kind = "settings"    // one record: what the programme declares about itself
	Columns    Kind = "columns"     // the further columns of a table
	Imports    Kind = "imports"     // a file that was taken in
	Kits       Kind = "kits"        // what was sent out to a contributor
	Custody    Kind = "custody"     // a step on the way of a stone
	Letters    Kind = "letters"     // an answer to a contributor
	Sittings   Kind = "sittings"    // a set of preparations dealt to a reader
	Drafts     Kind = "drafts"      // a reading on its way, mark by mark
	References Kind = "references"  // a preparation of the reference collection
	Agreed     Kind = "agreed_ages" // the age that a fish was settled on, with its rule
	Clearances Kind = "clearances"  // why a reader who drifted counts as qualified again
	Removals   Kind = "removals"    // the removal of a record for privacy
)

// Photographs are of a card, or of the fish beside a tape, as a phone sent them.
const Photographs Kind = "photographs"

// Fields are the cells of a record by the name of their column, in the form in which
// store/tables writes them. A field that is not there is unknown; none is empty.
type Fields map[string]string

// Entry is one thing that one person wrote down at one time. Zero values are unknown.
type Entry struct {
	ID         ID
	Kind       Kind
	Subject    ID   // the identity of the record, which no correction changes
	Supersedes []ID // entries of the same subject whose place this one takes

	Fields Fields // what holds
	Raw    Fields // what was written, for each field where that reads otherwise
	Why    string // must be said by an entry that supersedes another

	Who  string    // code of a person, or of the program that wrote by itself
	When time.Time // by the clock of whoever wrote; kept to the microsecond, in UTC

	Import ID  // the entry of the file that it came with
	Row    int // and its row there, the header being row 1

	// Salt and Digest are filled by Seal. The digest of the payload (fields, raw, why and
	// salt) stays when the payload is removed; the salt keeps it from being guessed at.
	Salt    [16]byte
	Digest  Hash
	Removed bool // the payload was removed for privacy
}

// Record is what is known of one subject.
type Record struct {
	Kind    Kind
	Subject ID
	// Heads are the entries that nothing supersedes, in the order of their IDs: one, or
	// several that were written without knowledge of each other. Those that say the
	// same as an earlier head are left out.
	Heads []Entry
}

// Fields are those of the only head; of a conflict those of the first, which is an
// arbitrary one: whoever must choose shows all Heads to a person.
func (r Record) Fields() Fields { return r.Heads[0].Fields }

// Conflict tells that a person must settle what holds.
func (r Record) Conflict() bool { return len(r.Heads) > 1 }

// Removed tells that the record was removed for privacy: it has no fields any more.
func (r Record) Removed() bool { return r.Heads[0].Kind == Removals }

// Query asks for records by one field. The fields that can be asked for are Indexed.
type Query struct {
	Kind   Kind
	Field  string
	Value  string // exactly this, or with Prefix what begins so (a day: 2031-06)
	Prefix bool
	After  ID  // of subjects: the next page begins behind the last one of this
	Most   int // 0: all
}

// Hit is a record that Find found.
type Hit struct {
	Kind    Kind
	Subject ID
	Label   string // what the record is called, or empty
	Text    string // what it was found by, one line
}

// Store keeps entries. All methods may be called from several goroutines; an answer
// holds all that Append had acknowledged when it was asked for.
type Store interface {
	// Append keeps all entries or none, and they are on the disk when it returns.
	//
	// Entries without an ID get one, entries without a Subject a new subject; both are
	// written into the slice, and so are Salt and Digest. An entry of a subject that is
	// there already must supersede all its heads, else the error is ErrStale: someone
	// wrote meanwhile, and who writes now has not seen it. A name that another record of
	// the kind bears is ErrTaken. An entry of kind Removals supersedes every entry of
	// its subject, and their payloads are gone when it returns; so is that of any entry
	// of the subject which joins later.
	Append(ctx context.Context, entries ...*Entry) error

	// Merge adds entries of another store of the same programme, whatever their order;
	// those that are here already change nothing. It asks for no names and no heads:
	// what contradicts itself afterwards is in Conflicts. It tells how many were new.
	Merge(ctx context.Context, entries ...*Entry) (added int, err error)

	// Current is the record of a subject, ErrNotFound when there is none.
	Current(ctx context.Context, subject ID) (Record, error)

	// History is every entry of a subject in the order in which it came here.
	History(ctx context.Context, subject ID) ([]Entry, error)

	// Each hands over the record of every subject of a kind that was not removed, in the
	// order of the subjects, which is that of their making. The record is good until the
	// next call; an error of each ends it and is returned.
	Each(ctx context.Context, kind Kind, each func(*Record) error) error

	// Cells hands over some fields of every record of a kind that was not removed, of a
	// conflict those of its first head, in any order: for who counts much and reads
	// little. An unknown field is empty; the slice is good until the next call. at is
	// the position in the journal up to which entries are in it.
	Cells(ctx context.Context, kind Kind, fields []string, each func(written time.Time, cells []string) error) (at int64, err error)

	// Where are the records that a field says something of, removed ones left out, in
	// the order of their subjects.
	Where(ctx context.Context, ask Query) ([]Record, error)

	// Conflicts are the records with more heads than one.
	Conflicts(ctx context.Context) ([]Record, error)

	// Find looks for a text from one box: the name of a record first, then the words of
	// all of them, each as a beginning.
	Find(ctx context.Context, text string, most int) ([]Hit, error)

	// Recent are the last entries, the latest first.
	Recent(ctx context.Context, most int) ([]Entry, error)

	// Journal hands over every entry in the order in which it came here, those behind
	// position after; next is where to go on. The pointer is good until the next call.
	Journal(ctx context.Context, after int64, each func(*Entry) error) (next int64, err error)

	// Verify reads every entry again and holds it against its hash, and what is derived
	// against what it is derived from.
	Verify(ctx context.Context, progress func(done, of int)) (Proof, error)

	Close() error
}

// Proof is what Verify found.
type Proof struct {
	Entries int      // that are there
	Whole   int      // of those, entries that are as they were written
	Head    Hash     // of the chain of all entries: two stores with the same are the same
	Damage  []Damage // nothing: all is whole
}

// Damage is one thing that is not as it was written.
type Damage struct {
	What     string // entry, chain, index, file
	Position int64  // in the journal, 0 when it is none of an entry
	Entry    ID
	Kind     Kind
	Label    string // of the record, when that can still be told
	How      string // in a few words
}

// The troubles of a store. A full disk, a folder that can't be written to, a second
// writer and a damaged file are told apart, since what to do differs.
var (
	ErrNotFound = errors.New("there is no such record")
	ErrStale    = errors.New("someone else changed the record meanwhile: look at it again before you write")
	ErrTaken    = errors.New("another record has this name already")
	ErrLocked   = errors.New("another earstone writes to this programme: stop it first, or use its pages")
	ErrFull     = errors.New("the disk is full: nothing of this was kept, and all that was kept before is whole. Make room, then do it again")
	ErrReadOnly = errors.New("the folder can't be written to: ask for the right to write there, or copy the programme elsewhere")
	ErrDamaged  = errors.New("the file of the programme is damaged: earstone verify tells what is whole, earstone restore brings a backup back")
)

// Package sitting decides what a reader is given to read, in which order, with nothing that could sway the count.
//
// A Set is chosen once, by rule, and written down. Deal shuffles it by the sitting's
// own stream and mixes hidden controls in; the same set and seed always give the same
// order, so that where a reader stands follows from what they have recorded (State) and
// an interrupted sitting goes on where it was. What leaves for the reader's browser is
// a Sheet, a type that has no room for what must not be known.
package sitting

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"earstone/programme/date"
	"earstone/programme/record"
	"earstone/statistics/stream"
)

// Candidate is a preparation with a picture that might be read. It stays with the
// programme: no reader is sent one.
type Candidate struct {
	Preparation string
	Image       string
	Fish        record.FishID
	Species     record.Species
	Area        string
	CaughtOn    date.Day
	Reference   bool // of the reference collection: its count was agreed upon, it serves as a control
	ReadBy      []record.ReaderID
}

// Choice is which preparations a sitting is for.
type Choice uint8

// The choices. The zero Choice is what nobody has read.
const (
	Unread         Choice = iota // by anyone
	UnreadByReader               // by this reader, whoever else has
	Again                        // those named in Rule.Named, read or not
)

var choices = [...]string{"unread", "unread_by_reader", "again"}

func (c Choice) String() string {
	if int(c) < len(choices) {
		return choices[c]
	}
	return fmt.Sprintf("choice %d", uint8(c))
}

// ParseChoice reads the word of a choice.
func ParseChoice(text string) (Choice, bool) {
	i := slices.Index(choices[:], text)
	return Choice(max(i, 0)), i >= 0
}

// Rule says what a sitting is made of. An empty list takes all.
type Rule struct {
	Choose   Choice
	Species  []record.Species
	Areas    []string
	Seasons  []int    // years of capture
	Named    []string // preparations, for Again
	Most     int      // preparations, without controls; 0: 50
	Glass    bool     // under the microscope: preparations lie on a tray, and no picture is shown
	Controls float64  // share of controls beside them; 0: one in ten, below 0: none
}

// Set is what a sitting consists of, each list in the order of its codes. It is
// written down when the sitting begins.
type Set struct {
	Reader   record.ReaderID
	Read     []Item // to be read
	Controls []Item // read before, by agreement
}

// Item is one preparation and the picture of it that is read; no picture under the
// microscope.
type Item struct{ Preparation, Image string }

// The reasons why there is no sitting.
var (
	ErrNothing  = errors.New("no preparation that can be looked at fits this sitting")
	ErrNoReader = errors.New("a sitting is of one reader, and none is named")
)

const (
	usualMost     = 50
	usualControls = 0.1
)

// The parts of a sitting's stream.
const (
	forChoosing = iota
	forControls
	forOrder
	forTickets
	forSuggestions
)

// Choose makes the set of a reader's sitting from all candidates, in any order: as many
// as the rule allows, each as likely, at most one of a fish; and of the reference
// collection those that this reader has read least often.
//
// A reference stone is never in a set to be read unless it is named. Fewer controls than
// asked for are what there is. No reader is ErrNoReader, no preparation ErrNothing.
func Choose(all []Candidate, rule Rule, reader record.ReaderID, seed uint64) (Set, error) {
	if reader == "" {
		return Set{}, ErrNoReader
	}
	all = slices.Clone(all)
	slices.SortFunc(all, func(a, b Candidate) int {
		return cmp.Or(cmp.Compare(a.Preparation, b.Preparation), cmp.Compare(a.Image, b.Image))
	})
	if rule.Glass {
		for i := range all {
			all[i].Image = ""
		}
	}
	all = slices.CompactFunc(all, func(a, b Candidate) bool { return a.Preparation == b.Preparation })
	var draw stream.Stream
	draw.ResetAt(seed, stream.Sitting, 0, forChoosing)
	fit := slices.DeleteFunc(slices.Clone(all), func(c Candidate) bool { return !rule.fits(c, reader) })
	draw.Shuffle(len(fit), func(i, j int) { fit[i], fit[j] = fit[j], fit[i] })
	set := Set{Reader: reader}
	var fish []record.FishID
	set.Read, fish = take(fit, rule.most(), nil)
	if len(set.Read) == 0 {
		return Set{}, ErrNothing
	}
	draw.ResetAt(seed, stream.Sitting, 0, forControls)
	known := slices.DeleteFunc(all, func(c Candidate) bool { return !c.Reference || !rule.seen(c) })
	draw.Shuffle(len(known), func(i, j int) { known[i], known[j] = known[j], known[i] })
	slices.SortStableFunc(known, func(a, b Candidate) int { return cmp.Compare(a.times(reader), b.times(reader)) })
	set.Controls, _ = take(known, rule.controls(len(set.Read)), fish)
	return set, nil
}

// take is the first so many candidates, one a fish and none of the fish given, sorted.
func take(from []Candidate, most int, fish []record.FishID) ([]Item, []record.FishID) {
	var taken []Item
	for _, c := range from {
		if len(taken) == most {
			break
		}
		if c.Fish != "" && slices.Contains(fish, c.Fish) {
			continue
		}
		taken, fish = append(taken, Item{c.Preparation, c.Image}), append(fish, c.Fish)
	}
	slices.SortFunc(taken, func(a, b Item) int { return cmp.Compare(a.Preparation, b.Preparation) })
	return taken, fish
}

func (c Candidate) times(reader record.ReaderID) int {
	n := 0
	for _, r := range c.ReadBy {
		if r == reader {
			n++
		}
	}
	return n
}

func (r Rule) fits(c Candidate, reader record.ReaderID) bool {
	if !r.seen(c) || !among(r.Species, c.Species) || !among(r.Areas, c.Area) || !among(r.Seasons, c.CaughtOn.Year()) {
		return false
	}
	switch r.Choose {
	case Again:
		return slices.Contains(r.Named, c.Preparation)
	case UnreadByReader:
		return !c.Reference && c.times(reader) == 0
	}
	return !c.Reference && len(c.ReadBy) == 0
}

// seen tells whether there is something to look at.
func (r Rule) seen(c Candidate) bool { return r.Glass || c.Image != "" }

func among[T comparable](list []T, x T) bool { return len(list) == 0 || slices.Contains(list, x) }

func (r Rule) most() int {
	if r.Most <= 0 {
		return usualMost
	}
	return r.Most
}

func (r Rule) controls(read int) int {
	share := r.Controls
	if share == 0 {
		share = usualControls
	}
	return int(math.Ceil(max(share, 0)*float64(read) - 1e-9))
}

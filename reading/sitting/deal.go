package sitting

import (
	"slices"

	"earstone/statistics/stream"
)

// Turn is one preparation of a sitting in its order. It stays with the programme.
type Turn struct {
	Item
	Ticket  string // by which the reader's browser knows it
	Control bool
	Unaided bool // no suggested annuli are shown, whatever the sitting allows
}

// Sitting is a set in its order.
type Sitting struct{ Turns []Turn }

// Deal puts a set in order: controls among the others, each order as likely. Set and
// seed decide everything, tickets as well.
//
// Controls are unaided, and so that this does not give them away, each of the others is
// with a chance of a third. The chance has a stream of its own: no ticket and no place in
// the order foretells it.
func Deal(set Set, seed uint64) Sitting {
	var s Sitting
	for _, item := range set.Read {
		s.Turns = append(s.Turns, Turn{Item: item})
	}
	for _, item := range set.Controls {
		s.Turns = append(s.Turns, Turn{Item: item, Control: true})
	}
	var draw stream.Stream
	draw.ResetAt(seed, stream.Sitting, 0, forOrder)
	draw.Shuffle(len(s.Turns), func(i, j int) { s.Turns[i], s.Turns[j] = s.Turns[j], s.Turns[i] })
	draw.ResetAt(seed, stream.Sitting, 0, forTickets)
	for i := range s.Turns {
		s.Turns[i].Ticket = ticket(&draw)
		for slices.ContainsFunc(s.Turns[:i], func(t Turn) bool { return t.Ticket == s.Turns[i].Ticket }) {
			s.Turns[i].Ticket = ticket(&draw)
		}
	}
	draw.ResetAt(seed, stream.Sitting, 0, forSuggestions)
	for i := range s.Turns {
		s.Turns[i].Unaided = draw.IntN(3) == 0 || s.Turns[i].Control // a control draws as well
	}
	return s
}

// letters make no word and are not mistaken for each other.
const letters = "bcdfghjkmnpqrstvwxyz23456789"

func ticket(draw *stream.Stream) string {
	var b [8]byte
	for i := range b {
		b[i] = letters[draw.IntN(len(letters))]
	}
	return string(b[:])
}

// Find is the turn of a ticket.
func (s Sitting) Find(ticket string) (Turn, bool) {
	i := slices.IndexFunc(s.Turns, func(t Turn) bool { return t.Ticket == ticket })
	if i < 0 {
		return Turn{}, false
	}
	return s.Turns[i], true
}

// Record is one thing a reader did with a ticket, in the order it was recorded.
type Record struct {
	Ticket string
	Aside  bool // put off until the end, not read
}

// State is where a sitting stands.
type State struct {
	Next     string // ticket to read next, "" when all are read
	Number   int    // of that turn, from 1, in the order in which it is come to
	Of       int
	Read     int
	PutAside int // of those not read
}

// State follows from what was recorded: next is the first turn that was neither read nor put
// aside; when there is none, the one that was put aside first. What was read again counts once,
// and a ticket of another sitting not at all.
func (s Sitting) State(records []Record) State {
	read, aside := map[string]bool{}, []string(nil)
	for _, r := range records {
		if _, known := s.Find(r.Ticket); !known {
			continue
		}
		aside = slices.DeleteFunc(aside, func(t string) bool { return t == r.Ticket })
		if !r.Aside {
			read[r.Ticket] = true
		} else if !read[r.Ticket] {
			aside = append(aside, r.Ticket)
		}
	}
	state := State{Of: len(s.Turns), Read: len(read), PutAside: len(aside)}
	for _, t := range s.Turns {
		if !read[t.Ticket] && !slices.Contains(aside, t.Ticket) {
			state.Next = t.Ticket
			state.Number = state.Read + state.PutAside + 1
			return state
		}
	}
	if len(aside) > 0 {
		state.Next, state.Number = aside[0], state.Read+1
	}
	return state
}

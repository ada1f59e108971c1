package label

import "earstone/programme/date"

// Kit is a range of codes sent to someone: vials, labels and cards in one bag. What was
// not done is an unknown day.
type Kit struct {
	Kit         string
	Contributor string
	Codes       Range
	SentOn      date.Day
	CancelledOn date.Day // lost, spoiled or called back: no label of it is good after this
	Why         string   // of the cancelling
	ThankedOn   date.Day
	Reward      string // what was promised, in the programme's own words
	PromisedOn  date.Day
	RewardedOn  date.Day
	PhoneCode   KitCode // by which a phone sends in cards with its labels; unknown: none may
	Remark      string
	Row         int
}

// State is where a kit stands.
type State uint8

// The states of a kit.
const (
	InStock   State = iota // not sent yet
	Out                    // sent, nothing came back
	Part                   // some of its fish came back
	Whole                  // every label came back
	Cancelled              // lost: its labels are void, and never printed again
)

var states = [...]string{"in_stock", "out", "part", "whole", "cancelled"}

func (s State) String() string { return states[s] }

// Standing is a kit with what became of it.
type Standing struct {
	Kit
	State State
	Back  int    // labels that came back on a fish
	After []Code // labels that came back though the kit was cancelled
	// What is owed: thanks for fish that came, and a reward that was promised.
	OwedThanks, OwedReward bool
}

// Stock tells what became of each kit, in the order of the kits. came are the codes of
// the fish that arrived; a code that came twice counts once, and codes of no kit not at
// all. Thanks are owed once a fish came; a reward once it was promised and a fish came.
func Stock(kits []Kit, came []Code) []Standing {
	seen := make(map[Code]bool, len(came))
	stock := make([]Standing, len(kits))
	in := func(c Code) int {
		for i := range kits {
			if kits[i].Codes.Holds(c) {
				return i
			}
		}
		return -1
	}
	for i, kit := range kits {
		stock[i].Kit = kit
	}
	for _, c := range came {
		i := in(c)
		if i < 0 || seen[c] {
			continue
		}
		seen[c] = true
		stock[i].Back++
		if kits[i].CancelledOn.Known() {
			stock[i].After = append(stock[i].After, c)
		}
	}
	for i := range stock {
		stock[i].settle()
	}
	return stock
}

func (s *Standing) settle() {
	switch {
	case s.CancelledOn.Known():
		s.State = Cancelled
	case s.Back > 0 && s.Back == s.Codes.Count():
		s.State = Whole
	case s.Back > 0:
		s.State = Part
	case s.SentOn.Known():
		s.State = Out
	}
	s.OwedThanks = s.Back > 0 && !s.ThankedOn.Known()
	s.OwedReward = s.Back > 0 && s.PromisedOn.Known() && !s.RewardedOn.Known()
}

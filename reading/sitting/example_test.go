package sitting_test

import (
	"fmt"

	"earstone/programme/date"
	"earstone/programme/record"
	"earstone/reading/sitting"
)

// Three stones to read, and a hidden control among them.
func ExampleDeal() {
	var all []sitting.Candidate
	for _, code := range []string{"QB-1", "QB-2", "QB-3"} {
		all = append(all, sitting.Candidate{Preparation: code + "-L", Image: code, Fish: record.FishID(code), CaughtOn: date.On(2031, 8, 14)})
	}
	all = append(all, sitting.Candidate{Preparation: "DM-7-L", Image: "DM-7", Fish: "DM-7", Reference: true})

	set, err := sitting.Choose(all, sitting.Rule{Seasons: []int{2031}}, "R1", 42)
	if err != nil {
		fmt.Println(err)
		return
	}
	s := sitting.Deal(set, 42)
	controls := 0
	for _, turn := range s.Turns {
		if turn.Control {
			controls++
		}
	}
	fmt.Println(len(s.Turns), "turns,", controls, "of them a control")

	at := s.State([]sitting.Record{{Ticket: s.Turns[0].Ticket}, {Ticket: s.Turns[1].Ticket, Aside: true}})
	fmt.Println("next is the third turn:", at.Next == s.Turns[2].Ticket, "- read", at.Read, "- put aside", at.PutAside)
	// Output:
	// 4 turns, 1 of them a control
	// next is the third turn: true - read 1 - put aside 1
}

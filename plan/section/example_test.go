package section_test

import (
	"fmt"

	"earstone/plan/section"
)

// A section whose count nobody has to guess.
func ExampleDraw() {
	s := section.Draw(1, 0, section.Settings{Least: 7, Most: 7})
	fmt.Println(len(s.Annuli), "annuli, the last before the edge:", s.Annuli[6] < s.Edge)
	fmt.Println("clicked core, bends, edge:", len(s.Clicked) >= 3)
	// Output:
	// 7 annuli, the last before the edge: true
	// clicked core, bends, edge: true
}

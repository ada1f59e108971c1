package frame

import (
	"fmt"
	"strings"

	"earstone/pages/words"
)

// Stage is a stage of the flow. The zero value is none of them.
type Stage uint8

// The stages in the order in which stones pass them.
const (
	NoStage Stage = iota
	Plan
	Intake
	Bench
	Read
	Settle
	Estimate
	Back
)

// stageWords are the name of each stage and what its page is for.
var stageWords = [...]struct{ name, does string }{
	NoStage:  {},
	Plan:     {"Plan", "what to ask for next"},
	Intake:   {"Intake", "cards and vials that came"},
	Bench:    {"Bench", "cleaning, weighing, sections, pictures"},
	Read:     {"Read", "counting annuli, blind"},
	Settle:   {"Settle", "readers against each other, the agreed age"},
	Estimate: {"Estimate", "key, catch at age, origin"},
	Back:     {"Report back", "letters and the season on one page"},
}

func (s Stage) String() string { return stageWords[s].name }

// Stages are all stages in their order.
func Stages() []Stage { return []Stage{Plan, Intake, Bench, Read, Settle, Estimate, Back} }

// Flow is how many stones of a season came as far as each stage; a stage that is not in
// Reached is not counted.
type Flow struct {
	Season  int
	Reached map[Stage]int
}

// part is one stage of the band as the layout draws it.
type part struct {
	Name, Does, Path string // no Path: its page does not stand yet, or is not for this person
	Count, Waits     string
	Here, Later      bool
	Flow             string   // outline of the band, in a box 100 wide and 64 high
	Rings            []string // lines along it, as in a stone
}

// The box of one part, and the half width of a band that holds all stones of the season.
const (
	middle = 32.0
	widest = 29.0
	thread = 1.4 // half width where no stone has come
	bend   = 58.0
)

// rings are where the lines run, as shares of the half width.
var rings = [...]float64{-.72, -.4, .4, .72}

// parts draws the band: as wide as the share of the season's stones that came so far.
func (f Flow) parts(at Stage, path func(Stage) string) []part {
	most := 0
	for _, n := range f.Reached {
		most = max(most, n)
	}
	half := func(s Stage) (float64, bool) {
		n, counted := f.Reached[s]
		if !counted || most == 0 {
			return thread, counted
		}
		return max(thread, widest*float64(n)/float64(most)), true
	}
	var all []part
	before, _ := half(Intake)
	for _, s := range Stages() {
		now, counted := half(s)
		if !counted && s != Plan {
			now = before // nobody knows yet: drawn on as an outline
		}
		if s == Plan {
			before, now = thread, thread
		}
		p := part{Name: s.String(), Does: stageWords[s].does, Path: path(s), Here: s == at, Later: !counted,
			Flow: outline(before, now)}
		if counted {
			p.Count = words.Count(f.Reached[s])
			for _, share := range rings {
				p.Rings = append(p.Rings, along(share*before, share*now))
			}
		}
		if came, ok := f.Reached[s-1]; counted && ok && came > f.Reached[s] {
			p.Waits = words.Count(came - f.Reached[s])
		}
		all, before = append(all, p), now
	}
	return all
}

// outline is the shape of a part that widens or narrows from one half width to another.
func outline(from, to float64) string {
	var b strings.Builder
	fmt.Fprintf(&b, "M0 %.1f C%.0f %.1f %.0f %.1f %.0f %.1f L100 %.1f L100 %.1f L%.0f %.1f C%.0f %.1f %.0f %.1f 0 %.1f Z",
		middle-from, bend/2, middle-from, bend/2, middle-to, bend, middle-to, middle-to,
		middle+to, bend, middle+to, bend/2, middle+to, bend/2, middle+from, middle+from)
	return b.String()
}

func along(from, to float64) string {
	return fmt.Sprintf("M0 %.1f C%.0f %.1f %.0f %.1f %.0f %.1f L100 %.1f",
		middle+from, bend/2, middle+from, bend/2, middle+to, bend, middle+to, middle+to)
}

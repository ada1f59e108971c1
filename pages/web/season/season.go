// Package season counts the stones of a season through the stages of the flow.
//
// It follows the journal of the records: what was counted is kept, and only entries that
// are new are looked at again, so that a page knows the whole band at the cost of what
// was written since the last one.
package season

import (
	"cmp"
	"context"
	"fmt"
	"strconv"
	"sync"
	"time"

	"earstone/pages/web/frame"
	"earstone/store/history"
)

// stone is one stone by its fish and its side.
type stone struct{ fish, side string }

// sides are what a side can be written as.
var sides = []string{"L", "R", "unknown"}

// mark is which stages a stone has passed, a bit each. Who came to a stage came through
// those before it, whether or not somebody wrote that down.
type mark uint8

const (
	came     mark = 1
	prepared      = came | 2
	read          = prepared | 4
)

// reaches are the bit by which each stage is counted.
var reaches = map[frame.Stage]mark{frame.Intake: 1, frame.Bench: 2, frame.Read: 4}

// Count holds the band of every season. Its methods are safe for several goroutines.
type Count struct {
	store history.Store
	now   func() time.Time

	mu    sync.Mutex
	next  int64                       // of the journal
	marks map[stone]mark              //
	year  map[string]int              // season of a fish; 0 until the fish is there
	total map[int]map[frame.Stage]int // by season
	fish  map[history.ID]string       // labels, and stones, by the record that said so: what
	kept  map[history.ID]stone        // a correction or a removal takes back
}

// New counts the records of a store; now tells the season at hand.
func New(store history.Store, now func() time.Time) *Count {
	return &Count{store: store, now: now, marks: map[stone]mark{}, year: map[string]int{},
		total: map[int]map[frame.Stage]int{}, fish: map[history.ID]string{}, kept: map[history.ID]stone{}}
}

// Flow is the band of the season at hand, everything that was kept until now included:
// the last season up to this year of which stones came.
func (c *Count) Flow(ctx context.Context) (frame.Flow, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	next, err := c.store.Journal(ctx, c.next, func(e *history.Entry) error {
		c.take(e)
		return nil
	})
	if err != nil {
		return frame.Flow{}, fmt.Errorf("counting the season: %w", err)
	}
	c.next = next
	this := c.now().Year()
	season := this
	if c.total[this][frame.Intake] == 0 {
		last := 0
		for year, stages := range c.total {
			if year <= this && stages[frame.Intake] > 0 {
				last = max(last, year)
			}
		}
		if last > 0 {
			season = last
		}
	}
	f := frame.Flow{Season: season, Reached: map[frame.Stage]int{}}
	for s := range reaches {
		f.Reached[s] = c.total[season][s]
	}
	return f, nil
}

// take counts one entry of the journal.
func (c *Count) take(e *history.Entry) {
	of := stone{e.Fields["fish"], cmp.Or(e.Fields["side"], "unknown")}
	switch {
	case e.Kind == history.Removals:
		c.forget(e.Subject)
	case e.Removed:
	case e.Kind == history.Fish:
		c.fish[e.Subject] = of.fish
		c.season(of.fish, seasonOf(e))
	case e.Kind == history.Stones:
		if before, there := c.kept[e.Subject]; there && before != of {
			c.set(before, 0)
		}
		c.kept[e.Subject] = of
		if e.Fields["condition"] == "absent" {
			c.set(of, 0)
		} else {
			c.set(of, c.marks[of]|came)
		}
	case e.Kind == history.Preparations || e.Kind == history.Custody && finishes[e.Fields["step"]]:
		c.reach(of, prepared)
	case e.Kind == history.Readings:
		c.reach(of, read)
	}
}

// finishes are the steps of the bench after which a stone can be read.
var finishes = map[string]bool{"mounted": true, "sectioned": true, "imaged": true}

// seasonOf is the year in which a fish came, or else was caught, or was written down.
func seasonOf(e *history.Entry) int {
	for _, day := range []string{e.Fields["received_on"], e.Fields["caught_on"]} {
		if len(day) >= 4 {
			if year, err := strconv.Atoi(day[:4]); err == nil {
				return year
			}
		}
	}
	return e.When.Year()
}

// reach marks a stone; one whose side nobody knew is taken for the one that is there.
func (c *Count) reach(of stone, m mark) {
	if _, there := c.marks[of]; !there && of.side == "unknown" {
		for _, side := range sides {
			if _, there := c.marks[stone{of.fish, side}]; there {
				of.side = side
				break
			}
		}
	}
	c.set(of, c.marks[of]|m)
}

// set gives a stone its marks, 0 to take it out, and counts it anew.
func (c *Count) set(of stone, m mark) {
	year := c.year[of.fish]
	c.count(year, c.marks[of], -1)
	c.count(year, m, 1)
	if m == 0 {
		delete(c.marks, of)
	} else {
		c.marks[of] = m
	}
}

func (c *Count) count(year int, m mark, by int) {
	if c.total[year] == nil {
		c.total[year] = map[frame.Stage]int{}
	}
	for s, bit := range reaches {
		if m&bit != 0 {
			c.total[year][s] += by
		}
	}
}

// season moves the stones of a fish to another season.
func (c *Count) season(fish string, year int) {
	before := c.year[fish]
	c.year[fish] = year
	for _, side := range sides {
		m := c.marks[stone{fish, side}]
		c.count(before, m, -1)
		c.count(year, m, 1)
	}
}

// forget takes out what a removed record said.
func (c *Count) forget(subject history.ID) {
	if of, there := c.kept[subject]; there {
		c.set(of, 0)
		delete(c.kept, subject)
	}
	if label, there := c.fish[subject]; there {
		for _, side := range sides {
			c.set(stone{label, side}, 0)
		}
		delete(c.fish, subject)
		delete(c.year, label)
	}
}

// Package season counts the stones of a season through the stages of the flow.
//
// The records are counted once, by the few fields that say where a stone is. Afterwards
// it follows the journal: only fish that new entries name are looked at again, so that a
// page knows the whole band at the cost of what was written since the last one.
package season

import (
	"context"
	"fmt"
	"sync"
	"time"

	"earstone/pages/web/frame"
	"earstone/store/history"
)

// Count holds the band of every season. Its methods are safe for several goroutines.
type Count struct {
	store history.Store
	now   func() time.Time

	mu    sync.Mutex
	whole bool                        // everything up to next is counted
	next  int64                       // of the journal
	fish  map[string]passed           // by label
	total map[int]map[frame.Stage]int // by season
}

// New counts the records of a store; now tells the season at hand.
func New(store history.Store, now func() time.Time) *Count {
	return &Count{store: store, now: now}
}

// Flow is the band of the season at hand, everything that was kept until now included:
// the last season up to this year of which stones came.
func (c *Count) Flow(ctx context.Context) (frame.Flow, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if err := c.follow(ctx); err != nil {
		c.whole = false // half of it may be counted
		return frame.Flow{}, fmt.Errorf("counting the season: %w", err)
	}
	season := c.season(c.now().Year())
	f := frame.Flow{Season: season, Reached: map[frame.Stage]int{}}
	for s := range reaches {
		f.Reached[s] = c.total[season][s]
	}
	return f, nil
}

func (c *Count) season(this int) int {
	last := this
	if c.total[this][frame.Intake] == 0 {
		latest := 0
		for year, stages := range c.total {
			if year <= this && stages[frame.Intake] > 0 {
				latest = max(latest, year)
			}
		}
		if latest > 0 {
			last = latest
		}
	}
	return last
}

// many is of how many fish it is quicker to count everything than one after another.
const many = 1000

// follow looks at all fish that entries behind next say something of. An entry of a record
// that was removed does not say of which fish it was, so that all is counted anew.
func (c *Count) follow(ctx context.Context) error {
	if !c.whole {
		return c.all(ctx)
	}
	touched, corrected := map[string]bool{}, map[history.ID]bool{}
	removed := false
	next, err := c.store.Journal(ctx, c.next, func(e *history.Entry) error {
		removed = removed || e.Removed || e.Kind == history.Removals
		if counts[e.Kind] != nil {
			touched[e.Fields["fish"]] = true
			corrected[e.Subject] = len(e.Supersedes) > 0 || corrected[e.Subject]
		}
		return nil
	})
	if err != nil {
		return err
	}
	if removed || len(touched) > many {
		return c.all(ctx)
	}
	for subject, is := range corrected {
		if !is {
			continue
		}
		entries, err := c.store.History(ctx, subject) // it may have been of another fish before
		if err != nil {
			return err
		}
		for i := range entries {
			touched[entries[i].Fields["fish"]] = true
		}
	}
	for label := range touched {
		if err := c.again(ctx, label); err != nil {
			return err
		}
	}
	c.next = next
	return nil
}

// all counts every record anew.
func (c *Count) all(ctx context.Context) error {
	c.fish, c.total = map[string]passed{}, map[int]map[frame.Stage]int{}
	for i, kind := range kinds {
		take := counts[kind]
		at, err := c.store.Cells(ctx, kind, columns[kind], func(written time.Time, cells []string) error {
			if cells[0] == "" { // of no stone that could be told apart
				return nil
			}
			p := c.fish[cells[0]]
			if take(&p, written, cells); p != (passed{}) {
				c.fish[cells[0]] = p
			}
			return nil
		})
		if err != nil {
			return err
		}
		if i == 0 {
			c.next = at // what was written during the count is looked at again
		}
	}
	for _, p := range c.fish {
		c.count(p, 1)
	}
	c.whole = true
	return nil
}

// again counts one fish anew.
func (c *Count) again(ctx context.Context, label string) error {
	var is passed
	if label == "" {
		return nil
	}
	for _, kind := range kinds {
		records, err := c.store.Where(ctx, history.Query{Kind: kind, Field: "fish", Value: label})
		if err != nil {
			return err
		}
		for i := range records {
			head := &records[i].Heads[0]
			cells := make([]string, len(columns[kind]))
			for j, name := range columns[kind] {
				cells[j] = head.Fields[name]
			}
			if cells[0] == label { // another head of a conflict may name another fish
				counts[kind](&is, head.When, cells)
			}
		}
	}
	c.count(c.fish[label], -1)
	c.count(is, 1)
	if is == (passed{}) {
		delete(c.fish, label)
	} else {
		c.fish[label] = is
	}
	return nil
}

// count adds a fish to its season, or takes it out.
func (c *Count) count(p passed, by int) {
	year := int(p.year)
	if c.total[year] == nil {
		c.total[year] = map[frame.Stage]int{}
	}
	for _, m := range p.stones() {
		for s, bit := range reaches {
			if m&bit != 0 {
				c.total[year][s] += by
			}
		}
	}
}

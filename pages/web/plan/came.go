package plan

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"strings"
	"sync"

	"earstone/pages/request"
	"earstone/programme/record"
	"earstone/store/history"
)

// came follows the journal and keeps, of each fish, what a quota asks about.
type came struct {
	store history.Store

	mu   sync.Mutex
	next int64
	fish map[history.ID]one
}

// one is a fish as a quota sees it.
type one struct {
	species, area, gear string
	year, month         int
	length              float64 // in the unit that was typed
	unit, kind          string
}

func newCame(store history.Store) *came { return &came{store: store, fish: map[history.ID]one{}} }

// until counts the fish of a season, everything that was kept until now included.
func (c *came) until(ctx context.Context, season int, bins record.LengthBin) (tally, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	next, err := c.store.Journal(ctx, c.next, func(e *history.Entry) error {
		switch {
		case e.Kind == history.Removals:
			delete(c.fish, e.Subject)
		case e.Kind == history.Fish && !e.Removed:
			c.fish[e.Subject] = oneOf(e.Fields)
		}
		return nil
	})
	if err != nil {
		return tally{}, fmt.Errorf("counting what came of the plan: %w", err)
	}
	c.next = next
	t := tally{bins: bins, count: map[cell]int{}}
	for _, f := range c.fish {
		if f.year == season {
			t.take(f)
		}
	}
	return t, nil
}

func oneOf(f history.Fields) one {
	of := one{species: f["species"], area: f["area"], gear: f["gear"], unit: f["length_unit"], kind: f["length_kind"]}
	day := strings.Split(f["caught_on"], "-")
	of.year, _ = strconv.Atoi(day[0]) // what is no year counts in none
	if len(day) > 1 {
		of.month, _ = strconv.Atoi(day[1])
	}
	if x, err := strconv.ParseFloat(strings.Replace(f["length"], ",", ".", 1), 64); err == nil {
		of.length = x
	}
	return of
}

// cell is what the fish of a tally are counted by; bin is −1 for those of all lengths.
type cell struct {
	species, area, gear string
	month, bin          int
}

// tally is the fish of a season.
type tally struct {
	bins  record.LengthBin
	count map[cell]int
	other int // in another measure of length than the bins
}

// millimetres are the units that can be turned into each other.
var millimetres = map[string]float64{"mm": 1, "cm": 10, "in": 25.4}

func (t *tally) take(f one) {
	at := cell{f.species, f.area, f.gear, f.month, -1}
	t.count[at]++
	from, to := millimetres[f.unit], millimetres[t.bins.Unit]
	if f.kind != t.bins.Kind.String() || from == 0 || to == 0 || !(f.length > 0) || !(t.bins.Width > 0) {
		t.other++
		return
	}
	at.bin = t.bin(f.length * from / to)
	t.count[at]++
}

// bin is the number of the bin of a length; a hair above, so that 130 falls into the bin
// that begins there.
func (t *tally) bin(length float64) int { return int(math.Floor(length/t.bins.Width + 1e-9)) }

// at counts the fish of a place, of all lengths or of one bin by its lower edge. A fish
// whose gear nobody wrote down counts with every gear of its area.
func (t *tally) at(species string, p *request.Place, from *float64) (n int) {
	bin := -1
	if from != nil {
		if !(t.bins.Width > 0) {
			return 0
		}
		bin = t.bin(*from)
	}
	for at, fish := range t.count {
		switch {
		case at.species != species || at.bin != bin,
			p.Area != "" && at.area != p.Area,
			p.Gear != "" && at.gear != "" && at.gear != p.Gear,
			p.Month > 0 && at.month != p.Month,
			p.Month == 0 && p.Quarter > 0 && (at.month+2)/3 != p.Quarter:
		default:
			n += fish
		}
	}
	return n
}

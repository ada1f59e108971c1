package rehearsal

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"

	"earstone/estimate/run"
)

// Keeper holds what seasons gave, so that a rehearsal that was stopped goes on where it was.
// It is called from several goroutines, for one season at a time from one.
type Keeper interface {
	Kept(seed uint64) (state []byte, ok bool, err error)
	Keep(seed uint64, state []byte) error
}

// kept is a season as text: for each form the trials of years, strata and quantities beside,
// each as [age or quantity, truth, value, low, high]. A form without an answer has null.
type kept struct {
	Forms []keptForm `json:"forms"`
}

type keptForm struct {
	Years  [][5]float64 `json:"years"`
	Strata [][5]float64 `json:"strata"`
	Beside [][5]float64 `json:"beside"`
}

// ErrOther is a state that is not one of this rehearsal.
var ErrOther = errors.New("the state of a season is not one of this rehearsal")

// keptSeason is the season from the keeper, or else invented, run and given to it. What is
// not a number cannot be kept: such a season is run again after a stop.
func (d Design) keptSeason(ctx context.Context, i int, convert run.Converter) season {
	if d.Keeper == nil {
		return d.season(ctx, i, convert)
	}
	seed := d.Seed + uint64(i)
	state, ok, err := d.Keeper.Kept(seed)
	if err != nil {
		return season{err: err}
	}
	if ok {
		return d.unpack(state)
	}
	done := d.season(ctx, i, convert)
	if done.err != nil {
		return done
	}
	if text, err := json.Marshal(pack(done)); err == nil {
		done.err = d.Keeper.Keep(seed, text)
	}
	return done
}

func pack(s season) kept {
	var k kept
	for _, t := range s.forms {
		form := keptForm{Years: rows(t.years), Strata: rows(t.strata)}
		for _, b := range t.beside {
			form.Beside = append(form.Beside, [5]float64{float64(b.quantity), b.truth, b.value, b.low, b.high})
		}
		k.Forms = append(k.Forms, form)
	}
	return k
}

func rows(of []trial) [][5]float64 {
	var all [][5]float64
	for _, t := range of {
		all = append(all, [5]float64{float64(t.age), t.truth, t.value, t.low, t.high})
	}
	return all
}

func (d Design) unpack(state []byte) season {
	var k kept
	if err := json.Unmarshal(state, &k); err != nil {
		return season{err: fmt.Errorf("%w: %w", ErrOther, err)}
	}
	if len(k.Forms) != len(d.Forms) {
		return season{err: fmt.Errorf("%w: it has %d forms of key", ErrOther, len(k.Forms))}
	}
	var s season
	for _, form := range k.Forms {
		t := tried{years: trialsOf(form.Years), strata: trialsOf(form.Strata)}
		for _, row := range form.Beside {
			if q := int(row[0]); q < 0 || q >= len(quantities) {
				return season{err: fmt.Errorf("%w: it has a quantity %v", ErrOther, row[0])}
			}
			t.beside = append(t.beside, besideTrial{quantity(row[0]), trialOfRow(row)})
		}
		s.forms = append(s.forms, t)
	}
	return s
}

func trialsOf(rows [][5]float64) []trial {
	var all []trial
	for _, row := range rows {
		all = append(all, trialOfRow(row))
		all[len(all)-1].age = int(row[0])
	}
	return all
}

func trialOfRow(row [5]float64) trial {
	return trial{truth: row[1], value: row[2], low: row[3], high: row[4]}
}

package season

import (
	"strconv"
	"time"

	"earstone/pages/web/frame"
	"earstone/store/history"
)

// mark is what is known of a stone, a bit each.
type mark uint8

const (
	there    mark = 1 << iota // a record says that it came
	prepared                  // a section, a mount, a picture
	read
	absent // a record says that it never came
)

// reaches are the bits by which a stone is counted at each stage.
var reaches = map[frame.Stage]mark{frame.Intake: there, frame.Bench: prepared, frame.Read: read}

// The sides of a fish, by their place in its marks.
const (
	left = iota
	right
	unknown
	sides
)

// passed is where the stones of one fish are. The zero value is a fish that nobody knows.
type passed struct {
	year  int16 // the season; 0 until the fish is there
	marks [sides]mark
}

func sideOf(text string) int {
	switch text {
	case "L":
		return left
	case "R":
		return right
	}
	return unknown
}

// stones are the marks of each stone of a fish, those of one that is none being 0. Who
// came to a stage came through those before it, whether or not somebody wrote that down.
func (p passed) stones() [sides]mark {
	all := p.marks
	if all[unknown]&(there|absent) == 0 { // what was done to a stone whose side nobody wrote down was done to one that is there
		for _, side := range []int{left, right} {
			if all[side] != 0 && !all[side].isAbsent() {
				all[side] |= all[unknown]
				all[unknown] = 0
				break
			}
		}
	}
	for side, m := range all {
		switch {
		case m.isAbsent():
			all[side] = 0
		case m&read != 0:
			all[side] = there | prepared | read
		case m&prepared != 0:
			all[side] = there | prepared
		}
	}
	return all
}

// isAbsent tells a stone of which no record says that it came, and one that it did not.
func (m mark) isAbsent() bool { return m&absent != 0 && m&there == 0 }

// kinds are the kinds that say where a stone is.
var kinds = []history.Kind{history.Fish, history.Stones, history.Preparations, history.Custody, history.Readings}

// columns are what is read of each, the fish first.
var columns = map[history.Kind][]string{
	history.Fish:         {"fish", "received_on", "caught_on"},
	history.Stones:       {"fish", "side", "condition"},
	history.Preparations: {"fish", "side"},
	history.Custody:      {"fish", "side", "step"},
	history.Readings:     {"fish", "side"},
}

// counts marks a fish by the columns of a record.
var counts = map[history.Kind]func(p *passed, written time.Time, cells []string){
	history.Fish: func(p *passed, written time.Time, cells []string) { p.year = int16(seasonOf(written, cells[1:])) },
	history.Stones: func(p *passed, _ time.Time, cells []string) {
		m := there
		if cells[2] == "absent" {
			m = absent
		}
		p.marks[sideOf(cells[1])] |= m
	},
	history.Preparations: func(p *passed, _ time.Time, cells []string) { p.marks[sideOf(cells[1])] |= prepared },
	history.Custody: func(p *passed, _ time.Time, cells []string) {
		if finishes[cells[2]] {
			p.marks[sideOf(cells[1])] |= prepared
		}
	},
	history.Readings: func(p *passed, _ time.Time, cells []string) { p.marks[sideOf(cells[1])] |= read },
}

// finishes are the steps of the bench after which a stone can be read.
var finishes = map[string]bool{"mounted": true, "sectioned": true, "imaged": true}

// seasonOf is the year in which a fish came, or else was caught, or was written down.
func seasonOf(written time.Time, days []string) int {
	for _, day := range days {
		if len(day) >= 4 {
			if year, err := strconv.ParseInt(day[:4], 10, 16); err == nil {
				return int(year)
			}
		}
	}
	return written.Year()
}

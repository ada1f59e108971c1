// Package request is a plan as those who sample get it.
//
// It says what to ask for, where and when. A plan is read from its tables, so that the page, the files and the served pages say the
// same. What is asked for is a wish of a programme and no leave to catch anything; and of
// the stones to read again no age is told, so that the list may lie beside a microscope.
package request

import (
	"cmp"
	"encoding/csv"
	"fmt"
	"io/fs"
	"slices"
	"strconv"

	"earstone/programme/result"
)

// Plan is what to ask for, species by species.
type Plan struct{ Species []*Species }

// Species is the plan of one species.
type Species struct {
	Code     string
	Places   []Place // by month, area and gear
	Reread   []Fish  // those first whose readings are not yet one age
	CVs      []CV
	Worth    []Worth
	Expected [3]Items // trips, stones, second readings
}

// Items are of one kind: the last season's, and those that are planned.
type Items struct{ Today, Planned int }

// Kinds of items, as quotas.csv writes them, in the order of Expected.
var kinds = []string{"trip", "stone", "second_reading"}

// Place is a month at an area with a gear; what a programme does not tell apart is 0 or
// empty.
type Place struct {
	Quarter, Month int
	Area, Gear     string
	Trips          int
	Stones         []Bin // from the shortest bin up
}

// Count is the ear stones of a place, all lengths together.
func (p *Place) Count() (n int) {
	for _, b := range p.Stones {
		n += b.N
	}
	return n
}

// Bin is ear stones of fish of one length bin, by its lower edge.
type Bin struct {
	From float64
	N    int
}

// Fish is a fish whose ear stone is worth another look.
type Fish struct {
	Label      string
	Readings   int
	Unresolved bool
}

// CV is that of the number of fish of an age, as a share.
type CV struct {
	Age                    int
	Wanted, Today, Planned float64
}

// Worth is what one item more than planned takes off the loss for its cost.
type Worth struct {
	Quarter, Month int
	Area, Gear     string
	Item           string
	From           float64 // of a stone
	ByCost         float64
}

// From reads a plan from its tables; what a table does not hold stays empty. A cell that
// can't be read is an error with its table.
func From(tables []result.Plain) (*Plan, error) {
	r := &reader{plan: &Plan{}, at: map[string]*Species{}}
	for _, t := range tables {
		take := map[string]func(row){"quotas": r.quota, "rereading": r.reread, "predicted_cv": r.cv, "worth": r.worth}[t.Name]
		for _, cells := range t.Rows {
			if take != nil {
				take(row{t.Columns, cells, r})
			}
		}
		if r.err != nil {
			return nil, fmt.Errorf("reading %s.csv of a plan: %w", t.Name, r.err)
		}
	}
	for _, s := range r.plan.Species {
		slices.SortStableFunc(s.Places, func(a, b Place) int {
			return cmp.Or(cmp.Compare(a.Quarter, b.Quarter), cmp.Compare(a.Month, b.Month), cmp.Compare(a.Area, b.Area), cmp.Compare(a.Gear, b.Gear))
		})
		for i := range s.Places {
			slices.SortFunc(s.Places[i].Stones, func(a, b Bin) int { return cmp.Compare(a.From, b.From) })
		}
	}
	return r.plan, nil
}

// Open reads a plan from the folder in which it lies.
func Open(folder fs.FS) (*Plan, error) {
	var all []result.Plain
	for _, name := range []string{"quotas", "rereading", "predicted_cv", "worth"} {
		file, err := folder.Open(name + ".csv")
		if err != nil {
			return nil, fmt.Errorf("opening a plan: %w", err)
		}
		rows, err := csv.NewReader(file).ReadAll()
		if closed := file.Close(); err == nil {
			err = closed
		}
		if err != nil || len(rows) == 0 {
			return nil, fmt.Errorf("reading %s.csv of a plan: %w", name, cmp.Or(err, fs.ErrInvalid))
		}
		all = append(all, result.Plain{Name: name, Columns: rows[0], Rows: rows[1:]})
	}
	return From(all)
}

// reader collects the rows of the tables; err is the first that went wrong.
type reader struct {
	plan *Plan
	at   map[string]*Species
	err  error
}

// row is a row with its columns.
type row struct {
	columns, cells []string
	of             *reader
}

func (r row) text(column string) string {
	if at := slices.Index(r.columns, column); at >= 0 && at < len(r.cells) {
		return r.cells[at]
	}
	return ""
}

// number is a cell; an empty one is 0.
func (r row) number(column string) float64 {
	text := r.text(column)
	if text == "" {
		return 0
	}
	x, err := strconv.ParseFloat(text, 64)
	if err != nil && r.of.err == nil {
		r.of.err = fmt.Errorf("%s %q is no number", column, text)
	}
	return x
}

func (r row) count(column string) int { return int(r.number(column)) }

func (r *reader) species(code string) *Species {
	if r.at[code] == nil {
		r.at[code] = &Species{Code: code}
		r.plan.Species = append(r.plan.Species, r.at[code])
	}
	return r.at[code]
}

func (r *reader) quota(in row) {
	s := r.species(in.text("species"))
	place := Place{Quarter: in.count("quarter"), Month: in.count("month"), Area: in.text("area"), Gear: in.text("gear")}
	at := slices.IndexFunc(s.Places, func(p Place) bool {
		return p.Quarter == place.Quarter && p.Month == place.Month && p.Area == place.Area && p.Gear == place.Gear
	})
	if at < 0 {
		at, s.Places = len(s.Places), append(s.Places, place)
	}
	if n := in.count("number"); in.text("item") == "trip" {
		s.Places[at].Trips += n
	} else {
		s.Places[at].Stones = append(s.Places[at].Stones, Bin{in.number("length"), n})
	}
}

func (r *reader) reread(in row) {
	s := r.species(in.text("species"))
	s.Reread = append(s.Reread, Fish{in.text("fish"), in.count("readings"), in.text("unresolved") == "true"})
}

func (r *reader) cv(in row) {
	s := r.species(in.text("species"))
	s.CVs = append(s.CVs, CV{in.count("age"), in.number("want_cv"), in.number("today_cv"), in.number("planned_cv")})
}

func (r *reader) worth(in row) {
	s := r.species(in.text("species"))
	if i := slices.Index(kinds, in.text("item")); i >= 0 {
		s.Expected[i].Today += in.count("today")
		s.Expected[i].Planned += in.count("planned")
	}
	s.Worth = append(s.Worth, Worth{in.count("quarter"), in.count("month"), in.text("area"), in.text("gear"), in.text("item"), in.number("length"), in.number("gain_by_cost")})
}

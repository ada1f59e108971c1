package estimate

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"earstone/pages/web/frame"
	"earstone/pages/words"
	"earstone/programme/strata"
	"earstone/store/accounts"
)

// beneath is what lies beneath one number of a catch at age.
type beneath struct {
	Run, Back        string // addresses of the run, and of the run at this place
	Place            place
	Age              string
	Number, Interval string
	Filled           string
	Fish             []fishLine
	MoreFish         int // that are not shown
	AllFish          int // aged fish of the place, of any age
	Trips            []tripLine
	MoreTrips        int
	Written          bool // the run wrote down what lies beneath its numbers
}

// fishLine is an aged fish.
type fishLine struct{ Label, Path, Age, Length, Trip, Where, Rule string }

// tripLine is a sampled trip.
type tripLine struct{ Name, Where, Measured, Aged string }

// mostBeneath is how many fish, and how many trips, one page lists.
const mostBeneath = 500

// Beneath opens a number of the catch at age onto the fish and the trips beneath it.
func (p *Page) Beneath(r *frame.Request) (frame.Answer, error) {
	id := r.PathValue("run")
	folder, err := p.results(r, id)
	if err != nil {
		return frame.Answer{}, err
	}
	at, ok := parsePlace(r.Typed("place"))
	young, bad := strconv.Atoi(r.Typed("age"))
	if !ok || bad != nil {
		return frame.Answer{}, frame.Trouble{Status: http.StatusNotFound, Says: "There is no such number in this run.", Do: "Open the run, and choose one of its ages."}
	}
	plus := r.Typed("plus") == "true"
	v := beneath{Run: "/estimate/" + id, Place: at, Age: strconv.Itoa(young)}
	v.Back = v.Run + "?" + url.Values{"place": {at.Value()}}.Encode()
	if plus {
		v.Age += "+"
	}
	looks, there := r.Who.Roles.Has(seesFish), false
	err = eachRow(folder, "catch_at_age", func(r row) {
		if r.place() == at && r["age"] == strconv.Itoa(young) && r["quantity"] == "number" {
			there = true
			v.Number, v.Interval = r.estimate().texts("number")
			if filled := r.number("filled_share"); filled.Known && filled.X > 0 {
				v.Filled, _ = estimate{value: filled}.texts("share")
			}
		}
	})
	if err != nil {
		return frame.Answer{}, err
	}
	if !there {
		return frame.Answer{}, frame.Trouble{Status: http.StatusNotFound, Says: "There is no such number in this run.", Do: "Open the run, and choose one of its ages."}
	}
	err = eachRow(folder, "beneath_fish", func(r row) {
		if !at.holds(r.place()) {
			return
		}
		v.AllFish++
		if age, err := strconv.Atoi(r["age"]); err == nil && (age == young || plus && age > young) {
			v.Fish = append(v.Fish, fishLine{r["fish"], fishPath(looks, r["fish"]), r["age"],
				strings.TrimSpace(r["length"] + " " + r["length_unit"]), r["trip"], where(r), strings.ReplaceAll(r["rule"], "_", " ")})
		}
	})
	if err != nil {
		return frame.Answer{}, err
	}
	err = eachRow(folder, "beneath_trips", func(r row) {
		v.Written = true
		if at.holds(r.place()) {
			v.Trips = append(v.Trips, tripLine{r["trip"], where(r), words.Figure(r.number("measured").X, 0), words.Figure(r.number("aged").X, 0)})
		}
	})
	slices.SortStableFunc(v.Fish, func(a, b fishLine) int { return strings.Compare(a.Trip+"\x00"+a.Label, b.Trip+"\x00"+b.Label) })
	v.MoreFish, v.Fish = cut(v.Fish)
	v.MoreTrips, v.Trips = cut(v.Trips)
	return beneathPage.Show("Beneath age "+v.Age, v), err
}

// seesFish are the roles that may open the page of a fish.
const seesFish = accounts.Coordinator | accounts.Bench | accounts.Analyst

// fishPath is where a fish stands, for those who may look.
func fishPath(looks bool, label string) string {
	if !looks {
		return ""
	}
	return "/fish?" + url.Values{"label": {label}}.Encode()
}

func cut[T any](all []T) (more int, shown []T) {
	if len(all) <= mostBeneath {
		return 0, all
	}
	return len(all) - mostBeneath, all[:mostBeneath]
}

// where is the cell of a row in short.
func where(r row) string {
	var parts []string
	for _, column := range strata.Columns() {
		text := r[column]
		switch {
		case text == "" || column == "quarter" && r["month"] != "":
		case column == "quarter":
			parts = append(parts, "Q"+text)
		case column == "month":
			parts = append(parts, "month "+text)
		default:
			parts = append(parts, text)
		}
	}
	return strings.Join(parts, " ")
}

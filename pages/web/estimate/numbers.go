package estimate

import (
	"io/fs"
	"math"
	"net/url"
	"strings"

	"earstone/pages/web/frame"
	"earstone/pages/words"
)

// numbers is the catch at age of one place of a run, and the other places.
type numbers struct {
	Run    string
	Place  place
	Field  frame.Field // which place
	Ages   []age
	Unaged string
	Trips  string
	Stones string
	Filled string // how much rests on filled strata, when any does
	Others []quantity
}

// age is one age of a catch at age.
type age struct {
	Name, Path       string
	Number, Interval string
	Share, Length    string
	From, Wide, Dot  float64 // of the interval and the value, in a box 100 wide
	Drawn, Whole     bool    // there is a value; there is an interval
}

// quantity is a headline number beside the catch at age.
type quantity struct{ Name, Value, Interval string }

func placeOf(r *frame.Request) string { return r.Typed("place") }

// readNumbers reads the catch at age of a place; nil when the run has none.
func readNumbers(folder fs.FS, id, asked string) (*numbers, error) {
	all, err := placesOf(folder)
	if err != nil || len(all) == 0 {
		return nil, err
	}
	at := placeIn(all, asked)
	n := &numbers{Run: id, Place: at, Field: frame.Field{Name: "place", Label: "Place", Kind: "select", Span: "wide"}}
	for _, p := range all {
		n.Field.Options = append(n.Field.Options, frame.Option{Value: p.Value(), Text: p.String(), Chosen: p == at})
	}
	byAge := map[string]int{}
	var counts []estimate
	err = eachRow(folder, "catch_at_age", func(r row) {
		if r.place() != at {
			return
		}
		e := r.estimate()
		if r["quantity"] == "unaged_number" {
			if e.value.X >= 0.5 {
				n.Unaged, _ = e.texts("number")
			}
			return
		}
		i, there := byAge[r["age"]]
		if !there {
			i = len(n.Ages)
			byAge[r["age"]] = i
			n.Ages = append(n.Ages, age{Name: ageText(r), Path: beneathPath(id, at, r)})
			counts = append(counts, estimate{})
		}
		a := &n.Ages[i]
		switch r["quantity"] {
		case "number":
			a.Number, a.Interval = e.texts("number")
			counts[i] = e
			n.rests(r)
		case "share":
			a.Share, _ = e.texts("share")
		case "mean_length":
			if e.value.Known {
				a.Length, _ = e.texts("mean_length")
			}
		}
	})
	if err != nil {
		return nil, err
	}
	n.draw(counts)
	n.Others, err = headlines(folder, at.Species)
	return n, err
}

func beneathPath(id string, at place, r row) string {
	return "/estimate/" + id + "/beneath?" + url.Values{"place": {at.Value()}, "age": {r["age"]}, "plus": {r["plus"]}}.Encode()
}

// rests notes what the place rests on, which every row of it says alike.
func (n *numbers) rests(r row) {
	n.Trips, n.Stones = words.Figure(r.number("n_trips").X, 0), words.Figure(r.number("n_stones").X, 0)
	if filled := r.number("filled_share"); filled.Known && filled.X > 0 {
		n.Filled, _ = estimate{value: filled}.texts("share")
	}
}

// draw lays the ages on one scale from nothing to the largest end of an interval.
func (n *numbers) draw(counts []estimate) {
	most := 0.0
	for _, e := range counts {
		most = max(most, e.value.X, e.high.X)
	}
	if most <= 0 {
		return
	}
	for i, e := range counts {
		a := &n.Ages[i]
		a.Drawn, a.Whole = e.value.Known, e.low.Known && e.high.Known
		a.Dot = hundredths(e.value.X / most)
		if a.Whole {
			a.From, a.Wide = hundredths(e.low.X/most), hundredths((e.high.X-e.low.X)/most)
		}
	}
}

// hundredths is a share of the box, in which no eye sees more digits.
func hundredths(share float64) float64 { return math.Round(1e4*share) / 100 }

// headline is a number that stands beside the catch at age: which rows of which table.
type headline struct {
	table, name string
	quantity    string
	is          func(row) bool
}

func always(row) bool { return true }

var headlineRows = []headline{
	{"mortality", "Total mortality Z a year", "z", func(r row) bool { return r["method"] == "chapman_robson" }},
	{"mortality", "Natural mortality M a year", "natural", always},
	{"growth", "Growth", "", func(r row) bool { return r["reported"] == "true" && r["group"] == "all" }},
	{"composition", "Nursery", "", func(r row) bool {
		return r["method"] == "likelihood" || r["method"] == "pooled" && r["quarter"] == "" && r["area"] == "" && r["age"] == ""
	}},
}

// named is a headline's estimate with the name under which two runs are set side by side.
type named struct {
	name, quantity string
	estimate
}

// headlinesOf reads the headline numbers beside the catch at age.
func headlinesOf(folder fs.FS, species string) (all []named, err error) {
	for _, h := range headlineRows {
		err := eachRow(folder, h.table, func(r row) {
			if r["species"] != species || h.quantity != "" && r["quantity"] != h.quantity || !h.is(r) {
				return
			}
			one := named{estimate: r.estimate(), name: h.name}
			switch h.table {
			case "mortality":
				one.name += suffix(", ", r["year"]) + suffix(", ", r["method"])
			case "growth":
				if r["quantity"] == "log_likelihood" || r["quantity"] == "aicc" || r["quantity"] == "n" {
					return
				}
				one.name += suffix(", ", r["model"]) + suffix(": ", r["quantity"])
			case "composition":
				one.name, one.quantity = "Share of "+r["nursery"]+suffix(", ", r["year"])+suffix(", ", r["method"]), "share"
			}
			if one.value.Known {
				all = append(all, one)
			}
		})
		if err != nil {
			return nil, err
		}
	}
	return all, nil
}

func suffix(sign, text string) string {
	if text == "" {
		return ""
	}
	return sign + strings.ReplaceAll(text, "_", " ")
}

func headlines(folder fs.FS, species string) (all []quantity, err error) {
	found, err := headlinesOf(folder, species)
	for _, one := range found {
		value, interval := one.texts(one.quantity)
		all = append(all, quantity{one.name, value, interval})
	}
	return all, err
}

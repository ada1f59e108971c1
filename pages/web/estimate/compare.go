package estimate

import (
	"html/template"
	"io/fs"
	"math"
	"slices"

	"earstone/pages/chart"
	"earstone/pages/web/frame"
	"earstone/pages/words"
	"earstone/store/jobs"
)

// comparison is two runs side by side.
type comparison struct {
	A, B    side
	Choice  [2]frame.Field
	Place   frame.Field // only places that both runs have
	Rows    []pair
	Moved   string // how many numbers moved
	Picture template.HTML
	Alone   string // why there is nothing to set side by side
}

type side struct {
	line
	Path string
}

// pair is one number in both runs. Apart tells that their intervals do not meet.
type pair struct {
	Name                    string
	A, AInterval            string
	B, BInterval            string
	Differs                 string // B less A
	Apart, OnlyOne, Nothing bool
}

// Compare sets the headline numbers of two runs side by side.
func (p *Page) Compare(r *frame.Request) (frame.Answer, error) {
	all, err := p.queue.Jobs(r.Context())
	if err != nil {
		return frame.Answer{}, inWords(err)
	}
	all = slices.DeleteFunc(all, func(j jobs.Job) bool { return j.Kind != Kind || j.State != jobs.Done })
	if len(all) < 2 {
		return frame.Answer{}, frame.Trouble{Status: 404, Says: "There are no two runs to compare.", Do: "Start another on the page Estimate."}
	}
	a, b := r.Typed("a"), r.Typed("b")
	if b == "" {
		b = all[0].ID
	}
	if a == "" {
		a = all[1].ID
	}
	var v comparison
	var folders [2]fs.FS
	for i, id := range []string{a, b} {
		j, err := p.job(r, id)
		if err != nil {
			return frame.Answer{}, err
		}
		if folders[i], err = p.results(r, id); err != nil {
			return frame.Answer{}, err
		}
		one := side{lineOf(j), "/estimate/" + id}
		v.Choice[i] = frame.Field{Name: [2]string{"a", "b"}[i], Label: [2]string{"First run", "Second run"}[i], Kind: "select", Span: "wide"}
		for _, j := range all {
			l := lineOf(j)
			v.Choice[i].Options = append(v.Choice[i].Options, frame.Option{Value: j.ID, Text: l.Settings + " (" + l.When + ")", Chosen: j.ID == id})
		}
		if i == 0 {
			v.A = one
		} else {
			v.B = one
		}
	}
	err = v.fill(folders[0], folders[1], placeOf(r))
	return comparePage.Show("Two runs", v), err
}

// fill reads the numbers of a place that both runs have.
func (v *comparison) fill(a, b fs.FS, asked string) error {
	inA, err := placesOf(a)
	if err != nil {
		return err
	}
	inB, err := placesOf(b)
	if err != nil {
		return err
	}
	both := slices.DeleteFunc(inA, func(p place) bool { return !slices.Contains(inB, p) })
	if len(both) == 0 {
		v.Alone = "The two have no place of a catch at age in common."
		return nil
	}
	at := placeIn(both, asked)
	v.Place = frame.Field{Name: "place", Label: "Place", Kind: "select", Span: "wide"}
	for _, p := range both {
		v.Place.Options = append(v.Place.Options, frame.Option{Value: p.Value(), Text: p.String(), Chosen: p == at})
	}
	first, err := headNumbers(a, at)
	if err != nil {
		return err
	}
	second, err := headNumbers(b, at)
	if err != nil {
		return err
	}
	v.pair(first, second)
	return nil
}

// headNumbers are the numbers at age of a place, and the headlines of its species.
func headNumbers(folder fs.FS, at place) (all []named, err error) {
	err = eachRow(folder, "catch_at_age", func(r row) {
		if r.place() == at && r["quantity"] == "number" {
			all = append(all, named{"Age " + ageText(r), "number", r.estimate()})
		}
	})
	if err != nil {
		return nil, err
	}
	beside, err := headlinesOf(folder, at.Species)
	return append(all, beside...), err
}

// pair sets numbers of the same name side by side, those of the first run in their order,
// then what the second has alone; and draws the numbers at age.
func (v *comparison) pair(first, second []named) {
	picture := chart.Ranges{Frame: chart.Frame{Title: "The numbers at age of two runs", Size: chart.Size{Width: 720}}, Unit: "fish"}
	larger, of := 0, 0
	for _, a := range first {
		at := slices.IndexFunc(second, func(b named) bool { return b.name == a.name })
		if at < 0 {
			v.only(a, named{quantity: a.quantity}, a.name)
			continue
		}
		b := second[at]
		row := v.both(a, b)
		v.Rows = append(v.Rows, row)
		of++
		if math.Abs(b.value.X-a.value.X) >= 0.01*math.Abs(a.value.X) && b.value.X != a.value.X {
			larger++
		}
		if a.quantity == "number" {
			picture.Rows = append(picture.Rows, rangeOf(a, a.name+", first"), rangeOf(b, a.name+", second"))
		}
	}
	for _, b := range second {
		if !slices.ContainsFunc(first, func(a named) bool { return a.name == b.name }) {
			v.only(named{quantity: b.quantity}, b, b.name)
		}
	}
	v.Moved = moved(larger, of)
	if len(picture.Rows) > 0 {
		picture.Alt = "The numbers at age of both runs, each with its interval. " + v.Moved
		v.Picture = template.HTML(picture.Draw()) // drawn by us from numbers; names are escaped by the chart
	}
}

func (v *comparison) only(a, b named, name string) {
	row := pair{Name: name, OnlyOne: true}
	if a.value.Known {
		row.A, row.AInterval = a.texts(a.quantity)
	}
	if b.value.Known {
		row.B, row.BInterval = b.texts(b.quantity)
	}
	v.Rows = append(v.Rows, row)
}

func (v *comparison) both(a, b named) pair {
	row := pair{Name: a.name}
	row.A, row.AInterval = a.texts(a.quantity)
	row.B, row.BInterval = b.texts(b.quantity)
	gap := estimate{value: b.value, se: a.se}
	gap.value.X -= a.value.X
	row.Nothing = gap.value.X == 0
	row.Differs, _ = gap.texts(a.quantity)
	if gap.value.X > 0 {
		row.Differs = "+" + row.Differs
	}
	if a.low.Known && b.low.Known {
		row.Apart = a.high.X < b.low.X || b.high.X < a.low.X
	}
	return row
}

// rangeOf is a number as the picture draws it.
func rangeOf(n named, name string) chart.Range {
	r := chart.Range{Name: name}
	if n.value.Known {
		r.Value = chart.Of(n.value.X)
	}
	if n.low.Known && n.high.Known {
		r.Interval = chart.Between(n.low.X, n.high.X)
	}
	return r
}

// moved says in a sentence how many numbers moved.
func moved(larger, of int) string {
	if larger == 0 {
		return "No number of the second run lies one per cent or more from that of the first."
	}
	return words.Count(larger) + " of " + words.Count(of) + " numbers of the second run lie one per cent or more from those of the first."
}

package settle

import (
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"earstone/pages/web/form"
	"earstone/pages/web/frame"
	"earstone/programme/finding"
	"earstone/programme/record"
	"earstone/reading/age"
	"earstone/store/history"
	"earstone/store/pictures"
)

// fishView is one fish with all its readings, two of them side by side.
type fishView struct {
	Subject, Fish string
	Stands, Rule  string
	Recorded      string
	Readings      []told
	Plate         *plate
	Fields        []frame.Field
	Refused, Kept bool
	Reference     string // a preparation that can go into the reference collection
	InCollection  bool
	Choose        []frame.Field
}

// told is one reading as it is shown.
type told struct {
	Reading, Reader, On, Annuli, Edge, Readability, Suggestions, Remark, Held string
	Blind, Control, Shown                                                     bool
}

// plate is the picture with both sets of marks.
type plate struct {
	Height string
	Tiles  []tile
	Sets   []set
}

type tile struct{ Path, X, Y, Width, Height string }

// drawnWide is the width in which a picture is drawn, whatever its own.
const drawnWide = 1000

type set struct {
	Reader, Class string
	Line          string
	Marks         []markAt
}

type markAt struct{ X, Y, TextY, Number string }

var errNoFish = frame.Trouble{Status: http.StatusNotFound, Says: "There is no such fish.", Do: "Choose one on the page Settle."}

// of finds the fish of an address.
func (s *state) of(r *frame.Request) (int, error) {
	for i := range s.book.Fish {
		if s.programme.Subject(history.Fish, s.book.Fish[i].Row).String() == r.PathValue("fish") {
			return i, nil
		}
	}
	return 0, errNoFish
}

// Fish shows two readings of one fish side by side.
func (p *Page) Fish(r *frame.Request) (frame.Answer, error) {
	s, err := p.read(r.Context())
	if err != nil {
		return frame.Answer{}, err
	}
	i, err := s.of(r)
	if err != nil {
		return frame.Answer{}, err
	}
	v, err := p.fishView(r, &s, i, jointFields(r, nil))
	v.Kept = r.Typed("kept") != ""
	return fishPage.Show("Readings of "+v.Fish, v), err
}

func jointFields(r *frame.Request, wrong map[string][]frame.Problem) []frame.Field {
	edge := frame.Field{Name: "edge", Label: "Edge", Kind: "choice", Span: "wide", Problems: wrong["edge"]}
	for _, e := range record.EdgeWords() {
		if e != "" {
			edge.Options = append(edge.Options, frame.Option{Value: e, Text: strings.ReplaceAll(e, "_", " "), Chosen: e == r.Typed("edge")})
		}
	}
	return []frame.Field{
		{Name: "annuli", Label: "Annuli, complete", Value: r.Typed("annuli"), Number: true, Code: true, Needed: true, Problems: wrong["annuli"]}, edge,
		{Name: "remark", Label: "What decided", Value: r.Typed("remark"), Span: "whole", Problems: wrong["remark"]},
	}
}

func (p *Page) fishView(r *frame.Request, s *state, i int, fields []frame.Field) (fishView, error) {
	fish := &s.book.Fish[i]
	v := fishView{Subject: r.PathValue("fish"), Fish: string(fish.Fish), Stands: stands(&s.results[i]), Rule: ruleSays(s.book.Settings.AgreedAge), Fields: fields}
	if was, there := s.agreed[v.Fish]; there {
		f := was.Fields()
		v.Recorded = fmt.Sprintf("age %s by %s, from %s, on %s", f["age"], f["rule"], strings.ReplaceAll(f["readings"], ";", ", "), f["on"])
	}
	var own []*record.Reading
	for at := range s.book.Readings {
		if s.book.Readings[at].Fish == fish.Fish {
			own = append(own, &s.book.Readings[at])
		}
	}
	slices.SortStableFunc(own, age.InTime)
	a, b := two(own, r.Typed("a"), r.Typed("b"))
	for _, one := range own {
		v.Readings = append(v.Readings, s.tell(one, one == a || one == b))
	}
	v.Choose = choices(own, a, b)
	if a == nil {
		return v, nil
	}
	v.Reference = a.Preparation
	found, err := p.store.Where(r.Context(), history.Query{Kind: history.References, Field: "preparation", Value: a.Preparation, Most: 1})
	if err != nil {
		return v, fmt.Errorf("looking into the reference collection: %w", err)
	}
	v.InCollection = len(found) > 0
	v.Plate, err = p.plate(s, v.Subject, a, b)
	return v, err
}

func (s *state) tell(one *record.Reading, shown bool) told {
	t := told{Reading: one.Reading, Reader: string(one.Reader), On: one.ReadAt.String(), Annuli: "not counted", Edge: strings.ReplaceAll(one.Edge.String(), "_", " "),
		Remark: one.Remark, Held: s.heldBy(one), Blind: one.Blind == record.Yes, Control: one.Control == record.Yes, Shown: shown}
	if one.Annuli >= 0 {
		t.Annuli = strconv.Itoa(one.Annuli)
	}
	if one.Readability > 0 {
		t.Readability = strconv.Itoa(one.Readability)
	}
	if at := slices.Index(s.book.ExtraColumns["readings"], "suggestions"); at >= 0 && at < len(one.Extra) {
		t.Suggestions = one.Extra[at]
	}
	return t
}

// two are the readings to lay side by side: those asked for, else the last of the two readers
// who read last, joint readings after others.
func two(own []*record.Reading, askA, askB string) (a, b *record.Reading) {
	for _, one := range own {
		switch {
		case one.Reading == askA:
			a = one
		case one.Reading == askB:
			b = one
		}
	}
	for _, joint := range []bool{false, true} {
		for _, one := range slices.Backward(own) {
			if (one.Reader == Joint) != joint || one == a || one == b || one.Annuli < 0 {
				continue
			}
			if a == nil {
				a = one
			} else if b == nil && one.Reader != a.Reader {
				b = one
			}
		}
	}
	return a, b
}

func choices(own []*record.Reading, a, b *record.Reading) (fields []frame.Field) {
	for i, chosen := range []*record.Reading{a, b} {
		f := frame.Field{Name: []string{"a", "b"}[i], Label: []string{"One reading", "and another"}[i], Kind: "select", Span: "wide"}
		for _, one := range own {
			f.Options = append(f.Options, frame.Option{Value: one.Reading, Text: fmt.Sprintf("%s, %s", one.Reader, one.ReadAt), Chosen: one == chosen})
		}
		fields = append(fields, f)
	}
	return fields
}

// widest is how many pixels of a picture a page is sent to either side.
const widest = 2048

// plate is the picture on which the first of two readings was made, with the marks of both that
// were made on it; nil when there is no picture.
func (p *Page) plate(s *state, subject string, a, b *record.Reading) (*plate, error) {
	at := slices.IndexFunc(s.book.Images, func(one record.Image) bool { return one.Image == a.Image && a.Image != "" })
	if at < 0 {
		return nil, nil
	}
	hash, err := pictures.ParseHash(s.book.Images[at].SHA256)
	if err != nil {
		return nil, nil // a picture that is named and was never taken in
	}
	about, err := p.pictures.Picture(hash)
	if errors.Is(err, pictures.ErrNotFound) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("reading the picture of a reading: %w", err)
	}
	level := 0
	for w, h := about.Size(level); w > widest || h > widest; w, h = about.Size(level) {
		level++
	}
	wide, high := about.Size(level)
	scale := drawnWide / float64(about.Width)
	out := &plate{Height: number(scale * float64(about.Height))}
	each := scale * float64(int(1)<<level) // drawn for a pixel of the level
	for row := 0; row*pictures.TileSize < high; row++ {
		for col := 0; col*pictures.TileSize < wide; col++ {
			x, y := col*pictures.TileSize, row*pictures.TileSize
			out.Tiles = append(out.Tiles, tile{fmt.Sprintf("/settle/%s/tile/%s/%d/%d/%d", subject, hash, level, col, row), number(each * float64(x)), number(each * float64(y)),
				number(each * float64(min(pictures.TileSize, wide-x))), number(each * float64(min(pictures.TileSize, high-y)))})
		}
	}
	for i, reading := range []*record.Reading{a, b} {
		if reading != nil && reading.Image == a.Image {
			out.Sets = append(out.Sets, s.marks(reading, []string{"first", "second"}[i], scale))
		}
	}
	return out, nil
}

func number(x float64) string { return strconv.FormatFloat(x, 'f', 1, 64) }

// marks are those of a reading; the numbers of the first stand above theirs, of the second
// below.
func (s *state) marks(of *record.Reading, class string, scale float64) set {
	out := set{Reader: string(of.Reader), Class: class}
	aside := map[string]float64{"first": -14, "second": 26}[class]
	var line []string
	n := 0
	for i := range s.book.Marks {
		m := &s.book.Marks[i]
		if m.Reading != of.Reading || !m.XPx.Known || !m.YPx.Known {
			continue
		}
		x, y := scale*m.XPx.X, scale*m.YPx.X
		line = append(line, number(x)+","+number(y))
		if m.Kind == "annulus" {
			n++
			out.Marks = append(out.Marks, markAt{number(x), number(y), number(y + aside), strconv.Itoa(n)})
		}
	}
	out.Line = strings.Join(line, " ")
	return out
}

// Tile is a part of a picture of the fish.
func (p *Page) Tile(r *frame.Request) (frame.Answer, error) {
	missing := frame.Trouble{Status: http.StatusNotFound, Says: "There is no such part of the picture.", Do: "Go back to the fish."}
	hash, err := pictures.ParseHash(r.PathValue("picture"))
	if err != nil {
		return frame.Answer{}, missing
	}
	var at [3]int
	for i, name := range []string{"level", "col", "row"} {
		if at[i], err = strconv.Atoi(r.PathValue(name)); err != nil {
			return frame.Answer{}, missing
		}
	}
	file, err := p.pictures.Tile(hash, at[0], at[1], at[2])
	if errors.Is(err, pictures.ErrNotFound) {
		return frame.Answer{}, missing
	}
	if err != nil {
		return frame.Answer{}, fmt.Errorf("reading a tile: %w", err)
	}
	return frame.Send("image/jpeg", file), nil
}

// Decide keeps a joint reading and records the age that follows from it.
func (p *Page) Decide(r *frame.Request) (frame.Answer, error) {
	p.desk.Labels.RLock() // the fish keeps its label until its joint reading is kept
	defer p.desk.Labels.RUnlock()
	s, err := p.read(r.Context())
	if err != nil {
		return frame.Answer{}, err
	}
	i, err := s.of(r)
	if err != nil {
		return frame.Answer{}, err
	}
	fish := s.book.Fish[i].Fish
	cells := form.Cells{"reading": "J-" + strings.ReplaceAll(history.NewID().String(), "-", "")[16:], "fish": string(fish), "reader": string(Joint), "read_at": p.desk.Today().String(),
		"blind": "false", "annuli": strings.TrimSpace(r.Typed("annuli")), "edge": r.Typed("edge"), "remark": strings.TrimSpace(r.Typed("remark"))}
	for _, one := range slices.Backward(s.book.Readings) {
		if one.Reading == r.Typed("on") && one.Fish == fish {
			cells["side"], cells["preparation"], cells["image"] = one.Side.String(), one.Preparation, one.Image
		}
	}
	_, typed := form.Read[record.Reading](cells)
	wrong := map[string][]frame.Problem{}
	for _, f := range typed.Found {
		if f.Severity == finding.Error {
			wrong[f.Place.Column] = append(wrong[f.Place.Column], frame.ProblemOf(f))
		}
	}
	for column, says := range map[string]string{"annuli": "No count is given.", "edge": "The edge is not told."} {
		if cells[column] == "" {
			wrong[column] = []frame.Problem{{Says: says, Do: "A joint reading is of both.", Grave: true}}
		}
	}
	if len(wrong) > 0 {
		v, err := p.fishView(r, &s, i, jointFields(r, wrong))
		v.Refused = true
		return fishPage.Again("Readings of "+v.Fish, v), err
	}
	err = p.store.Append(r.Context(), &history.Entry{Kind: history.Readings, Fields: typed.Fields, Raw: typed.Raw, Who: r.By(), When: p.now()})
	if err != nil {
		return frame.Answer{}, fmt.Errorf("keeping a joint reading: %w", err)
	}
	return p.record(r)
}

// record records the age of a fish as it now follows from its readings.
func (p *Page) record(r *frame.Request) (frame.Answer, error) {
	s, err := p.read(r.Context())
	if err != nil {
		return frame.Answer{}, err
	}
	i, err := s.of(r)
	if err != nil {
		return frame.Answer{}, err
	}
	if e := p.agreedEntry(&s, i); e != nil {
		e.Who = r.By()
		if err := p.store.Append(r.Context(), e); err != nil {
			return frame.Answer{}, fmt.Errorf("recording an agreed age: %w", err)
		}
	}
	return frame.Next("/settle/" + r.PathValue("fish") + "?kept=yes"), nil
}

// Collect puts a preparation into the reference collection, from which hidden controls are
// taken.
func (p *Page) Collect(r *frame.Request) (frame.Answer, error) {
	name := r.Typed("preparation")
	found, err := p.store.Where(r.Context(), history.Query{Kind: history.Preparations, Field: "preparation", Value: name, Most: 1})
	if err != nil {
		return frame.Answer{}, fmt.Errorf("looking for a preparation: %w", err)
	}
	if len(found) == 0 {
		return frame.Answer{}, frame.Trouble{Status: http.StatusUnprocessableEntity, Says: "There is no such preparation.", Do: "Go back to the fish."}
	}
	err = p.store.Append(r.Context(), &history.Entry{Kind: history.References, Who: r.By(), When: p.now(), Fields: history.Fields{"label": name, "preparation": name, "fish": found[0].Fields()["fish"]}})
	if err != nil && !errors.Is(err, history.ErrTaken) { // it is in the collection already
		return frame.Answer{}, fmt.Errorf("keeping a reference preparation: %w", err)
	}
	return frame.Next("/settle/" + r.PathValue("fish")), nil
}

package read

import (
	"encoding/json"
	"errors"
	"math"
	"slices"

	"earstone/reading/transect"
)

// Work is what a reader has done at a turn: what the browser sends after each step.
type Work struct {
	Axis        []transect.Point `json:"axis,omitempty"` // core, bends, edge
	Closed      bool             `json:"closed,omitempty"`
	Marks       []Mark           `json:"marks,omitempty"`
	Refused     []transect.Point `json:"refused,omitempty"` // offers that were refused
	Annuli      string           `json:"annuli,omitempty"`
	Edge        string           `json:"edge,omitempty"`
	Readability string           `json:"readability,omitempty"`
	Remark      string           `json:"remark,omitempty"`
}

// Mark is one annulus on the axis.
type Mark struct {
	X       float64 `json:"x"`
	Y       float64 `json:"y"`
	Offered bool    `json:"offered,omitempty"` // it was suggested, and taken
}

// The bounds of what a reader can have done at a turn.
const (
	mostNodes = 40
	mostMarks = 100
	mostText  = 2000
)

var errWork = errors.New("this is not what the page of a turn sends")

// saysOtherThan tells whether two counts of one turn differ in what the form asks.
func (w Work) saysOtherThan(other Work) bool {
	return w.Annuli != other.Annuli || w.Edge != other.Edge || w.Readability != other.Readability || w.Remark != other.Remark
}

// parseWork reads what a browser sent; an empty text is no work yet.
func parseWork(text string) (Work, error) {
	var w Work
	if text == "" {
		return w, nil
	}
	if err := json.Unmarshal([]byte(text), &w); err != nil {
		return Work{}, errors.Join(errWork, err)
	}
	far := func(p transect.Point) bool { return !(math.Abs(p.X) < 1e6 && math.Abs(p.Y) < 1e6) }
	at := func(m Mark) transect.Point { return transect.Point{X: m.X, Y: m.Y} }
	if len(w.Axis) > mostNodes || len(w.Marks) > mostMarks || len(w.Refused) > mostMarks ||
		len(w.Annuli)+len(w.Edge)+len(w.Readability)+len(w.Remark) > mostText ||
		slices.ContainsFunc(w.Axis, far) || slices.ContainsFunc(w.Refused, far) ||
		slices.ContainsFunc(w.Marks, func(m Mark) bool { return far(at(m)) }) {
		return Work{}, errWork
	}
	return w, nil
}

package report

import (
	"html/template"
	"math"
	"slices"

	"earstone/estimate/run"
	"earstone/pages/chart"
	"earstone/pages/words"
)

// lengthsAtAnnuli are the lengths that fish had at their annuli, or why there are none.
func (k *told) lengthsAtAnnuli(c *section) {
	b := k.s.Back
	switch {
	case k.s.NoBack != nil:
		says := say("growth.back.none", "why", k.s.NoBack.Error())
		if b != nil {
			says = join(says, leftOut(b))
		}
		c.Says = append(c.Says, says)
	case b != nil && b.Means[b.Chosen].Trouble != nil:
		c.Says = append(c.Says, join(say("growth.back.none", "why", b.Means[b.Chosen].Trouble.Error()), leftOut(b)))
	case b != nil:
		c.Sets = append(c.Sets, set{Figures: []figure{k.tracks(b)}})
	}
}

// leftOut counts the marked fish that take no part.
func leftOut(b *run.BackFound) string {
	says := ""
	if b.Unlike > 0 {
		says = say("growth.back.unlike", "fish", counted("fishAre", b.Unlike))
	}
	if b.Lacking > 0 {
		says = join(says, say("growth.back.lacking", "fish", counted("fishAre", b.Lacking)))
	}
	return says
}

func ruleName(b *run.BackFound, r int) string { return say("growth.back.rule." + b.Rules[r].String()) }

// tracks is the picture of each fish from annulus to annulus, with the means.
func (k *told) tracks(b *run.BackFound) figure {
	says := k.backSays(b)
	m := &b.Means[b.Chosen]
	pic := chart.Tracks{Frame: chart.Frame{Title: say("growth.back.title", "species", string(k.s.Species)), Alt: says, Level: k.levelOr95()}, Unit: k.unit()}
	for i := range b.Fish {
		track := chart.Track{Name: string(b.Fish[i].Fish.Fish)}
		for _, x := range b.Fish[i].Lengths[b.Chosen] {
			track.Lengths = append(track.Lengths, chart.Amount{Value: x, Known: x > 0})
		}
		pic.Fish = append(pic.Fish, track)
	}
	of := &table{Summary: say("growth.back.summary"), Paper: true, File: "lengths_at_annuli.csv", Caption: say("growth.back.caption", "unit", k.unit(), "rule", ruleName(b, b.Chosen), "level", level(k.levelOr95())),
		Head: append(text(say("column.annulus")), figures(say("column.fish"), say("column.mean"), say("column.from"), say("column.to"))...)}
	for r := range b.Rules {
		if r != b.Chosen {
			of.Head = append(of.Head, figures(capital(ruleName(b, r)))...)
		}
	}
	for j, e := range m.Points {
		pic.Means = append(pic.Means, chart.TrackMean{Annulus: j + 1, Length: e.Value.X, Interval: between(e), Fish: e.Stones})
		low, high := measuredEnds(e)
		row := []string{words.Count(j + 1), words.Count(e.Stones), measured(e), low, high}
		for r := range b.Rules {
			if r != b.Chosen {
				row = append(row, meanAt(&b.Means[r], j))
			}
		}
		of.Rows = append(of.Rows, row)
	}
	return k.figure(figure{Title: say("growth.back.head"), Says: says, Picture: template.HTML(pic.Draw()), Table: of})
}

func meanAt(m *run.BackMeans, j int) string {
	if j >= len(m.Points) {
		return none
	}
	return measured(m.Points[j])
}

// backSays tells the length at the first annulus, how far the rules part there, and
// whether fish keep their place.
func (k *told) backSays(b *run.BackFound) string {
	m := &b.Means[b.Chosen]
	first := m.Points[0]
	says := say("growth.back.says", "fish", counted("fish", len(b.Fish)), "length", measured(first), "unit", k.unit(), "within", inBrackets(measuredInterval(first)))
	var others []float64
	for r := range b.Rules {
		if of := b.Means[r].Points; r != b.Chosen && len(of) > 0 {
			others = append(others, of[0].Value.X)
		}
	}
	if len(others) > 0 {
		places := behind(first)
		says = join(says, say("growth.back.rules", "rule", ruleName(b, b.Chosen), "low", words.Figure(slices.Min(others), places), "high", words.Figure(slices.Max(others), places), "unit", k.unit()))
	}
	switch {
	case !(m.WithinSD > 0) || math.IsNaN(m.BetweenSD): // lengths that do not scatter
	case m.BetweenSD > m.WithinSD/2:
		says = join(says, say("growth.back.keep", "between", words.Figure(m.BetweenSD, 1), "within", words.Figure(m.WithinSD, 1), "unit", k.unit()))
	default:
		says = join(says, say("growth.back.loose"))
	}
	return join(says, say("growth.back.picked"), leftOut(b))
}

package report

import (
	"fmt"
	"html/template"

	"earstone/estimate/key"
	"earstone/estimate/run"
	"earstone/pages/chart"
	"earstone/pages/words"
	"earstone/programme/record"
)

// formsSection sets the forms of key side by side, and asks whether one serves all.
func (k *told) formsSection() section {
	if k.s.Key == nil || k.s.Key.Scored == nil && k.s.Key.NoScores == nil && k.s.Key.Areas == nil {
		return section{}
	}
	c := k.section("forms", "Would another key have done better?")
	if k.s.Key.NoScores != nil {
		c.Says = append(c.Says, sentence("The forms of key could not be set side by side: "+reason(k.s.Key.NoScores)))
	}
	if k.s.Key.Scored != nil && len(k.s.Key.Scored.Scores) > 0 {
		c.Sets = []set{{Figures: []figure{k.scores()}}}
	}
	if says := k.massSays(); says != "" {
		c.Says = append(c.Says, says)
	}
	if of := k.areaTable(); of != nil {
		c.Says = append(c.Says, k.areasSay())
		c.Tables = append(c.Tables, *k.table(of))
	}
	return c
}

// scoreName is a form in words.
func scoreName(s key.Score) string {
	switch s.Form {
	case key.Unborrowed:
		return "Direct, nothing borrowed"
	case key.Borrowed:
		return "Direct, borrowing"
	}
	return fmt.Sprintf("Smoothed, %d df, λ %v", s.Smoothing.DF, s.Smoothing.Strata)
}

// chosen tells whether a score is of the form that the run took.
func (k *told) chosen(s key.Score) bool {
	switch k.s.Key.Form {
	case run.AgreedDirect:
		return s.Form == key.Borrowed
	case run.AgreedSmoothed:
		taken := k.s.Key.Smoothing
		return s.Form == key.Smoothed && s.Smoothing.DF == taken.DF && s.Smoothing.Strata == taken.Strata
	}
	return false
}

// scores draws the direct forms, the best smoothed one and the one taken.
func (k *told) scores() figure {
	scored := k.s.Key.Scored
	says := k.scoresSay()
	pic := chart.Scores{Frame: chart.Frame{Title: "Forms of key on fish that they have not seen", Alt: says, Level: 0.95}, Unit: "log score per fish, against the best"}
	of := &table{Summary: "All forms that were tried", Caption: fmt.Sprintf("Mean log score per fish of %s held out in %d folds of whole trips; an age given less than %s scores as that.",
		plural(int(scored.Fish+0.5), "fish", "fish"), scored.Folds, words.Figure(scored.Floor, 3)),
		Head: append(text("Form"), figures("Log score", "Behind the best", "SE of that", "Fish at the floor")...)}
	smoothed := false
	for _, i := range order(scored.Scores) {
		s := scored.Scores[i]
		of.Rows = append(of.Rows, []string{scoreName(s), words.Figure(s.LogScore, 3), words.Figure(s.Behind, 3), rounded(record.Some(s.BehindSE), 3), count(s.Floored)})
		if s.Form == key.Smoothed && smoothed && !k.chosen(s) {
			continue
		}
		smoothed = smoothed || s.Form == key.Smoothed
		pic.Rows = append(pic.Rows, chart.Score{Name: scoreName(s), Score: chart.Of(-s.Behind), Chosen: k.chosen(s),
			Interval: chart.Between(-s.Behind-1.96*s.BehindSE, -s.Behind+1.96*s.BehindSE)})
	}
	return k.figure(figure{Title: "Forms of key, scored on fish that they have not seen.", Says: says, Picture: template.HTML(pic.Draw()), Table: of})
}

// order are the scores from the best down.
func order(scores []key.Score) []int {
	at := make([]int, len(scores))
	for i := range at {
		at[i] = i
		for j := i; j > 0 && scores[at[j]].LogScore > scores[at[j-1]].LogScore; j-- {
			at[j], at[j-1] = at[j-1], at[j]
		}
	}
	return at
}

func (k *told) scoresSay() string {
	scored := k.s.Key.Scored
	best := scored.Scores[scored.Best]
	opening := fmt.Sprintf("The best at foretelling the ages of trips that it had not seen is: %s.", lower(scoreName(best)))
	for _, s := range scored.Scores {
		if !k.chosen(s) {
			continue
		}
		switch {
		case s.Behind == 0:
			return fmt.Sprintf("The form taken, %s, is the best at foretelling the ages of trips that it had not seen.", lower(scoreName(s)))
		case s.Behind < 1.96*s.BehindSE:
			return opening + fmt.Sprintf(" The form taken, %s, lies %s behind, which chance alone may explain.", lower(scoreName(s)), words.Figure(s.Behind, 3))
		default:
			return opening + fmt.Sprintf(" The form taken, %s, lies %s behind, more than chance explains: consider the other.", lower(scoreName(s)), words.Figure(s.Behind, 3))
		}
	}
	return opening + " The form taken is of true ages, which has no score beside these."
}

func (k *told) areasSay() string {
	var differ, same []string
	for _, a := range k.s.Key.Areas {
		if a.Differs {
			differ = append(differ, a.Column.String()+"s")
		} else {
			same = append(same, a.Column.String()+"s")
		}
	}
	switch {
	case len(differ) == 0:
		return sentence("One key serves all " + list(same) + ": no difference of age at a length shows between them")
	case len(same) == 0:
		return sentence("Age at a length differs between " + list(differ) + ", and one key serves them all")
	}
	return sentence("Age at a length differs between " + list(differ) + ", though not visibly between " + list(same))
}

func (k *told) areaTable() *table {
	if len(k.s.Key.Areas) == 0 {
		return nil
	}
	of := &table{Summary: "Does one key serve all?", Paper: true,
		Caption: "Likelihood-ratio test of what the key pools, within its own strata; χ² is of the ages with ten fish and ten older ones for each effect, p by trip: χ² is divided by how alike the fish of a trip are. And the largest change of a share of the catch were each its own key.",
		Head:    append(text("Pooled over"), figures("Values", "Aged fish", "χ²", "df", "Alike", "p", "Shift, points")...)}
	for _, a := range k.s.Key.Areas {
		of.Rows = append(of.Rows, []string{a.Column.String(), words.Count(a.Values), count(a.Fish), rounded(record.Some(a.Filled), 1),
			words.Count(a.FilledDegrees), rounded(record.Some(a.Alike), 1), p(record.Some(a.ByTrip)), rounded(asPercent(a.Shift), 2)})
	}
	return of
}

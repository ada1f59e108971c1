package report

import (
	"fmt"
	"html/template"

	"earstone/pages/chart"
	"earstone/pages/words"
	"earstone/programme/date"
	"earstone/programme/record"
	"earstone/reading/agreement"
)

// edges are the shares of the edge classes by month beside the annulus day.
func (k *told) edges() section {
	if k.s.Agreement == nil || len(k.s.Ages) == 0 {
		return section{}
	}
	c := k.section("edges", "Edges through the year")
	if len(k.s.Agreement.Edges) == 0 {
		c.Says = []string{"No reading tells the edge of a fish with a month of capture, so that nothing can be held against the declared annulus day."}
		return c
	}
	day := k.o.Settings.Calendars[k.s.Species].AnnulusDay
	says := k.edgesSay(day)
	pic := chart.Edges{Frame: chart.Frame{Title: fmt.Sprintf("Edges of %s by month", k.s.Species), Alt: says, Level: 0.95}, Classes: []string{"Narrow", "Partial", "Wide"}}
	if day.Known() {
		on := day.In(2031)
		pic.AnnulusDay = chart.MonthDay{Month: on.Month(), Day: on.DayOfMonth()}
	}
	of := &table{Summary: "Edges month by month", Caption: "Share of each edge class in a month, with its interval of 95 %.",
		Head: append(text("Month", "Edge"), figures("Fish", "Of", "Share", "From", "To")...)}
	for _, e := range k.s.Agreement.Edges {
		n := len(pic.Months)
		if n == 0 || pic.Months[n-1].Month != e.Month {
			pic.Months = append(pic.Months, chart.EdgeMonth{Month: e.Month, Fish: e.Of})
			n++
		}
		pic.Months[n-1].Shares = append(pic.Months[n-1].Shares, chart.EdgeShare{Share: e.Share, Interval: chart.Between(e.Low, e.High)})
		of.Rows = append(of.Rows, []string{month(e.Month), e.Edge.String(), words.Count(e.N), words.Count(e.Of), percent(e.Share), percent(e.Low), percent(e.High)})
	}
	c.Sets = []set{{Figures: []figure{k.figure(figure{Title: "Edges by month.", Says: says, Picture: template.HTML(pic.Draw()), Table: of})}}}
	return c
}

func (k *told) edgesSay(day date.Anniversary) string {
	var most agreement.EdgeShare
	for _, e := range k.s.Agreement.Edges {
		if e.Edge == record.Narrow && e.Share > most.Share {
			most = e
		}
	}
	says := "No narrow edge was seen in any month."
	if most.Of > 0 {
		says = fmt.Sprintf("Narrow edges are commonest in %s: %s of %s.", month(most.Month), percent(most.Share), plural(most.Of, "fish", "fish"))
	}
	switch {
	case !day.Known():
		return join(says, "The programme declares no annulus day.")
	case k.s.Agreement.Calendar.Given:
		return join(says, fmt.Sprintf("That does not suit the declared annulus day, %s.", dayOf(day)))
	}
	return join(says, fmt.Sprintf("Nothing speaks against the declared annulus day, %s.", dayOf(day)))
}

// month is the name of a month.
func month(m int) string {
	if m < 1 || m > len(words.English.Months) {
		return "an unknown month"
	}
	return words.English.Months[m-1]
}

// dayOf is a day of any year: 1 December.
func dayOf(a date.Anniversary) string {
	if !a.Known() {
		return "unknown"
	}
	on := a.In(2031)
	return fmt.Sprintf("%d %s", on.DayOfMonth(), month(on.Month()))
}

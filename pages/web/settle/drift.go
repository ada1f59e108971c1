package settle

import (
	"fmt"
	"strings"

	"earstone/pages/words"
	"earstone/programme/record"
	"earstone/reading/agreement"
)

// drift is one reader through time, as it is drawn.
type drift struct {
	Reader, Says, Held string // Held: the day of a breach that nobody has resolved
	Drawn              bool
	Line               string // running mean difference
	Centre, Low, High  string // heights in the picture
	Breaches           []spot
	Top, Bottom        string // rings
}

type spot struct{ X, Y string }

// The size of a drift picture.
const driftWide, driftHigh, driftEdge = 640.0, 150.0, 12.0

func (s *state) drifts(report agreement.Report) (all []drift) {
	for _, d := range report.Drift {
		one := drift{Reader: string(d.Reader)}
		if on, held := s.held[d.Reader]; held {
			one.Held = words.English.Date(on)
		}
		if n := len(d.Points); n > 0 {
			last := d.Points[n-1]
			one.Says = fmt.Sprintf("%s control readings; the last ten lie %s rings from the reader's own first counts, within %s to %s when steady; their CV is %s %%, at most %s when steady.",
				words.Count(d.Controls), words.Figure(last.Mean, 2), words.Figure(d.Difference.Low, 2), words.Figure(d.Difference.High, 2),
				words.Figure(last.CV, 1), words.Figure(d.CV.High, 1))
			one.draw(d)
		} else {
			one.Says = fmt.Sprintf("%s of the %d control readings that it takes to tell.", words.Count(d.Controls), agreement.ReferencePeriod+agreement.RunningOver)
		}
		all = append(all, one)
	}
	return all
}

func (one *drift) draw(d agreement.Drift) {
	low, high := d.Difference.Low, d.Difference.High
	for _, p := range d.Points {
		low, high = min(low, p.Mean), max(high, p.Mean)
	}
	y := func(v float64) string {
		return fmt.Sprintf("%.1f", driftEdge+(high-v)/max(high-low, 1e-9)*(driftHigh-2*driftEdge))
	}
	x := func(i int) string {
		return fmt.Sprintf("%.1f", driftEdge+float64(i)/float64(max(len(d.Points)-1, 1))*(driftWide-2*driftEdge))
	}
	var line strings.Builder
	for i, p := range d.Points {
		fmt.Fprintf(&line, "%s,%s ", x(i), y(p.Mean))
		if p.Breach {
			one.Breaches = append(one.Breaches, spot{x(i), y(p.Mean)})
		}
	}
	one.Drawn, one.Line = true, strings.TrimSpace(line.String())
	one.Centre, one.Low, one.High = y(d.Difference.Centre), y(d.Difference.Low), y(d.Difference.High)
	one.Top, one.Bottom = words.Figure(high, 2), words.Figure(low, 2)
}

// heldBy tells why a reading settles no age, empty when it does.
func (s *state) heldBy(r *record.Reading) string {
	if s.unqualified(*r) {
		return "made while its reader drifted: does not settle"
	}
	return ""
}

package run

import (
	"strconv"

	"earstone/estimate/growth"
	"earstone/programme/record"
	"earstone/programme/result"
)

// annuliTable is the mean length at each annulus by each rule, with the lines that the
// rules rest on.
func (o *Outcome) annuliTable() result.Table {
	t := result.Table{Name: "lengths_at_annuli", ID: []string{"species", "rule", "annulus", "quantity"}, Further: []string{"reported", "interval"}}
	for _, s := range o.Species {
		if s.Back == nil || s.NoBack != nil {
			continue
		}
		b := s.Back
		add := func(rule, annulus, quantity string, e Estimate, fish int) {
			reported := ""
			if rule == b.Rules[b.Chosen].String() {
				reported = "true"
			}
			e.ID, e.Stones, e.Further = []string{string(s.Species), rule, annulus, quantity}, fish, []string{reported, e.Method}
			t.Estimate = append(t.Estimate, e.Estimate)
		}
		plain := func(x float64) Estimate { return Estimate{Estimate: result.Estimate{Value: record.Some(x)}} }
		for _, line := range []struct {
			name string
			x    float64
		}{{"length_intercept", b.Relation.Intercept}, {"length_slope", b.Relation.Slope}, {"radius_intercept", b.Relation.RadiusIntercept}, {"radius_slope", b.Relation.RadiusSlope}} {
			add("", "", line.name, plain(line.x), len(b.Fish))
		}
		for r, rule := range b.Rules {
			m := &b.Means[r]
			if m.Trouble != nil {
				continue
			}
			for j, e := range m.Points {
				add(rule.String(), strconv.Itoa(j+1), "mean", e, m.Annuli[j].Fish)
				add(rule.String(), strconv.Itoa(j+1), "plain_mean", plain(m.Annuli[j].Plain), m.Annuli[j].Fish)
			}
			if m.WithinSD > 0 {
				add(rule.String(), "", "between_sd", plain(m.BetweenSD), len(b.Fish))
				add(rule.String(), "", "within_sd", plain(m.WithinSD), len(b.Fish))
			}
		}
	}
	return t
}

// backPlain is every fish at each of its annuli.
func (o *Outcome) backPlain() result.Plain {
	p := result.Plain{Name: "back_calculated", Columns: []string{"fish", "species", "reading", "annulus", "radius_um", "edge_um", "length"}}
	for _, rule := range growth.Rules() {
		if rule != growth.BiologicalIntercept {
			p.Columns = append(p.Columns, rule.String())
		}
	}
	for _, s := range o.Species {
		if s.Back == nil || s.NoBack != nil {
			continue
		}
		for i := range s.Back.Fish {
			f := &s.Back.Fish[i]
			for j, radius := range f.RadiiUm {
				row := []string{string(f.Fish.Fish), string(s.Species), f.Reading, strconv.Itoa(j + 1), some(radius), some(f.EdgeUm), some(f.Length)}
				for _, rule := range growth.Rules() {
					for r, of := range s.Back.Rules {
						if of == rule && f.Lengths[r][j] > 0 {
							row = append(row, some(f.Lengths[r][j]))
						} else if of == rule {
							row = append(row, "")
						}
					}
				}
				p.Rows = append(p.Rows, row)
			}
		}
	}
	return p
}

func some(x float64) string { return number(record.Some(x)) }

package run

import (
	"strconv"

	"earstone/plan/budget"
	"earstone/programme/result"
)

// budgetTable has the share of each source in the variance of each quantity.
func (o *Outcome) budgetTable() result.Table {
	t := result.Table{Name: "budget", ID: []string{"species", "year", "quantity", "age", "nursery", "source", "share"}}
	for _, s := range o.Species {
		if s.Budget == nil {
			continue
		}
		for _, q := range s.Budget.Quantities {
			year, age := "", ""
			if q.Year != 0 {
				year = strconv.Itoa(q.Year)
			}
			if q.Age >= 0 {
				age = strconv.Itoa(q.Age)
			}
			for _, share := range q.Shares {
				add := func(kind string, n budget.Number) {
					e := result.Estimate{ID: []string{string(s.Species), year, q.Quantity, age, q.Nursery, share.Source.String(), kind}}
					e.Value, e.SE = known(n)
					t.Estimate = append(t.Estimate, e)
				}
				add("first_order", share.First)
				add("total", share.Total)
			}
		}
	}
	return t
}

package chart

import (
	"fmt"
	"math"
)

func budgetSample() Budget {
	p := Budget{Frame: Frame{Title: "Whose variance it is", Alt: "Which trips were sampled is the largest source of every quantity but the oldest age."}, Together: "together"}
	for i, name := range []string{"catch in fish, 2031", "mean length, 2031", "fish of age 3, 2031", "fish of age 9, 2031", "share of Upper"} {
		b := BudgetBar{Name: name, Note: fmt.Sprintf("CV %d%s%%", 6+4*i, thin)}
		shares := [][]float64{{0.61, 0.02, 0.004, 0.04, 0, 0.27, 0.03}, {0.72, 0.11, 0.03, 0.09, -0.01, 0.01, 0.02}, {0.44, 0.21, 0.17, 0.03, 0, 0.06, 0.02},
			{0.18, 0.29, 0.44, 0.07, 0, 0.02, 0.05}, {0.33, 0.24, 0, 0, 0.41, 0, 0.04}}[i]
		for j, source := range []string{"trips", "stones", "readers", "conversion", "baseline", "catch totals", "lengths"} {
			b.Parts = append(b.Parts, BudgetPart{source, j, shares[j], 0.01 + 0.06*shares[j]*shares[j]})
		}
		p.Bars = append(p.Bars, b)
	}
	return p
}

func byAgeSample() ByAge {
	p := ByAge{Frame: Frame{Level: 0.95, Title: "Fish in the sea and fishing mortality", Alt: "Fishing mortality is highest at age 6."}, Standing: "not an assessment", Panels: []AgePanel{{Name: "Fish in the sea", Unit: "fish"}, {Name: "Fishing mortality", Unit: "a year"}}}
	for age := 2; age <= 12; age++ {
		n, f := 52000*math.Exp(-0.32*float64(age)), 0.28*bell(float64(age), 6, 3)
		p.Ages = append(p.Ages, age)
		p.Panels[0].Values, p.Panels[0].Intervals = append(p.Panels[0].Values, Of(n)), append(p.Panels[0].Intervals, Between(0.8*n, 1.25*n))
		interval := Between(0.7*f, 1.4*f)
		if age == 12 {
			interval = Interval{}
		}
		p.Panels[1].Values, p.Panels[1].Intervals = append(p.Panels[1].Values, Of(f)), append(p.Panels[1].Intervals, interval)
	}
	p.Panels[0].Values[1] = Amount{}
	return p
}

func recruitSample(spawning bool) PerRecruit {
	p := PerRecruit{Frame: Frame{Level: 0.95, Title: "Yield a recruit", Alt: "The yield of a recruit is largest at a fishing mortality of 0.37."}, YieldUnit: "kg", Standing: "not an assessment",
		Marks: []RecruitMark{{"F as estimated", 0.24, Between(0.17, 0.33)}, {"F0.1", 0.21, Between(0.2, 0.23)}, {"Fmax", 0.37, Between(0.33, 0.5)}, {"F40 %", 0.16, Interval{}}}}
	for i := range 60 {
		f := 0.6 * float64(i) / 59
		d := RecruitPoint{F: f, Yield: 260 * f / (f + 0.12) * math.Exp(-0.9*f)}
		if spawning {
			d.Spawning = Of(math.Exp(-5.5 * f))
		}
		p.Curve = append(p.Curve, d)
	}
	return p
}

func aheadSample() Ahead {
	p := Ahead{Frame: Frame{Level: 0.95, Title: "The next three years", Alt: "Twice as many ear stones narrow the interval of the yield by an eighth."}, Less: "half", Today: "today", More: "twice",
		Sampling: "ear stones aged", Years: []string{"2032", "2033", "2034"}, Standing: "not an assessment"}
	for k, name := range []string{"Yield at F as estimated", "Spawners at F as estimated"} {
		s := AheadPanel{Name: name, Unit: "t"}
		for y := range 3 {
			x := 820*float64(k+1) - 60*float64(y)
			d := AheadPoint{Of(x), Between(0.7*x, 1.5*x), Between(0.78*x, 1.34*x), Between(0.83*x, 1.24*x)}
			if k == 1 && y == 2 {
				d.More = Interval{}
			}
			s.Points = append(s.Points, d)
		}
		p.Panels = append(p.Panels, s)
	}
	return p
}

func promisedSample() Promised {
	p := Promised{Frame: Frame{Title: "What the plan promises", Alt: "The CV of age 9 falls from 31 to 22 %."}}
	for age := 2; age <= 9; age++ {
		today := 0.08 + 0.003*float64(age*age)
		p.Rows = append(p.Rows, Promise{fmt.Sprintf("age %d", age), Of(today), Of(today * (1.05 - 0.04*float64(age))), Of(0.15)})
	}
	p.Rows[0].Wanted, p.Rows[1].Today = Amount{}, Amount{}
	return p
}

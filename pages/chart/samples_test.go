package chart

import "math"

// picture is what every struct of the package is.
type picture interface{ Draw() SVG }

// sample is one picture of the invented programme, kept under testdata.
type sample struct {
	name string
	picture
}

func samples() []sample {
	return []sample{
		{"catch-at-age", catchSample()},
		{"catch-at-age-plain", catchPlain()},
		{"key-surface", keySample(false)},
		{"key-stacked", keySample(true)},
		{"lengths", lengthSample()},
		{"age-bias", biasSample()},
		{"differences", differenceSample()},
		{"marks", marksSample()},
		{"edges", edgeSample()},
		{"cohorts", cohortSample(2014, 2023)},
		{"cohorts-one-year", cohortSample(2023, 2023)},
		{"error-curve", errorSample()},
		{"scores", scoreSample()},
		{"two-errors", twoErrorSample()},
		{"basis", basisSample()},
		{"growth", growthSample(200)},
		{"growth-few", growthSample(12)},
		{"growth-groups", groupSample()},
		{"residuals", residualSample()},
		{"profile", profileSample(false)},
		{"profile-open", profileSample(true)},
		{"draws", drawsSample()},
		{"tracks", trackSample()},
		{"tracers", tracerSample(260)},
		{"tracers-many", tracerSample(3000)},
		{"posteriors", posteriorSample(700, 2)},
		{"posteriors-three", posteriorSample(120, 3)},
		{"compositions", compositionSample()},
		{"catch-by-nursery", nurserySample(false)},
		{"shares-by-nursery", nurserySample(true)},
		{"series", seriesSample()},
		{"changes", changeSample()},
		{"ranges", rangeSample()},
		{"catch-curve", catchCurveSample()},
		{"budget", budgetSample()},
		{"by-age", byAgeSample()},
		{"per-recruit", recruitSample(true)},
		{"per-recruit-yield", recruitSample(false)},
		{"ahead", aheadSample()},
		{"promised", promisedSample()},
		{"area-map", mapSample(-31)},
		{"area-map-line", mapSample(177.5)},
	}
}

// bell is a hump of height 1 at centre.
func bell(x, centre, width float64) float64 {
	z := (x - centre) / width
	return math.Exp(-z * z / 2)
}

func catchSample() CatchAtAge {
	p := CatchAtAge{Frame: Frame{Level: 0.95, Title: "Catch at age, Quarrow Bank 2023", Alt: "Ages 4 and 5 make up almost half of the catch."}, Plus: true, Unit: "fish"}
	for age := 1; age <= 12; age++ {
		n := math.Round(14000*bell(float64(age), 4.4, 1.6) + 2600*bell(float64(age), 9, 1.2) + 350)
		half := 0.09*n + 260
		b := CatchBar{Age: age, Number: n, Interval: Between(max(0, n-half), n+1.2*half), Truth: Of(n + half*math.Sin(float64(age)*2.1)*0.8)}
		if age >= 3 && age <= 8 {
			b.Filled = math.Round(n * 0.18)
		}
		if age == 11 {
			b.Interval = Interval{}
		}
		p.Ages = append(p.Ages, b)
	}
	return p
}

func catchPlain() CatchAtAge {
	p := catchSample()
	p.Title, p.Plus, p.Unit = "Catch at age, Skell Bank 2023", false, "thousand fish"
	for i := range p.Ages {
		b := &p.Ages[i]
		b.Number, b.Filled, b.Truth = b.Number/1000, 0, Amount{}
		b.Interval = Between(b.Number*0.8, b.Number*1.25)
	}
	return p
}

func keySample(stacked bool) KeySurface {
	p := KeySurface{Frame: Frame{Title: "Age–length key", Alt: "Age rises from 2 at 60 cm to 9 and older at 150 cm."}, Ages: []int{1, 2, 3, 4, 5, 6, 7, 8}, Plus: true, Unit: "cm", Stacked: stacked}
	for s, name := range []string{"Quarrow Bank, quarters 1 and 2", "Skell Bank, quarters 3 and 4"} {
		panel := KeyPanel{Name: name}
		for from := 40.0; from < 160; from += 5 {
			b := KeyBin{From: from, To: from + 5, Fish: int(30*bell(from, 95, 25)) + 2}
			total := 0.0
			for _, a := range p.Ages {
				mean := 175*(1-math.Exp(-0.19*(float64(a)+0.6))) - 5*float64(s)
				f := math.Exp(-0.22*float64(a)) * bell(from+2.5, mean, 4+0.6*float64(a))
				b.Shares = append(b.Shares, f)
				total += f
			}
			for i := range b.Shares {
				b.Shares[i] /= total
			}
			if s == 1 && (from == 75 || from == 80 || from >= 145) {
				b.Basis = Borrowed
			}
			if s == 1 && from < 50 {
				b.Basis, b.Fish = Unaged, 0
			}
			panel.Bins = append(panel.Bins, b)
		}
		p.Panels = append(p.Panels, panel)
	}
	return p
}

func lengthSample() Lengths {
	p := Lengths{Frame: Frame{Title: "Lengths and stones", Alt: "Most fish are 80 to 110 cm; large fish are aged more often than their number asks."}, Unit: "cm"}
	for s, name := range []string{"Quarrow Bank", "Dunmarrow Bank"} {
		panel := LengthPanel{Name: name}
		for from := 40.0; from < 160; from += 5 {
			n := math.Round(820*bell(from, 88+14*float64(s), 11) + 330*bell(from, 125, 10))
			panel.Bins = append(panel.Bins, LengthBin{from, from + 5, n, int(math.Min(15+4*math.Sin(from), n/8))})
		}
		p.Panels = append(p.Panels, panel)
	}
	return p
}

func biasSample() AgeBias {
	p := AgeBias{Frame: Frame{Level: 0.95, Title: "Reader Vane against reader Orme", Alt: "Orme reads old fish about one year younger than Vane."}, ReaderA: "Vane", ReaderB: "Orme"}
	for age := 1; age <= 14; age++ {
		fish := int(60*bell(float64(age), 5, 3)) + 1
		mean := float64(age) - 0.006*float64(age*age)
		b := BiasPoint{Age: age, Mean: mean, Fish: fish}
		if fish > 1 {
			half := (0.3 + 0.06*float64(age)) * 2 / math.Sqrt(float64(fish)/3)
			b.Interval = Between(mean-half, mean+half)
		}
		p.Points = append(p.Points, b)
	}
	p.Points[13].Fish, p.Points[13].Interval = 1, Interval{}
	return p
}

func differenceSample() Differences {
	p := Differences{Frame: Frame{Title: "Differences between readers", Alt: "Seven in ten pairs agree."}, ReaderA: "Vane", ReaderB: "Orme"}
	for age := 1; age <= 14; age++ {
		for d := -3; d <= 2; d++ {
			n := int(62 * bell(float64(age), 5, 3) * bell(float64(d)+0.03*float64(age), 0, 0.3+0.07*float64(age)))
			p.Points = append(p.Points, DifferencePoint{age, d, n})
		}
	}
	return p
}

func marksSample() Marks {
	p := Marks{Frame: Frame{Title: "Age by age", Alt: "Most fish lie on the diagonal."}, ReaderA: "Vane", ReaderB: "Orme"}
	for _, d := range differenceSample().Points {
		p.Cells = append(p.Cells, Cell{d.Age, max(d.Age+d.Difference, 0), d.Fish})
	}
	return p
}

func edgeSample() Edges {
	p := Edges{Frame: Frame{Level: 0.95, Title: "Edges by month", Alt: "Narrow edges appear in June and July."}, Classes: []string{"Narrow", "Medium", "Wide"}, AnnulusDay: MonthDay{6, 1}}
	for m := 1; m <= 12; m++ {
		if m == 2 {
			continue
		}
		since := math.Mod(float64(m)+6.5, 12)
		f := []float64{bell(since, 1.2, 1.7) + 0.02, bell(since, 5.5, 2.2) + 0.03, bell(since, 10.2, 2.2) + 0.04}
		total := f[0] + f[1] + f[2]
		month := EdgeMonth{Month: m, Fish: 20 + 9*m%37}
		for _, x := range f {
			share := x / total
			half := 1.96 * math.Sqrt((share*(1-share)+0.01)/float64(month.Fish))
			month.Shares = append(month.Shares, EdgeShare{share, Between(max(0, share-half), min(1, share+half))})
		}
		p.Months = append(p.Months, month)
	}
	return p
}

func cohortSample(from, to int) Cohorts {
	p := Cohorts{Frame: Frame{Title: "Cohorts", Alt: "The fish born in 2012 lead the catch for six years."}, Plus: 12, Unit: "fish"}
	strong := map[int]float64{2012: 3.2, 2016: 2.1, 2009: 1.6, 2018: 2.8}
	for year := from; year <= to; year++ {
		for age := 1; age <= 12; age++ {
			n := 9000 * bell(float64(age), 4.6, 2.2)
			if s, ok := strong[year-age]; ok {
				n *= s
			}
			p.Marks = append(p.Marks, CohortMark{year, age, math.Round(n + 150)})
		}
	}
	return p
}

func errorSample() ErrorCurve {
	p := ErrorCurve{Frame: Frame{Level: 0.95, Title: "Error of each reader", Alt: "Orme spreads wider than Vane and reads old fish too young."}}
	for k, name := range []string{"Vane", "Orme", "Tarn"} {
		r := ReaderError{Name: name, Unbiased: k == 0}
		for age := 1.0; age <= 14; age++ {
			sd := (0.25 + 0.05*float64(k)) + (0.05+0.025*float64(k))*age
			b := ErrorPoint{Age: age, SD: sd, SDInterval: Between(sd*0.8, sd*1.25), Bias: Amount{}}
			if k == 1 {
				bias := -0.006 * age * age
				b.Bias, b.BiasInterval = Of(bias), Between(bias-0.04*age, bias+0.04*age)
			}
			if k == 2 {
				b.Bias = Of(0.03 * age)
				if age > 11 {
					b.SDInterval = Interval{}
				}
			}
			r.Points = append(r.Points, b)
		}
		p.Readers = append(p.Readers, r)
	}
	return p
}

func scoreSample() Scores {
	return Scores{Frame: Frame{Level: 0.95, Title: "Which key predicts best", Alt: "The smoothed key with area predicts ages best."}, Unit: "log score per fish", Rows: []Score{
		{"Direct key, borrowed along the ladder", Of(-1.612), Between(-1.66, -1.565), false},
		{"Smoothed, one curve for all", Of(-1.548), Between(-1.59, -1.505), false},
		{"Smoothed, with area", Of(-1.492), Between(-1.53, -1.455), true},
		{"Smoothed, with area and quarter", Of(-1.499), Between(-1.545, -1.455), false},
		{"Iterated", Of(-1.57), Interval{}, false},
	}}
}

func twoErrorSample() TwoErrors {
	p := TwoErrors{Frame: Frame{Title: "Two standard errors", Alt: "The formula and resampling agree but for ages 9 and 12+."}, Plus: true, Unit: "fish"}
	for age := 1; age <= 12; age++ {
		s := 90 + 700*bell(float64(age), 4.4, 2)
		over := 1 + 0.1*math.Sin(float64(age))
		if age == 9 {
			over = 1.34
		}
		if age == 12 {
			over = 0.7
		}
		p.Ages = append(p.Ages, TwoError{age, Of(s * over), Of(s)})
	}
	p.Ages[1].Analytic = Amount{}
	return p
}

func basisSample() Basis {
	return Basis{Frame: Frame{Title: "What it rests on", Alt: "71 % of the catch was sampled."}, Parts: []Part{
		{"sampled", 0.712, Sampled}, {"key borrowed", 0.154, Lent}, {"strata filled", 0.11, Filled}, {"left unaged", 0.024, NotAged},
	}}
}

package chart

import "math"

// growthAt is the curve of the invented tuna in cm.
func growthAt(age float64) float64 { return 245 * (1 - math.Exp(-0.13*(age+0.9))) }

// spots are invented fish around the curve, n of each of 14 ages.
func spots(n int, residual bool) (fish []Spot) {
	for age := 1; age <= 14; age++ {
		of := int(float64(n) * (0.15 + bell(float64(age), 4.5, 3)))
		for i := range of {
			decimal := float64(age) + math.Mod(float64(i)*0.6180339887, 1)
			off := 0.0
			for k := 1; k <= 4; k++ {
				off += math.Sin(float64(i*k)*12.9898+float64(age*k)) * 0.7
			}
			off *= 0.045 * growthAt(decimal)
			if residual {
				fish = append(fish, Spot{decimal, off, 1})
			} else {
				fish = append(fish, Spot{decimal, growthAt(decimal) + off, 1})
			}
		}
	}
	return fish
}

func growthSample(n int) Growth {
	p := Growth{Frame: Frame{Level: 0.95, Title: "Length at age", Alt: "Fish reach half of their largest length at 4 years."}, Unit: "cm", Fish: spots(n, false), Asymptote: Of(245)}
	for age := 1.0; age <= 15; age += 0.4 {
		half := 1.4 + 0.09*(age-5)*(age-5)
		p.Curve = append(p.Curve, CurvePoint{age, growthAt(age), Between(growthAt(age)-half, growthAt(age)+half)})
	}
	return p
}

func groupSample() GroupCurves {
	p := GroupCurves{Frame: Frame{Level: 0.95, Title: "Growth by area", Alt: "Fish of Skell are the shortest at every age."}, Unit: "cm"}
	for i, name := range []string{"Dunmarrow", "Ferrin", "Hallow", "Quarrow", "Skell"} {
		g := GroupCurve{Name: name}
		for age := 1 + float64(i)/2; age <= 13-float64(i); age += 0.4 {
			x := growthAt(age) * (1 - 0.03*float64(i))
			g.Curve = append(g.Curve, CurvePoint{age, x, Between(x-2-0.3*age, x+2+0.3*age)})
		}
		p.Groups = append(p.Groups, g)
	}
	return p
}

func residualSample() Residuals {
	p := Residuals{Frame: Frame{Level: 0.95, Title: "Residuals", Alt: "The curve fits at every age but 13."}, Unit: "cm", Fish: spots(200, true)}
	for age := 1; age <= 14; age++ {
		m := ResidualMean{At: float64(age) + 0.5, Mean: 1.5 * math.Sin(float64(age)), Fish: 300 - 20*age}
		m.Interval = Between(m.Mean-0.6*math.Sqrt(float64(age)), m.Mean+0.6*math.Sqrt(float64(age)))
		if age == 14 {
			m.Interval, m.Fish = Interval{}, 1
		}
		p.Means = append(p.Means, m)
	}
	return p
}

func profileSample(open bool) Profile {
	p := Profile{Frame: Frame{Level: 0.95, Title: "Profile of the largest length", Alt: "The interval is longer upwards."}, Name: "largest length (cm)", Cut: 1.92, Estimate: Of(245)}
	p.Low, p.High = Of(224), Of(285)
	for x := 200.0; x <= 400; x += 5 {
		z := math.Log(x/245) / 0.047
		if x > 245 {
			z *= 0.6
		}
		if open && x > 245 {
			z = 1.5 * (1 - math.Exp(-z/2))
		}
		p.Points = append(p.Points, ProfilePoint{x, z * z / 2})
	}
	if open {
		p.High = Amount{}
	}
	return p
}

func drawsSample() Draws {
	p := Draws{Frame: Frame{Level: 0.95, Title: "Replicates of the largest length", Alt: "Most lie between 232 and 262 cm."}, Name: "largest length (cm)", Estimate: Of(245), Interval: Between(232, 262)}
	for i := range 1000 {
		u := (float64(i) + 0.5) / 1000
		p.Values = append(p.Values, 245*math.Exp(0.03*math.Erfinv(2*u-1)*math.Sqrt2+0.004))
	}
	p.Values[999] = 900
	return p
}

func trackSample() Tracks {
	p := Tracks{Frame: Frame{Level: 0.95, Title: "Lengths at annuli", Alt: "Fish that were long at the first annulus stay long."}, Unit: "cm"}
	for i := range 200 {
		f := Track{Name: "QB-" + number(float64(i), 0)}
		big := 1 + 0.09*math.Sin(float64(i)*7.1)
		for a := 1; a <= 2+i%10; a++ {
			f.Lengths = append(f.Lengths, Of(big*growthAt(float64(a)+0.5)+3*math.Sin(float64(i*a))))
		}
		if i == 8 {
			f.Lengths[4] = Amount{}
		}
		p.Fish = append(p.Fish, f)
	}
	for a := 1; a <= 11; a++ {
		x := growthAt(float64(a) + 0.5)
		m := TrackMean{a, x, Between(x-1-0.5*float64(a), x+1+0.5*float64(a)), 200 - 15*a}
		if a == 11 {
			m.Interval = Interval{}
		}
		p.Means = append(p.Means, m)
	}
	return p
}

func nurseryNames() []string { return []string{"Upper", "Lower", "Outer"} }

func tracerSample(n int) Tracers {
	p := Tracers{Frame: Frame{Level: 0.95, Title: "Tracers of the catch", Alt: "Most fish lie with the Upper nursery."}, X: "δ¹³C (‰)", Y: "δ¹⁸O (‰)"}
	centres := [][2]float64{{-8.6, -1.1}, {-9.3, -0.3}, {-7.9, 0.2}}
	for k, name := range nurseryNames() {
		p.Nurseries = append(p.Nurseries, NurseryArea{name, centres[k][0], centres[k][1], 0.06, 0.05, 0.02 - 0.02*float64(k)})
	}
	for i := range n {
		f := TracerFish{Call: i % 7 % 3}
		f.X = centres[f.Call][0] + 0.33*math.Sin(float64(i)*3.7)*math.Cos(float64(i)*1.3)
		f.Y = centres[f.Call][1] + 0.3*math.Cos(float64(i)*2.9)*math.Sin(float64(i)*0.7)
		switch {
		case i%40 == 5:
			f.Call, f.X, f.Y = CalledOutside, -7.2+0.2*math.Sin(float64(i)), -1.5
		case i%9 == 4:
			f.Call, f.X, f.Y = CalledUnclear, -8.9+0.2*math.Sin(float64(i)), -0.7+0.2*math.Cos(float64(i))
		}
		p.Fish = append(p.Fish, f)
	}
	return p
}

func posteriorSample(n, nurseries int) Posteriors {
	p := Posteriors{Frame: Frame{Title: "Origin of every fish", Alt: "Most fish are surely of one nursery."}, Nurseries: nurseryNames()[:nurseries], Sure: 0.8}
	for i := range n {
		z := 5 * math.Sin(float64(i)*12.9898)
		a := 1 / (1 + math.Exp(-z))
		f := PosteriorFish{Shares: []float64{a, 1 - a}, Call: CalledUnclear}
		if nurseries == 3 {
			b := 0.5 + 0.5*math.Sin(float64(i)*4.1)
			f.Shares = []float64{a, (1 - a) * b, (1 - a) * (1 - b)}
		}
		for k, s := range f.Shares {
			if s >= 0.8 {
				f.Call = k
			}
		}
		if i%31 == 3 {
			f.Call = CalledOutside
		}
		p.Fish = append(p.Fish, f)
	}
	return p
}

func compositionSample() Compositions {
	p := Compositions{Frame: Frame{Level: 0.95, Title: "Composition by bank", Alt: "The Upper nursery has most fish on every bank."}, Nurseries: nurseryNames()}
	for i, name := range []string{"Quarrow Bank", "Skell Bank", "Dunmarrow Bank"} {
		g := CompositionGroup{Name: name, Fish: []int{214, 88, 6}[i]}
		for k := range 3 {
			s := []float64{0.55 + 0.1*float64(i), 0.3 - 0.1*float64(i), 0.15}[k]
			half := 1.96 * math.Sqrt(s*(1-s)/float64(g.Fish))
			g.Shares = append(g.Shares, CompositionShare{Of(s), Between(max(0, s-half), min(1, s+half))})
		}
		p.Groups = append(p.Groups, g)
	}
	p.Groups[1].Shares[2].Interval = Interval{}
	p.Groups[2].Shares[1].Share = Amount{}
	return p
}

func nurserySample(share bool) CatchParts {
	p := CatchParts{Frame: Frame{Level: 0.95, Title: "Catch at age by nursery", Alt: "Old fish are of the Upper nursery."}, Plus: true, Unit: "fish", Share: share, AllName: "all nurseries"}
	for age := 1; age <= 12; age++ {
		p.Ages = append(p.Ages, age)
		p.Fish = append(p.Fish, int(60*bell(float64(age), 5, 3))+1)
	}
	for k, name := range nurseryNames() {
		n := CatchPart{Name: name}
		for i, age := range p.Ages {
			total := math.Round(14000*bell(float64(age), 4.4, 2.2) + 400)
			s := []float64{0.3 + 0.04*float64(age), 0.5 - 0.03*float64(age), 0.2 - 0.01*float64(age)}[k]
			if k == 0 && !share {
				p.All = append(p.All, Of(total))
			}
			x := total * s
			if share {
				x = s
			}
			half := x*0.2 + total*0.02
			if share {
				half = 0.08 + 0.004*float64(i*i)
			}
			n.Numbers, n.Intervals = append(n.Numbers, Of(x)), append(n.Intervals, Between(max(0, x-half), x+half))
		}
		p.Parts = append(p.Parts, n)
	}
	p.Parts[2].Intervals[10] = Interval{}
	p.Parts[2].Numbers[11] = Amount{}
	return p
}

func seriesSample() Series {
	p := Series{Frame: Frame{Level: 0.95, Title: "Catch by bank", Alt: "The catch on Skell Bank has halved."}, Unit: "thousand fish"}
	for i, name := range []string{"Quarrow Bank", "Skell Bank", "Dunmarrow Bank"} {
		s := SeriesPanel{Name: name}
		for year := 2022; year <= 2031; year++ {
			if i == 2 && year == 2026 {
				continue
			}
			x := 120 - 30*float64(i) + 20*math.Sin(float64(year+3*i))
			d := SeriesPoint{year, x, Between(x*0.85, x*1.2)}
			if i == 1 && year == 2024 {
				d.Interval = Interval{}
			}
			s.Points = append(s.Points, d)
		}
		p.Panels = append(p.Panels, s)
	}
	return p
}

func changeSample() Ranges {
	p := Ranges{Frame: Frame{Level: 0.95, Title: "Changes of shares", Alt: "Age 3 has become rarer."}, Unit: "percentage points of the catch", Zero: true, Fewer: "fewer in 2031", More: "more in 2031"}
	for i, x := range []float64{0.4, 2.1, -6.3, 1.2, 3.9, -1.1} {
		p.Rows = append(p.Rows, Range{Group: "2030 to 2031", Name: "age " + number(float64(i+1), 0), Value: Of(x), Interval: Between(x-1.9, x+2.2)})
	}
	p.Rows = append(p.Rows, Range{Group: "Quarrow and Skell, 2031", Name: "age 2", Value: Of(-3), Interval: Between(-5, -1)},
		Range{Group: "Quarrow and Skell, 2031", Name: "age 3", Value: Of(1)}, Range{Group: "Quarrow and Skell, 2031", Name: "age 12+", Why: "nobody caught one"})
	return p
}

func rangeSample() Ranges {
	return Ranges{Frame: Frame{Level: 0.95, Title: "Mortality by method", Alt: "All methods lie between 0.3 and 0.5 a year."}, Unit: "a year", Rows: []Range{
		{"Total mortality, 2031", "Chapman–Robson", Of(0.42), Between(0.37, 0.47), ""},
		{"Total mortality, 2031", "weighted catch curve", Of(0.39), Between(0.31, 0.48), ""},
		{"Total mortality, 2030", "Chapman–Robson", Amount{}, Interval{}, "too few ages from the peak on"},
		{"Natural mortality", "from the longest life", Of(0.21), Interval{}, ""},
	}}
}

func catchCurveSample() CatchCurve {
	p := CatchCurve{Frame: Frame{Level: 0.95, Title: "Catch curve", Alt: "From age 5 on two fish in five die each year."}, Unit: "fish", Plus: true}
	for age := 1; age <= 15; age++ {
		n := 900.0 * float64(age*age)
		if age > 5 {
			n = 22500 * math.Exp(-0.5*float64(age-5)+0.1*math.Sin(float64(age)*3))
		}
		p.Ages = append(p.Ages, CurveAge{age, n, Between(max(0, n*0.8-60), n*1.2+60), age >= 6 && age < 15})
	}
	p.Lines = []CurveLine{{"Chapman–Robson", 6, 14, 13600, 13600 * math.Exp(-0.5*8)}, {"weighted catch curve", 5, 14, 21000, 21000 * math.Exp(-0.47*9)}}
	return p
}

func mapSample(lon float64) AreaMap {
	p := AreaMap{Frame: Frame{Title: "Catch by bank", Alt: "Quarrow Bank has the largest catch."}, Unit: "fish"}
	around := func(x, y, r, s float64) []float64 {
		var ring []float64
		for i := range 14 {
			a := 2 * math.Pi * float64(i) / 14
			east := x + r*(1+0.15*math.Sin(3*a))*math.Cos(a)
			if east > 180 {
				east -= 360
			}
			ring = append(ring, east, y+s*(1+0.2*math.Cos(2*a))*math.Sin(a))
		}
		return ring
	}
	p.Areas = []MapArea{
		{Name: "Quarrow Bank", Value: Of(41300), Rings: [][]float64{around(lon, 46.5, 1.7, 0.9)}},
		{Name: "Skell Bank", Value: Of(12800), Rings: [][]float64{around(lon+3.6, 47.4, 1.4, 0.8)}},
		{Name: "Dunmarrow Bank", Value: Of(900), Rings: [][]float64{around(lon+1.5, 44.5, 1.5, 0.7), around(lon-1.1, 44.4, 0.5, 0.3)}},
		{Name: "Harrow Deep", Rings: [][]float64{around(lon+5, 45, 1.1, 0.7)}},
		{Name: "no outline", Value: Of(3)},
	}
	return p
}

package report

import (
	"fmt"
	"html/template"
	"strconv"

	"earstone/pages/chart"
	"earstone/pages/words"
	"earstone/reading/agreement"
)

// pair is the three pictures of two readers.
func (k *told) pair(p *agreement.Pair) set {
	a, b := string(p.ReaderA), string(p.ReaderB)
	return set{Heading: a + " and " + b, Abreast: true, Figures: []figure{k.bias(p, a, b), k.marks(p, a, b), k.differences(p, a, b)}}
}

func (k *told) bias(pair *agreement.Pair, a, b string) figure {
	says := biasSays(pair, a, b)
	pic := chart.AgeBias{Frame: chart.Frame{Title: "Age bias of " + b + " against " + a, Alt: says, Level: 0.95}, ReaderA: a, ReaderB: b}
	of := &table{Summary: "Mean age by age", Caption: "Mean count of " + b + " on the fish of each count of " + a + ", with its interval of 95 %.",
		Head: append(text("Count of "+a), figures("Fish", "Mean of "+b, "From", "To")...)}
	for _, at := range pair.ByAge {
		point := chart.BiasPoint{Age: at.AgeA, Mean: at.MeanB, Fish: at.Difference.N}
		row := []string{strconv.Itoa(at.AgeA), words.Count(at.Difference.N), words.Figure(at.MeanB, 2), none, none}
		if low, high, ok := at.Interval(); ok {
			row[3], row[4] = words.Figure(low, 2), words.Figure(high, 2)
			point.Interval = chart.Between(low, high)
		}
		pic.Points = append(pic.Points, point)
		of.Rows = append(of.Rows, row)
	}
	return k.figure(figure{Title: "Age bias.", Says: says, Picture: template.HTML(pic.Draw()), Table: of})
}

func biasSays(pair *agreement.Pair, a, b string) string {
	m := pair.Difference
	if !m.Mean.Known {
		return "The mean difference is not known."
	}
	if !m.Low.Known {
		return fmt.Sprintf("%s and %s read one fish in common.", a, b)
	}
	within := fmt.Sprintf("(%s to %s)", words.Figure(m.Low.X, 2), words.Figure(m.High.X, 2))
	switch {
	case m.Low.X > 0:
		return fmt.Sprintf("%s counts %s years more than %s on average %s.", b, words.Figure(m.Mean.X, 2), a, within)
	case m.High.X < 0:
		return fmt.Sprintf("%s counts %s years fewer than %s on average %s.", b, words.Figure(-m.Mean.X, 2), a,
			fmt.Sprintf("(%s to %s)", words.Figure(-m.High.X, 2), words.Figure(-m.Low.X, 2)))
	}
	return fmt.Sprintf("On average neither counts more: %s less %s is %s years %s.", b, a, words.Figure(m.Mean.X, 2), within)
}

func (k *told) marks(pair *agreement.Pair, a, b string) figure {
	says := marksSay(pair, a, b)
	pic := chart.Marks{Frame: chart.Frame{Title: "Counts of " + a + " and " + b, Alt: says}, ReaderA: a, ReaderB: b}
	of := &table{Summary: "Fish by both counts", Caption: "Fish by the count of " + a + " (down) and the count of " + b + " (across).", Head: text(a)}
	low, high := span(pair)
	for j := low; j <= high; j++ {
		of.Head = append(of.Head, column{Name: strconv.Itoa(j)})
	}
	for i := low; i <= high; i++ {
		row := []string{strconv.Itoa(i)}
		for j := low; j <= high; j++ {
			n := pair.Table[i*pair.Ages+j]
			if n == 0 {
				row = append(row, "")
				continue
			}
			row = append(row, words.Count(n))
			pic.Cells = append(pic.Cells, chart.Cell{A: i, B: j, Fish: n})
		}
		of.Rows = append(of.Rows, row)
	}
	return k.figure(figure{Title: "Table of counts.", Says: says, Picture: template.HTML(pic.Draw()), Table: of})
}

// span are the smallest and the largest count that either gave.
func span(pair *agreement.Pair) (low, high int) {
	low, high = pair.Ages, -1
	for at, n := range pair.Table {
		if n > 0 {
			i, j := at/pair.Ages, at%pair.Ages
			low, high = min(low, i, j), max(high, i, j)
		}
	}
	return low, high
}

func marksSay(pair *agreement.Pair, a, b string) string {
	return fmt.Sprintf("%s and %s agree on %s of %s, and within one year on %s.", a, b, inPercent(pair.Exact), plural(pair.ReadTwice, "fish", "fish"), inPercent(pair.Within1))
}

func (k *told) differences(pair *agreement.Pair, a, b string) figure {
	says := differencesSay(pair, a, b)
	pic := chart.Differences{Frame: chart.Frame{Title: "Differences between " + b + " and " + a, Alt: says}, ReaderA: a, ReaderB: b}
	number := map[int]int{}
	least, most := 0, 0
	for at, n := range pair.Table {
		if n == 0 {
			continue
		}
		i, j := at/pair.Ages, at%pair.Ages
		pic.Points = append(pic.Points, chart.DifferencePoint{Age: i, Difference: j - i, Fish: n})
		number[j-i] += n
		least, most = min(least, j-i), max(most, j-i)
	}
	of := &table{Summary: "Fish by difference", Caption: "Fish by count of " + b + " less count of " + a + ".", Head: append(text("Difference"), figures("Fish", "Share")...)}
	for d := least; d <= most; d++ {
		name := words.Count(d)
		if d > 0 {
			name = "+" + name
		}
		of.Rows = append(of.Rows, []string{name, words.Count(number[d]), percent(float64(number[d]) / float64(max(pair.ReadTwice, 1)))})
	}
	return k.figure(figure{Title: "Differences by age.", Says: says, Picture: template.HTML(pic.Draw()), Table: of})
}

func differencesSay(pair *agreement.Pair, a, b string) string {
	differ := pair.Above + pair.Below
	if differ == 0 {
		return "They never differ."
	}
	test := ""
	if pair.McNemar.P.Known {
		test = " (p " + p(pair.McNemar.P) + ")"
		if pair.McNemar.P.X < 0.05 {
			test = ", more one-sided than chance explains" + test
		} else {
			test = ", as even as chance allows" + test
		}
	}
	return fmt.Sprintf("Where they differ, %s counts more on %s and fewer on %s%s.", b, words.Count(pair.Above), plural(pair.Below, "fish", "fish"), test)
}

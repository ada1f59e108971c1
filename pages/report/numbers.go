package report

import (
	"math"
	"strconv"
	"strings"

	"earstone/estimate/run"
	"earstone/pages/chart"
	"earstone/pages/words"
	"earstone/programme/record"
)

// none stands in a cell of which nothing is known.
const none = "–"

// narrow is the space before a percent sign, at which no line breaks.
const narrow = "\u202F"

// finite tells whether a number can be written.
func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// decimals is the place to which a number of fish with this spread is written: that of
// the second digit of the spread, or of the third digit of the number itself, and never
// behind the point.
func decimals(x, spread float64) int {
	digits := 1
	if !(spread > 0) || !finite(spread) {
		spread, digits = math.Abs(x), 2
	}
	if spread == 0 || !finite(spread) {
		return 0
	}
	return min(digits-int(math.Floor(math.Log10(spread)+1e-9)), 0)
}

// spread is the standard error of an estimate, or what its interval says where that is
// more: of a number near nothing the error may be nothing and the interval long.
func spread(e run.Estimate) float64 {
	spread := 0.0
	if e.SE.Known {
		spread = e.SE.X
	}
	if e.Low.Known && e.High.Known {
		spread = max(spread, (e.High.X-e.Low.X)/4)
	}
	return spread
}

// rounded is a known number to a place.
func rounded(n record.Number, places int) string {
	if !n.Known || !finite(n.X) {
		return none
	}
	return words.Figure(n.X, places)
}

// value is an estimate to the place that its spread bears.
func value(e run.Estimate) string { return rounded(e.Value, decimals(e.Value.X, spread(e))) }

// interval is "from to to", or empty where there is none.
func interval(e run.Estimate) string {
	low, high := ends(e)
	if low == none || high == none {
		return ""
	}
	return low + " to " + high
}

func ends(e run.Estimate) (low, high string) {
	if !has(e) {
		return none, none
	}
	places := decimals(e.Value.X, spread(e))
	return rounded(e.Low, places), rounded(e.High, places)
}

// has tells whether an estimate has an interval of some length: a catch told without a
// CV has none of its own.
func has(e run.Estimate) bool { return e.Low.Known && e.High.Known && e.Low.X < e.High.X }

// between is the interval of an estimate as pictures take it.
func between(e run.Estimate) chart.Interval {
	if !has(e) {
		return chart.Interval{}
	}
	return chart.Between(e.Low.X, e.High.X)
}

func amount(n record.Number) chart.Amount { return chart.Amount{Value: n.X, Known: n.Known} }

// percent is a share in words: 12 %, 1.4 %, under 0.1 %.
func percent(share float64) string {
	switch {
	case !finite(share):
		return none
	case share <= 0:
		return "0" + narrow + "%"
	case share < 0.001:
		return "under 0.1" + narrow + "%"
	case share < 0.0995 || share > 0.9 && share < 0.9995:
		return words.Figure(100*share, 1) + narrow + "%"
	}
	return words.Figure(100*share, 0) + narrow + "%"
}

// leastFreedom is the degrees of freedom below which a CV says less than it seems to: the
// interval beside it has them in it.
const leastFreedom = 5

// cv is the standard error in percent of the value; none where few trips stand behind it.
func cv(e run.Estimate) string {
	if e.Freedom > 0 && e.Freedom < leastFreedom {
		return none
	}
	if !e.SE.Known || !(e.Value.X > 0) || !(e.SE.X > 0) {
		return none
	}
	return words.Figure(100*e.SE.X/e.Value.X, 0)
}

// level is the coverage that intervals claim: 95 %.
func level(x float64) string {
	if !(x > 0 && x < 1) {
		x = 0.95
	}
	return strconv.FormatFloat(math.Round(x*1000)/10, 'f', -1, 64) + narrow + "%"
}

// p is a p-value: 0.03, 0.004, under 0.001.
func p(n record.Number) string {
	switch {
	case !n.Known || !finite(n.X):
		return none
	case n.X < 0.001:
		return "under 0.001"
	case n.X < 0.01:
		return words.Figure(n.X, 3)
	}
	return words.Figure(n.X, 2)
}

// plural is a count with its word.
func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return words.Count(n) + " " + many
}

// either chooses a word by number.
func either(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// list is "a, b and c".
func list(parts []string) string {
	if len(parts) < 2 {
		return strings.Join(parts, "")
	}
	return strings.Join(parts[:len(parts)-1], ", ") + " and " + parts[len(parts)-1]
}

// sentence opens with a capital and ends with a full stop.
func sentence(text string) string {
	text = strings.TrimSpace(text)
	if text == "" {
		return ""
	}
	first := []rune(text)
	text = strings.ToUpper(string(first[:1])) + string(first[1:])
	if !strings.ContainsAny(text[len(text)-1:], ".!?") {
		text += "."
	}
	return text
}

// join sets sentences one behind the other and leaves out the empty ones.
func join(sentences ...string) string {
	var said []string
	for _, s := range sentences {
		if s != "" {
			said = append(said, s)
		}
	}
	return strings.Join(said, " ")
}

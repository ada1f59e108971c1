package chart

import (
	"math"
	"strconv"
	"strings"
)

// thin is the narrow no-break space between groups of three digits.
const thin = "\u202f"

// number writes x with a fixed count of decimals, groups of three digits and a
// true minus sign: 12 000, −0.5.
func number(x float64, decimals int) string {
	s := strconv.FormatFloat(math.Abs(x), 'f', decimals, 64)
	whole, part, _ := strings.Cut(s, ".")
	var b strings.Builder
	if x < 0 && strings.Trim(s, "0.") != "" {
		b.WriteString("−")
	}
	for i, digit := range whole {
		if i > 0 && (len(whole)-i)%3 == 0 {
			b.WriteString(thin)
		}
		b.WriteRune(digit)
	}
	if part != "" {
		b.WriteString("." + part)
	}
	return b.String()
}

// value writes x to three figures, for the words on a mark.
func value(x float64) string {
	if x == 0 {
		return "0"
	}
	magnitude := int(math.Floor(math.Log10(math.Abs(x))))
	if magnitude >= 2 {
		unit := math.Pow(10, float64(max(magnitude-2, 0)))
		return number(math.Round(x/unit)*unit, 0)
	}
	return number(x, min(2-magnitude, 9))
}

// tickLabels writes ticks with the decimals that their step needs.
func tickLabels(ticks []float64) []string {
	decimals := 0
	if len(ticks) > 1 {
		decimals = max(0, -int(math.Floor(math.Log10(ticks[1]-ticks[0])+1e-9)))
	}
	labels := make([]string, len(ticks))
	for i, t := range ticks {
		labels[i] = number(t, decimals)
	}
	return labels
}

// percent writes a share: 0.4 % below one in a hundred, otherwise whole.
func percent(share float64) string {
	p := share * 100
	if p != 0 && math.Abs(p) < 0.95 {
		return number(p, 1) + thin + "%"
	}
	return number(p, 0) + thin + "%"
}

// interval is the word for an interval, with its level where that is known.
func (f Frame) interval() string {
	if f.Level > 0 && f.Level < 1 {
		return strconv.FormatFloat(math.Round(f.Level*1000)/10, 'f', -1, 64) + thin + "% interval"
	}
	return "interval"
}

// within writes an interval for the words on a mark.
func (f Frame) within(i Interval, write func(float64) string) string {
	if !i.known() {
		return "interval unknown"
	}
	return f.interval() + " " + write(i.Low) + " to " + write(i.High)
}

// ageLabel writes an age; the oldest of a plus group gets its sign: 12+.
func ageLabel(age, oldest int, plus bool) string {
	if plus && age == oldest {
		return strconv.Itoa(age) + "+"
	}
	return strconv.Itoa(age)
}

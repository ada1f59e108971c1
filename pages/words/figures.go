package words

import (
	"math"
	"strconv"
	"strings"

	"earstone/programme/date"
	"earstone/programme/record"
)

// thin parts thousands: a narrow space at which no line breaks.
const thin = "\u202F"

// Count is a whole number with its thousands parted: 12 345.
func Count(n int) string { return grouped(strconv.Itoa(n)) }

// Figure is a number with so many decimals, or with none of its last digits when
// decimals is negative: Figure(1234.5, -2) is 1 200.
func Figure(x float64, decimals int) string {
	switch {
	case math.IsNaN(x):
		return "–"
	case math.IsInf(x, 0):
		return strings.TrimPrefix(strconv.FormatFloat(x, 'f', 0, 64), "+")
	}
	if decimals < 0 {
		step := math.Pow10(-decimals)
		x, decimals = math.Round(x/step)*step, 0
	}
	text := strconv.FormatFloat(x, 'f', decimals, 64)
	if strings.Trim(text, "-0.") == "" { // no minus before nothing
		text = strings.TrimPrefix(text, "-")
	}
	return grouped(text)
}

// Estimate is a value with the digits that its standard error bears, two digits of the
// error itself, and both to the same place; three digits when the error is not known.
func Estimate(value float64, se record.Number) (text, seText string) {
	if !se.Known || !(se.X > 0) || math.IsInf(se.X, 0) {
		return Figure(value, 2-magnitude(value)), ""
	}
	decimals := 1 - magnitude(se.X)
	return Figure(value, decimals), Figure(se.X, decimals)
}

// magnitude is the power of ten of the first digit, after rounding to two of them; 0
// for nothing.
func magnitude(x float64) int {
	if x == 0 || math.IsNaN(x) || math.IsInf(x, 0) {
		return 0
	}
	_, exponent, _ := strings.Cut(strconv.FormatFloat(x, 'e', 1, 64), "e")
	power, err := strconv.Atoi(exponent)
	if err != nil {
		panic("words: " + err.Error())
	}
	return power
}

func grouped(digits string) string {
	minus := ""
	if rest, negative := strings.CutPrefix(digits, "-"); negative {
		minus, digits = "−", rest
	}
	whole, fraction, point := strings.Cut(digits, ".")
	var b strings.Builder
	b.WriteString(minus)
	for i, digit := range whole {
		if i > 0 && (len(whole)-i)%3 == 0 {
			b.WriteString(thin)
		}
		b.WriteRune(digit)
	}
	if point {
		b.WriteString("." + fraction)
	}
	return b.String()
}

// Date is a date as a person writes it, as far as it is known: 15 June 2031.
func (l *Language) Date(d date.Day) string {
	form := map[date.Precision]string{date.Unknown: "unknown", date.Year: "year", date.Month: "month", date.Full: "full"}[d.Precision()]
	month := ""
	if d.Month() > 0 {
		month = l.Months[d.Month()-1]
	}
	return strings.NewReplacer("{day}", strconv.Itoa(d.DayOfMonth()), "{month}", month, "{year}", strconv.Itoa(d.Year())).Replace(l.Day[form])
}

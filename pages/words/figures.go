package words

import (
	"math"
	"strconv"
	"strings"

	"earstone/programme/date"
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

func grouped(digits string) string { return parted(digits, thin, ".", 4) }

// parted is a number written with its signs for thousands and decimals; whole parts of
// fewer digits than least are not parted.
func parted(number, thousands, decimal string, least int) string {
	var b strings.Builder
	if rest, negative := strings.CutPrefix(number, "-"); negative {
		number = rest
		b.WriteString("−")
	}
	whole, fraction, some := strings.Cut(number, ".")
	for i, digit := range whole {
		if i > 0 && (len(whole)-i)%3 == 0 && len(whole) >= least {
			b.WriteString(thousands)
		}
		b.WriteRune(digit)
	}
	if some {
		b.WriteString(decimal + fraction)
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

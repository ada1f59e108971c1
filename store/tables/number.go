package tables

import (
	"bytes"
	"math"
	"strconv"
	"strings"

	"earstone/programme/date"
)

var tens = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}

// parseNumber reads a decimal number; a comma is taken for the point only where commas
// is set. Words (NaN, Inf), hexadecimal and underscores are no numbers here.
func parseNumber(cell []byte, commas bool) (x float64, comma, ok bool) {
	at, negative := 0, false
	if len(cell) > 0 && (cell[0] == '-' || cell[0] == '+') {
		at, negative = 1, cell[0] == '-'
	}
	var digits uint64
	count, decimals, point := 0, 0, -1
	for ; at < len(cell); at++ {
		sign := cell[at]
		if d := sign - '0'; d <= 9 {
			digits = 10*digits + uint64(d)
			count++
			if point >= 0 {
				decimals++
			}
		} else if point < 0 && (sign == '.' || commas && sign == ',') {
			point, comma = at, sign == ','
		} else {
			break
		}
	}
	if at == len(cell) && count > 0 && count <= 15 {
		// Up to 15 digits and a power of ten up to 10¹⁵ are exact, so one division rounds once.
		x = float64(digits) / tens[decimals]
		if negative {
			x = -x
		}
		return x, comma, true
	}
	if count == 0 || !plainNumber(cell, at) {
		return 0, comma, false
	}
	if comma {
		cell = bytes.Replace(cell, []byte{','}, []byte{'.'}, 1)
	}
	x, err := strconv.ParseFloat(string(cell), 64)
	return x, comma, err == nil && !math.IsInf(x, 0)
}

// plainNumber tells whether what follows the digits is nothing or an exponent.
func plainNumber(cell []byte, at int) bool {
	if at == len(cell) {
		return true
	}
	if cell[at] != 'e' && cell[at] != 'E' {
		return false
	}
	at++
	if at < len(cell) && (cell[at] == '-' || cell[at] == '+') {
		at++
	}
	for _, sign := range cell[at:] {
		if sign < '0' || sign > '9' {
			return false
		}
	}
	return at < len(cell)
}

// lookalikes are letters that are typed or scanned for digits.
var lookalikes = strings.NewReplacer("l", "1", "I", "1", "O", "0", "o", "0", "S", "5", "B", "8", "Z", "2")

// likelyNumber is the number that a text was probably meant to be, or empty: letters
// read as the digits that they look like, a comma as the point, a unit left off. Commas
// before three digits may part thousands: then both readings are told.
func likelyNumber(cell []byte) string {
	text := strings.TrimSpace(string(cell))
	if partsThousands(text) {
		likely := likelyWhole(cell)
		if x, _, ok := parseNumber([]byte(text), true); ok {
			likely += ", or " + string(appendNumber(nil, x)) + ","
		}
		return likely
	}
	if strings.Count(text, ",") == 1 && !strings.Contains(text, ".") {
		text = strings.Replace(text, ",", ".", 1)
	}
	unitless := strings.TrimRight(text, " abcdefghijklmnopqrstuvwxyzµ\"'")
	for _, likely := range []string{text, unitless, lookalikes.Replace(text), strings.ReplaceAll(text, " ", "")} {
		if _, _, ok := parseNumber([]byte(likely), false); ok && strings.ContainsAny(string(cell), "0123456789") {
			return likely
		}
	}
	return ""
}

// likelyWhole is likelyNumber where a whole number is meant: commas part thousands there.
func likelyWhole(cell []byte) string {
	text := strings.TrimSpace(string(cell))
	if partsThousands(text) {
		return strings.ReplaceAll(text, ",", "")
	}
	return likelyNumber(cell)
}

// partsThousands tells whether the commas of a text stand where they part thousands.
func partsThousands(text string) bool {
	parts := strings.Split(text, ",")
	for i, part := range parts {
		if len(part) > 3 || len(part) == 0 || i > 0 && len(part) != 3 || strings.Trim(part, "0123456789") != "" {
			return false
		}
	}
	return len(parts) > 1
}

// likelyDate is the ISO date that a text was probably meant to be; empty when it could
// be two, as 5/6/2031 could.
func likelyDate(text string) string {
	parts := strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune("./- ", r) })
	if len(parts) != 3 {
		return ""
	}
	var n [3]int
	for i, part := range parts {
		var err error
		if n[i], err = strconv.Atoi(part); err != nil || n[i] < 0 || n[i] > 9999 {
			return ""
		}
	}
	year, month, day := n[0], n[1], n[2]
	if len(parts[0]) != 4 {
		switch year = n[2]; {
		case len(parts[2]) != 4 || n[0] <= 12 && n[1] <= 12 && n[0] != n[1]:
			return ""
		case n[0] > 12:
			month, day = n[1], n[0]
		default:
			month, day = n[0], n[1]
		}
	}
	iso := pad(year, 4) + "-" + pad(month, 2) + "-" + pad(day, 2)
	if _, ok := date.Parse(iso); !ok {
		return ""
	}
	return iso
}

func pad(n, digits int) string {
	text := strconv.Itoa(n)
	return strings.Repeat("0", max(0, digits-len(text))) + text
}

// isTime tells whether a text can be a time of day: digits, colons, a fraction, a zone.
func isTime(text []byte) bool {
	for _, sign := range text {
		if (sign < '0' || sign > '9') && !bytes.ContainsRune([]byte(":.+-Z"), rune(sign)) {
			return false
		}
	}
	return bytes.IndexByte(text, ':') > 0
}

// fromSerial reads a day as spreadsheets count them, 25569 being 1970-01-01 (four years
// and a day less in the era of 1904); the part of a day is left off. Five digits cover
// the years 1927 to 2173, and four digits are a year.
func fromSerial(cell []byte, era1904 bool) (date.Day, bool) {
	x, _, ok := parseNumber(cell, false)
	if !ok || x < 10000 || x >= 100000 {
		return date.Day{}, false
	}
	serial := int(x) - 25569
	if era1904 {
		serial += 1462
	}
	return date.FromSerial(serial), true
}

// appendNumber writes a number with the fewest digits that read back the same.
func appendNumber(b []byte, x float64) []byte {
	if size := math.Abs(x); size != 0 && (size < 1e-6 || size >= 1e15) {
		return strconv.AppendFloat(b, x, 'e', -1, 64)
	}
	return strconv.AppendFloat(b, x, 'f', -1, 64)
}

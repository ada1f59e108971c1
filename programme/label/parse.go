package label

import (
	"slices"
	"strings"
	"unicode"
)

// Reading is what became of a typed or scanned text.
type Reading struct {
	Code   Code   // unknown when Remark refuses it
	Remark Remark // what was made of the text
	Sign   string // LookAlike, NoSign: the sign that was read or can't be
	As     string // LookAlike: what it was read as
	Near   []Code // WrongCheck: codes that hold if two neighbouring signs were swapped
}

// Remark tells how a text was read, or why it could not be.
type Remark uint8

// The remarks; those after LookAlike refuse the text. Sentences are made of them by
// pages/words.
const (
	AsWritten  Remark = iota // the code, letter by letter
	Tidied                   // small letters, blanks or other marks between the parts
	LookAlike                // a sign was taken for the one that looks like it and may stand there
	Empty                    // there is nothing to read
	NotACode                 // the text has not the form of a code
	NoSign                   // a sign that no code has
	NoCheck                  // the check letter is missing
	WrongCheck               // a sign is wrong, or two are swapped
	NoNumber                 // the number is 0 or too large
)

var remarks = [...]string{"as_written", "tidied", "look_alike", "empty", "not_a_code", "no_sign", "no_check", "wrong_check", "no_number"}

func (r Remark) String() string { return remarks[r] }

// Remarks are all remarks.
func Remarks() []Remark {
	all := make([]Remark, len(remarks))
	for i := range all {
		all[i] = Remark(i)
	}
	return all
}

// Refuses tells whether a remark leaves the code unknown.
func (r Remark) Refuses() bool { return r > LookAlike }

// Parse reads a code as people type it: small letters, blanks, other marks between the
// parts or none, leading zeros left out, full-width and Arabic digits, and signs that
// look like the one that belongs there (O for 0, l for 1, 8 for B). The check letter
// must be there and must hold: nothing is guessed beyond a look-alike.
func Parse(text string) Reading {
	parts := plain(text)
	signs := strings.Join(parts, "")
	if signs == "" {
		return Reading{Remark: Empty}
	}
	prefix, rest := split(parts)
	if prefix == "" || len(rest) < 2 || !isASCII(signs) {
		return refuse(signs, rest)
	}
	var seen looks
	c := Code{prefix: seen.letters(prefix)}
	number := seen.digits(rest[:len(rest)-1])
	last := rest[len(rest)-1:]
	check := seen.letters(last)
	switch {
	case seen.bad != "" && seen.bad == last && digitLike(last):
		return Reading{Remark: NoCheck}
	case seen.bad != "":
		return Reading{Remark: NoSign, Sign: seen.bad}
	case seen.inLetters && seen.inDigits: // a letter and a digit swapped over the hyphen may look like this
		return Reading{Remark: WrongCheck}
	}
	number = strings.TrimLeft(number, "0")
	if number == "" || len(number) > len("9999999") {
		return Reading{Remark: NoNumber}
	}
	for _, digit := range number {
		c.number = c.number*10 + digit - '0'
	}
	if c.Check() != check[0] {
		return Reading{Remark: WrongCheck, Near: swapped(c, check[0])}
	}
	return seen.remark(text, c)
}

// refuse tells what a text that can't be split lacks.
func refuse(signs, rest string) Reading {
	for _, r := range signs {
		if r > unicode.MaxASCII || !unicode.IsLetter(r) && !unicode.IsDigit(r) {
			return Reading{Remark: NoSign, Sign: string(r)}
		}
	}
	if len(rest) == 1 && digitLike(rest) {
		return Reading{Remark: NoCheck}
	}
	return Reading{Remark: NotACode}
}

func isASCII(text string) bool {
	return strings.IndexFunc(text, func(r rune) bool { return r > unicode.MaxASCII }) < 0
}

func digitLike(sign string) bool { return sign >= "0" && sign <= "9" }

// split parts a prefix from number and check. Three parts are taken as they are; without
// them the prefix ends where the first sign stands that is no letter of a code, and the
// number must have all its digits.
func split(parts []string) (prefix, rest string) {
	if len(parts) == 3 && len(parts[2]) == 1 {
		if n := len(parts[0]); n < ShortestPrefix || n > LongestPrefix {
			return "", parts[1] + parts[2]
		}
		return parts[0], parts[1] + parts[2]
	}
	signs := strings.Join(parts, "")
	at := strings.IndexFunc(signs, func(r rune) bool { return !strings.ContainsRune(Letters, r) })
	at = min(max(at, ShortestPrefix), LongestPrefix, len(signs))
	if len(signs)-at < digits {
		return "", signs[at:]
	}
	return signs[:at], signs[at:]
}

// plain are the parts of a text in capitals, without what stands between them.
func plain(text string) []string {
	text = strings.Map(func(r rune) rune {
		switch {
		case unicode.Is(unicode.Pd, r), unicode.Is(unicode.Cf, r), strings.ContainsRune("_./·−", r):
			return ' '
		case r >= '！' && r <= '～': // full-width forms
			r -= '！' - '!'
		case r >= '٠' && r <= '٩':
			r -= '٠' - '0'
		case r >= '۰' && r <= '۹':
			r -= '۰' - '0'
		}
		return unicode.ToUpper(r)
	}, text)
	return strings.Fields(text)
}

// Signs that look like the one that belongs there. No letter of a code looks like two.
var (
	forDigit  = map[byte]byte{'O': '0', 'Q': '0', 'D': '0', 'I': '1', 'L': '1', 'Z': '2', 'S': '5', 'G': '6', 'B': '8'}
	forLetter = map[byte]byte{'8': 'B', 'U': 'V', 'G': 'C'}
)

// looks collects the first look-alike that was read, and the first sign that could not be.
type looks struct {
	sign, as, bad       string
	inLetters, inDigits bool
}

func (s *looks) letters(text string) string {
	return s.each(text, forLetter, &s.inLetters, func(sign byte) bool { return strings.IndexByte(Letters, sign) >= 0 })
}

func (s *looks) digits(text string) string {
	return s.each(text, forDigit, &s.inDigits, func(sign byte) bool { return sign >= '0' && sign <= '9' })
}

func (s *looks) each(text string, like map[byte]byte, met *bool, belongs func(byte) bool) string {
	out := []byte(text)
	for i, sign := range out {
		as, known := like[sign]
		switch {
		case belongs(sign):
		case known:
			out[i], *met = as, true
			if s.sign == "" {
				s.sign, s.as = string(sign), string(as)
			}
		case s.bad == "":
			s.bad = string(sign)
		}
	}
	return string(out)
}

func (s *looks) remark(text string, c Code) Reading {
	switch {
	case s.sign != "":
		return Reading{Code: c, Remark: LookAlike, Sign: s.sign, As: s.as}
	case strings.TrimSpace(text) != c.String():
		return Reading{Code: c, Remark: Tidied}
	}
	return Reading{Code: c}
}

// swapped are the codes that hold when two neighbouring digits, or two neighbouring
// letters of the prefix, were swapped.
func swapped(c Code, check byte) []Code {
	var near []Code
	number := written(int(c.number))
	try := func(prefix, number string) {
		n := 0
		for _, digit := range number {
			n = n*10 + int(digit-'0')
		}
		other, ok := New(prefix, n)
		if ok && other != c && other.Check() == check && !slices.Contains(near, other) {
			near = append(near, other)
		}
	}
	for i := 1; i < len(c.prefix); i++ {
		try(swap(c.prefix, i), number)
	}
	for i := 1; i < len(number); i++ {
		try(c.prefix, swap(number, i))
	}
	return near
}

func swap(text string, i int) string {
	b := []byte(text)
	b[i-1], b[i] = b[i], b[i-1]
	return string(b)
}

// Package label holds readable codes with a check character.
//
// A code is a prefix of the programme, a number and a check letter: QB-00412-T. Its
// letters are those of Letters, among which none looks like a digit that stands beside
// it or like another letter; letters stand where letters belong and digits where digits
// belong, so that a sign read for another kind of sign is always seen.
//
// The check letter is that of a pure system of ISO/IEC 7064:2003 with radix 2, its
// modulus 19 for an alphabet of 19 letters (the standard's own systems have 11, 37, 97,
// 661 and 1271): a code a₁ … aₙ holds when Σ aᵢ·2ⁿ⁻ⁱ ≡ 1 (mod 19), a letter counting as
// its place in Letters and a digit as itself. 19 is a prime and 2 a primitive root of it:
// a wrong sign adds d·2ᵏ with 0 < |d| < 19 and two swapped neighbours add d·2ᵏ, so
// neither can leave the sum as it was. (The standard's formula is from memory; that
// every such slip is caught is tried on all codes of a prefix in the tests.)
package label

import (
	"cmp"
	"fmt"
	"strings"
)

// Letters are the letters of a code, in the order of their values.
const Letters = "ABCDEFHJKMNPQRTVWXY"

// The bounds of a code: letters of a prefix, and the largest number.
const (
	ShortestPrefix = 2
	LongestPrefix  = 4
	LargestNumber  = 9_999_999
	digits         = 5 // at least so many are written
)

const (
	modulus = len(Letters)
	radix   = 2
)

// Code is a readable code. The zero value is unknown; codes are comparable and can be
// keys of maps.
type Code struct {
	prefix string
	number int32
}

// New is the code of a prefix and a number. ok is false when the prefix is not two to
// four of Letters, or the number not from 1 to LargestNumber.
func New(prefix string, number int) (c Code, ok bool) {
	if !GoodPrefix(prefix) || number < 1 || number > LargestNumber {
		return Code{}, false
	}
	return Code{prefix, int32(number)}, true
}

// GoodPrefix tells whether a prefix is two to four of Letters.
func GoodPrefix(prefix string) bool {
	return len(prefix) >= ShortestPrefix && len(prefix) <= LongestPrefix && strings.Trim(prefix, Letters) == ""
}

// Known is false for the zero value.
func (c Code) Known() bool { return c.number > 0 }

// Prefix is the programme's part of the code.
func (c Code) Prefix() string { return c.prefix }

// Number is the code's number, 0 when unknown.
func (c Code) Number() int { return int(c.number) }

// Check is the check letter; it panics when the code is unknown.
func (c Code) Check() byte {
	if !c.Known() {
		panic("label: the code is unknown")
	}
	return checkOf(c.prefix + written(int(c.number)))
}

// String is PREFIX-NUMBER-CHECK, or empty when unknown.
func (c Code) String() string {
	if !c.Known() {
		return ""
	}
	return c.prefix + "-" + written(int(c.number)) + "-" + string(c.Check())
}

// Compare orders codes by prefix, then by number.
func (c Code) Compare(other Code) int {
	return cmp.Or(cmp.Compare(c.prefix, other.prefix), cmp.Compare(c.number, other.number))
}

func written(number int) string { return fmt.Sprintf("%0*d", digits, number) }

// checkOf is the letter that makes a code of the signs before it hold.
func checkOf(signs string) byte {
	sum := 0
	for i := range len(signs) {
		sum = (sum + value(signs[i])) * radix % modulus
	}
	return Letters[(modulus+1-sum)%modulus]
}

// value of a sign: a digit is itself, a letter its place in Letters.
func value(sign byte) int {
	if sign >= '0' && sign <= '9' {
		return int(sign - '0')
	}
	at := strings.IndexByte(Letters, sign)
	if at < 0 {
		panic("label: no sign of a code: " + string(sign))
	}
	return at
}

package label

import "strings"

// KitSigns is how many letters of a kit's code are free; a check letter follows them.
const KitSigns = 8

// KitCode is the code by which the phone of whoever has a kit may send in cards with its
// labels: ABC-DEF-GHX, eight letters that were drawn and the check letter of codes. It
// tells nothing of the kit, so that it can't be guessed from another. The zero value is
// unknown; codes are comparable.
type KitCode struct{ signs string }

// NewKitCode is the code of drawn letters; draw gives whole numbers from 0 to below n, any
// as likely as another and none foreseeable.
func NewKitCode(draw func(n int) int) KitCode {
	signs := make([]byte, KitSigns)
	for i := range signs {
		signs[i] = Letters[draw(len(Letters))]
	}
	return KitCode{string(signs) + string(checkOf(string(signs)))}
}

// ParseKitCode reads a kit's code as people type it: small letters, other marks between
// the parts or none, and signs that look like the letter that belongs there. ok is false
// when it is none, or its check letter does not hold.
func ParseKitCode(text string) (c KitCode, ok bool) {
	signs := strings.Join(plain(text), "")
	if len(signs) != KitSigns+1 {
		return KitCode{}, false
	}
	var seen looks
	signs = seen.letters(signs)
	if seen.bad != "" || checkOf(signs[:KitSigns]) != signs[KitSigns] {
		return KitCode{}, false
	}
	return KitCode{signs}, true
}

// Known is false for the zero value.
func (c KitCode) Known() bool { return c.signs != "" }

// String is the code in three parts, or empty when it is unknown.
func (c KitCode) String() string {
	if !c.Known() {
		return ""
	}
	return c.signs[:3] + "-" + c.signs[3:6] + "-" + c.signs[6:]
}

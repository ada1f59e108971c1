package tables

import (
	"bytes"
	"regexp"
)

// formulas are the signs with which a spreadsheet lets a formula begin.
const formulas = "=+-@\t\r\n"

// guarded is a text as it is written: one that a spreadsheet would take for a formula
// gets an apostrophe before it. A number below zero is none, and stays a number for whoever
// reads it. One that looks like a guarded text gets another, so that unguarded gives back
// every text.
func guarded(text []byte) []byte {
	if !opensFormula(text) || belowZero.Match(text) {
		return text
	}
	return append([]byte{'\''}, text...)
}

// belowZero is a number with a minus before it, as we write them, and nothing more.
var belowZero = regexp.MustCompile(`^-[0-9]+(\.[0-9]+)?(e[+-][0-9]+)?$`)

// unguarded is the text that was guarded.
func unguarded(text []byte) []byte {
	if len(text) > 0 && text[0] == '\'' && opensFormula(text) {
		return text[1:]
	}
	return text
}

// opensFormula tells whether a text begins with a sign of formulas, apostrophes before it
// passed over.
func opensFormula(text []byte) bool {
	text = bytes.TrimLeft(text, "'")
	return len(text) > 0 && bytes.IndexByte([]byte(formulas), text[0]) >= 0
}

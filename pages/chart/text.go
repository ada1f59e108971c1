package chart

import "strings"

// Sizes of text in CSS pixels for which room is kept. They are those of a narrow
// screen, where Style sets text larger (16.5 and 15 instead of 14.5 and 13) to
// make up for the shrinking of the whole.
const (
	textSize  = 16.5
	smallSize = 15
)

// textWidth is the width of words in pixels at the given size, reckoned from
// the shapes of a wide sans serif, so that narrower ones leave room to spare.
func textWidth(words string, size float64) float64 {
	var em float64
	for _, r := range words {
		switch {
		case strings.ContainsRune("iljtfrI.,:;'|!()[] ", r):
			em += 0.36
		case r == '\u202f':
			em += 0.2
		case strings.ContainsRune("mwMW%—", r):
			em += 0.95
		case r >= 'A' && r <= 'Z':
			em += 0.69
		case r > 0x2e80: // scripts written in squares
			em += 1.05
		default:
			em += 0.61
		}
	}
	return em * size
}

// shorten cuts words to a width, the cut shown by an ellipsis.
func shorten(words string, size, width float64) string {
	if textWidth(words, size) <= width {
		return words
	}
	letters := []rune(words)
	for len(letters) > 0 && textWidth(string(letters)+"…", size) > width {
		letters = letters[:len(letters)-1]
	}
	return string(letters) + "…"
}

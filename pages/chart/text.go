package chart

import "strings"

// Sizes of text in CSS pixels at natural size; Style sets the same.
const (
	textSize  = 14.5
	smallSize = 13
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

// lines breaks words between words so that each line fits in width; a single
// word that is too long stays whole.
func lines(words string, size, width float64) []string {
	var out []string
	line := ""
	for _, word := range strings.Fields(words) {
		switch {
		case line == "":
			line = word
		case textWidth(line+" "+word, size) <= width:
			line += " " + word
		default:
			out = append(out, line)
			line = word
		}
	}
	return append(out, line)
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

package chart

import (
	_ "embed"
	"strings"
)

//go:embed style.css
var style string

// Style is the style sheet of all pictures. A page embeds it once; it follows
// the page's own custom properties, the reader's preference for light or dark,
// and data-theme="light" or "dark" on the root element, and prints as light.
func Style() string { return style }

// Alone makes a picture that stands by itself, as a file: the style sheet goes
// inside it, and it gets the paper's colour behind it.
func (s SVG) Alone() SVG {
	head, rest, found := strings.Cut(string(s), "</desc>\n")
	if !found {
		return s
	}
	return SVG(head + "</desc>\n<style>" + style + "</style>\n<rect class=\"sheet\" width=\"100%\" height=\"100%\"/>\n" + rest)
}

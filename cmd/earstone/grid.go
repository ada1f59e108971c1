package main

import (
	"strings"
	"unicode/utf8"
)

// grid is a small table of text for the terminal, its columns to the right but the first.
type grid struct {
	head []string
	rows [][]string
}

func (g *grid) add(cells ...string) { g.rows = append(g.rows, cells) }

// text lays the grid out, each line with a line feed.
func (g *grid) text() string {
	widths := make([]int, len(g.head))
	for _, row := range append([][]string{g.head}, g.rows...) {
		for i, cell := range row {
			widths[i] = max(widths[i], utf8.RuneCountInString(cell))
		}
	}
	var out strings.Builder
	for _, row := range append([][]string{g.head}, g.rows...) {
		var line strings.Builder
		for i, cell := range row {
			blank := strings.Repeat(" ", widths[i]-utf8.RuneCountInString(cell))
			switch {
			case i == 0:
				line.WriteString(cell + blank)
			default:
				line.WriteString("  " + blank + cell)
			}
		}
		out.WriteString(strings.TrimRight(line.String(), " ") + "\n")
	}
	return out.String()
}

// markdown lays the grid out as a table of a Markdown page.
func (g *grid) markdown() string {
	var out strings.Builder
	line := func(cells []string) { out.WriteString("| " + strings.Join(cells, " | ") + " |\n") }
	line(g.head)
	marks := []string{"---"}
	for range g.head[1:] {
		marks = append(marks, "---:")
	}
	line(marks)
	for _, row := range g.rows {
		line(row)
	}
	return out.String()
}

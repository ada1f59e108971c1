package main

import "testing"

func TestGrid(t *testing.T) {
	g := grid{head: []string{"age", "fish", "±"}}
	g.add("1", "1,204", "")
	g.add("12+", "9", "3 ½")
	const text = "age   fish    ±\n1    1,204\n12+      9  3 ½\n"
	if got := g.text(); got != text {
		t.Errorf("The grid reads\n%s, want\n%s", got, text)
	}
	const markdown = "| age | fish | ± |\n| --- | ---: | ---: |\n| 1 | 1,204 |  |\n| 12+ | 9 | 3 ½ |\n"
	if got := g.markdown(); got != markdown {
		t.Errorf("As Markdown it reads\n%s, want\n%s", got, markdown)
	}
}

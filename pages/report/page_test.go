package report

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"
)

// parse reads a page.
func parse(t testing.TB, page string) *html.Node {
	t.Helper()
	root, err := html.Parse(strings.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	return root
}

// all are the elements of these names beneath a node, in the order of the page.
func all(root *html.Node, names ...string) (found []*html.Node) {
	for n := range root.Descendants() {
		if n.Type == html.ElementNode && slices.Contains(names, n.Data) {
			found = append(found, n)
		}
	}
	return found
}

// elements are all elements beneath a node.
func elements(root *html.Node) (found []*html.Node) {
	for n := range root.Descendants() {
		if n.Type == html.ElementNode {
			found = append(found, n)
		}
	}
	return found
}

func attr(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

// words are the text beneath a node, style sheets left out.
func textOf(root *html.Node) string {
	var b strings.Builder
	for n := range root.Descendants() {
		if n.Type == html.TextNode && n.Parent.Data != "style" {
			b.WriteString(n.Data)
			b.WriteByte(' ')
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

// checkPage holds a page against all that must be true of any.
func checkPage(t *testing.T, page string) *html.Node {
	t.Helper()
	root := parse(t, page)
	checkWords(t, root)
	checkHead(t, root)
	checkHeadings(t, root)
	checkNames(t, root)
	checkPictures(t, root)
	checkTables(t, root)
	checkLabels(t, root)
	checkReach(t, page, root)
	return root
}

func checkWords(t *testing.T, root *html.Node) {
	t.Helper()
	said := textOf(root)
	for _, n := range elements(root) {
		for _, a := range n.Attr {
			said += " " + a.Val
		}
	}
	for _, slip := range []string{"NaN", "+Inf", "-Inf", "−Inf", "<nil>", "%!", "nil pointer", "0x", "[]", "map["} {
		if at := strings.Index(said, slip); at >= 0 {
			t.Errorf("the page says %q: ...%s...", slip, said[max(0, at-60):min(len(said), at+40)])
		}
	}
	for _, twice := range []string{"..", " .", " ,", ",,", "( ", " )"} {
		if at := strings.Index(strings.ReplaceAll(said, "...", "…"), twice); at >= 0 && !strings.Contains(said[max(0, at-8):at+2], "svg") {
			t.Errorf("the page says %q: ...%s...", twice, said[max(0, at-60):min(len(said), at+40)])
		}
	}
}

func checkHead(t *testing.T, root *html.Node) {
	t.Helper()
	if lang := attr(all(root, "html")[0], "lang"); lang != "en" {
		t.Errorf("the language of the page is %q, want en", lang)
	}
	if title := textOf(all(root, "title")[0]); title == "" {
		t.Error("the page has no title")
	}
}

func checkHeadings(t *testing.T, root *html.Node) {
	t.Helper()
	headings := all(root, "h1", "h2", "h3", "h4", "h5")
	last := 0
	for i, h := range headings {
		level := int(h.Data[1] - '0')
		if i == 0 && level != 1 || i > 0 && level == 1 || level > last+1 {
			t.Errorf("heading %q is of level %d after one of %d", textOf(h), level, last)
		}
		if textOf(h) == "" {
			t.Errorf("a heading of level %d is empty", level)
		}
		last = level
	}
}

func checkNames(t *testing.T, root *html.Node) {
	t.Helper()
	ids := map[string]bool{}
	for _, n := range elements(root) {
		id := attr(n, "id")
		if id != "" && ids[id] {
			t.Errorf("two elements are called %s", id)
		}
		ids[id] = true
	}
	for _, n := range elements(root) {
		if to, inside := strings.CutPrefix(attr(n, "href"), "#"); inside && !ids[to] {
			t.Errorf("a link leads to %s, which is not there", to)
		}
		if by := attr(n, "aria-labelledby"); by != "" && !ids[by] {
			t.Errorf("<%s> is called by %s, which is not there", n.Data, by)
		}
	}
}

func checkPictures(t *testing.T, root *html.Node) {
	t.Helper()
	figures := all(root, "figure")
	if pictures := all(root, "svg"); len(pictures) != len(figures) {
		t.Errorf("the page has %d pictures in %d figures", len(pictures), len(figures))
	}
	for _, f := range figures {
		var order []string
		for n := range f.ChildNodes() {
			if n.Type == html.ElementNode {
				order = append(order, n.Data)
			}
		}
		if len(order) < 3 || !slices.Equal(order[:3], []string{"svg", "figcaption", "details"}) {
			t.Errorf("%s holds %v, want picture, sentence and table", attr(f, "id"), order)
			continue
		}
		checkPicture(t, attr(f, "id"), all(f, "svg")[0], textOf(all(f, "figcaption")[0]))
	}
}

func checkPicture(t *testing.T, id string, svg *html.Node, caption string) {
	t.Helper()
	if attr(svg, "role") != "img" {
		t.Errorf("the picture of %s has the role %q", id, attr(svg, "role"))
	}
	title, desc := svg.FirstChild, ""
	for title != nil && title.Type != html.ElementNode {
		title = title.NextSibling
	}
	if d := all(svg, "desc"); len(d) == 1 {
		desc = textOf(d[0])
	}
	if title == nil || title.Data != "title" || textOf(title) == "" || desc == "" {
		t.Errorf("the picture of %s has no title or no description", id)
	}
	if !strings.HasSuffix(caption, ".") || !strings.HasSuffix(caption, desc) {
		t.Errorf("%s says %q, and its picture %q", id, caption, desc)
	}
}

func checkTables(t *testing.T, root *html.Node) {
	t.Helper()
	for _, table := range all(root, "table") {
		head := all(all(table, "thead")[0], "th")
		for _, th := range head {
			if attr(th, "scope") != "col" || textOf(th) == "" {
				t.Errorf("a column of %s has the scope %q and the name %q", attr(table, "aria-labelledby"), attr(th, "scope"), textOf(th))
			}
		}
		rows := all(all(table, "tbody")[0], "tr")
		if len(rows) == 0 {
			t.Errorf("%s has no row", attr(table, "aria-labelledby"))
		}
		for _, row := range rows {
			if cells := all(row, "th", "td"); len(cells) != len(head) || textOf(cells[0]) == "" {
				t.Errorf("a row of %s has %d cells under %d heads: %s", attr(table, "aria-labelledby"), len(cells), len(head), textOf(row))
				break
			}
		}
	}
	for _, d := range all(root, "details") {
		if s := d.FirstChild; len(all(d, "summary")) == 0 || s != nil && s.NextSibling != nil && textOf(all(d, "summary")[0]) == "" {
			t.Error("a fold does not say what it holds")
		}
	}
}

func checkLabels(t *testing.T, root *html.Node) {
	t.Helper()
	for _, input := range all(root, "input") {
		if input.Parent.Data != "label" || textOf(input.Parent) == "" {
			t.Errorf("%s has no label", attr(input, "id"))
		}
	}
	for _, n := range elements(root) {
		if strings.Contains(attr(n, "class"), "scroll") && (attr(n, "tabindex") != "0" || attr(n, "aria-labelledby") == "") {
			t.Error("a table that scrolls can't be reached by keyboard")
		}
	}
}

// checkReach looks for anything that a page without a network would miss.
func checkReach(t *testing.T, page string, root *html.Node) {
	t.Helper()
	if scripts := all(root, "script", "iframe", "object", "embed", "link", "img", "base"); len(scripts) > 0 {
		t.Errorf("the page holds <%s>", scripts[0].Data)
	}
	for _, n := range elements(root) {
		for _, a := range n.Attr {
			if (a.Key == "href" || a.Key == "src") && !strings.HasPrefix(a.Val, "#") {
				t.Errorf("<%s> leads to %s", n.Data, a.Val)
			}
			if strings.HasPrefix(a.Key, "on") || a.Key == "style" {
				t.Errorf("<%s> has %s", n.Data, a.Key)
			}
		}
	}
	rest := strings.ReplaceAll(page, `xmlns="http://www.w3.org/2000/svg"`, "")
	for _, outside := range []string{"http:", "https:", "url(", "@import"} {
		if at := strings.Index(rest, outside); at >= 0 {
			t.Errorf("the page reaches outside: %s", rest[at:min(len(rest), at+60)])
		}
	}
}

// outline is the headings of a page, each indented by its level.
func contents(root *html.Node) (lines []string) {
	for _, h := range all(root, "h1", "h2", "h3", "h4") {
		lines = append(lines, fmt.Sprintf("%s%s", strings.Repeat("  ", int(h.Data[1]-'1')), textOf(h)))
	}
	return lines
}

package tables

import (
	"bytes"
	"encoding/json"
	"io"
	"math"
	"strconv"

	"earstone/programme/date"
	"earstone/programme/finding"
)

// node is one value of a JSON text with where it stands. Of its fields those are set
// that its kind has.
type node struct {
	path   string
	row    int
	kind   nodeKind
	text   string // of a text, a number, true or false
	keys   []string
	values map[string]*node
	items  []*node
}

type nodeKind uint8

const (
	isText nodeKind = iota
	isNumber
	isTruth
	isNull
	isList
	isObject
)

// deepest is how far objects and lists may lie in one another.
const deepest = 16

func withoutMark(text []byte) []byte { return bytes.TrimPrefix(text, utf8Mark) }

// parseJSON reads a text into nodes; nil when it is not JSON, which is found. A key
// named twice is found, and its first value stands.
func parseJSON(p *page, text []byte) *node {
	text = withoutMark(text)
	d := json.NewDecoder(bytes.NewReader(text))
	d.UseNumber()
	root, ok := parseNode(p, d, text, "", 0)
	if ok {
		_, err := d.Token()
		ok = err == io.EOF
	}
	if !ok {
		p.row, p.column = rowOf(text, d.InputOffset()), ""
		p.add(finding.NotReadable, nil, "json")
		return nil
	}
	return root
}

func rowOf(text []byte, offset int64) int {
	return 1 + bytes.Count(text[:min(offset, int64(len(text)))], []byte{'\n'})
}

func parseNode(p *page, d *json.Decoder, text []byte, path string, depth int) (*node, bool) {
	token, err := d.Token()
	if err != nil || depth > deepest {
		return nil, false
	}
	n := &node{path: path, row: rowOf(text, d.InputOffset())}
	switch token := token.(type) {
	case string:
		n.kind, n.text = isText, token
	case json.Number:
		n.kind, n.text = isNumber, token.String()
	case bool:
		n.kind, n.text = isTruth, strconv.FormatBool(token)
	case nil:
		n.kind = isNull
	case json.Delim:
		if token == '[' {
			return n, n.list(p, d, text, depth)
		}
		return n, n.object(p, d, text, depth)
	}
	return n, true
}

func (n *node) list(p *page, d *json.Decoder, text []byte, depth int) bool {
	n.kind = isList
	for d.More() {
		item, ok := parseNode(p, d, text, n.path+"["+strconv.Itoa(len(n.items))+"]", depth+1)
		if !ok {
			return false
		}
		n.items = append(n.items, item)
	}
	_, err := d.Token()
	return err == nil
}

func (n *node) object(p *page, d *json.Decoder, text []byte, depth int) bool {
	n.kind, n.values = isObject, map[string]*node{}
	for d.More() {
		token, err := d.Token()
		key, isKey := token.(string)
		if err != nil || !isKey {
			return false
		}
		value, ok := parseNode(p, d, text, below(n.path, key), depth+1)
		if !ok {
			return false
		}
		if n.values[key] != nil {
			value.wrong(p, finding.TwiceColumn)
			continue
		}
		n.keys = append(n.keys, key)
		n.values[key] = value
	}
	_, err := d.Token()
	return err == nil
}

func below(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

// wrong finds a mistake in the value.
func (n *node) wrong(p *page, kind finding.Kind, facts ...string) {
	p.row, p.column, p.must = n.row, n.path, true
	p.add(kind, []byte(n.shown()), facts...)
}

func (n *node) shown() string {
	switch n.kind {
	case isNull:
		return "null"
	case isList:
		return "[...]"
	case isObject:
		return "{...}"
	}
	return n.text
}

// is asks for a kind of value.
func (n *node) is(p *page, kind nodeKind, expected string) bool {
	if n.kind != kind {
		n.wrong(p, finding.BadSetting, expected)
	}
	return n.kind == kind
}

// each hands over the values of an object by the functions of its known keys; keys that
// nobody knows are refused with the nearest known one.
func (n *node) each(p *page, known []string, take func(key string, value *node)) {
	if !n.is(p, isObject, "object") {
		return
	}
	for _, key := range n.keys {
		value := n.values[key]
		if !within(key, known) {
			p.row, p.column = value.row, value.path
			p.add(finding.UnknownSetting, []byte(key), finding.Nearest(key, known))
			continue
		}
		take(key, value)
	}
}

func within(word string, words []string) bool {
	for _, w := range words {
		if w == word {
			return true
		}
	}
	return false
}

// asText reads a text that is not empty.
func (n *node) asText(p *page, to *string) {
	if !n.is(p, isText, "text") {
		return
	}
	if n.text == "" {
		n.wrong(p, finding.Needed)
		return
	}
	*to = n.text
}

// asWord reads one of a list of words.
func (n *node) asWord(p *page, words []string, to *string) {
	if !n.is(p, isText, "text") {
		return
	}
	if !within(n.text, words) {
		n.wrong(p, finding.NotListed, append(append([]string{}, words...), finding.Nearest(n.text, words))...)
		return
	}
	*to = n.text
}

// asNumber reads a number within [low, high].
func (n *node) asNumber(p *page, low, high float64, to *float64) {
	if !n.is(p, isNumber, "number") {
		return
	}
	x, err := strconv.ParseFloat(n.text, 64)
	if err != nil || !(x >= low && x <= high) {
		n.wrong(p, finding.OutOfRange, outside(x, low, high)...)
		return
	}
	*to = x
}

func (n *node) asWhole(p *page, low, high int, to *int) {
	x := math.NaN()
	n.asNumber(p, float64(low), float64(high), &x)
	switch {
	case math.IsNaN(x):
	case x != math.Trunc(x):
		n.wrong(p, finding.NotWhole)
	default:
		*to = int(x)
	}
}

func (n *node) asTruth(p *page, to *bool) {
	if n.is(p, isTruth, "true_or_false") {
		*to = n.text == "true"
	}
}

func (n *node) asAnniversary(p *page, to *date.Anniversary) {
	if !n.is(p, isText, "month_and_day") {
		return
	}
	day, ok := date.ParseAnniversary(n.text)
	if !ok || !day.Known() {
		n.wrong(p, finding.BadSetting, "month_and_day")
		return
	}
	*to = day
}

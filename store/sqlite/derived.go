package sqlite

import (
	"strings"

	"earstone/store/history"
)

// derived is what is kept of a subject beside its entries, to find it by. It follows from
// the entries alone.
type derived struct {
	kind   history.Kind
	head   history.ID
	heads  int // 0: removed
	lookup []lookup
	words  string
}

type lookup struct {
	kind         history.Kind
	field, value string
}

// derivedOf is the derived part of a subject with these entries, in any order; the zero
// value when there are none. A record in conflict is found by what any of its heads says.
func derivedOf(entries []history.Entry) derived {
	if len(entries) == 0 {
		return derived{}
	}
	r := history.Resolve(entries)
	d := derived{kind: r.Kind, head: r.Heads[0].ID}
	if r.Removed() {
		return d
	}
	d.heads = len(r.Heads)
	var words []string
	for i := range r.Heads {
		fields := r.Heads[i].Fields
		for _, name := range history.Indexed() {
			if value := fields[name]; value != "" {
				d.lookup = append(d.lookup, lookup{r.Kind, name, value})
			}
		}
		if text := history.Words(r.Kind, fields); text != "" {
			words = append(words, text)
		}
	}
	d.words = strings.Join(words, " ")
	return d
}

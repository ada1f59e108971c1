package tables

import "earstone/programme/finding"

// extraLengths reads the names of the extra columns of lengths off its header. What is
// wrong with the header is found when the lengths are read.
func (t *Tables) extraLengths() (extra []string, err error) {
	where, there := t.places[lengths.name]
	if !there {
		return nil, nil
	}
	before := t.input
	err = t.reading(where, &finding.List{}, map[string]string{}, maxLengths, func(p *page, in rows) (int, error) {
		if in.next() {
			cells, _, _ := in.at()
			if l, ok := lengths.header(p, cells); ok {
				extra = l.extra
			}
		}
		return 0, nil
	})
	t.input = before
	return extra, err
}

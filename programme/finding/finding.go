// Package finding holds problems found in records: where, what, and how grave.
//
// A finding says what kind of mistake it is and where it stands; the sentence that a
// person reads (what was expected, what to do) is made from the kind by pages/words.
package finding

// Severity says whether a record can still be used.
type Severity uint8

// The severities: a warning never stops anything, an error does, a note tells what
// was assumed.
const (
	Note Severity = iota
	Warning
	Error
)

func (s Severity) String() string { return [...]string{"note", "warning", "error"}[s] }

// Place is where a problem stands: row 1 is the header, as a spreadsheet numbers it;
// row 0 is the file as a whole, an empty column the row as a whole.
type Place struct {
	File   string
	Row    int
	Column string
}

// Finding is one problem. Facts are what the sentences need beside the value, in the
// order that the kind documents.
type Finding struct {
	Kind     Kind
	Severity Severity
	Place    Place
	Value    string
	Facts    []string
	Must     bool // a value must stand there: to leave it out is no remedy
}

// most is how many findings of one kind in one column are kept with their rows; the
// rest are counted, so that a table of millions of bad rows can be told in full.
const most = 1000

// List collects findings. The zero value is ready for use.
type List struct {
	all   []Finding
	count map[group]int
	worst [Error + 1]int
}

type group struct {
	kind         Kind
	file, column string
}

// Add keeps a finding with the severity that belongs to its kind.
func (l *List) Add(kind Kind, place Place, value string, facts ...string) {
	l.Keep(Finding{Kind: kind, Severity: kind.Severity(), Place: place, Value: value, Facts: facts})
}

// Keep keeps a finding as it is.
func (l *List) Keep(f Finding) {
	if l.count == nil {
		l.count = map[group]int{}
	}
	g := group{f.Kind, f.Place.File, f.Place.Column}
	l.count[g]++
	l.worst[f.Severity]++
	if l.count[g] <= most {
		l.all = append(l.all, f)
	}
}

// Join keeps all that another list holds, and counts what it counted.
func (l *List) Join(other *List) {
	counted := other.worst
	for _, f := range other.all {
		l.Keep(f)
		counted[f.Severity]--
	}
	for s, n := range counted {
		l.worst[s] += n
	}
	for g, n := range other.count {
		if n > most {
			l.count[g] += n - most
		}
	}
}

// Moved is the list with other names for its files.
func (l *List) Moved(name func(file string) string) *List {
	moved := &List{worst: l.worst, count: map[group]int{}}
	for _, f := range l.all {
		f.Place.File = name(f.Place.File)
		moved.all = append(moved.all, f)
	}
	for g, n := range l.count {
		g.file = name(g.file)
		moved.count[g] += n
	}
	return moved
}

// Without is the list without the findings that echo another.
func (l *List) Without(echo func(Finding) bool) *List {
	kept := &List{worst: l.worst, count: map[group]int{}}
	for g, n := range l.count {
		kept.count[g] = n
	}
	for _, f := range l.all {
		if !echo(f) {
			kept.all = append(kept.all, f)
			continue
		}
		kept.worst[f.Severity]--
		kept.count[group{f.Kind, f.Place.File, f.Place.Column}]--
	}
	return kept
}

// All are the findings in the order in which they were found.
func (l *List) All() []Finding { return l.all }

// Of is the number of findings of a severity, those beyond the kept ones included.
func (l *List) Of(s Severity) int { return l.worst[s] }

// Beyond is how many findings were counted and not kept.
func (l *List) Beyond() int {
	total := 0
	for _, n := range l.worst {
		total += n
	}
	return total - len(l.all)
}

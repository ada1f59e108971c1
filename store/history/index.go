package history

import (
	"maps"
	"slices"
	"strings"
)

// labels are the fields that name a record of a kind; of other kinds it is label.
var labels = map[Kind]string{
	Areas: "area", Contributors: "contributor", Trips: "trip", Fish: "fish",
	Preparations: "preparation", Images: "image", Readings: "reading",
	Lengths: "trip", Columns: "table", Settings: "programme",
	Catch: "", Stones: "", Marks: "", KnownAges: "", Assays: "", Standards: "", Baseline: "", Conversions: "", Imports: "sha256",
}

// LabelField is the field that names a record of a kind; empty where records of the kind
// have no name. Two records of one kind can't have the same.
func LabelField(kind Kind) string {
	if field, known := labels[kind]; known {
		return field
	}
	return "label"
}

// Label is the name of a record with these fields.
func Label(kind Kind, fields Fields) string { return fields[LabelField(kind)] }

var indexed = []string{
	"area", "caught_on", "contributor", "fish", "image", "kit", "label", "landed_on", "place", "preparation", "programme",
	"reader", "reading", "received_on", "run", "session", "sha256", "state", "step", "table", "trip",
}

// Indexed are the fields by which Where finds records, whatever their kind.
func Indexed() []string { return slices.Clone(indexed) }

// IsIndexed tells whether Where can ask for a field.
func IsIndexed(field string) bool {
	_, is := slices.BinarySearch(indexed, field)
	return is
}

// unsought are fields whose words nobody looks for: large texts and hashes.
var unsought = []string{"geometry", "programme.json", "rows", "sha256"}

// Words are what Find finds a record by, as one line.
func Words(kind Kind, fields Fields) string {
	if kind == Marks || kind == Lengths || kind == Settings {
		return Label(kind, fields) // marks have nothing to be found by, the others little else
	}
	var all []string
	for _, name := range slices.Sorted(maps.Keys(fields)) {
		text := fields[name]
		sought := !slices.Contains(unsought, name) && (IsIndexed(name) || !isNumeric(text))
		if sought && !slices.Contains(all, text) {
			all = append(all, text)
		}
	}
	return strings.Join(all, " ")
}

// isNumeric tells measured values and dates from words: nobody looks for all fish of 214.
func isNumeric(text string) bool { return strings.Trim(text, "0123456789.-+e") == "" }

package record

// The closed sets of the tables. The zero value of each is unknown, written as an
// empty cell; String gives the word of the tables and Parse... reads it back.

// Edge is how much has grown outside the last counted annulus.
type Edge uint8

// The edge classes.
const (
	EdgeUnknown Edge = iota
	Narrow
	Partial
	Wide
	NotJudged
)

var edges = words[Edge]{"", "narrow", "partial", "wide", "not_judged"}

func (e Edge) String() string { return edges.text(e) }

// ParseEdge reads the word of an edge class.
func ParseEdge(text string) (Edge, bool) { return edges.parse(text) }

// EdgeWords are the words that ParseEdge takes.
func EdgeWords() []string { return edges[1:] }

// Side tells the left stone from the right.
type Side uint8

// The sides of the head.
const (
	SideUnknown Side = iota
	Left
	Right
)

var sides = words[Side]{"unknown", "L", "R"}

func (s Side) String() string { return sides.text(s) }

// ParseSide reads L, R or unknown; an empty cell is unknown too.
func ParseSide(text string) (Side, bool) {
	if text == "" {
		return SideUnknown, true
	}
	return sides.parse(text)
}

// SideWords are the words that ParseSide takes.
func SideWords() []string { return sides }

// LengthKind is what a length was measured between.
type LengthKind uint8

// The kinds of length.
const (
	LengthKindUnknown LengthKind = iota
	CurvedFork
	StraightFork
	PectoralToFork
	FirstDorsal
	Total
	Standard
	LowerJawFork
)

var lengthKinds = words[LengthKind]{"", "curved_fork", "straight_fork", "pectoral_to_fork", "first_dorsal", "total", "standard", "lower_jaw_fork"}

func (k LengthKind) String() string { return lengthKinds.text(k) }

// ParseLengthKind reads the word of a kind of length.
func ParseLengthKind(text string) (LengthKind, bool) { return lengthKinds.parse(text) }

// LengthKindWords are the words that ParseLengthKind takes.
func LengthKindWords() []string { return lengthKinds[1:] }

// WeightForm is what was left of the fish when it was weighed.
type WeightForm uint8

// The forms of weight.
const (
	WeightFormUnknown WeightForm = iota
	Round
	GilledGutted
	HeadedGutted
	Dressed
)

var weightForms = words[WeightForm]{"", "round", "gilled_gutted", "headed_gutted", "dressed"}

func (f WeightForm) String() string { return weightForms.text(f) }

// ParseWeightForm reads the word of a form of weight.
func ParseWeightForm(text string) (WeightForm, bool) { return weightForms.parse(text) }

// WeightFormWords are the words that ParseWeightForm takes.
func WeightFormWords() []string { return weightForms[1:] }

// Sex of a fish.
type Sex uint8

// The sexes.
const (
	SexUnknown Sex = iota
	Female
	Male
)

var sexes = words[Sex]{"", "F", "M"}

func (s Sex) String() string { return sexes.text(s) }

// ParseSex reads F or M.
func ParseSex(text string) (Sex, bool) { return sexes.parse(text) }

// SexWords are the words that ParseSex takes.
func SexWords() []string { return sexes[1:] }

// Truth is yes, no or unknown.
type Truth uint8

// The truths.
const (
	TruthUnknown Truth = iota
	Yes
	No
)

var truths = words[Truth]{"", "true", "false"}

func (t Truth) String() string { return truths.text(t) }

// ParseTruth reads true or false; yes, no, 1 and 0 are taken as well.
func ParseTruth(text string) (Truth, bool) {
	switch text {
	case "yes", "1", "TRUE", "True":
		return Yes, true
	case "no", "0", "FALSE", "False":
		return No, true
	}
	return truths.parse(text)
}

// TruthWords are the words that Truth prints.
func TruthWords() []string { return truths[1:] }

// words are the texts of a closed set in the order of its constants.
type words[T ~uint8] []string

func (w words[T]) text(value T) string {
	if int(value) < len(w) {
		return w[value]
	}
	return ""
}

func (w words[T]) parse(text string) (T, bool) {
	for i, word := range w {
		if word == text {
			return T(i), true
		}
	}
	return 0, false
}

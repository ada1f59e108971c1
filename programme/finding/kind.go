package finding

// Kind is a kind of mistake. Its text is stable: it stands in JSON output and in the
// message catalogues.
type Kind string

// The kinds of findings in tables, settings and records. Each gives its facts.
const (
	// The file as a whole.
	MissingTable   Kind = "missing_table"   // facts: what needs it
	EmptyTable     Kind = "empty_table"     // no row below the header
	NoHeader       Kind = "no_header"       // nothing in the file at all
	NotReadable    Kind = "not_readable"    // facts: why, in words
	MissingColumn  Kind = "missing_column"  // column: the one missed; facts: nearest column found, or empty
	UnknownColumn  Kind = "unknown_column"  // note: kept as it is; facts: nearest known name, or empty
	TwiceColumn    Kind = "twice_column"    // the header names a column twice
	Assumed        Kind = "assumed"         // note; facts: what was recognised (byte_order_mark, semicolons, decimal_commas, windows_1252, spreadsheet_dates, time_of_day)
	RaggedRow      Kind = "ragged_row"      // facts: cells found, cells expected
	BrokenQuote    Kind = "broken_quote"    // a quote that never ends or stands amid a cell
	TooLarge       Kind = "too_large"       // facts: what, the bound
	TwiceTable     Kind = "twice_table"     // facts: the other place that holds the same table
	UnknownTable   Kind = "unknown_table"   // note: not read; facts: nearest table name, or empty
	MixedDecimals  Kind = "mixed_decimals"  // decimal points and decimal commas in one file; facts: the row that showed the other
	UnknownSetting Kind = "unknown_setting" // facts: nearest known key, or empty
	BadSetting     Kind = "bad_setting"     // facts: what was expected

	// One cell.
	NotNumber    Kind = "not_number"     // facts: a likely reading ("214" for "2l4"), or empty
	NotWhole     Kind = "not_whole"      // a whole number was expected
	NotDate      Kind = "not_date"       // facts: a likely reading, or empty
	NotListed    Kind = "not_listed"     // facts: the words that are taken, then the nearest of them or empty last
	OutOfRange   Kind = "out_of_range"   // facts: lowest, highest (either may be empty; >0 is more than zero)
	Needed       Kind = "needed"         // an empty cell where a value must stand
	TwiceID      Kind = "twice_id"       // facts: the row where it stood first
	UnknownID    Kind = "unknown_id"     // facts: the table that should hold it, nearest known id or empty
	NotThisThing Kind = "not_this_thing" // facts: what was expected

	// Records against each other.
	TwiceRecord      Kind = "twice_record"      // facts: the row that says the same
	Contradiction    Kind = "contradiction"     // facts: the other place, what it says
	DateOrder        Kind = "date_order"        // facts: what should come first, its date
	FutureDate       Kind = "future_date"       // facts: the day on which the records were checked
	CoarseDate       Kind = "coarse_date"       // facts: the stratum column that the date must tell
	InchesAsCm       Kind = "inches_as_cm"      // facts: the value that would fit
	Implausible      Kind = "implausible"       // facts: what it was held against, how far off (z, or the figure itself)
	Held             Kind = "held"              // as implausible, and so far off that the record waits for a look; facts: the same
	MarkOrder        Kind = "mark_order"        // facts: the order of the mark before, what it says
	NoEdge           Kind = "no_edge"           // a count without a word on the edge
	TwoPublications  Kind = "two_publications"  // facts: from, to, the sources
	ImpossibleAnnuli Kind = "impossible_annuli" // no annulus is impossible on this date
	NoCalendar       Kind = "no_calendar"       // facts: species
	BadCalendar      Kind = "bad_calendar"      // facts: what contradicts what
	NoConversion     Kind = "no_conversion"     // facts: from, to
	Extrapolated     Kind = "extrapolated"      // facts: low, high
	NoCatch          Kind = "no_catch"          // value: a sampled stratum without a catch; facts: its trips, the stratum of catch.csv nearest in spelling or empty
	NoSample         Kind = "no_sample"         // value: a catch stratum without a sample; facts: what fills it
	WeightOnly       Kind = "weight_only"       // a catch in weight that can't be told in fish; facts: what is missing (equation, sample), kind of length

	// What an estimate takes for granted.
	GrowthAssumed Kind = "growth_assumed" // value: a year without aged fish; facts: species, the year whose lengths at age it takes, or empty

	// What the chemistry of stones shows.
	OutsideBaseline Kind = "outside_baseline" // value: fish unlike every nursery, more than chance puts there; facts: species, assayed fish
	RunHeldOut      Kind = "run_held_out"     // value: an assay run whose reference material is off; facts: tracer
)

// Severity of a kind: what can't be used is an error, what looks wrong a warning,
// what was assumed a note.
func (k Kind) Severity() Severity {
	switch k {
	case Assumed, UnknownColumn, UnknownTable:
		return Note
	case MissingTable, EmptyTable, TwiceRecord, InchesAsCm, Implausible, ImpossibleAnnuli,
		NoCalendar, NoConversion, Extrapolated, NoCatch, NoSample, GrowthAssumed, OutsideBaseline, RunHeldOut, DateOrder, Contradiction,
		MixedDecimals, FutureDate, Held, MarkOrder, NoEdge, TwoPublications:
		return Warning
	}
	return Error
}

// Kinds are all kinds of findings, in the order in which they stand above.
func Kinds() []Kind {
	return []Kind{
		MissingTable, EmptyTable, NoHeader, NotReadable, MissingColumn, UnknownColumn, TwiceColumn,
		Assumed, RaggedRow, BrokenQuote, TooLarge, TwiceTable, UnknownTable, MixedDecimals, UnknownSetting,
		BadSetting, NotNumber, NotWhole, NotDate, NotListed, OutOfRange, Needed, TwiceID, UnknownID,
		NotThisThing, TwiceRecord, Contradiction, DateOrder, FutureDate, CoarseDate, InchesAsCm,
		Implausible, Held, MarkOrder, NoEdge, TwoPublications, ImpossibleAnnuli, NoCalendar, BadCalendar,
		NoConversion, Extrapolated, NoCatch, NoSample, WeightOnly, GrowthAssumed, OutsideBaseline, RunHeldOut,
	}
}

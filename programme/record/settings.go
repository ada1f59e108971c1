package record

import "earstone/programme/date"

// Settings are what a programme declares about itself in programme.json. Defaults
// gives every key that may be left out.
type Settings struct {
	Name          string
	Species       []Species
	AgeConvention string // january or birthday
	Calendars     map[Species]Calendar
	LengthBin     LengthBin
	Strata        []string // columns that define a catch stratum
	Ladders       Ladders
	Key           KeySettings
	PlusGroup     int // 0: none
	AgreedAge     AgreedAge
	Readers       []ReaderID // in the programme's order; used to break ties
	Targets       []Target
	Resample      ResampleSettings
}

// Calendar is when a species is born and when its annuli are laid down.
type Calendar struct {
	BirthDay          date.Anniversary
	AnnulusDay        date.Anniversary
	AnnulusWindowDays int
	FirstAnnulusAge   float64 // years
}

// LengthBin is the grid on which lengths are counted. A bin holds its lower edge.
type LengthBin struct {
	Width float64
	Unit  string
	Kind  LengthKind
}

// Ladders are the column sets along which a thin cell may borrow, tried in order.
type Ladders struct {
	Lengths [][]string
	Key     [][]string
}

// KeySettings choose the age-length key.
type KeySettings struct {
	Form        string // direct, smoothed, iterated, combined
	LeastFish   int
	AgeingError bool
	EdgeBins    bool
}

// AgreedAge is the rule by which several readings become one age.
type AgreedAge struct {
	Rule   string // median, expert, mode
	Expert ReaderID
	Tie    string // reread, lower_reader
}

// Target is a quantity that the programme wants to know well.
type Target struct {
	Quantity string
	Ages     [2]int
	WantCV   float64
}

// ResampleSettings declare what is drawn again beyond the defaults.
type ResampleSettings struct {
	Fish bool // redraw lengths within trips: only for a small sub-sample of each trip
}

// Defaults are the settings of a programme that declares nothing but its name and
// species.
func Defaults() Settings {
	return Settings{
		AgeConvention: "january",
		Calendars:     map[Species]Calendar{},
		LengthBin:     LengthBin{Width: 5, Unit: "cm", Kind: StraightFork},
		Strata:        []string{"year", "quarter", "area", "gear"},
		Ladders: Ladders{
			Lengths: [][]string{{"year", "quarter", "area", "gear"}, {"year", "area", "gear"}, {"year", "gear"}, {"year"}},
			Key:     [][]string{{"year", "quarter"}, {"year"}, {}},
		},
		Key:       KeySettings{Form: "smoothed", LeastFish: 5, AgeingError: true}, // what rehearsal favours: docs/rehearsal.md
		AgreedAge: AgreedAge{Rule: "median", Tie: "reread"},
	}
}

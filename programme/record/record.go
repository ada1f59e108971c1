// Package record holds what people write down: one type a table, one value a row.
//
// The tables and their columns are told in docs/tables.md. An unknown cell is the
// zero value of its type and never a number; whoever must tell unknown from zero
// finds a Number, which knows the difference. Records are plain values: they know
// no file, no database and no estimator.
package record

import "earstone/programme/date"

// The identifiers of records. They come from the programme's own lists.
type (
	// FishID is the label of a fish.
	FishID string
	// TripID is the code of a sampled trip or landing.
	TripID string
	// ReaderID is the code of a person who reads stones.
	ReaderID string
	// Species is a three-letter code of the FAO ASFIS list.
	Species string
)

// Number is a measured value that may be unknown. The zero value is unknown.
type Number struct {
	X     float64
	Known bool
}

// Some is a known number.
func Some(x float64) Number { return Number{x, true} }

// Extra is what a row held in columns that Earstone does not know, in the order of
// the table's unknown columns; it is kept and comes back on export.
type Extra []string

// Area is a named part of the sea, coarse by intent.
type Area struct {
	Area, Name, Parent string
	Geometry           string // GeoJSON, or empty
	PublicName         string
	Row                int
	Extra              Extra
}

// Contributor is who sends fish. Names and addresses are not here.
type Contributor struct {
	Contributor    string
	Kind           string // angler, crew, dealer, sampler, survey
	Language       string
	ContactConsent Truth
	PublishConsent Truth
	Row            int
	Extra          Extra
}

// Trip is a sampled trip or landing: the unit that is drawn again in resampling.
type Trip struct {
	Trip         TripID
	LandedOn     date.Day
	Area, Gear   string
	Port         string
	LandedNumber Number // fish
	LandedKg     Number
	Contributor  string
	Row          int
	Extra        Extra
}

// Length is a measured length with how it was taken. Value is in Unit.
type Length struct {
	Value      Number
	Unit       string // mm, cm, in
	Kind       LengthKind
	Resolution Number // what it was rounded to, in Unit
	Derived    bool   // from a weight: never written down, and never in a table of records
	SD         Number // of a derived length, in Unit; unknown where its equation has none
}

// LengthCount is a number of fish of one length in one trip.
type LengthCount struct {
	Trip    TripID
	Species Species
	Sex     Sex
	Length  Length
	Count   float64
	Row     int
	Extra   Extra
}

// Catch is the total catch of one stratum in number or weight.
type Catch struct {
	Year, Quarter, Month int // 0: not given
	Area, Gear           string
	Species              Species
	Number               Number
	WeightKg             Number
	CV                   Number // of the total, as a share
	Row                  int    // where it stands in its table, for findings
	Extra                Extra
}

// Fish is a fish with a label.
type Fish struct {
	Fish        FishID
	Species     Species
	CaughtOn    date.Day
	Area, Gear  string
	Trip        TripID
	Contributor string
	Length      Length
	Weight      Number
	WeightUnit  string // kg, g, lb
	WeightForm  WeightForm
	Sex         Sex
	ReceivedOn  date.Day
	Remark      string
	Row         int
	Extra       Extra
}

// Stone is one otolith of a fish.
type Stone struct {
	Fish      FishID
	Side      Side
	Condition string // whole, chipped, broken, absent
	Membrane  string // on, off
	MassMg    Number
	Purpose   string // age, chemistry, both, archive
	Place     string
	Row       int
	Extra     Extra
}

// Preparation is a section or mount of a stone.
type Preparation struct {
	Preparation string
	Fish        FishID
	Side        Side
	Kind        string
	ThicknessUm Number
	MadeOn      date.Day
	MadeBy      string
	Row         int
	Extra       Extra
}

// Image is a picture of a preparation.
type Image struct {
	Image, Preparation string
	File, SHA256       string
	UmPerPixel         Number
	TakenOn            date.Day
	Light              string
	Row                int
	Extra              Extra
}

// Joint is the reader of joint readings, which readers make together over a disagreement.
const Joint ReaderID = "joint"

// Reading is one reader's count of one stone on one occasion.
type Reading struct {
	Reading     string
	Fish        FishID
	Side        Side
	Preparation string
	Image       string
	Reader      ReaderID
	ReadAt      date.Day
	Session     string
	Blind       Truth
	Annuli      int // -1: not counted
	Edge        Edge
	Readability int // 1 worst to 5 best, 0 unknown
	Control     Truth
	Remark      string
	Row         int
	Extra       Extra
}

// Mark is a marked point of a reading.
type Mark struct {
	Reading    string
	Order      int
	Kind       string // core, annulus, edge
	XPx, YPx   Number
	DistanceUm Number
	Row        int
	Extra      Extra
}

// KnownAge is a fish whose age is known, released young or with a dated mark.
type KnownAge struct {
	Fish       FishID
	DecimalAge float64
	Basis      string
	SD         Number
	Row        int
	Extra      Extra
}

// Assay is one tracer of one stone.
type Assay struct {
	Fish   FishID
	Side   Side
	Tracer string
	Value  Number
	Unit   string
	SD     Number
	Scale  string
	Run    string
	Region string
	Row    int
	Extra  Extra
}

// ReferenceAssay is a reference material measured in an assay run (standards.csv).
type ReferenceAssay struct {
	Run, Material, Tracer string
	Value                 Number
	Unit                  string
	Expected              Number
	Row                   int
	Extra                 Extra
}

// Baseline is a fish of known nursery.
type Baseline struct {
	Fish      FishID
	Nursery   string
	YearClass int
	Row       int
	Extra     Extra
}

// Conversion is a published or own equation between lengths and weights.
type Conversion struct {
	Species   Species
	Quantity  string // length or weight: what comes out
	From, To  string // kinds of length or forms of weight
	Form      string // linear, power, shifted_square, log_linear
	A, B      float64
	SD        Number // residual SD; on the log scale for power and log_linear
	Low, High Number // range of the input that was sampled
	Unit      string
	Source    string
	Status    string
	Row       int
	Extra     Extra
}

// Book is a whole programme but its length counts, which are streamed.
type Book struct {
	Settings     Settings
	Areas        []Area
	Contributors []Contributor
	Trips        []Trip
	Catches      []Catch
	Fish         []Fish
	Stones       []Stone
	Preparations []Preparation
	Images       []Image
	Readings     []Reading
	Marks        []Mark
	KnownAges    []KnownAge
	Assays       []Assay
	Standards    []ReferenceAssay
	Baseline     []Baseline
	Conversions  []Conversion

	// ExtraColumns names, for each table (fish, trips, lengths, ...), the columns whose
	// cells the records keep in Extra.
	ExtraColumns map[string][]string
}

// A Source yields a programme, whatever it is kept in: plain tables or a store.
type Source interface {
	// Book is everything but the length counts.
	Book() (*Book, error)
	// Lengths hands over each length count in the order of the table. The pointer is
	// good until the next call; an error of each ends the stream and is returned.
	Lengths(each func(*LengthCount) error) error
}

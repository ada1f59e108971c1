package fishery

import (
	"fmt"

	"earstone/programme/date"
	"earstone/programme/record"
)

// Settings are what is invented about a fishery, its sampling and its readers. Sized
// gives whole sets of them, to be altered field by field; Check tells what does not
// fit together. Shares lie between 0 and 1, lengths are straight fork lengths in cm,
// a spread is the standard deviation of a natural logarithm.
type Settings struct {
	// The fishery.
	Programme string // its name
	FirstYear int
	Years     int
	Banks     []Bank
	Gears     []Gear
	Calendar  record.Calendar

	// The fish in the sea.
	OldestAge         int     // no fish grows older
	PlusGroup         int     // ages from here on are reported together; 0: none
	RecruitSpread     float64 // strength of cohorts
	NaturalMortality  float64 // per year
	FishingMortality  float64 // per year, of fully selected lengths
	LargestCm         float64 // L∞ of the von Bertalanffy curve
	GrowthRate        float64 // K, per year
	AgeAtZeroLength   float64 // t0, years
	LengthCV          float64 // among fish of one age
	AreaEffect        float64 // 0: one growth in all banks; 0.1: mean length at age runs from −10 % at the first bank to +10 % at the last
	WeightA, WeightB  float64 // round weight in kg: median a·l^b
	WeightSpread      float64
	MassA             float64 // a whole stone weighs MassA·l^MassByLength·a^MassByAge mg at the median
	MassByLength      float64
	MassByAge         float64 // above 0: of two fish of one length the older has the heavier stone
	MassSpread        float64
	CatchMedian       float64 // fish a stratum and quarter
	CatchSpread       float64 // among strata
	LandedMedian      float64 // fish a trip
	LandedSpread      float64 // among trips
	MeasuredSpread    float64 // of the fish measured a trip
	TripAges          float64 // how alike the ages of one trip are beyond their size: 1/(1 + concentration) of a Dirichlet
	TripSizes         float64 // how alike small and large go together: correlation of the normal scores of age within a trip
	TripGrowth        float64 // how alike lengths at one age are: correlation of the normal scores of length at age within a trip
	CatchInWeight     float64 // share of strata whose catch is told in kg
	StonesWithoutTrip float64 // share of aged fish that came off no sampled trip

	// Where the fish grew up.
	Nurseries   []Nursery // in an order of their own, which BankTilt follows; none: no origin is known
	ShareSpread float64   // of the shares of nurseries among cohorts
	ShareMemory float64   // correlation of a cohort's logarithms of shares with those of the next
	BankTilt    float64   // 0: one mix in all banks; 1: the log odds of the last nursery against the first run from −1 at the first bank to +1 at the last, beside those of the cohort
	TripNursery float64   // how alike fish of a trip and age are in their nursery: correlation of being of it

	// The sampling, over all years.
	Trips          int
	FewestTrips    int // a sampled stratum
	MostTrips      int
	UnsampledShare float64 // share of strata with no trip
	OneTripShare   float64 // share of strata with one trip
	Lengths        int     // fish measured
	BinCm          int     // width of the bins by which stones are picked
	Aged           int     // fish aged
	Readings       int     // the first readers read each fish, the next as many as are left
	MixedKinds     float64 // share of fish cards with a curved fork length
	PartialDates   float64 // share of fish cards with a month or a year for a date
	KnownAges      int     // aged fish whose age is known besides: released young
	WeighedOnly    int     // measured fish with a card and a weighed stone that nobody reads
	ChippedStones  float64 // share of stones that are not whole: their mass is not told

	// The assays of tracers.
	Assayed      int              // aged fish whose other stone is assayed, by the same bins
	UnseenYears  float64          // share of year classes that the baseline of a nursery lacks
	AssaySD      [Tracers]float64 // error of one assay, ‰
	RunSize      int              // fish an assay run
	RunSD        float64          // of a run's offset, ‰, each tracer for itself
	DriftingRuns int              // runs that drift
	RunDrift     float64          // how much too high a drifting run reads at its end, ‰

	// The readers, in the programme's order.
	Readers   []Reader
	EdgeNoise float64 // share of edges read one class off, where the calendar does not ask for the edge
}

// Bank is an invented fishing ground. Tilt is how its fish differ in length from
// those of the whole sea: availability goes with e^(tilt·(l − 150 cm)/100 cm).
type Bank struct {
	Name  string
	Tilt  float64
	Gears int // how many of the gears fish there, from the first
}

// Gear selects fish by length: a logistic rise, half at RiseCm, times a logistic
// fall, half at FallCm. A slope of 0 leaves rise or fall out.
type Gear struct {
	Name                string
	RiseCm, RiseSlopeCm float64
	FallCm, FallSlopeCm float64
}

// Reader is an invented reader of stones, with the error of methods, section 4: the
// age class read is a normal with mean a(1 + Bias) and standard deviation CV·a, or,
// where OldestSD is not 0, the line from YoungestSD at age 1 to OldestSD at the
// oldest age, cut into whole ages.
type Reader struct {
	ID                   record.ReaderID
	CV                   float64
	YoungestSD, OldestSD float64 // years
	Bias                 float64 // share of the true age
}

// sd is σ(a).
func (r Reader) sd(age, oldest int) float64 {
	if r.OldestSD == 0 {
		return r.CV * float64(age)
	}
	return r.YoungestSD + (r.OldestSD-r.YoungestSD)*float64(age-1)/float64(oldest-1)
}

// Sized is a full set of settings: small (12 strata, 60 trips, 6,000 lengths, 600
// aged fish, 200 of them assayed, from two nurseries), season (72, 400, 200,000, 5,000,
// 400, three) or decade (ten such seasons).
func Sized(size string) (Settings, error) {
	s := season()
	switch size {
	case "small":
		s.Banks = []Bank{{"Quarrow", 0.2, 2}, {"Skell", -0.3, 1}}
		s.Trips, s.MostTrips, s.Lengths, s.Aged, s.Readings = 60, 9, 6_000, 600, 1_400
		s.LandedMedian = 500
		s.Nurseries = twoNurseries()
		s.Assayed, s.WeighedOnly = 200, 100
	case "season":
	case "decade":
		s.Years, s.Trips, s.Lengths, s.Aged, s.Readings = 10, 4_000, 2_000_000, 50_000, 120_000
		s.Assayed, s.WeighedOnly = 3_000, 4_000
	default:
		return Settings{}, fmt.Errorf("%q is no size of an invented fishery: small, season or decade", size)
	}
	return s, nil
}

func season() Settings {
	birth, _ := date.ParseAnniversary("06-01")
	annulus, _ := date.ParseAnniversary("12-01")
	return Settings{
		Programme: "Quarrow Banks ear-stone programme",
		FirstYear: 2031,
		Years:     1,
		Banks: []Bank{{"Quarrow", 0.2, 3}, {"Skell", -0.3, 3}, {"Dunmarrow", 0.6, 3},
			{"Hallow", -0.6, 3}, {"Ferrin", 0, 3}, {"Ostle", 0.3, 3}},
		Gears: []Gear{
			{Name: "line", RiseCm: 110, RiseSlopeCm: 18},
			{Name: "net", RiseCm: 95, RiseSlopeCm: 12, FallCm: 190, FallSlopeCm: 20},
			{Name: "troll", RiseCm: 55, RiseSlopeCm: 8, FallCm: 125, FallSlopeCm: 18},
		},
		Calendar: record.Calendar{BirthDay: birth, AnnulusDay: annulus, AnnulusWindowDays: 30, FirstAnnulusAge: 0.5},

		OldestAge: 16, PlusGroup: 12, RecruitSpread: 0.5,
		NaturalMortality: 0.15, FishingMortality: 0.15,
		LargestCm: 290, GrowthRate: 0.11, AgeAtZeroLength: -1, LengthCV: 0.06,
		WeightA: 2.1e-5, WeightB: 2.98, WeightSpread: 0.1,
		MassA: 0.9, MassByLength: 0.8, MassByAge: 0.25, MassSpread: 0.05,
		CatchMedian: 40_000, CatchSpread: 1.1, LandedMedian: 2_500, LandedSpread: 0.7, MeasuredSpread: 0.3,
		TripAges: 0.015, TripSizes: 0.09, TripGrowth: 0.06, // together about 0.1, in length and in age at length

		Nurseries: threeNurseries(), ShareSpread: 0.4, ShareMemory: 0.8, TripNursery: 0.1,

		Trips: 400, FewestTrips: 3, MostTrips: 12,
		Lengths: 200_000, BinCm: 5, Aged: 5_000, Readings: 12_000,
		Readers: []Reader{
			{ID: "R1", CV: 0.06},
			{ID: "R2", CV: 0.08},
			{ID: "R3", CV: 0.08, Bias: 0.02},
		},
		EdgeNoise: 0.1,

		WeighedOnly: 500,
		Assayed:     400, UnseenYears: 0.25,
		AssaySD: [Tracers]float64{0.06, 0.08}, RunSize: 40, RunSD: 0.02, RunDrift: 0.4,
	}
}

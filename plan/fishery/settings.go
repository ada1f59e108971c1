package fishery

import (
	"errors"
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
// aged fish), season (72, 400, 200,000, 5,000) or decade (ten such seasons).
func Sized(size string) (Settings, error) {
	s := season()
	switch size {
	case "small":
		s.Banks = []Bank{{"Quarrow", 0.2, 2}, {"Skell", -0.3, 1}}
		s.Trips, s.MostTrips, s.Lengths, s.Aged, s.Readings = 60, 9, 6_000, 600, 1_400
		s.LandedMedian = 500
	case "season":
	case "decade":
		s.Years, s.Trips, s.Lengths, s.Aged, s.Readings = 10, 4_000, 2_000_000, 50_000, 120_000
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
		CatchMedian: 40_000, CatchSpread: 1.1, LandedMedian: 2_500, LandedSpread: 0.7, MeasuredSpread: 0.3,
		TripAges: 0.015, TripSizes: 0.09, TripGrowth: 0.06, // together about 0.1, in length and in age at length

		Trips: 400, FewestTrips: 3, MostTrips: 12,
		Lengths: 200_000, BinCm: 5, Aged: 5_000, Readings: 12_000,
		Readers: []Reader{
			{ID: "R1", CV: 0.06},
			{ID: "R2", CV: 0.08},
			{ID: "R3", CV: 0.08, Bias: 0.02},
		},
		EdgeNoise: 0.1,
	}
}

// Check tells what does not fit together in the settings, all of it; nil when
// nothing is wrong.
func (s Settings) Check() error {
	var wrong []error
	ask := func(fine bool, format string, args ...any) {
		if !fine {
			wrong = append(wrong, fmt.Errorf(format, args...))
		}
	}
	for _, share := range []struct {
		name string
		of   float64
	}{
		{"TripAges", s.TripAges}, {"TripSizes", s.TripSizes}, {"TripGrowth", s.TripGrowth},
		{"CatchInWeight", s.CatchInWeight}, {"StonesWithoutTrip", s.StonesWithoutTrip},
		{"UnsampledShare", s.UnsampledShare}, {"OneTripShare", s.OneTripShare},
		{"MixedKinds", s.MixedKinds}, {"PartialDates", s.PartialDates}, {"EdgeNoise", s.EdgeNoise},
	} {
		ask(share.of >= 0 && share.of <= 1, "%s is %v: a share lies between 0 and 1", share.name, share.of)
	}
	ask(s.TripAges < 1 && s.TripSizes < 1 && s.TripGrowth < 1, "fish of one trip can't be all the same: TripAges, TripSizes and TripGrowth stay below 1")
	ask(s.AreaEffect > -0.5 && s.AreaEffect < 0.5, "AreaEffect is %v: it stays between −0.5 and 0.5", s.AreaEffect)
	ask(s.Years >= 1 && s.FirstYear >= 100 && s.FirstYear+s.Years < 10_000, "%d years from %d are no seasons", s.Years, s.FirstYear)
	ask(s.OldestAge >= 2 && s.OldestAge <= 60, "the oldest age is %d: 2 to 60", s.OldestAge)
	ask(s.PlusGroup >= 0 && s.PlusGroup <= s.OldestAge, "the plus group %d lies beyond the oldest age %d", s.PlusGroup, s.OldestAge)
	ask(s.LargestCm > 0 && s.LargestCm < 1_000 && s.GrowthRate > 0 && s.AgeAtZeroLength <= 0, "fish grow from below age 0 to under 10 metres")
	ask(s.LengthCV > 0 && s.LengthCV <= 0.2, "LengthCV is %v: above 0, up to 0.2", s.LengthCV)
	ask(s.WeightA > 0 && s.WeightB > 0, "a fish weighs something: WeightA and WeightB are above 0")
	ask(s.CatchMedian > 0 && s.LandedMedian > 0, "CatchMedian and LandedMedian are above 0")
	ask(s.Calendar.BirthDay.Known() && s.Calendar.AnnulusDay.Known() && s.Calendar.AnnulusWindowDays >= 0, "the calendar lacks a day")
	ask(s.BinCm >= 1, "BinCm is %d: 1 or more", s.BinCm)
	ask(len(s.Gears) > 0 && len(s.Banks) > 0, "there is no gear or no bank")
	for _, b := range s.Banks {
		ask(b.Gears >= 1 && b.Gears <= len(s.Gears), "%d of %d gears fish at %s", b.Gears, len(s.Gears), b.Name)
	}
	ask(s.Aged >= 1 && s.Aged <= s.Lengths, "of %d fish measured %d are aged", s.Lengths, s.Aged)
	ask(len(s.Readers) >= 1 && s.Readings >= s.Aged && s.Readings <= s.Aged*len(s.Readers),
		"%d readers can't make %d readings of %d fish, each fish once to each reader and by one at least", len(s.Readers), s.Readings, s.Aged)
	ask(s.FewestTrips >= 2 && s.MostTrips >= s.FewestTrips, "a sampled stratum has from %d to %d trips: from 2 up", s.FewestTrips, s.MostTrips)
	none, one, full := s.sampled()
	ask(full >= 1, "of %d strata none has more than one trip", none+one+full)
	ask(s.Trips >= one+full*s.FewestTrips && s.Trips <= one+full*s.MostTrips,
		"%d trips can't be dealt over %d strata, %d to %d each, and %d with one", s.Trips, full, s.FewestTrips, s.MostTrips, one)
	return errors.Join(wrong...)
}

// strataAYear is the number of strata of one year.
func (s Settings) strataAYear() int {
	n := 0
	for _, b := range s.Banks {
		n += 4 * b.Gears
	}
	return n
}

// sampled is how many strata have no trip, one trip, and more.
func (s Settings) sampled() (none, one, full int) {
	n := s.strataAYear() * s.Years
	none = int(s.UnsampledShare*float64(n) + 0.5)
	one = int(s.OneTripShare*float64(n) + 0.5)
	return none, one, n - none - one
}

// columns is the number of age columns of the truth: ages 0, 1, ... and the last,
// which holds all older fish where there is a plus group.
func (s Settings) columns() int {
	if s.PlusGroup == 0 {
		return s.OldestAge + 1
	}
	return s.PlusGroup + 1
}

package age

import (
	"maps"
	"slices"

	"earstone/programme/finding"
	"earstone/programme/record"
)

// Rules are what a programme declares on ages, checked once and ready for its fish.
// They are not changed by use and serve several goroutines.
type Rules struct {
	Panel      // whose order the Classes of a Variant follow
	convention Convention
	agreed     record.AgreedAge
	calendars  map[record.Species]held
}

// held is a calendar with the trouble that it makes for every fish of its species.
type held struct {
	record.Calendar
	trouble Trouble
}

// NewRules checks the settings on ages. A setting that means nothing is found and its
// default taken; the ages of a species whose calendar contradicts itself are refused.
// readings tell who reads beside those that the settings declare.
func NewRules(settings record.Settings, readings []record.Reading) (*Rules, []finding.Finding) {
	r := &Rules{Panel: NewPanel(settings.Readers, readings), agreed: settings.AgreedAge, calendars: map[record.Species]held{}}
	var list finding.List
	setting := func(kind finding.Kind, column, value string, facts ...string) {
		list.Add(kind, finding.Place{File: "programme.json", Column: column}, value, facts...)
	}
	convention, ok := ParseConvention(settings.AgeConvention)
	if !ok {
		convention = January
		setting(finding.BadSetting, "age_convention", settings.AgeConvention, "january, birthday")
	}
	r.convention = convention
	if !slices.Contains([]string{"median", "expert", "mode"}, r.agreed.Rule) {
		setting(finding.BadSetting, "agreed_age.rule", r.agreed.Rule, "median, expert, mode")
		r.agreed.Rule = "median"
	}
	if r.agreed.Rule == "expert" && r.agreed.Expert == "" {
		setting(finding.BadSetting, "agreed_age.expert", "", "reader")
	}
	if !slices.Contains([]string{"reread", "lower_reader"}, r.agreed.Tie) {
		setting(finding.BadSetting, "agreed_age.tie", r.agreed.Tie, "reread, lower_reader")
		r.agreed.Tie = "reread"
	}
	for _, species := range slices.Sorted(maps.Keys(settings.Calendars)) {
		c := held{Calendar: settings.Calendars[species]}
		if facts := Contradiction(c.Calendar); facts != nil {
			c.trouble = BadCalendar
			setting(finding.BadCalendar, "calendars."+string(species), string(species), facts...)
		} else if !complete(c.Calendar) {
			c.trouble = NoCalendar
		}
		r.calendars[species] = c
	}
	return r, list.All()
}

// Variant is a share of the days on which a fish may have been caught, with its age on
// them. Most fish have a full date and one variant.
type Variant struct {
	Share   float64 // the shares of a fish sum to 1; one that has no age on its days stays out of keys
	Agreed          // Class is NoClass where there is no age
	Classes []Class // by the last reading of each reader of the panel; NoClass where there is none
}

// KnownAgeRule is the rule of a fish whose age is known besides its readings.
const KnownAgeRule = "known_age"

// Result is all that is said of the age of one fish.
//
// Agreed is the row of ages.csv: of several variants the one with the largest share
// among those that have an age (of equal shares the earlier), which PartialDate in the
// flags owns up to. Estimates use Variants, empty where Trouble says that there is no
// date, no calendar or no reading.
type Result struct {
	Agreed
	Rule     string // how the age was come by: known_age, or the rule and how its tie went
	Used     []int  // which of the readings handed over it rests on
	Flags    Flags
	Variants []Variant
	Doubts   []Doubt
}

// Doubt is a reading that is impossible on every day on which the fish may have been
// caught.
type Doubt struct {
	Reading int // index in the readings handed over
	Trouble Trouble
}

// Fish settles the age of one fish. readings are its own, those of readers who count
// as qualified: one made while its reader stood outside the drift limits is not handed
// over. A known age, where there is one, stands above the readings, which still give
// their classes.
//
// Methods, section 2.
func (r *Rules) Fish(fish *record.Fish, readings []record.Reading, known *record.KnownAge) Result {
	of := make([]int, len(readings))
	for i := range of {
		of[i] = i
	}
	return r.settle(fish, readings, of, known)
}

// Each settles the age of every fish of a programme, in the order of the fish. The
// indices in the results are those of all readings.
func (r *Rules) Each(fish []record.Fish, readings []record.Reading, known []record.KnownAge) []Result {
	ids, of := ByFish(readings)
	place := make(map[record.FishID]int, len(ids))
	for i, id := range ids {
		place[id] = i
	}
	ages := make(map[record.FishID]*record.KnownAge, len(known))
	for i := len(known) - 1; i >= 0; i-- { // the first of two rows on a fish stands
		ages[known[i].Fish] = &known[i]
	}
	results := make([]Result, len(fish))
	for i := range fish {
		var own []int
		if at, read := place[fish[i].Fish]; read {
			own = of[at]
		}
		results[i] = r.settle(&fish[i], readings, own, ages[fish[i].Fish])
	}
	return results
}

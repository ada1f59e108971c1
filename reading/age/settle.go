package age

import (
	"slices"
	"strconv"

	"earstone/programme/date"
	"earstone/programme/finding"
	"earstone/programme/record"
)

// settle is Fish with the fish's own readings among those of all.
func (r *Rules) settle(fish *record.Fish, readings []record.Reading, of []int, known *record.KnownAge) Result {
	last := make([]int, len(r.Readers))
	controls := r.Latest(last, readings, of)
	var reads []Read
	var readers []int // the reader of each read, by rank
	for rank, i := range last {
		if i >= 0 {
			reads = append(reads, Read{Annuli: readings[i].Annuli, Edge: readings[i].Edge})
			readers = append(readers, rank)
		}
	}
	result := Result{Agreed: Agreed{Class: NoClass}, Used: r.used(last, known)}
	if known != nil {
		reads = append(reads, Read{known: true, decimal: known.DecimalAge})
		result.Flags, result.Decimal = Known, record.Some(known.DecimalAge)
	} else if controls {
		result.Flags = Controls
	}
	calendar, declared := r.calendars[fish.Species]
	switch {
	case len(reads) == 0:
		result.Trouble = NotRead
	case !declared:
		result.Trouble = NoCalendar
	case calendar.trouble != None:
		result.Trouble = calendar.trouble
	case !fish.CaughtOn.Known():
		result.Trouble = NoDate
	}
	if result.Trouble != None {
		result.Flags |= result.Trouble.flag()
		return result
	}
	joints := span(calendar.Calendar, r.convention, fish.CaughtOn, reads)
	for _, j := range joints {
		result.Variants = append(result.Variants, r.variant(j, readers, reads, known != nil))
	}
	r.head(&result, fish, joints, readers, known != nil)
	result.Doubts = doubts(joints, readers, last)
	return result
}

// used are the readings that the age rests on.
func (r *Rules) used(last []int, known *record.KnownAge) []int {
	if known != nil {
		return nil
	}
	var used []int
	for rank, i := range last {
		if i >= 0 && r.asks(rank) {
			used = append(used, i)
		}
	}
	return used
}

// asks tells whether the rule asks a reader.
func (r *Rules) asks(rank int) bool {
	return r.agreed.Rule != "expert" || r.Readers[rank] == r.agreed.Expert
}

// variant settles the age on the days of one joint. The known age, where there is
// one, stands last in it.
func (r *Rules) variant(j Joint, readers []int, reads []Read, known bool) Variant {
	v := Variant{Share: j.Share, Classes: make([]Class, len(r.Readers))}
	for rank := range v.Classes {
		v.Classes[rank] = NoClass
	}
	opinions := make([]Opinion, len(readers))
	for i, rank := range readers {
		opinions[i] = Opinion{r.Readers[rank], reads[i].Annuli, j.Ages[i], j.Troubles[i]}
		if j.Troubles[i] == None {
			v.Classes[rank] = j.Ages[i].Class
		}
	}
	if !known {
		v.Agreed = Agree(r.agreed, opinions)
		return v
	}
	a, trouble := j.Ages[len(readers)], j.Troubles[len(readers)]
	v.Agreed = Agreed{Class: NoClass, Trouble: trouble}
	if trouble == None {
		v.Agreed = Agreed{Class: a.Class, Cohort: a.Cohort, Decimal: record.Some(a.Decimal)}
	}
	if len(opinions) > 0 {
		v.Annuli = middle(opinions)
	}
	return v
}

// head draws the row of the fish from its variants.
func (r *Rules) head(result *Result, fish *record.Fish, joints []Joint, readers []int, known bool) {
	best := 0
	for i, v := range result.Variants {
		b := result.Variants[best]
		if v.Class.Known() != b.Class.Known() {
			if v.Class.Known() {
				best = i
			}
		} else if v.Share > b.Share {
			best = i
		}
		result.Flags |= v.Trouble.flag()
		if v.Towards {
			result.Flags |= TowardsFirst
		}
	}
	result.Agreed = result.Variants[best].Agreed
	if fish.CaughtOn.Precision() != date.Full {
		result.Flags |= PartialDate
	}
	switch {
	case known:
		result.Rule = KnownAgeRule
		return
	case result.Towards:
		result.Rule = r.agreed.Rule + " " + r.agreed.Tie
	default:
		result.Rule = r.agreed.Rule
	}
	for _, j := range joints {
		for i, rank := range readers {
			if r.asks(rank) && j.Ages[i].EdgeUnknown {
				result.Flags |= EdgeUnknown
			}
		}
	}
}

// doubts are the readings with a trouble in every joint.
func doubts(joints []Joint, readers, last []int) (all []Doubt) {
	for i, rank := range readers {
		possible := slices.ContainsFunc(joints, func(j Joint) bool { return j.Troubles[i] == None })
		if !possible {
			all = append(all, Doubt{last[rank], joints[0].Troubles[i]})
		}
	}
	return all
}

// Findings tells what is doubtful in the readings of a fish, and that its species has
// no calendar. readings are those that were handed over for the result.
func (r Result) Findings(list *finding.List, fish *record.Fish, readings []record.Reading) {
	if kind, ok := r.Trouble.kind(); ok && kind == finding.NoCalendar {
		list.Add(kind, finding.Place{File: "fish.csv", Row: fish.Row, Column: "species"}, string(fish.Species), string(fish.Species))
	}
	for _, d := range r.Doubts {
		kind, _ := d.Trouble.kind()
		place := finding.Place{File: "readings.csv", Row: readings[d.Reading].Row, Column: "annuli"}
		facts := []string(nil)
		if kind == finding.Contradiction {
			facts = []string{"fish.csv caught_on", fish.CaughtOn.String()}
		}
		list.Add(kind, place, strconv.Itoa(readings[d.Reading].Annuli), facts...)
	}
}
